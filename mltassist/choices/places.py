"""Between names of decisions and frames of a timeline: how a decision is named, and where it lies now."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from functools import cached_property

from mltassist.choices.naming import Anchor, Name, read_name
from mltassist.frames import Span
from mltassist.timeline.cuts import SpeechEdit
from mltassist.timeline.elements import SPEECH, Element, Elements
from mltassist.timeline.model import Clip, Timeline, Track
from mltassist.timeline.picture import is_black

NEAR_S = Fraction(1, 2)
"""A frame that is played no more counts as the nearest one that is, up to so far: words are longer."""
_NEAR_FRAMES = 256
"""Frames of a source among which clips are looked up: a long film plays one recording a thousand times."""
_TELLING = 2
"""Kinds of clips that tell a place, best first: who speaks, then what is seen. Music tells none."""


class Places:
    """The places of one timeline by what the editor's own clips play there."""

    def __init__(self, timeline: Timeline, elements: Elements) -> None:
        self.timeline, self._elements = timeline, elements
        self._near = timeline.rate.frames(NEAR_S)
        self._known_sides: dict[tuple[int, int], tuple[Anchor, Anchor]] = {}

    # --- naming ---

    def anchor(self, frame: int) -> Anchor:
        """What is played at a frame, or how long before or after it something is."""
        here = self._playing(frame)
        if here is not None:
            return self._anchored(here, frame, 0)
        before = max(
            (c for c in self._telling if c.span.end <= frame), key=lambda c: c.span.end, default=None
        )
        if before is not None:
            last = before.span.end - 1
            return self._anchored(before, last, frame - last)
        after = min((c for c in self._telling if c.start > frame), key=lambda c: c.start, default=None)
        return (
            Anchor("", 0, frame) if after is None else self._anchored(after, after.start, frame - after.start)
        )

    def shot(self, span: Span) -> str:
        """The name of what is to be seen over a stretch."""
        return str(Name("shot", self.anchor(span.start), self.anchor(span.end - 1)))

    def join(self, edit: SpeechEdit) -> str:
        """The name of a join, by the last frame before it and the first after it."""
        return str(Name("join", *self._sides(edit)))

    def pause(self, at: int) -> str:
        """The name of a pause that begins at a frame, by the frame before: what was said stays before it."""
        before = self.anchor(max(0, at - 1))
        return str(
            Name("pause", before if at else Anchor(before.file, before.frame, before.after - 1, before.nth))
        )

    def tone(self, at: int) -> str:
        """The name of a hole in a recording that begins at a frame."""
        return str(Name("tone", self.anchor(max(0, at - 1))))

    def match(self, clip: Clip) -> str:
        """The name of the level of one bite."""
        return str(Name("match", self._anchored(clip, clip.start, 0)))

    def level(self, sound: str, at: int) -> str:
        """The name of the level of what sounds (an element) under the passage that begins at a frame."""
        return str(Name("level", self.anchor(at), what=re.sub(r"\W+", "-", sound)))

    def runs(self) -> Iterator[tuple[int, Anchor, bool]]:
        """The film in runs of frames whose anchors follow each other: the first frame, its anchor, and how.

        True: the next anchor is of the next frame of the source; False: it is one frame farther from its own.
        """
        breaks = sorted({frame for frame in self._breaks() if 0 <= frame < self.timeline.length})
        for start in breaks:
            anchor = self.anchor(start)
            yield start, anchor, self._playing(start) is not None

    def _breaks(self) -> Iterator[int]:
        """Every frame whose anchor may be another than that of the frame before lets one expect."""
        yield 0
        for clip in self._telling:
            yield from (clip.start, clip.span.end)
            if not clip.plain_speed:
                yield from range(clip.start, clip.span.end)
                continue
            for other in self._by_key[clip.source.key]:
                for frame in (other.source_span.start, other.source_span.end):
                    at = clip.start + frame - clip.source_in
                    yield from (at,) if at in clip.span else ()

    # --- finding ---

    def frame(self, anchor: Anchor) -> int | None:
        """Where a place lies now; None where it is not in the film any more."""
        if not anchor.file:
            return anchor.after
        key = self.key_of(anchor.file)
        if key is None:
            return None
        shown = self._shown(key, anchor.frame)
        if shown:
            return shown[anchor.nth - 1] + anchor.after if anchor.nth <= len(shown) else None
        near = sorted(self._nearest(key, anchor.frame))
        return near[0][1] + anchor.after if near and near[0][0] <= self._near else None

    def span(self, name: Name) -> Span | None:
        """Where the stretch of a shot lies now; None where it is not there, or turned round."""
        first = self.frame(name.first)
        last = None if name.last is None else self.frame(name.last)
        return None if first is None or last is None or last < first else Span(first, last + 1)

    def pause_at(self, name: Name) -> int | None:
        """The frame at which a pause begins that has this name."""
        before = self.frame(name.first)
        return None if before is None or not 0 <= before + 1 <= self.timeline.length else before + 1

    def join_of(self, name: Name, edits: Iterable[SpeechEdit]) -> SpeechEdit | None:
        """The join that has this name, or the only one whose sides are near enough to be the same."""
        near: list[tuple[int, SpeechEdit]] = []
        for edit in edits:
            sides = self._sides(edit)
            if sides == (name.first, name.last):
                return edit
            if name.last is not None and (sides[0].file, sides[1].file) == (name.first.file, name.last.file):
                far = [abs(sides[0].frame - name.first.frame), abs(sides[1].frame - name.last.frame)]
                near += [(sum(far), edit)] if max(far) <= self._near else []
        near.sort(key=lambda row: row[0])
        alone = len(near) == 1 or (len(near) > 1 and near[0][0] < near[1][0])
        return near[0][1] if alone else None

    def same(self, text: str, name: Name) -> bool:
        """True where two names of one place mean the same one, as near as makes no difference."""
        other = read_name(text)
        if other is None or (other.kind, other.what) != (name.kind, name.what):
            return False
        places = self.frame(other.first), self.frame(name.first)
        return places[0] is not None and places[1] is not None and abs(places[0] - places[1]) <= self._near

    def called(self, key: str) -> str:
        """The end of a path by which a source of the project is told from all others."""
        return self._tails.get(key, key)

    def key_of(self, file: str) -> str | None:
        """The source that has this end of a path; None where none has, or several."""
        found = self._ends.get(file, set())
        return next(iter(found)) if len(found) == 1 else None

    # --- what is played ---

    @cached_property
    def _telling(self) -> tuple[Clip, ...]:
        return tuple(clip for rank in self._ranks for _, clips in rank for clip in clips)

    @cached_property
    def _ranks(self) -> tuple[tuple[tuple[tuple[int, ...], tuple[Clip, ...]], ...], ...]:
        """By how well they tell a place, the clips of every track in order, with their starts."""
        found: list[list[tuple[tuple[int, ...], tuple[Clip, ...]]]] = [[] for _ in range(_TELLING)]
        for track in self.timeline.tracks:
            if track.ours:
                continue
            of_rank: list[list[Clip]] = [[] for _ in range(_TELLING)]
            for clip in track.clips():
                rank = self._rank(track, clip)
                if rank is not None:
                    of_rank[rank].append(clip)
            for rank, clips in enumerate(of_rank):
                clips.sort(key=lambda clip: clip.start)
                if clips:
                    found[rank].append((tuple(clip.start for clip in clips), tuple(clips)))
        return tuple(map(tuple, found))

    def _rank(self, track: Track, clip: Clip) -> int | None:
        element = self._elements.of_clip(track, clip)
        if element in SPEECH and clip.plays_sound and track.has_sound and not track.muted:
            return 0
        seen = clip.plays_picture and not track.hidden and track.kind == "picture" and not is_black(clip)
        return 1 if seen and element is not Element.MUSIC and clip.source.path is not None else None

    def _playing(self, frame: int) -> Clip | None:
        for rank in self._ranks:
            for starts, clips in rank:
                place = bisect_right(starts, frame)
                for clip in reversed(clips[max(0, place - 2) : place]):
                    if frame in clip.span:
                        return clip
        return None

    @cached_property
    def _by_key(self) -> dict[str, tuple[Clip, ...]]:
        found: dict[str, list[Clip]] = {}
        for track in self.timeline.tracks:
            for clip in track.clips() if not track.ours else ():
                found.setdefault(clip.source.key, []).append(clip)
        return {key: tuple(clips) for key, clips in found.items()}

    def _shown(self, key: str, frame: int) -> Sequence[int]:
        """Frames at which a frame of a source is played, each once: picture and sound may lie apart."""
        near = self._playing_near[key].get(frame // _NEAR_FRAMES, ()) if key in self._playing_near else ()
        return sorted({at for clip in near if (at := _at(clip, frame)) is not None})

    @cached_property
    def _playing_near(self) -> dict[str, dict[int, list[Clip]]]:
        """By source, and by the part of it that a frame lies in, the clips that play some of that part."""
        found: dict[str, dict[int, list[Clip]]] = {}
        for key, clips in self._by_key.items():
            parts = found.setdefault(key, {})
            for clip in clips:
                shown = clip.source_span
                for part in range(shown.start // _NEAR_FRAMES, (shown.end - 1) // _NEAR_FRAMES + 1):
                    parts.setdefault(part, []).append(clip)
        return found

    def _nearest(self, key: str, frame: int) -> Iterator[tuple[int, int]]:
        """How far the ends of the clips of a source are from one of its frames, and where those lie."""
        for clip in self._by_key.get(key, ()):
            for at in (clip.start, clip.span.end - 1):
                yield abs(clip.source_frame(at) - frame), at

    def _anchored(self, clip: Clip, at: int, after: int) -> Anchor:
        frame, key = clip.source_frame(at), clip.source.key
        shown = self._shown(key, frame)
        return Anchor(self._tails[key], frame, after, shown.index(at) + 1 if at in shown else 1)

    def _sides(self, edit: SpeechEdit) -> tuple[Anchor, Anchor]:
        place = (edit.track, edit.at)
        if place not in self._known_sides:
            before, after = edit.before, edit.after
            last = self._anchored(before, before.span.end - 1, 0)
            self._known_sides[place] = last, self._anchored(after, after.start, 0)
        return self._known_sides[place]

    # --- what sources are called ---

    @cached_property
    def _tails(self) -> dict[str, str]:
        """By key, the shortest end of its path that no other source of the project has."""
        keys = {key for found in self._ends.values() for key in found}
        return {key: next((t for t in _tails(key) if len(self._ends[t]) == 1), key) for key in keys}

    @cached_property
    def _ends(self) -> dict[str, set[str]]:
        """By every end of a path, the sources of the project that have it."""
        ends: dict[str, set[str]] = {}
        for key in (*self._by_key, *(clip.source.key for clip in self.timeline.bin)):
            for tail in _tails(key):
                ends.setdefault(tail, set()).add(key)
        return ends


def _tails(key: str) -> list[str]:
    """The ends of a path, the shortest first."""
    parts = [part for part in re.split(r"[\\/]", key) if part] or [key]
    return ["/".join(parts[first:]) for first in range(len(parts) - 1, -1, -1)]


def _at(clip: Clip, frame: int) -> int | None:
    """The frame of the timeline at which a clip plays a frame of its source."""
    if clip.plain_speed:
        at = clip.start + frame - clip.source_in
        return at if at in clip.span else None
    if frame not in clip.source_span:
        return None
    return next((at for at in range(clip.start, clip.span.end) if clip.source_frame(at) >= frame), None)
