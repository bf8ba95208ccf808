"""Ask a stand-in for a listening test which synthesiser speaks the films best.

Run by hand: ``python example_projects/compare_voices.py RECORDING.wav...``, recordings of people reading to
hold the voices against. It needs what ``make_voices.py`` names and ``pip install speechmos librosa``.

The stand-in is DNSMOS: networks taught on the marks that listeners gave, one on the questions of ITU-T
P.835 (the speech alone, the background, the whole; Reddy, Gopal and Cutler, ICASSP 2022), one on the single
mark of ITU-T P.808. Marks run from 1 (bad) to 5 (excellent). It was taught on people in noise, not on
synthesisers, so it can say that a voice is buzzing or muffled, not that it reads without sense: a mark
here is a reason to prefer one voice, never a proof that people would.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import soundfile
from make_voices import CASTING, RATE_HZ, VOICES, Samples, spoken
from scipy.signal import resample_poly
from speechmos import dnsmos

from mltassist.demofilm.script import INES, NARRATOR, TOBIAS

ASKED_HZ = 16000
SENTENCES = tuple(text for talk in (INES, TOBIAS, NARRATOR) for text in talk.sentences[:4])[:10]
QUESTIONS = {"sig_mos": "speech", "bak_mos": "background", "ovrl_mos": "whole", "p808_mos": "one mark"}


def marks(sound: Samples, rate_hz: int) -> list[float]:
    """The four marks of one sentence, at the level that all sentences have."""
    heard = np.asarray(resample_poly(sound, ASKED_HZ, rate_hz), np.float32)
    told = dnsmos.run(np.clip(heard, -1, 1), ASKED_HZ)
    return [float(told[question]) for question in QUESTIONS]


def line(name: str, rows: list[list[float]]) -> str:
    """Means with the interval that 2,000 draws of the sentences leave (95 %)."""
    given = np.array(rows)
    draws = np.random.default_rng(1).integers(0, len(given), (2000, len(given)))
    low, high = np.percentile(given[draws].mean(axis=1), (2.5, 97.5), axis=0)
    cells = [f"{m:.2f} [{a:.2f}, {b:.2f}]" for m, a, b in zip(given.mean(axis=0), low, high, strict=True)]
    return f"{name:<44}{len(given):>3}  " + "  ".join(f"{cell:<18}" for cell in cells)


def sentences_of(path: Path) -> list[list[float]]:
    """Marks of a recording in pieces of ten seconds, the last short one left out."""
    sound, rate_hz = soundfile.read(path, dtype="float32", always_2d=True)
    mono = sound.mean(axis=1)
    piece = 10 * rate_hz
    starts = range(0, max(1, len(mono) - piece + 1), piece)
    return [marks(mono[start : start + piece], rate_hz) for start in starts]


def main(recordings: list[str]) -> None:
    """Print a table: each voice over the same ten sentences, then what is stored, then people."""
    print(f"{'':<44}{'n':>3}  " + "  ".join(f"{name:<18}" for name in QUESTIONS.values()))
    asked = {}
    for _, speaker, _ in CASTING:
        asked.setdefault(f"{speaker.func.__name__} {speaker.args[0]}", speaker)
    for name, speaker in asked.items():
        print(line(name, [marks(spoken(speaker, text), RATE_HZ) for text in SENTENCES]))
    for talk, *_ in CASTING:
        path = VOICES / f"{talk.speaker}.ogg"
        print(line(f"stored: {path.stem}", sentences_of(path)))
    for recording in recordings:
        print(line(f"a person: {Path(recording).stem[-30:]}", sentences_of(Path(recording))))


if __name__ == "__main__":
    main(sys.argv[1:])
