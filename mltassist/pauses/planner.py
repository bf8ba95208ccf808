"""A natural-sound pause: room for it, and the natural sound that fills it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from mltassist.frames import Span, joined
from mltassist.timeline.edits import FADE_DB, LayNatural, OpenPause, SetLevelCurve


@dataclass(frozen=True, slots=True)
class NaturalMoment:
    """The most alive stretch of a natural-sound clip.

    span: source frames, as long as the pause with lead and trail. loudness_lufs: of that stretch.
    alive: how much happens in it, higher is more. fits: words of the place that name it.
    """

    source: str
    name: str
    span: Span
    loudness_lufs: float
    alive: float
    fits: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RunOut:
    """A clip that runs on and whose source ends before the pause does; `span` once the pause is open."""

    track: int
    span: Span
    source: str = ""


@dataclass(frozen=True, slots=True)
class PauseTask:
    """A pause of `length` frames at frame `at`.

    empty: stretches in which no speech and no picture lies, used without moving anything.
    run_on: tracks whose clip across the place plays on. target_lufs: loudness of the natural sound.
    run_out: clips on them that cannot play on for long enough; run_out_fade: frames in which they go.
    bare: where nothing is seen, before the pause is opened.
    why: the reason for a pause at this place.
    """

    at: int
    length: int
    empty: tuple[Span, ...]
    run_on: tuple[int, ...]
    moments: tuple[NaturalMoment, ...]
    target_lufs: float
    lead: int
    trail: int
    fade: int
    run_out: tuple[RunOut, ...] = ()
    run_out_fade: int = 0
    bare: tuple[Span, ...] = ()
    why: str = "a natural-sound pause was asked for here"


def plan_pause(task: PauseTask) -> tuple[OpenPause | SetLevelCurve | LayNatural, ...]:
    """Open the pause (unless the place is empty already) and lay the best natural sound into it.

    Without any moment the pause is opened and stays empty: the caller tells the editor.
    """
    room = next((span for span in task.empty if task.at in span or task.at == span.end), None)
    at, edits = task.at, list[OpenPause | SetLevelCurve | LayNatural]()
    if room is not None and room.length >= task.length:
        at = max(room.start, min(task.at, room.end - task.length))
    else:
        edits.append(OpenPause(task.at, task.length, task.why, task.run_on))
        edits += [_fade_out(clip, task.run_out_fade) for clip in task.run_out if clip.span.length > 1]
    best = best_moment(task.moments)
    if best is not None:
        lead = min(task.lead, at)
        before, after = _run_on_to_next_picture(task, at, lead, opened=bool(edits))
        why = "the most alive moment" + (
            f", its subject is named: {', '.join(best.fits)}" if best.fits else ""
        )
        edits.append(
            LayNatural(
                at=at - before,
                length=before + task.length + after,
                source=best.source,
                source_in=best.span.start + task.lead - before,
                reason=why,
                lead=lead - before,
                trail=task.trail - after,
                gain_db=round(task.target_lufs - best.loudness_lufs, 2),
                fade_in=task.fade,
                fade_out=task.fade,
                name=best.name,
            )
        )
    return tuple(edits)


def _run_on_to_next_picture(task: PauseTask, at: int, lead: int, *, opened: bool) -> tuple[int, int]:
    """Frames by which the picture begins earlier and ends later, so that no black is left beside it.

    It has the frames that are heard before and after it; a longer hole is no edge of the pause.
    """
    end = at if opened else at + task.length
    before = next((at - span.start for span in task.bare if span.start < at <= span.end), 0)
    after = next((span.end - end for span in task.bare if span.start <= end < span.end), 0)
    return before if before <= lead else 0, after if after <= task.trail else 0


def _fade_out(clip: RunOut, fade: int) -> SetLevelCurve:
    """Down to nothing at the last frame the clip has."""
    start, last = clip.span.start, clip.span.end - 1
    begins = max(start, last - max(1, fade))
    keys = {start: 0.0, begins: 0.0, last: FADE_DB}
    reason = "its source ends before the pause does"
    return SetLevelCurve(start, clip.track, tuple(keys.items()), reason, "fade", clip.source)


def best_moment(moments: Iterable[NaturalMoment]) -> NaturalMoment | None:
    """The moment whose subject the place names, else the most alive; by name where they are equal."""
    return min(moments, key=lambda m: (-len(m.fits), -m.alive, m.source), default=None)


TOPIC_ENDS = 3.0
"""A rest at which another speaker goes on counts as so many times as long: a topic has ended there."""


def rests(spoken: Iterable[Span], length: int) -> tuple[Span, ...]:
    """Where nobody speaks between two words; the film's beginning and end are none."""
    words = joined(spoken)
    return tuple(Span(a.end, b.start) for a, b in pairwise(words) if b.start <= length)


def suggest_places(
    found: Iterable[Span],
    edits: Iterable[tuple[int, bool]],
    dissolves: Iterable[Span],
    taken: Iterable[int],
    *,
    length: int,
    spacing: int,
    many: int,
) -> tuple[int, ...]:
    """The `many` best places for a pause, in order of time.

    found: rests in speech. edits: frames of edits in speech, each with whether another source goes on
    after it. A pause opens at an edit that lies in its rest, else in the middle of it, never inside a
    dissolve, and `spacing` frames from others, from `taken` places and from both ends of the film.
    Longest first, those at the end of a topic before others; of equals the earliest.
    """
    known, closed = sorted(edits), list(dissolves)
    rated = []
    for rest in found:
        inside = [(at, ends) for at, ends in known if rest.start <= at <= rest.end]
        at, ends = max(
            inside, key=lambda pair: (pair[1], -pair[0]), default=((rest.start + rest.end) // 2, False)
        )
        if any(span.start < at < span.end for span in closed):
            continue
        if spacing <= at <= length - spacing:
            rated.append((-rest.length * (TOPIC_ENDS if ends else 1.0), at))
    chosen: list[int] = []
    held = list(taken)
    for _, at in sorted(rated):
        if len(chosen) < many and all(abs(at - other) >= spacing for other in (*chosen, *held)):
            chosen.append(at)
    return tuple(sorted(chosen))
