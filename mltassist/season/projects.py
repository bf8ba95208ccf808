"""Which projects a season has: files, folders and patterns, each with its place among the results."""

from __future__ import annotations

import glob
import os
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from unicodedata import normalize

_ENDINGS = (".kdenlive", ".mlt")
_OURS = re.compile(r"(.+)-(?:rough|cover|duck|pause|listen)(?:-\d+)?", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Found:
    """A project, and where it lies below what was named: its new one takes the same place elsewhere."""

    project: Path
    place: Path


def find_projects(named: Iterable[Path], out: Path | None = None) -> list[Found]:
    """The projects of files, folders (all below them) and patterns (``**`` too), each once, in order.

    Passed over in folders: what lies in `out`, where one is given, or in a hidden folder, and new projects of
    an earlier run beside their originals. Of several folders the place begins with the folder's own name.
    What is not there is kept: whoever opens it tells.
    """
    paths = list(named)
    several = sum(map(os.path.isdir, paths)) > 1  # unlike those of paths, never fails
    found: dict[str, Found] = {}
    for path in paths:
        for one in _of(path, out, several=several):
            found.setdefault(os.path.realpath(one.project), one)
    return list(found.values())


def targets(found: Iterable[Found], out: Path, ending: str = "") -> list[Path]:
    """The new project of each below `out`: NAME-rough.ext in its place; those of one name are numbered.

    ending: in place of that of each project.
    """
    taken: set[str] = set()  # as systems see them that tell neither letter case nor composed accents apart
    results = []
    for one in found:
        stem, number, suffix = f"{one.project.stem}-rough", 1, ending or one.project.suffix
        target = out / one.place.parent / (stem + suffix)
        while _alike(target) in taken:
            number += 1
            target = target.with_name(f"{stem}-{number}{suffix}")
        taken.add(_alike(target))
        results.append(target)
    return results


def called(found: Sequence[Found]) -> list[str]:
    """What each film is called among the others, as short as tells them apart, in the order given.

    That is its place without the ending; where two differ in nothing else all show it. Files that were named
    one by one may lie in one place: they are called by as much of the way to each as differs.
    """
    bare = [one.place.with_suffix("").as_posix() for one in found]
    if len(set(bare)) == len(bare):
        return bare
    ways = [[one.place.as_posix(), *_longer(one.project)] for one in found]
    while True:
        times = Counter(way[0] for way in ways)
        longer = [way for way in ways if times[way[0]] > 1 and len(way) > 1]
        if not longer:
            return [way[0] for way in ways]
        for way in longer:
            del way[0]


def _longer(project: Path) -> Iterator[str]:
    """Ever more of the way to a project, from its own name up."""
    parts = Path(os.path.abspath(project)).parts  # noqa: PTH100 - as it was named: links stay
    for count in range(1, len(parts) + 1):
        yield Path(*parts[-count:]).as_posix()


def _alike(target: Path) -> str:
    return normalize("NFC", normalize("NFC", str(target)).casefold())


def _of(path: Path, out: Path | None, *, several: bool) -> Iterator[Found]:
    if os.path.isdir(path):  # noqa: PTH112 - never fails
        above = path.parent if several and path.name else path
        for one in _below(path, out):
            yield Found(one, one.relative_to(above))
    elif not os.path.lexists(path) and glob.has_magic(str(path)):
        fixed = Path(*_fixed(path))
        matched = [Path(name) for name in sorted(glob.glob(str(path), recursive=True))]  # noqa: PTH207
        for one in matched:
            if one.is_dir():
                yield from (Found(inner, inner.relative_to(fixed)) for inner in _below(one, out))
            elif _is_wanted(one, out):
                yield Found(one, one.relative_to(fixed))
        if not matched:
            yield Found(path, Path(path.name))
    else:
        yield Found(path, Path(path.name))


def _fixed(path: Path) -> Iterator[str]:
    """The parts of a pattern before the first that holds a sign of patterns."""
    for part in path.parts:
        if glob.has_magic(part):
            return
        yield part


def _below(folder: Path, out: Path | None) -> Iterator[Path]:
    for above, folders, files in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        yield from (one for name in sorted(files) if _is_wanted(one := Path(above, name), out))


def _is_wanted(path: Path, out: Path | None) -> bool:
    if path.suffix.lower() not in _ENDINGS or path.name.startswith(".") or not path.is_file():
        return False
    ours = _OURS.fullmatch(path.stem)
    if ours is not None and path.with_name(ours[1] + path.suffix).is_file():
        return False
    return out is None or not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(out))
