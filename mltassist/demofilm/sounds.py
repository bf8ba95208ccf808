"""Music, natural sounds and quiet ambience of the demonstration film, made from numbers.

Every function returns stereo float32, shape (2, samples), full scale +-1.0, at 48 kHz, and gives the
same samples for the same arguments.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

FILM_HZ = 48000

Samples = NDArray[np.float32]


def _noise(samples: int, low_hz: float, high_hz: float, seed: int) -> Samples:
    """Stereo noise between two frequencies, RMS 1, with one pole's slope on either side."""
    random = np.random.default_rng(seed)
    spectrum = np.fft.rfft(random.standard_normal((2, samples)))
    hertz = np.fft.rfftfreq(samples, 1 / FILM_HZ)
    spectrum *= 1 / np.sqrt((1 + (low_hz / np.maximum(hertz, 1)) ** 4) * (1 + (hertz / high_hz) ** 4))
    sound = np.fft.irfft(spectrum, samples)
    return np.asarray(sound / np.sqrt(np.mean(sound**2)), np.float32)


def _add(sound: Samples, at_s: float, event: Samples, balance: float = 0.5) -> None:
    """Mix a mono event in at a time; `balance` 0 is left, 1 right. What hangs over the end is lost."""
    first = round(at_s * FILM_HZ)
    event = event[: max(0, sound.shape[1] - first)]
    sound[0, first : first + event.size] += event * np.float32(np.cos(balance * np.pi / 2))
    sound[1, first : first + event.size] += event * np.float32(np.sin(balance * np.pi / 2))


def _level(sound: Samples, rms_db: float, peak_db: float = -4.0) -> Samples:
    """Scale to an RMS level, then soften peaks above a ceiling."""
    ceiling = 10 ** (peak_db / 20)
    scaled = sound * (10 ** (rms_db / 20) / np.sqrt(np.mean(sound**2)))
    return np.asarray(ceiling * np.tanh(scaled / ceiling), np.float32)


def _decay(samples: int, half_life_s: float, attack_s: float = 0.004) -> NDArray[np.float64]:
    t = np.arange(samples) / FILM_HZ
    return np.minimum(t / attack_s, 1) * np.exp2(-t / half_life_s)


def _bump(samples: int, middle_s: float, width_s: float) -> Samples:
    t = np.arange(samples) / FILM_HZ
    return np.asarray(np.exp(-(((t - middle_s) / width_s) ** 2)), np.float32)


# --- music --------------------------------------------------------------------------------------

_FIGURE = (0, 7, 10, 12, 14, 12, 10, 7)  # semitones above the low note, an eighth each
_BASSES_HZ = (146.83, 146.83, 130.81, 174.61)  # D D C F, two bars each
_EIGHTH_S = 0.3


def _pluck(pitch_hz: float, seed: int) -> Samples:
    """A plucked string of 2.4 s (Karplus and Strong 1983), worked one period at a time."""
    period = round(FILM_HZ / pitch_hz)
    string = np.random.default_rng(seed).uniform(-1, 1, period)
    string = (string + np.roll(string, 1) + np.roll(string, 2)) / 3
    string -= string.mean()
    turns = []
    for _ in range(round(2.4 * FILM_HZ / period)):
        turns.append(string)
        string = 0.996 * 0.5 * (string + np.roll(string, 1))
    sound = np.concatenate(turns)
    sound[-2400:] *= np.linspace(1, 0, 2400)
    return np.asarray(sound, np.float32)


def music(samples: int) -> Samples:
    """A plucked figure over a drone, about -18 LUFS throughout, fading in its first and last second."""
    sound = np.zeros((2, samples), np.float32)
    random = np.random.default_rng(61)
    strings: dict[tuple[float, int], Samples] = {}
    for count in range(int(samples / FILM_HZ / _EIGHTH_S)):
        bass_hz = _BASSES_HZ[count // 16 % 4]
        step = _FIGURE[count % 8] + (12 if count // 8 % 3 == 2 and count % 4 == 2 else 0)
        key = (bass_hz, step)
        if key not in strings:
            strings[key] = _pluck(bass_hz * 2 ** (step / 12), len(strings))
        weight = (1.0 if count % 8 == 0 else 0.7) * random.uniform(0.85, 1.1)
        _add(sound, count * _EIGHTH_S, strings[key] * np.float32(weight), 0.35 + 0.3 * (count % 2))
    t = np.arange(samples, dtype=np.float32) / FILM_HZ
    for pitch_hz, weight, wave_s in (
        (73.42, 0.10, 11.0),
        (110.0, 0.08, 7.0),
        (146.83, 0.05, 9.0),
        (220.0, 0.03, 13.0),
    ):
        swell = 1 + 0.25 * np.sin(2 * np.pi * t / np.float32(wave_s))
        for channel, detune in enumerate((0.9992, 1.0008)):
            sound[channel] += (
                np.float32(weight) * swell * np.sin(2 * np.pi * np.float32(pitch_hz * detune) * t)
            )
    ends = np.minimum(1, np.minimum(t, t[::-1]))
    return _level(sound * ends, -20.7, -2.0)


def sung(voice: Samples, samples: int) -> Samples:
    """The figure over a drone with a voice over and over in it, 3 dB above; `voice` has shape (1, n)."""
    played = music(samples)
    verse = voice[0, : voice.shape[1] - FILM_HZ // 2]
    words = np.zeros_like(played)
    for first in range(FILM_HZ, samples, verse.size):
        _add(words, first / FILM_HZ, verse)
    loud = np.sqrt(np.mean(played**2)) * 10 ** (3 / 20)
    words *= np.float32(loud / np.sqrt(np.mean(words**2)))
    return _level(played + words, -20.7, -2.0)


# --- natural sounds -----------------------------------------------------------------------------


def _wheel_splash(samples: int) -> Samples:
    sound = 0.07 * _noise(samples, 250, 2200, 1)
    wash = _noise(FILM_HZ, 500, 5000, 2)[0]
    random = np.random.default_rng(3)
    for count in range(samples // FILM_HZ):
        # A paddle a second; the fullest ones fall a little after the middle.
        weight = 0.25 + 0.9 * np.exp(-(((count - 7) / 1.6) ** 2)) + random.uniform(0, 0.1)
        splash = np.roll(wash, 4001 * count) * _decay(FILM_HZ, 0.12, 0.02) * weight
        _add(sound, count + 0.3, np.asarray(splash, np.float32), random.uniform(0.3, 0.7))
    return sound


def _stones_rumbling(samples: int) -> Samples:
    t = np.arange(samples) / FILM_HZ
    # The runner is let down in the middle: the grinding swells, then the stones are lifted again.
    lowered = _bump(samples, 5.0, 1.6)
    grinding = (1 + 0.4 * np.sin(2 * np.pi * t / 1.6)) * (0.06 + 0.5 * lowered)
    rumble = (0.12 + 0.4 * lowered) * _noise(samples, 35, 160, 5)
    sound = np.asarray(rumble + grinding * _noise(samples, 700, 2600, 6), np.float32)
    random = np.random.default_rng(7)
    knock = _noise(4800, 300, 1500, 8)[0] * _decay(4800, 0.015, 0.001)
    alive = 0.15 + 0.9 * lowered
    for at_s in np.arange(0.1, samples / FILM_HZ - 0.2, 0.16):
        weight = alive[int(at_s * FILM_HZ)] * random.uniform(0.7, 1.2)
        _add(sound, float(at_s), np.asarray(knock * weight, np.float32), 0.55)
    return sound


def _gate_winch(samples: int) -> Samples:
    sound = 0.08 * _noise(samples, 150, 1200, 9)
    random = np.random.default_rng(10)
    n = np.arange(6000)
    clank = sum(np.sin(2 * np.pi * pitch_hz * n / FILM_HZ) for pitch_hz in (640.0, 1130.0, 1990.0, 2710.0))
    clank = clank * _decay(6000, 0.018, 0.0005)
    for at_s in np.arange(2.5, min(9.5, samples / FILM_HZ - 0.3), 0.34):
        _add(sound, float(at_s), np.asarray(0.22 * clank * random.uniform(0.7, 1.1), np.float32), 0.45)
    creak_t = np.arange(FILM_HZ) / FILM_HZ
    pitch = np.cumsum(190 + 70 * creak_t + 14 * np.sin(2 * np.pi * 9 * creak_t)) / FILM_HZ
    creak = (np.mod(pitch, 1) - 0.5) * np.sin(np.pi * creak_t) ** 2
    for at_s in (3.4, 5.3, 6.6):
        _add(sound, at_s, np.asarray(0.35 * creak, np.float32), 0.6)
    sound += 0.55 * _bump(samples, 7.6, 1.2) * _noise(samples, 300, 4000, 12)  # the first water through
    return sound


def _gulls(samples: int) -> Samples:
    sound = 0.05 * _noise(samples, 120, 900, 13)
    random = np.random.default_rng(14)
    near = [float(at_s) for at_s in np.arange(5.2, 8.2, 0.42)]
    for at_s in [1.2, 3.1, *near, 9.9]:
        length = round(random.uniform(0.28, 0.42) * FILM_HZ)
        t = np.arange(length) / length
        pitch_hz = random.uniform(0.9, 1.12) * (1050 + 900 * np.sin(np.pi * t**0.6))
        turn = 2 * np.pi * np.cumsum(pitch_hz) / FILM_HZ
        call = (np.sin(turn) + 0.5 * np.sin(2 * turn) + 0.25 * np.sin(3 * turn)) * np.sin(np.pi * t) ** 0.7
        weight = 0.4 if at_s in near else 0.13
        _add(sound, at_s, np.asarray(weight * call, np.float32), random.uniform(0.1, 0.9))
    return sound


def _wind_in_reeds(samples: int) -> Samples:
    t = np.arange(samples) / FILM_HZ
    gust = 0.2 + 0.08 * np.sin(2 * np.pi * t / 5) + 0.9 * _bump(samples, 8.2, 1.5)
    rustle = np.abs(_noise(samples, 1, 14, 15))
    return np.asarray(gust * (0.6 + 0.4 * rustle) * _noise(samples, 900, 5200, 16), np.float32)


_NATURAL: dict[str, Callable[[int], Samples]] = {
    "wheel splash": _wheel_splash,
    "stones rumbling": _stones_rumbling,
    "gate winch": _gate_winch,
    "gulls": _gulls,
    "wind in reeds": _wind_in_reeds,
}


def natural(name: str, samples: int) -> Samples:
    """One of the film's five natural sounds; each has one moment fuller than the rest. RMS -27 dBFS.

    Raises KeyError for another name.
    """
    return _level(_NATURAL[name](samples), -27.0)


def ambience(seed: int, samples: int) -> Samples:
    """Soft air of a place, RMS -50 dBFS, its colour chosen by `seed`."""
    low_hz, high_hz = 60 + 25 * (seed % 5), 400 + 170 * (seed % 7)
    return _level(_noise(samples, low_hz, high_hz, 1000 + seed), -50.0)
