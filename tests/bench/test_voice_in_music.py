"""How much of a sung voice, and of instruments, the speech detector takes for speech.

Run by name only: pytest tests/bench/test_voice_in_music.py -s. The instruments are open recordings (CC0).
Two people who sing alone (Vocadito) are heard for 0.94 and 0.90 of their time. Laid over four pieces for
guitars and drums, and over 79 instruments, this part of the mixes reaches VOICED:

| voice over the band | over pieces | over instruments |
| --- | --- | --- |
| +6 dB | 1.00 and 1.00 | 1.00 and 1.00 |
| 0 dB | 1.00 and 1.00 | 1.00 and 0.97 |
| -6 dB | 0.75 and 0.00 | 0.89 and 0.75 |
| -12 dB | 0.00 and 0.00 | 0.75 and 0.59 |

Two singers are few, so songs are also made of a reading (public domain), whose vocal tract, found by linear
prediction, is driven at the pitch of notes with vibrato, its sounds held longer, over a band. Over such
instruments they are harder to find than the real singers.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.linalg import solve_toeplitz
from scipy.signal import lfilter, resample_poly

from mltassist.media.sound.speech import RATE_HZ, ModelDetector, speech_spans
from mltassist.music.duck import VOICED
from tests.pauses.beds import SONIC_PI
from tests.samples import GUITARS, LIBRIVOX, VOCADITO, debian_folder, sample

HOP = RATE_HZ // 100
ORDER = 18
SCALES_HZ = {"low": (98, 110, 131, 147), "middle": (196, 220, 247, 262), "high": (330, 392, 440)}
BANDS = ("loop_amen_full", "loop_compus", "loop_safari", "loop_tabla", "ambi_piano", "guit_e_fifths")

Sound = NDArray[np.float64]


def reading() -> Sound:
    folder = debian_folder(LIBRIVOX) / "usr/share/pocketsphinx/test/data/librivox"
    return np.concatenate([soundfile.read(path)[0] for path in sorted(folder.glob("*.wav"))])


def instruments(least_s: float = 1.0) -> dict[str, Sound]:
    """Every recording of some length, over and over for 20 seconds."""
    found = {}
    for path in sorted((debian_folder(SONIC_PI) / "usr/share/sonic-pi/samples").glob("*.flac")):
        sound, hz = soundfile.read(path, always_2d=True)
        if len(sound) >= least_s * hz:
            mono = resample_poly(sound.mean(axis=1), 160, hz // 100)
            found[path.stem] = np.tile(mono, -(-20 * RATE_HZ // mono.size))
    return found


def sung(voice: Sound, longer: int, notes_hz: tuple[int, ...]) -> Sound:
    """The reading on these notes, half a second each, its sounds `longer` times as long."""
    rng = np.random.default_rng(1)
    sharp = lfilter([1, -0.95], [1], voice)
    state, parts, turns, note = np.zeros(ORDER), [], 0.0, notes_hz[0]
    for number in range((voice.size // HOP - 4) * longer):
        frame = sharp[number // longer * HOP :][: 3 * HOP] * np.hanning(3 * HOP)
        likeness = np.correlate(frame, frame, "full")[3 * HOP - 1 :][: ORDER + 1]
        if likeness[0] < 1e-7:
            parts.append(np.zeros(HOP))
            continue
        likeness[0] *= 1.0001
        tract = solve_toeplitz(likeness[:-1], likeness[1:])
        power = max(1e-12, likeness[0] - tract @ likeness[1:]) / (3 * HOP)
        if number % 50 == 0:
            note = int(rng.choice(notes_hz))
        time = (number * HOP + np.arange(HOP)) / RATE_HZ
        phase = turns + np.cumsum(note * (1 + 0.03 * np.sin(2 * np.pi * 5.5 * time))) / RATE_HZ
        pulses = np.diff(np.floor(np.concatenate([[turns], phase]))) * np.sqrt(RATE_HZ / note)
        turns = phase[-1]
        hissing = np.mean(np.diff(np.signbit(frame)) != 0) >= 0.25
        breath = rng.standard_normal(HOP)
        driven = (breath if hissing else 0.95 * pulses + 0.05 * breath) * np.sqrt(power)
        part, state = lfilter([1], np.concatenate([[1], -tract]), driven, zi=state)
        parts.append(part)
    return np.asarray(lfilter([1], [1, -0.95], np.concatenate(parts)))


def share(detector: ModelDetector, sound: Sound) -> float:
    level = 0.1 * sound / np.sqrt(np.square(sound).mean())
    spans = speech_spans(detector.probability(level.astype(np.float32)))
    return sum(span.length for span in spans) / sound.size


def test_voices_are_told_from_instruments() -> None:
    detector = ModelDetector()
    played = instruments()
    worst = max((share(detector, sound), name) for name, sound in played.items())
    sys.stdout.write(f"{len(played)} instruments: at most {worst[0]:.3f} ({worst[1]})\n")
    assert worst[0] < VOICED / 2
    voice = reading()
    found = {}
    for longer in (1, 2, 3):
        for scale, notes in SCALES_HZ.items():
            song = sung(voice, longer, notes)
            song /= np.sqrt(np.square(song).mean())
            for over_db in (6, 0, -6):
                shares = []
                for name in BANDS:
                    band = np.resize(played[name], song.size)
                    band = band / np.sqrt(np.square(band).mean())
                    shares.append(share(detector, song * 10 ** (over_db / 20) + band))
                found[longer, scale, over_db] = float(np.mean(np.array(shares) >= VOICED))
                sys.stdout.write(
                    f"{longer} times as long, {scale}, {over_db:+} dB over the band:"
                    f" {min(shares):.2f} to {max(shares):.2f}\n"
                )
    for over_db in (6, 0, -6):
        parts = [part for (*_, over), part in found.items() if over == over_db]
        sys.stdout.write(f"{over_db:+} dB: {np.mean(parts):.2f} of the songs reach {VOICED}\n")
    assert all(part == 1 for (*_, over), part in found.items() if over > 0)
    assert np.mean([part for (longer, _, over), part in found.items() if longer < 3 and over == 0]) >= 0.9


def singers() -> dict[str, Sound]:
    """Both real singers at the detector's rate, RMS 1."""
    found = {}
    for number in ("10", "14"):
        path = sample(VOCADITO, f"basic_pitch-0.4.0/tests/resources/vocadito_{number}.wav")
        found[number] = resampled(path)
    return found


def pieces(stem: str) -> dict[str, Sound]:
    """The pieces of music as a band plays them ("song"), or their lead guitar alone ("guitar")."""
    folder = debian_folder(GUITARS) / "usr/share/games/fretsonfire/data/songs/sectoid"
    return {path.parent.name: resampled(path) for path in sorted(folder.glob(f"*/{stem}.ogg"))}


def resampled(path: Path) -> Sound:
    """The recording in mono at the detector's rate, RMS 1."""
    sound, hz = soundfile.read(path, always_2d=True)
    mono = resample_poly(sound.mean(axis=1), 160, hz // 100)
    return np.asarray(mono / np.sqrt(np.square(mono).mean()))


def test_real_singers_are_found() -> None:
    detector = ModelDetector()
    for stem in ("song", "guitar"):
        shares = {name: share(detector, sound) for name, sound in pieces(stem).items()}
        sys.stdout.write(f"{stem}s without a voice: {shares}\n")
        assert max(shares.values()) < VOICED / 2
    # From half a minute on, where every instrument of a piece plays.
    bands = {"piece": [sound[30 * RATE_HZ :] for sound in pieces("song").values()]}
    bands["instrument"] = list(instruments().values())
    hits = {}
    for number, voice in singers().items():
        alone = share(detector, voice)
        sys.stdout.write(f"singer {number} alone: {alone:.2f} of the time\n")
        assert alone > 0.8
        for kind, sounds in bands.items():
            levelled = [np.resize(sound, voice.size) for sound in sounds]
            levelled = [sound / np.sqrt(np.square(sound).mean()) for sound in levelled]
            for over_db in (6, 0, -6, -12):
                shares_over = [share(detector, voice * 10 ** (over_db / 20) + band) for band in levelled]
                hits[number, kind, over_db] = float(np.mean(np.array(shares_over) >= VOICED))
                sys.stdout.write(
                    f"singer {number}, {over_db:+} dB over {len(levelled)} {kind}s:"
                    f" {hits[number, kind, over_db]:.2f} reach {VOICED}\n"
                )
    assert all(part == 1 for (*_, over), part in hits.items() if over > 0)
    assert np.mean([part for (*_, over), part in hits.items() if over == 0]) >= 0.9
