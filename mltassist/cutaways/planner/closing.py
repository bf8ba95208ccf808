"""Flashes of black between two shots of a plan are closed: one of the shots runs on, or begins earlier.

Where clips are short a search may leave a frame or two bare that no editor would; to look again at these
places alone costs next to nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from mltassist.cutaways.planner.film import CoverTask, Frames, Shot
from mltassist.cutaways.planner.objective import plan_cost
from mltassist.cutaways.planner.rules import breaches
from mltassist.cutaways.planner.shots import free_start
from mltassist.frames import Span


def closed(
    task: CoverTask, rules: Frames, shots: tuple[Shot, ...], *, stay: Collection[Shot] = ()
) -> tuple[Shot, ...]:
    """The same shots, of which some reach over a hole that is too short to be seen as one.

    stay: those that lie as they do. No hard rule is broken for it, and the plan costs less or is left.
    """
    for before, behind in pairwise(shots):
        hole = Span(before.span.end, behind.span.start)
        if not 0 < hole.length < rules.flash or not any(hole.overlaps(span) for span in task.never_bare):
            continue
        wider = {
            before: Span(before.span.start, hole.end),
            behind: Span(hole.start, behind.span.end),
        }
        ways = [
            tuple(longer if one is shot else one for one in shots)
            for shot, span in wider.items()
            if shot in shots and shot not in stay
            for longer in _longer(task, rules, shots, shot, span)
        ]
        told = len(breaches(task, rules, shots))
        ways = [way for way in ways if len(breaches(task, rules, way)) < told]
        shots = min([shots, *ways], key=lambda way: plan_cost(task, rules, way))
    return shots


def _longer(task: CoverTask, rules: Frames, shots: Sequence[Shot], shot: Shot, span: Span) -> Iterator[Shot]:
    """The shot over this place, where its clip has frames for it."""
    source = shot.moment.source
    used = [*task.used, *(one.use for one in shots if one is not shot)]
    spent = tuple((one.span_in_source, one.span_on_timeline) for one in used if one.source == source)
    first = free_start(spent, rules, shot.moment, span)
    if first is not None and not task.refuses(source, span):
        yield replace(shot, span=span, source_in=first)
