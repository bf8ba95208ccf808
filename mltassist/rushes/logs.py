"""The log sheets of a project: which there are, and which clips of its bin their rows mean."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator
from fractions import Fraction
from pathlib import Path
from unicodedata import normalize

from mltassist.errors import MediaError, TimeError
from mltassist.files import here, read_text
from mltassist.frames import Rate, Span, format_timecode, parse_timecode
from mltassist.media.probe import probe
from mltassist.rushes.logsheet import LogSheet, read_log_sheet, row_span
from mltassist.timeline.log import Log, Logged, LogRow, Problem
from mltassist.timeline.model import BinClip, SourceKind, Timeline

_NAME = re.compile(r"(?:.*[\W_])?log\.csv", re.IGNORECASE | re.DOTALL)
"""A file beside the project or its media whose name ends in this word is a log sheet: a catalog is none."""
_LARGEST = 16 * 2**20
"""Bytes of the largest sheet that is read: a row takes about a hundred."""


def find_log(timeline: Timeline, named: Iterable[str] = ()) -> Log:
    """Read the sheets that are `named`, relative to the project's folder, else those that lie about.

    These are files whose name is log.csv, or ends in it as a word of its own, in the project's folder or
    in one that holds media of its bin.
    """
    home = here(timeline.path.absolute().parent)
    paths = [home / name for name in named]
    if not paths:
        folders = [home, *(c.source.path.parent for c in timeline.bin if c.source.path)]
        paths = [path for folder in dict.fromkeys(folders) for path in _lying_in(folder)]
    sheets: list[Path] = []
    problems: list[Problem] = []
    rows: dict[str, list[tuple[Path, LogRow]]] = {}
    clips = _Clips(timeline.bin)
    once: dict[str, Path] = {}
    for path in paths:
        once.setdefault(_real(path), path)
    for real, path in once.items():
        sheet, why = _read(path, timeline.rate)
        problems += [Problem(f"{path}: {why}")] if why else []
        problems += [Problem(f"{path}: {what}") for what in sheet.problems]
        sheets += [path] if sheet.rows else []
        for row in sheet.rows:
            keys = clips.meant(row.file, Path(real).parent)
            if len(keys) == 1:
                rows.setdefault(keys[0], []).append((path, row))
            else:
                many = f"{len(keys)} clips are called {row.file!r}; write which by its path from the sheet"
                none = f"no clip of the bin is {row.file!r}; add it to the bin, or mend the name"
                problems.append(Problem(f"{path}: line {row.line}: {many if keys else none}", bool(keys)))
    return Log(tuple(sheets), {key: tuple(of) for key, of in rows.items()}, tuple(problems))


def _lying_in(folder: Path) -> Iterator[Path]:
    try:
        paths = sorted(folder.iterdir())
    except OSError:
        return  # told where its media are read
    yield from (path for path in paths if _NAME.fullmatch(path.name) and path.is_file())


def _read(path: Path, rate: Rate) -> tuple[LogSheet, str]:
    """A sheet, or why it cannot be read."""
    try:
        if not path.is_file():
            return LogSheet(()), "there is no such log sheet; check its path"
        if path.stat().st_size > _LARGEST:
            return LogSheet(()), f"it is larger than {_LARGEST >> 20} MiB: is it a log sheet? Rename it"
        return read_log_sheet(read_text(path, "utf-8-sig"), rate), ""
    except OSError as error:
        return LogSheet(()), f"the log sheet cannot be read ({error.strerror}); check its rights"
    except UnicodeDecodeError:
        return LogSheet(()), "the log sheet is not UTF-8 text; save it as CSV in UTF-8"


class _Clips:
    """The files of a bin by path, by name and by stem."""

    def __init__(self, clips: Iterable[BinClip]) -> None:
        self._paths: dict[str, str] = {}
        self._names: dict[str, dict[str, None]] = {}
        self._folders: dict[str, Path] = {}
        for clip in clips:
            if clip.source.kind not in (SourceKind.FILE, SourceKind.IMAGE):
                continue
            key, path = clip.source.key, Path(clip.source.key)
            real = _real(path)
            self._paths[real] = key
            self._folders[key] = Path(real).parent
            for name in {path.name, path.stem}:
                self._names.setdefault(_folded(name), {})[key] = None

    def meant(self, file: str, folder: Path) -> list[str]:
        """Source keys of what a sheet in the real `folder` may mean by `file`; the nearest alone."""
        for text in (file, file.replace("\\", "/")):
            path = folder / text
            spellings = [normalize("NFC", os.path.normpath(path)), *([_real(path)] if "/" in text else ())]
            if found := [self._paths[one] for one in spellings if one in self._paths]:
                return found[:1]
        keys = list(self._names.get(_folded(file), ()))
        beside = [key for key in keys if self._folders[key] == folder]
        return beside if len(beside) == 1 else keys


def _real(path: str | Path) -> str:
    """One spelling for each file. A NUL, which no path has, is no reason to fail."""
    return normalize("NFC", os.path.realpath(str(path).replace("\0", "")))


def _folded(name: str) -> str:
    return normalize("NFC", name).casefold()


def logged_moments(
    log: Log, clip: BinClip, rate: Rate, handle: int
) -> tuple[tuple[Logged, ...], tuple[Problem, ...]]:
    """The moments that the sheets give to a clip in order of their rows, and what is wrong with others.

    handle: frames at both ends that are not used where a row gives no in or out. What is rated 0 stands
    in the answer too.
    """
    rows = log.rows.get(clip.source.key, ())
    timed = any(":" in cell for _, row in rows for cell in (row.first, row.last))
    still = clip.source.kind is SourceKind.IMAGE  # at any time of it the same is seen
    start = _start(clip, rate) if timed and not still else ""
    found: list[Logged] = []
    problems: list[Problem] = []
    for sheet, row in rows:
        where = f"{sheet}: line {row.line}"
        try:
            length = clip.source.length
            span = Span(0, length) if still else row_span(row, rate, length, handle, start)
        except TimeError as error:
            problems.append(Problem(f"{where}: {clip.name!r}: {error}"))
            continue
        found.append(Logged(span, row.size, row.subjects, row.rating, where, row.of))
    return tuple(found), tuple(problems)


def _start(clip: BinClip, rate: Rate) -> str:
    """The timecode of a file's first frame in labels of the project's rate, "" where it has none."""
    try:
        facts = probe(clip.source.path) if clip.source.path is not None else None
    except MediaError:
        return ""  # told where it is read
    if facts is None or not facts.start_timecode:
        return ""
    try:
        parse_timecode(facts.start_timecode, rate)
    except TimeError:
        return _converted(facts.start_timecode, facts.frame_rate, rate)
    return facts.start_timecode


def _converted(label: str, own: Fraction | None, rate: Rate) -> str:
    """A label of another rate: the same second, and the frame of it that is nearest below."""
    if own is None:
        return ""
    counted = Rate(own.numerator, own.denominator)
    try:
        frame = parse_timecode(label, counted)
    except TimeError:
        return ""
    label = format_timecode(frame, counted, drop=False)
    frames = int(label[9:]) * rate.nominal // counted.nominal
    return f"{label[:9]}{frames:02}"
