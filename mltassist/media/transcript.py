"""What is said in a recording: the words of a subtitle file beside it, each with its time."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pysubs2

from mltassist.errors import MediaError

SUFFIXES = (".srt", ".vtt", ".ass", ".ssa")
_LANGUAGE = re.compile(r"[a-z]{2,3}")
_NOTES = re.compile(r"\[[^\]]*\]|\([^)]*\)|^\s*(?:[-–—]\s*|[A-Z][A-Z .]+:\s+)+", re.MULTILINE)
_WORD = re.compile(r"[^\W\d_]+(?:['’\-][^\W\d_]+)*|\d+")


@dataclass(frozen=True, slots=True)
class Word:
    """A word as it is written, and when it is said, in milliseconds from the start of the file.

    opens: it begins a sentence, so that a capital tells nothing of it.
    """

    text: str
    at_ms: int
    opens: bool = False


@dataclass(frozen=True, slots=True)
class Transcript:
    """The words of one recording in order; language: two or three letters from the file's name, or ""."""

    words: tuple[Word, ...]
    language: str = ""


def find_transcript(source: Path) -> Path | None:
    """The transcript beside a recording: its name with another ending, with or without a language.

    For talk.mov that is talk.srt, or talk.en.srt; of several the plain name and SRT come first.
    """
    folder = source.parent
    if not folder.is_dir():
        return None
    found = []
    for path in folder.glob(f"{_escaped(source.stem)}.*"):
        middle = path.name[len(source.stem) + 1 : -len(path.suffix)].rstrip(".")
        if path.suffix.lower() in SUFFIXES and (not middle or _LANGUAGE.fullmatch(middle.lower())):
            found.append((bool(middle), SUFFIXES.index(path.suffix.lower()), path.name, path))
    return min(found)[3] if found else None


def read_transcript(path: Path) -> Transcript:
    """Read a subtitle file of any common format. Raises MediaError when it cannot be read.

    Within a line nothing says when which word falls: they are spread evenly over its letters.
    """
    try:
        lines = pysubs2.SSAFile.from_string(_text(path))
    except (OSError, pysubs2.exceptions.Pysubs2Error, ValueError) as problem:
        why = problem.strerror if isinstance(problem, OSError) else "it is no subtitle file"
        raise MediaError(path, f"the transcript cannot be read ({why}); check that it opens") from problem
    language = path.name.split(".")[-2].lower() if path.name.count(".") > 1 else ""
    words = [word for line in sorted(lines) if not line.is_comment for word in words_of(line)]
    return Transcript(tuple(words), language if _LANGUAGE.fullmatch(language) else "")


def words_of(line: pysubs2.SSAEvent) -> Iterator[Word]:
    """The words of one line; notes in brackets and names of speakers are no words."""
    text = _NOTES.sub(" ", line.plaintext)
    length = max(1, len(text))
    for found in _WORD.finditer(text):
        before = text[: found.start()].rstrip(" \n\"'«»„“”‘’")
        at_ms = line.start + (line.end - line.start) * found.start() // length
        yield Word(found.group(), at_ms, opens=not before or before[-1] in ".!?:…")


def _text(path: Path) -> str:
    raw = path.read_bytes()
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def _escaped(stem: str) -> str:
    return re.sub(r"([*?\[])", r"[\1]", stem)
