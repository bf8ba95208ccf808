"""Which stretches of a cutaway can be used, and what is seen in each, as the editor has marked it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from mltassist.frames import Span, joined, without
from mltassist.rushes.logsheet import BEST
from mltassist.timeline.elements import persons_of, size_in, size_of, subjects_of, words_in
from mltassist.timeline.log import Log, Logged
from mltassist.timeline.model import BinClip, Marker, SourceKind

ORDINARY = Fraction(3, BEST)
"""The grade of what nobody has rated: the middle of 1 to 5, as a part of the best."""
MARKED = Fraction(4, BEST)
"""The grade of what a marker points at: the editor liked something there, and gave no rating."""


@dataclass(frozen=True, slots=True)
class Usable:
    """A stretch in source frames. grade: 0 to 1, how good the editor has said that it is. of: whose it is."""

    span: Span
    size: str
    subjects: tuple[str, ...]
    grade: Fraction = ORDINARY
    of: tuple[str, ...] = ()


def usable(
    clip: BinClip, logged: Sequence[Logged], whole: Span, *, ideal: int, least: int
) -> tuple[Usable, ...]:
    """The usable stretches of a clip; they may overlap.

    logged: what log sheets say of it: then these alone are its stretches. Else they are its marked ranges,
    else the `whole` of it, and again the parts around its markers. Words of markers are told of the
    stretches they lie in. ideal, least: frames of an ordinary shot and of the shortest.
    """
    plain = Usable(whole, size_of(clip), subjects_of(clip), of=persons_of(clip))
    if logged:
        return tuple(_of_rows(clip, plain, logged))
    if clip.source.kind is SourceKind.IMAGE:
        return (plain,)
    if clip.zones:
        return tuple(_told(clip, replace(plain, span=zone)) for zone in clip.zones)
    marked = (
        replace(plain, span=span, grade=MARKED) for span in _around_markers(clip, whole, ideal // 2, least)
    )
    return (plain, *(_told(clip, part) for part in marked))


def tags_of(clip: BinClip, log: Log) -> Iterator[str]:
    """All that is said of what a clip shows, whether it can be used or not."""
    yield from subjects_of(clip)
    for mark in _marks(clip):
        yield from words_in(mark.text)
    for _, row in log.rows.get(clip.source.key, ()):
        yield from row.subjects


def _of_rows(clip: BinClip, plain: Usable, logged: Sequence[Logged]) -> Iterator[Usable]:
    """A stretch for every row, without what other rows say is not to be used; a still is seen whole."""
    still = clip.source.kind is SourceKind.IMAGE
    refused = [row.span for row in logged if row.rating == 0]
    for row in logged:
        if row.rating == 0:
            continue
        for span in (plain.span,) if still else without([row.span], refused):
            grade = ORDINARY if row.rating is None else row.rating / BEST
            subjects = row.subjects or plain.subjects
            part = Usable(span, row.size or plain.size, subjects, grade, row.of or plain.of)
            yield _told(clip, part, named=bool(row.size))
        if still:
            return


def _told(clip: BinClip, part: Usable, *, named: bool = False) -> Usable:
    """The stretch with the words of the markers in it; named: its size is given, a marker's is not asked."""
    inside = [mark for mark in _marks(clip) if mark.at in part.span]
    words = [word for mark in inside for word in words_in(mark.text)]
    size = next(filter(None, (size_in(mark.text) for mark in inside)), "")
    size = part.size or size if named else size or part.size
    return replace(part, size=size, subjects=tuple(dict.fromkeys((*part.subjects, *words))))


def _marks(clip: BinClip) -> Iterator[Marker]:
    return (mark for mark in clip.markers if mark.text.strip() and not mark.ours)


def _around_markers(clip: BinClip, whole: Span, half: int, least: int) -> tuple[Span, ...]:
    """Half an ideal shot to either side of each marker, inside the whole; near its ends a shortest shot."""
    if whole.length < least:
        return ()
    return joined(
        Span(
            max(whole.start, min(mark.at - half, whole.end - least)),
            min(whole.end, max(mark.at + half, whole.start + least)),
        )
        for mark in _marks(clip)
        if 0 <= mark.at < clip.source.length
    )
