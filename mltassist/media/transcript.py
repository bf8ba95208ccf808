"""What is said in a recording: the words of a subtitle file beside it, each with its time."""

from __future__ import annotations

import re
from codecs import BOM_UTF16_BE, BOM_UTF16_LE
from collections.abc import Iterator
from dataclasses import dataclass, field
from html import unescape
from pathlib import Path

import pysubs2

from mltassist.errors import MediaError
from mltassist.files import read_bytes

_SUFFIXES = (".srt", ".vtt", ".ass", ".ssa")
_DRAWING = re.compile(r"\{[^{}]*\\p[1-9]")
"""How a line of ASS begins to draw instead of to say."""
LONGEST_LINE = 5_000
"""Letters of a line with its tags: two lines of a subtitle hold about eighty."""
_LANGUAGE = re.compile(r"[a-z]{2,3}(?:[-_][a-z]{2,4})?")
_MEDIA = frozenset(("mov", "mkv", "avi", "mxf", "mts", "mpg", "ts", "wav", "ogg", "mka"))
"""Endings of recordings that would pass for languages where talk.mov has its words in talk.mov.srt."""
_DAMAGED = re.compile(r"(?:^[ \t]*\d+[ \t]*\n)?^[^\n]*\d[^\n]*-->.*", re.MULTILINE | re.DOTALL)
"""A cue whose times cannot be read is taken for text of the one before it."""
_NOTES = re.compile(r"\[[^\]]*\]|\([^)]*\)|^\s*(?:[-–—]|>>+)", re.MULTILINE)
_SPEAKER = re.compile(r"^(\s*)([^\W\d_][^\W\d_. ]*(?:[. ]+[^\W\d_]+)*\.?):(?=\s)[ \t]*[-–—]?", re.MULTILINE)
_WORD = re.compile(r"[^\W\d_]+(?:['’\-][^\W\d_]+)*|\d+")
_MARKS = re.compile(r"[.,;:!?…]+")


@dataclass(frozen=True, slots=True)
class Word:
    """A word as it is written, and when it is said, in milliseconds from the start of the file.

    opens: it begins a sentence, or a line, so that a capital tells nothing of it. after: marks that are
    written behind it.
    """

    text: str
    at_ms: int
    opens: bool = False
    after: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Transcript:
    """The words of one recording in order; language: two or three letters from the file's name, or "".

    A region may follow the language, as in en-gb.
    """

    words: tuple[Word, ...]
    language: str = ""


@dataclass(frozen=True, slots=True)
class Cue:
    """One line of a transcript, its times in milliseconds; speaker: as the file names them, or ""."""

    at_ms: int
    until_ms: int
    words: tuple[Word, ...]
    speaker: str = ""


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
        if path.suffix.lower() in _SUFFIXES and (not middle or _LANGUAGE.fullmatch(middle.lower())):
            found.append((bool(middle), _SUFFIXES.index(path.suffix.lower()), path.name, path))
    return min(found)[3] if found else None


def read_transcript(path: Path) -> Transcript:
    """Read a subtitle file of any common format. Raises MediaError when it cannot be read.

    Within a line nothing says when which word falls: they are spread evenly over its letters.
    """
    cues, language = read_cues(path)
    return Transcript(tuple(word for cue in cues for word in cue.words), language)


def read_cues(path: Path) -> tuple[tuple[Cue, ...], str]:
    """The lines in which something is said, in order, and the language, "" where the name tells none.

    Raises MediaError when the file cannot be read.
    """
    try:
        lines = pysubs2.SSAFile.from_string(_text(path))
    except (OSError, pysubs2.exceptions.Pysubs2Error, ValueError) as problem:
        why = problem.strerror if isinstance(problem, OSError) else "it is no subtitle file"
        raise MediaError(path, f"the transcript cannot be read ({why}); check that it opens") from problem
    language = path.name.split(".")[-2].lower() if path.name.count(".") > 1 else ""
    known = _LANGUAGE.fullmatch(language) and language not in _MEDIA
    spoken = (line for line in sorted(lines) if not line.is_comment and _is_said(line.text))
    cues = (
        Cue(line.start, max(line.start, line.end), tuple(words_of(line)), _speaker(line)) for line in spoken
    )
    return tuple(cue for cue in cues if cue.words), language if known else ""


def _is_said(text: str) -> bool:
    """False for a drawing, and for what is longer than anybody could say or read.

    The library can tell a drawing too, in a time that grows with the square of the tags.
    """
    return len(text) <= LONGEST_LINE and _DRAWING.search(text) is None


def _speaker(line: pysubs2.SSAEvent) -> str:
    """Who speaks, where the line says so: in a field of its own, or in capitals with a colon."""
    named = _SPEAKER.search(line.plaintext)
    return named[2].title() if named and named[2].isupper() else line.name.strip()


def words_of(line: pysubs2.SSAEvent) -> Iterator[Word]:
    """The words of one line; notes in brackets and names of speakers are no words."""
    text = unescape(_NOTES.sub(" ", _DAMAGED.sub("", line.plaintext).rstrip()))
    text = _SPEAKER.sub(lambda found: found[1] if found[2].isupper() else found[0], text)
    length, lasts_ms = max(1, len(text)), max(0, line.end - line.start)
    for found in _WORD.finditer(text):
        before = text[: found.start()].rstrip(" \n\"'«»„“”‘’")
        at_ms = line.start + lasts_ms * found.start() // length
        marks = _MARKS.match(text, found.end())
        opens = not before or before[-1] in ".!?:…"
        yield Word(found.group(), at_ms, opens, after=marks.group() if marks else "")


def _text(path: Path) -> str:
    raw = read_bytes(path)
    wide = raw.startswith((BOM_UTF16_LE, BOM_UTF16_BE))
    # Old files with curly quotes are of Windows' code page, which differs from Latin-1 in those alone.
    for encoding in ("utf-16",) if wide else ("utf-8-sig", "cp1252"):
        try:
            return raw.decode(encoding)
        except UnicodeDecodeError:
            continue
    return raw.decode("latin-1")


def _escaped(stem: str) -> str:
    return re.sub(r"([*?\[])", r"[\1]", stem)
