"""Small timelines for the tests."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from mltassist.frames import Rate
from mltassist.timeline.model import BinClip, Clip, Gap, Item, Source, SourceKind, Timeline, Track, TrackKind


def source(name: str, kind: SourceKind = SourceKind.FILE) -> Source:
    """A file (or something made) called `name`."""
    return Source(f"/rushes/{name}", kind, Path(f"/rushes/{name}"), 1000)


def clip(
    name: str, start: int, length: int, source_in: int = 0, *, kind: SourceKind = SourceKind.FILE
) -> Clip:
    """A clip called as its source is."""
    return Clip(start, length, source(name, kind), source_in, name)


def row(*parts: tuple[str | None, int] | tuple[str, int, int]) -> tuple[Item, ...]:
    """Clips one after the other, as (name or None for a gap, frames, source in)."""
    items: list[Item] = []
    at = 0
    for name, length, *rest in parts:
        items.append(Gap(at, length) if name is None else clip(name, at, length, *rest))
        at += length
    return tuple(items)


def track(index: int, name: str, items: Sequence[Item] = (), *, sound: bool = False, **more: object) -> Track:
    """A picture track, or one of sound."""
    kind = TrackKind.SOUND if sound else TrackKind.PICTURE
    return Track(index, kind, name, tuple(items), **more)  # type: ignore[arg-type]


def timeline(*tracks: Track, bin_clips: Sequence[BinClip] = ()) -> Timeline:
    """A timeline of these tracks at 25 frames a second."""
    return Timeline(Path("/film.mlt"), "plain", Rate(25), 1280, 720, tracks, tuple(bin_clips))


def in_bin(name: str, folder: str = "", tags: tuple[str, ...] = (), *, file: str | None = None) -> BinClip:
    """A clip of the bin."""
    return BinClip(name, name, source(file or name), folder, tags)
