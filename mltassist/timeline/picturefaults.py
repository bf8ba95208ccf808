"""Faults of a film's picture that an editor would not let through: black, flashes, and what is not seen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations
from typing import Any

from mltassist.frames import Rate, Span, format_timecode, joined, shared, without
from mltassist.timeline.cuts import stretches
from mltassist.timeline.elements import SPEECH, Element, Elements, clips_of
from mltassist.timeline.model import Clip, SourceKind, Timeline, Track, TrackKind
from mltassist.timeline.picture import Showing, blanks, is_black, layers, showing

FLASH = 12
"""Under so many frames a picture only flashes (common practice)."""


class PictureRule(StrEnum):
    """What such a fault breaks."""

    BLACK = "no black"
    FLASH = "no flashes"
    TWICE = "no frame twice"
    SEEN = "somebody is seen"
    FRAME = "pictures fill the frame"


@dataclass(frozen=True, slots=True)
class PictureFault:
    """A fault at frame `at`, in words, and the rule that it breaks."""

    at: int
    what: str
    rule: PictureRule

    def as_dict(self, rate: Rate) -> dict[str, Any]:
        """Plain data, in the form of docs/formats.md."""
        return {"at": self.at, "timecode": format_timecode(self.at, rate), "what": self.what}


def picture_faults(timeline: Timeline, elements: Elements, unseen_max: int) -> tuple[PictureFault, ...]:
    """The faults of a film as it is, in order. unseen_max: frames for which nobody may be seen."""
    shown = showing(timeline, ours=True)
    found = [
        *_black(timeline, elements),
        *_flashes(shown),
        *_twice(shown, elements),
        *never_seen(timeline, elements, shown),
        *_unseen(timeline, elements, shown, unseen_max),
        *_strips(timeline),
    ]
    return tuple(sorted(found, key=lambda fault: (fault.at, fault.what)))


def holes(timeline: Timeline, elements: Elements) -> tuple[Span, ...]:
    """Where there is neither picture nor anything to read, up to the end of the last picture or speech."""
    ends = [span.end for element in SPEECH for span in stretches(timeline, elements, element)]
    ends += [t.end for t in timeline.tracks if t.kind is TrackKind.PICTURE and not t.hidden]
    within = Span(0, min(timeline.length, max(ends, default=0)))
    return tuple(both for span in blanks(timeline) if (both := span.shared(within)).length > 0)


def _black(timeline: Timeline, elements: Elements) -> Iterator[PictureFault]:
    for span in holes(timeline, elements):
        yield PictureFault(span.start, "nothing is seen here: the picture is black", PictureRule.BLACK)


def _flashes(shown: tuple[Showing, ...]) -> Iterator[PictureFault]:
    for run in _runs(shown):
        first, last = run[0], run[-1]
        long = last.span.end - first.span.start
        if first.clip is not None and not is_black(first.clip) and long < FLASH:
            what = f"a picture flashes: {first.clip.name!r} for {long} frames"
            yield PictureFault(first.span.start, what, PictureRule.FLASH)


def _runs(shown: tuple[Showing, ...]) -> Iterator[list[Showing]]:
    """What is seen without a change: pieces of one recording that runs on are one."""
    run: list[Showing] = []
    for one in shown:
        if run and not _runs_on(run[-1].clip, one.clip, one.span.start):
            yield run
            run = []
        run.append(one)
    if run:
        yield run


def _runs_on(before: Clip | None, after: Clip | None, at: int) -> bool:
    if before is None or after is None or before.source.key != after.source.key:
        return False
    moving = before.source.kind is SourceKind.FILE
    return not moving or abs(after.source_frame(at) - before.source_frame(at)) <= 1


def _twice(shown: tuple[Showing, ...], elements: Elements) -> Iterator[PictureFault]:
    """The same frames of a cutaway that the editor shows at two places."""
    uses: dict[str, list[tuple[Span, Span, str]]] = {}
    for one in shown:
        if not _is(elements, one.track, one.clip, Element.CUTAWAY) or one.clip is None or one.track is None:
            continue
        if one.track.ours or one.clip.source.kind is not SourceKind.FILE:
            continue
        frames = [one.clip.source_frame(at) for at in (one.span.start, one.span.end - 1)]
        row = (Span(min(frames), max(frames) + 1), one.span, one.clip.name)
        uses.setdefault(one.clip.source.key, []).append(row)
    for rows in uses.values():
        for (frames_of, _, name), (others, place, _) in combinations(rows, 2):
            if frames_of.overlaps(others):
                what = f"frames of {name!r} are shown a second time"
                yield PictureFault(place.start, what, PictureRule.TWICE)


def never_seen(
    timeline: Timeline, elements: Elements, shown: Iterable[Showing], cover: Iterable[Span] = ()
) -> Iterator[PictureFault]:
    """Whoever is heard in an interview and seen nowhere. cover: what is going to be laid over the picture.

    A recording of sound alone is somebody's who is seen where any face is seen while it is heard.
    """
    over, seen, faces = joined(cover), set[str](), list[Span]()
    for one in shown:
        parts = () if one.clip is None else without([one.span], over)
        if one.clip is not None and parts:
            seen.add(one.clip.source.key)
            faces += parts if _is(elements, one.track, one.clip, Element.INTERVIEW) else ()
    heard: dict[str, list[Clip]] = {}
    for _, clip in clips_of(timeline, elements, (Element.INTERVIEW,)):
        if clip.source.kind is SourceKind.FILE:
            heard.setdefault(clip.source.key, []).append(clip)
    for key, clips in heard.items():
        first = clips[0]
        met = () if first.source.has_picture else shared([clip.span for clip in clips], faces)
        if key not in seen and not met:
            yield PictureFault(first.start, f"{first.name!r} is heard and never seen", PictureRule.SEEN)


def _unseen(
    timeline: Timeline, elements: Elements, shown: tuple[Showing, ...], unseen_max: int
) -> Iterator[PictureFault]:
    faces = [one.span for one in shown if _is(elements, one.track, one.clip, Element.INTERVIEW)]
    spoken = joined(stretches(timeline, elements, Element.INTERVIEW))
    for span in without(spoken, faces):
        if span.length > unseen_max:
            seconds = float(timeline.rate.seconds(span.length))
            what = f"nobody is seen for {seconds:.0f} s of an interview"
            yield PictureFault(span.start, what, PictureRule.SEEN)


def _strips(timeline: Timeline) -> Iterator[PictureFault]:
    """Pictures of another shape than the film's, beside which another one is seen: once for each place."""
    told: set[int] = set()
    for one in layers(timeline, ours=True):
        for layer in one.over:
            if layer.strips and one.clip is not None and id(layer.clip) not in told:
                told.add(id(layer.clip))
                what = f"{layer.clip.name!r} does not fill the frame: {one.clip.name!r} is seen beside it"
                yield PictureFault(one.span.start, what, PictureRule.FRAME)


def _is(elements: Elements, track: Track | None, clip: Clip | None, element: Element) -> bool:
    if track is None or clip is None or is_black(clip):
        return False
    return elements.of_clip(track, clip) is element
