"""Small films: no plan at all costs less than the one that is made, and what it costs is what it says."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from math import inf

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from mltassist.cutaways.planner.costs import open_stretches
from mltassist.cutaways.planner.film import CoverTask, Frames, Moment, Refused, Shot, Used, Voice
from mltassist.cutaways.planner.objective import filling_cost, plan_cost, price_of_changes
from mltassist.cutaways.planner.plan import plan_cover
from mltassist.cutaways.planner.shots import Filler, differ
from mltassist.cutaways.planner.stable import HARD
from mltassist.cutaways.planner.supply import supply_of
from mltassist.cutaways.planner.words import Match, Matcher, Spoken
from mltassist.frames import Span, without
from tests.cutaways.films import TINY, task_of
from tests.cutaways.test_spans import costing, divisions, tiny_films

RULES = replace(TINY, match_reach=2)

pytestmark = pytest.mark.usefixtures("closely")


def supplies(most: int, firsts: tuple[int, ...] = (0, 20)) -> st.SearchStrategy[tuple[Moment, ...]]:
    moment = st.builds(
        lambda n, first, length, size, subject, worth, whose: Moment(
            f"/c{n}.mov", Span(first, first + length), "", size, (subject,), worth, whose
        ),
        st.integers(0, 3),
        st.sampled_from(firsts),
        st.integers(3, 9),
        st.sampled_from(["WS", "CU"]),
        st.sampled_from(["wheel", "gate", "gulls"]),
        st.sampled_from([1.0, 0.5]),
        st.sampled_from([(), (), ("ines",), ("tobias",)]),
    )
    return st.lists(moment, max_size=most, unique_by=lambda m: (m.source, m.span.start)).map(tuple)


voices = st.lists(
    st.builds(
        lambda at, length, who: Voice(Span(at, at + length), (who,)),
        st.integers(0, 16),
        st.integers(1, 6),
        st.sampled_from(["ines", "tobias"]),
    ),
    max_size=3,
).map(tuple)
words = st.lists(
    st.builds(Spoken, st.sampled_from(["wheels", "gate", "other"]), st.integers(0, 15), st.just("en")),
    max_size=4,
).map(tuple)


@st.composite
def laid_films(draw: st.DrawFn, sources: int = 4) -> CoverTask:
    """Tiny films with all that may lie there already: pictures and captions, splits, shots of the editor's.

    Where the editor's picture lies over an interview nobody is seen; beneath a caption the face stays.
    """
    film = draw(tiny_films())
    theirs = [view.span for view in film.views if view.who is None]
    used, hidden = [], []
    for span in theirs:
        what = draw(st.sampled_from(["caption", "picture", "shot"]))
        hidden += [span] * (what != "caption")
        if what == "shot":
            first = draw(st.integers(0, 6))
            source = f"/c{draw(st.integers(0, sources - 1))}.mov"
            used.append(Used(source, Span(first, first + span.length), span))
    place = st.builds(
        lambda at, length: Span(at, at + length), st.integers(0, film.length - 1), st.integers(1, 4)
    )
    source = st.integers(0, sources - 1).map(lambda n: f"/c{n}.mov")
    splits = draw(st.lists(place, max_size=1))
    return replace(
        film,
        used=tuple(used),
        hidden=tuple(hidden),
        splits=tuple(split for split in splits if split.end <= film.length),
        refused=tuple(draw(st.lists(st.builds(Refused, source, place), max_size=2))),
        voices=draw(voices),
    )


def fillings(
    task: CoverTask,
    rules: Frames,
    spans: list[Span],
    held: tuple[Shot, ...] = (),
    shots: tuple[Shot, ...] = (),
) -> Iterator[tuple[Shot, ...]]:
    """Every way to fill the spans that breaks no hard rule, each moment from its first free frame.

    held: shots that may lie as they did, too.
    """
    if len(shots) == len(spans):
        yield shots
        return
    span = spans[len(shots)]
    near = span.grown(rules.reuse_after, rules.reuse_after)
    for moment in task.supply:
        spent = [used for used in (*task.used, *(s.use for s in shots)) if used.source == moment.source]
        if any(used.span_on_timeline.overlaps(near) for used in spent):
            continue
        if any(one.source == moment.source and one.span.overlaps(span) for one in task.refused):
            continue
        speaking = {
            who for at in range(span.start, span.end) for v in task.voices if at in v.span for who in v.who
        }
        if moment.whose and speaking - set(moment.whose):
            continue
        touching = [s for s in shots[-1:] if s.span.end == span.start]
        if any(s.moment.source == moment.source or not differ(s.moment, moment) for s in touching):
            continue
        free = without([moment.span], [used.span_in_source for used in spent])
        firsts = [part.start for part in free if part.length >= span.length][:1]
        firsts += [
            s.source_in
            for s in held
            if (s.span, s.moment) == (span, moment) and any(part.covers(s.frames) for part in free)
        ]
        for first in dict.fromkeys(firsts):
            yield from fillings(task, rules, spans, held, (*shots, Shot(span, moment, first)))


def named(task: CoverTask, rules: Frames, shots: tuple[Shot, ...]) -> tuple[Shot, ...]:
    """The shots with the words that name them, each looked for by hand."""
    matcher = Matcher(task.words, [m.subjects for m in task.supply])
    return tuple(replace(s, match=matcher.match(s.moment.subjects, s.span, rules.match_reach)) for s in shots)


def unseen(task: CoverTask, rules: Frames, spans: list[Span]) -> float:
    """What it costs that nobody, or a speaker not yet, is seen for too long, counted frame by frame."""
    runs: list[list[int]] = []
    late, seen = defaultdict[str, list[int]](list), set[str]()
    for frame in range(task.length):
        who = next((view.who for view in task.views if frame in view.span), "")
        needs = any(frame in span for span in (*task.narration, *task.holes))
        face, ours = bool(who) and not needs, any(frame in span for span in spans)
        theirs = any(frame in span for span in task.hidden)
        if (face and ours) or theirs:
            if not runs or runs[-1][-1] != frame - 1:
                runs.append([])
            runs[-1].append(frame)
        if face and not ours:
            seen.add(who)
        if face and ours and who not in seen:
            late[who].append(len(runs))
    told = [run for run in runs if any(frame in span for frame in run for span in spans)]
    over = [len(run) - rules.unseen_max for run in told]
    over += [len(frames) - rules.unseen_max for frames in late.values() if len(set(frames)) > 1]
    return sum(rules.weights.unseen * (frames + rules.flash) for frames in over if frames > 0)


def cheapest(task: CoverTask, rules: Frames, held: tuple[tuple[Shot, float], ...] = ()) -> float:
    """Cost of the best of all plans; with what it pays for shots held that it does without."""
    stretches = open_stretches(task)
    costs = [costing(task, rules, stretch) for stretch in stretches]
    ways = []
    for part in product(*(list(divisions(s.start, s.end, rules)) for s in stretches)):
        price = sum(cost(shots) for cost, shots in zip(costs, part, strict=True))
        if price < inf:
            spans = [span for shots in part for span in shots]
            ways.append((price + unseen(task, rules, spans), spans))
    best = inf
    for price, spans in sorted(ways, key=lambda way: way[0]):
        if price >= best:
            break
        for shots in fillings(task, rules, spans, tuple(shot for shot, _ in held)):
            filled = filling_cost(task, rules, named(task, rules, shots)) + price_of_changes(held, shots)
            best = min(best, price + filled)
    return best


def assert_that_no_plan_costs_less(
    task: CoverTask, rest: int, held: tuple[tuple[Shot, float], ...] = ()
) -> None:
    """The plan costs what it says, no more than the best of all, and its bound no more than that."""
    # Moments of one clip that begin at 0 and at 4 may overlap.
    rules = replace(RULES, reuse_after=rest)
    plan = plan_cover(task, rules, closely=True, held=held)
    offset = plan_cost(task, rules, ()) - sum(costing(task, rules, s)([]) for s in open_stretches(task))
    assert plan.cost == pytest.approx(plan_cost(task, rules, plan.shots))
    paid = plan.cost + price_of_changes(held, plan.shots)
    assert paid - offset == pytest.approx(cheapest(task, rules, held), abs=1e-6)
    assert plan.bound <= plan.cost + 1e-9
    assert not [breach for breach in plan.breaches if breach.rule in (*HARD, "refused")]


@settings(max_examples=150, deadline=None)
@given(film=laid_films(), supply=supplies(4, (0, 4, 20)), said=words, rest=st.sampled_from([0, 4]))
@example(  # one of two cuts stays bare, which costs so much that one frame of face is a small part of it
    film=task_of(("ines", 4), ("", 4), cuts=(0, 5), sound_edits=()),
    supply=(Moment("/c0.mov", Span(0, 3), "", "WS", ("wheel",)),),
    said=(),
    rest=0,
)
def test_no_plan_of_a_small_film_costs_less(film, supply, said, rest):
    assert_that_no_plan_costs_less(replace(film, supply=supply, words=said), rest)


@settings(max_examples=10, deadline=None)  # all plans there are take a second; the bench tries many
@given(cuts=st.sets(st.integers(1, 17), min_size=3, max_size=6), supply=supplies(8), said=words)
def test_six_cuts_and_eight_moments_are_planned_as_well_as_can_be(cuts, supply, said):
    task = replace(task_of(("ines", 18), cuts=tuple(sorted(cuts))), supply=supply, words=said)
    plan = plan_cover(task, RULES, closely=True)
    (stretch,) = open_stretches(task)
    offset = plan_cost(task, RULES, ()) - costing(task, RULES, stretch)([])
    assert plan.cost - offset == pytest.approx(cheapest(task, RULES), abs=1e-6)
    assert plan.bound <= plan.cost + 1e-9


@settings(max_examples=150, deadline=None)
@given(data=st.data(), spans_count=st.integers(1, 6), moments=st.integers(1, 8))
def test_where_shots_do_not_touch_each_other_filling_is_an_assignment(data, spans_count, moments):
    """The reference is scipy's linear_sum_assignment."""
    spans = [Span(40 * n, 40 * n + 5) for n in range(spans_count)]
    worth = [
        data.draw(st.floats(0, 1).map(lambda x: round(x, 3)), label=f"worth {n}") for n in range(moments)
    ]
    said = data.draw(st.lists(st.integers(0, 250), max_size=6))
    task = replace(
        task_of(("ines", 300)),
        supply=tuple(
            Moment(f"/{n}.mov", Span(0, 5), "", f"S{n}", (f"thing{n}",), w) for n, w in enumerate(worth)
        ),
        words=tuple(Spoken(f"thing{n % moments}", at, "en") for n, at in enumerate(said)),
    )
    rules = replace(RULES, reuse_after=10**6)
    matcher = Matcher(task.words, [m.subjects for m in task.supply]) if said else None
    filling = Filler(task, rules, supply_of(task), matcher).fill(spans, [1e6] * len(spans))
    if moments < spans_count:
        assert None in filling.shots
        return
    cost = np.zeros((spans_count, moments))
    for row, span in enumerate(spans):
        for column, moment in enumerate(task.supply):
            found = matcher.match(moment.subjects, span, rules.match_reach) if matcher else None
            weight = found.weight if found else 0.0
            cost[row, column] = rules.weights.quality * (1 - moment.worth)
            cost[row, column] += rules.weights.match * (1 - weight) if said else 0.0
    expected = cost[linear_sum_assignment(cost)].sum()
    shots = tuple(shot for shot in filling.shots if shot is not None)
    assert filling_cost(task, rules, shots) == pytest.approx(expected)


def test_the_worked_example_of_an_assignment_is_solved():
    # The example in scipy's documentation of linear_sum_assignment: cost 5 by columns 1, 0, 2.
    table = [[4, 1, 3], [2, 0, 5], [3, 2, 2]]
    weights = replace(RULES.weights, match=8.0, quality=0.0, same_subject=0.0, same_size=0.0)
    rules = replace(RULES, reuse_after=10**6, weights=weights)
    task = replace(
        task_of(("ines", 300)),
        supply=tuple(Moment(f"/{n}.mov", Span(0, 5), "", "", (f"thing{n}",)) for n in range(3)),
        words=(Spoken("something", 0, "en"),),
    )
    spans = [Span(40 * n, 40 * n + 5) for n in range(3)]

    class Given(Matcher):
        def weights(self, spans, moments, reach):
            return 1 - np.array(table) / 8

        def match(self, tags, span, reach):
            return Match("", tags[0], 0, 1 - table[span.start // 40][int(tags[0][5:])] / 8)

    filling = Filler(task, rules, supply_of(task), Given((), ())).fill(spans, [1e6] * 3)
    assert [shot.moment.source for shot in filling.shots if shot] == ["/1.mov", "/0.mov", "/2.mov"]
    assert filling_cost(task, rules, tuple(s for s in filling.shots if s)) == pytest.approx(5)
