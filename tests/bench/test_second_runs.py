"""What a second run keeps of a plan, and what that costs beside a plan from nothing.

Run by name only: pytest tests/bench/test_second_runs.py -s. Random films of three minutes, after one shot was
shortened by a frame, one deleted, and one bite taken out. What is kept is checked; the cost is printed: a
plan that keeps nineteen of twenty shots cannot always cost as little as one that may change all of them.
"""

from __future__ import annotations

import sys
from dataclasses import replace

import pytest

from mltassist.cutaways.planner.film import CoverTask, JumpCut, Shot, Used, View, without_views
from mltassist.cutaways.planner.plan import plan_cover
from mltassist.cutaways.planner.stable import Placed, plan_stably
from mltassist.frames import Span, joined, without
from tests.bench.test_cover_plans import RULES, film

BITE, BEHIND = 25, 250
"""Frames taken out, and those behind from which on nothing changes: a second, and ten."""


def placed(shots: list[Shot]) -> list[Placed]:
    return [Placed(shot.span, shot.moment.source, shot.source_in) for shot in shots]


def by_hand(task: CoverTask, span: Span, used: tuple[Used, ...]) -> CoverTask:
    """The film where a shot of the editor's lies, or where nothing is to lie."""
    spans = (span,)
    return replace(
        task,
        views=tuple(without_views(task.views, spans)),
        cuts=tuple(cut for cut in task.cuts if cut.at not in span),
        narration=without(task.narration, spans),
        used=(*task.used, *used),
    )


def moved(span: Span, bite: Span) -> Span:
    """Where a span lies once a bite is gone."""
    first, end = (at - max(0, min(at, bite.end) - bite.start) for at in (span.start, span.end))
    return Span(first, end)


def taken_out(task: CoverTask, bite: Span) -> CoverTask:
    """The film without a bite of a face, in which no shot and no cut lies."""
    views: list[View] = []
    for view in task.views:
        views.append(View(moved(view.span, bite), view.who))
    cuts = [replace(cut, at=moved(Span(cut.at, cut.at), bite).start) for cut in task.cuts]
    edits = {moved(Span(at, at), bite).start for at in task.sound_edits}
    words = (word for word in task.words if word.at not in bite)
    return replace(
        task,
        views=tuple(views),
        cuts=tuple(sorted([*cuts, JumpCut(bite.start)], key=lambda cut: cut.at)),
        narration=tuple(moved(span, bite) for span in task.narration),
        sound_edits=tuple(sorted({*edits, bite.start})),
        pauses=joined(one for span in task.pauses if (one := moved(span, bite)).length > 0),
        words=tuple(replace(word, at=moved(Span(word.at, word.at), bite).start) for word in words),
    )


def tell(what: str, task: CoverTask, earlier: list[Placed]) -> list[Placed]:
    """Plan anew and with what lies there, and print both; the shots that are kept."""
    fresh = plan_cover(task, RULES, closely=True)
    kept = plan_stably(task, RULES, earlier, closely=True)
    stay, of_fresh = ([one for one in earlier if one in placed(list(p.shots))] for p in (kept, fresh))
    more = 100 * (kept.cost / fresh.cost - 1)
    sys.stdout.write(
        f"\n    {what}: {len(stay)} of {len(earlier)} stay (planned from nothing {len(of_fresh)}),"
        f" cost {more:+.1f} %, gap {kept.gap:.4f}"
    )
    return stay


@pytest.mark.parametrize("seed", range(4))
def test_little_changes_where_little_has_changed(seed: int) -> None:
    task = film(3, seed, cuts_a_minute=6, moments=60)
    shots = list(plan_cover(task, RULES, closely=True).shots)
    sys.stdout.write(f"\n  film {seed}, {len(shots)} shots")
    third = shots[len(shots) // 3]
    span = Span(third.span.start, third.span.end - 1)
    used = Used(third.moment.source, Span(third.source_in, third.source_in + span.length), span)
    others = placed([shot for shot in shots if shot is not third])
    for what, changed in (
        ("one shortened", by_hand(task, span, (used,))),
        ("one deleted", by_hand(task, third.span, ())),
    ):
        assert len(tell(what, changed, others)) >= 0.95 * len(others)
    open_faces = without([view.span for view in task.views if view.who], [shot.span for shot in shots])
    face = max(open_faces, key=lambda span: span.length)
    bite = Span(face.start + 20, min(face.end - 5, face.start + 20 + BITE))
    earlier = [Placed(moved(s.span, bite), s.moment.source, s.source_in) for s in shots]
    stay = tell("a bite taken out", taken_out(task, bite), earlier)
    far = [one for one in earlier if one.span.end <= bite.start or one.span.start >= bite.start + BEHIND]
    assert far
    assert all(one in stay for one in far)
    sys.stdout.write("\n")
