"""Recordings of places built from known parts: a bed, one alive and clean moment, and louder traps.

The bed is noise of one of six colours. The moment is a few events within three seconds, from recordings of
things struck, rung and shaken, or synthesised splashes. A trap is louder than the moment or holds as many
events, but someone speaks in it, or it is clipped, or windy, or the microphone is knocked.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.signal import butter, resample_poly, sosfilt

from tests.samples import LIBRIVOX, Package, debian_folder

HZ = 48000
KINDS = ("speech", "clipped", "wind", "handling")
COLOURS = ("white", "pink", "brown", "leaves", "town", "hum")
SECONDS = 30
WINDOW_S = 5

# A Debian package: hundreds of short recordings (CC0).
SONIC_PI = Package(
    "sonic-pi-samples",
    "3.2.2~repack-8",
    "sonic-pi-samples_3.2.2~repack-8_all.deb",
    "25f2312d2fae005e6ad0f4726b8ed3084e776006a5a132083506e960224ac79d",
)
# Things that sound as things in places do: figures are tuned with some, and judged with the others.
_THINGS = {
    "tuning": (
        *("perc_bell", "perc_snap", "perc_swash", "misc_crow", "drum_cowbell", "elec_wood", "tabla_na"),
        *("tabla_te1", "drum_cymbal_closed", "drum_tom_hi_soft", "perc_bell2", "perc_snap2", "perc_door"),
        *("perc_till", "drum_splash_soft", "elec_triangle", "tabla_ke1", "tabla_tas1", "drum_cymbal_pedal"),
        *("perc_impact2", "drum_snare_soft", "tabla_re"),
    ),
    "held out": (
        *("perc_impact1", "perc_swoosh", "drum_splash_hard", "drum_snare_hard", "drum_cymbal_soft"),
        *("drum_cymbal_open", "elec_chime", "elec_ping", "elec_tick", "elec_bell", "elec_twang", "elec_pop"),
        *("tabla_ke2", "tabla_na_o", "tabla_tas2", "tabla_te2", "sn_generic", "vinyl_scratch"),
    ),
}

Sound = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Bed:
    """A built place; the events of its best moment begin at `events_s`."""

    sound: NDArray[np.float32]
    colour: str
    trap: str
    events_s: tuple[float, ...]
    traps_s: tuple[float, ...]

    def held_by(self, start_s: float, window_s: float = WINDOW_S) -> bool:
        """True when a window from `start_s` on holds all events of the best moment."""
        return start_s <= self.events_s[0] and self.events_s[-1] < start_s + window_s


def bed(seed: int, trap: str, half: str = "held out", *, seconds: int = SECONDS) -> Bed:
    """A place with one moment and two traps of a kind, in three stretches drawn by `seed`."""
    rng = np.random.default_rng(seed)
    colour = COLOURS[rng.integers(len(COLOURS))]
    bed_db = rng.uniform(-62, -45)
    sound = _stereo(noise(rng, colour, seconds * HZ), rng) * 10 ** (bed_db / 20)
    length = seconds / 3
    order = rng.permutation(3)
    event_db = bed_db + rng.uniform(12, 22)
    at_s = [float(length * place + rng.uniform(1, length - 5)) for place in order]
    moment = _moment(rng, half, int(rng.integers(3, 6)))
    for later_s, thing in moment:
        _add(sound, at_s[0] + later_s, thing * 10 ** (event_db / 20))
    for start_s in at_s[1:]:
        # Half of the traps are as alive as the moment, and spoilt throughout.
        events = _moment(rng, half, int(rng.integers(2, len(moment) + 1))) if rng.random() < 0.5 else []
        if trap != "clipped":
            for later_s, thing in events:
                _add(sound, start_s + later_s, thing * 10 ** ((event_db + rng.uniform(0, 4)) / 20))
        louder = 10 ** ((event_db + rng.uniform(3, 12)) / 20)
        _spoil(sound, trap, start_s, events or _moment(rng, half, 3), louder, rng)
    # What is over full scale is limited by the recorder: only the trap of that kind goes there.
    return Bed(
        np.clip(sound, -1.0, 1.0).astype(np.float32),
        colour,
        trap,
        tuple(at_s[0] + later_s for later_s, _ in moment),
        tuple(at_s[1:]),
    )


def noise(rng: np.random.Generator, colour: str, count: int) -> Sound:
    """Noise of a colour, RMS 1."""
    spectrum = np.fft.rfft(rng.standard_normal(count))
    hz = np.maximum(np.fft.rfftfreq(count, 1 / HZ), 1.0)
    steady = 1 / np.sqrt(1 + (30 / hz) ** 4)  # microphones roll off
    shape = {
        "white": np.ones_like(hz),
        "pink": hz**-0.5,
        "brown": 1 / hz,
        "leaves": np.exp(-0.5 * (np.log(hz / 3000) / 0.7) ** 2) + 0.02,
        "town": hz**-0.5 + 3.0 * hz**-0.5 * (hz < 130),
        "hum": hz**-0.5,
    }[colour]
    sound = np.fft.irfft(spectrum * shape * steady, count)
    sound /= np.sqrt(np.mean(sound**2))
    if colour == "hum":
        time_s = np.arange(count) / HZ
        sound += sum(0.8 / k * np.sin(2 * np.pi * 50 * k * time_s) for k in (1, 2, 3, 4))
    return sound / np.sqrt(np.mean(sound**2))


def wind(rng: np.random.Generator, count: int) -> Sound:
    """Rumble under 150 Hz whose gain wanders slowly, RMS 1, faded in and out over half a second."""
    rumble = sosfilt(butter(3, 150, fs=HZ, output="sos"), noise(rng, "brown", count))
    steps = rng.uniform(-14, 6, count // (HZ // 3) + 2)
    gain = 10 ** (np.interp(np.arange(count) / (HZ / 3), np.arange(len(steps)), steps) / 20)
    fade = np.minimum(1.0, np.minimum(np.arange(count), np.arange(count)[::-1]) / (HZ / 2))
    gusts = rumble * gain * fade
    return gusts / np.sqrt(np.mean(gusts**2))


def thump(rng: np.random.Generator) -> Sound:
    """A knock: a decaying burst at 60 to 150 Hz, RMS 1 over its first 200 ms."""
    time_s = np.arange(HZ // 2) / HZ
    decay = np.exp(-time_s / rng.uniform(0.03, 0.09)) * np.minimum(1, time_s / 0.004)
    return _levelled(decay * np.sin(2 * np.pi * rng.uniform(60, 150) * time_s + rng.uniform(0, 6)))


def splash(rng: np.random.Generator) -> Sound:
    """A burst of bright noise that dies away, RMS 1 over its first 200 ms."""
    decay = np.exp(-np.arange(HZ) / (rng.uniform(0.05, 0.2) * HZ))
    return _levelled(noise(rng, "white", HZ) * decay)


@cache
def thing(name: str) -> Sound:
    """A recording of something struck or shaken, at most 1.5 s, RMS 1 over its first 200 ms."""
    folder = debian_folder(SONIC_PI) / "usr/share/sonic-pi/samples"
    sound, rate_hz = soundfile.read(folder / f"{name}.flac", always_2d=True)
    mono = resample_poly(sound.mean(axis=1), HZ // 300, rate_hz // 300)[: HZ * 3 // 2]
    mono = mono[np.argmax(np.abs(mono) > 0.1 * np.abs(mono).max()) :]
    return _levelled(mono * np.minimum(1, np.arange(len(mono))[::-1] / (0.05 * HZ)))


@cache
def reading() -> Sound:
    """A voice reading for half a minute without its pauses, RMS 1."""
    folder = debian_folder(LIBRIVOX) / "usr/share/pocketsphinx/test/data/librivox"
    parts = [soundfile.read(path) for path in sorted(folder.glob("*.wav"))]
    voice = np.concatenate([resample_poly(sound, HZ // 1000, rate_hz // 1000) for sound, rate_hz in parts])
    voice /= np.sqrt(np.mean(voice**2))
    blocks = voice[: len(voice) // 4800 * 4800].reshape(-1, 4800)
    return blocks[np.sqrt(np.mean(blocks**2, axis=1)) > 0.1].ravel()


def _moment(rng: np.random.Generator, half: str, count: int) -> list[tuple[float, Sound]]:
    """Events within three seconds, with their times from the first."""
    times_s = np.sort(rng.uniform(0, 3, count))
    times_s -= times_s[0]
    names = _THINGS[half]
    return [
        (float(time_s), splash(rng) if rng.random() < 0.3 else thing(names[rng.integers(len(names))]))
        for time_s in times_s
    ]


def _spoil(  # noqa: PLR0917 - one line for each kind
    sound: Sound,
    trap: str,
    start_s: float,
    events: list[tuple[float, Sound]],
    louder: float,
    rng: np.random.Generator,
) -> None:
    lasts_s = events[-1][0] + 0.5
    if trap == "speech":
        voice = reading()
        count = int((lasts_s + rng.uniform(0.0, 1.0)) * HZ)
        first = int(rng.integers(len(voice) - count))
        _add(sound, start_s - 0.3, voice[first : first + count] * louder)
    elif trap == "wind":
        _add(sound, start_s - 0.5, wind(rng, int((lasts_s + rng.uniform(1.5, 2.5)) * HZ)) * louder * 1.5)
    elif trap == "handling":
        for later_s in (-0.5, *(later_s for later_s, _ in events)):
            _add(sound, start_s + later_s + rng.uniform(0.1, 0.5), thump(rng) * louder * 1.5)
    else:
        # One in two was limited before it was turned down to where it is.
        full = 1.0 if rng.random() < 0.5 else rng.uniform(0.3, 0.9)
        for later_s, event in events:
            loud = event / np.abs(event).max() * full * rng.uniform(2, 6)
            first = int((start_s + later_s) * HZ)
            room = sound[:, first : first + len(loud)]
            room[:] = np.clip(room + loud[: room.shape[1]], -full, full)


def _add(sound: Sound, at_s: float, part: Sound) -> None:
    first = int(at_s * HZ)
    count = min(len(part), sound.shape[1] - first)
    sound[:, first : first + count] += part[:count]


def _levelled(sound: Sound) -> Sound:
    return sound / np.sqrt(np.mean(sound[: HZ // 5] ** 2))


def _stereo(mono: Sound, rng: np.random.Generator) -> Sound:
    """Two channels that share half of their power: the other half comes later on the right."""
    late = np.roll(mono, int(rng.integers(HZ // 4, HZ)))
    return np.stack((mono, (mono + late) / 2**0.5))
