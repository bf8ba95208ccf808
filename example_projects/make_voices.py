"""Speak the demonstration film's script and store the voices inside the package.

Run by hand when the script changes: ``python example_projects/make_voices.py``. Needs the
``espeak-ng`` program; the package itself does not. Writes one Ogg Opus file per speaker and
``timing.json`` into ``mltassist/demofilm/voices``.
"""

from __future__ import annotations

import io
import json
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.signal import butter, resample_poly, sosfilt

from mltassist.demofilm.media import write_sound
from mltassist.demofilm.script import INES, NARRATOR, TOBIAS, Talk

RATE_HZ = 48000
FRAME_SAMPLES = RATE_HZ // 25
SPEECH_RMS_DB = -23.0  # of the talking parts: peaks stay below full scale without a limiter
VOICES = Path(__file__).parent.parent / "mltassist" / "demofilm" / "voices"

Samples = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Voice:
    """How a speaker sounds: synthesiser voice, pitch (0-99), words a minute, and the room."""

    variant: str
    pitch: int
    words_per_minute: int
    room_cutoff_hz: float
    room_level_db: float
    seed: int


CASTING = (
    (INES, Voice("en-gb+f3", 46, 142, 420.0, -60.0, 11)),
    (TOBIAS, Voice("en-gb+m3", 34, 138, 260.0, -58.5, 23)),
    (NARRATOR, Voice("en-gb-x-rp+m5", 42, 132, 700.0, -64.0, 37)),
)


def speak(program: str, text: str, voice: Voice) -> Samples:
    """One sentence at 48 kHz with its silent ends cut away, at the common speech level."""
    command = [program, "-v", voice.variant, "-p", str(voice.pitch), "-s", str(voice.words_per_minute)]
    spoken = subprocess.run([*command, "--stdout", text], check=True, capture_output=True)  # noqa: S603
    # A stream has no length in its header, so only the samples behind the 44 bytes are believed.
    pcm = np.frombuffer(spoken.stdout[44:], dtype="<i2").astype(np.float64) / 32768
    rate_hz = soundfile.info(io.BytesIO(spoken.stdout)).samplerate
    sound = resample_poly(pcm, RATE_HZ, rate_hz)
    sound = sosfilt(butter(2, 70, "highpass", fs=RATE_HZ, output="sos"), sound)
    loud = np.flatnonzero(np.abs(sound) > 0.01 * np.abs(sound).max())
    sound = sound[loud[0] : loud[-1] + 1]
    fade = np.linspace(0, 1, 240)
    sound[:240] *= fade
    sound[-240:] *= fade[::-1]
    sound *= 10 ** (SPEECH_RMS_DB / 20) / np.sqrt(np.mean(sound**2))
    return np.asarray(sound, np.float32)


def assemble(program: str, talk: Talk, voice: Voice) -> tuple[Samples, list[dict[str, object]]]:
    """The whole recording, a whole number of film frames long, and where each sentence lies (ms)."""
    random = np.random.default_rng(voice.seed)
    lead = np.zeros(RATE_HZ, np.float32)
    parts, timing, at = [lead], [], lead.size
    for text in talk.sentences:
        sound = speak(program, text, voice)
        start_ms, end_ms = at * 1000 // RATE_HZ, -(-(at + sound.size) * 1000 // RATE_HZ)
        timing.append({"text": text, "start_ms": start_ms, "end_ms": end_ms})
        pause = np.zeros(int(random.uniform(0.5, 1.1) * RATE_HZ), np.float32)
        parts += [sound, pause]
        at += sound.size + pause.size
    parts.append(np.zeros(RATE_HZ // 2 + -(at + RATE_HZ // 2) % FRAME_SAMPLES, np.float32))
    recording = np.concatenate(parts)
    room = random.standard_normal(recording.size)
    room = sosfilt(butter(1, [45, voice.room_cutoff_hz], "bandpass", fs=RATE_HZ, output="sos"), room)
    room *= 10 ** (voice.room_level_db / 20) / np.sqrt(np.mean(room**2))
    return np.asarray(recording + room, np.float32), timing


def main() -> None:
    """Write all voices and their timing."""
    program = shutil.which("espeak-ng")
    if program is None:
        sys.exit("espeak-ng is not installed; the voices are left as they are")
    VOICES.mkdir(exist_ok=True)
    timing: dict[str, list[dict[str, object]]] = {}
    for talk, voice in CASTING:
        recording, timing[talk.speaker] = assemble(program, talk, voice)
        write_sound(VOICES / f"{talk.speaker}.ogg", recording[np.newaxis], bit_rate=32000)
    (VOICES / "timing.json").write_text(json.dumps(timing, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
