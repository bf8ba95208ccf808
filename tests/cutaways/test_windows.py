"""Parts of a film planned anew: the rest stays where it is, and no plan becomes dearer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from mltassist.cutaways.planner.best import Best
from mltassist.cutaways.planner.bounds import Priced
from mltassist.cutaways.planner.film import CoverTask, Frames, Refused
from mltassist.cutaways.planner.objective import plan_cost
from mltassist.cutaways.planner.rules import breaches
from mltassist.cutaways.planner.sequences import Sequences
from mltassist.cutaways.planner.stable import HARD
from mltassist.cutaways.planner.supply import supply_of
from mltassist.cutaways.planner.windows import Windows
from mltassist.cutaways.planner.words import Matcher
from mltassist.frames import Span
from tests.cutaways.films import clips, task_of
from tests.cutaways.test_plan_exact import RULES, laid_films, supplies, words

ALONE = replace(RULES, unseen_max=99, weights=replace(RULES.weights, cover=0.5))


def begun(task: CoverTask, rules: Frames, spans: tuple[Span, ...] = ()) -> tuple[Best, Windows]:
    supply = supply_of(task)
    subjects = [moment.subjects for moment in supply.moments]
    best = Best(task, rules, supply, Matcher(task.words, subjects) if task.words else None, tries=1)
    best.filled(tuple((span, place % len(supply.moments)) for place, span in enumerate(spans)))
    sequences = Sequences(task, rules, supply, best.matcher, every=1)
    none = Priced(sequences, supply, best.limits).begin(np.zeros(len(best.limits.frames)))
    return best, Windows(best, sequences, none)


@settings(max_examples=12, deadline=None)
@given(
    film=laid_films(),
    supply=supplies(4, (0, 4, 20)),
    said=words,
    rest=st.sampled_from([0, 4]),
    window=st.tuples(st.integers(0, 9), st.integers(3, 9)),
)
def test_no_plan_becomes_dearer_or_breaks_a_hard_rule(film, supply, said, rest, window):
    assume(supply)
    task, rules = replace(film, supply=supply, words=said), replace(RULES, reuse_after=rest)
    best, windows = begun(task, rules)
    at, length = window
    costs = [best.cost]
    for anew in (lambda: windows.anew([Span(at, at + length)], 5), lambda: windows.whole(5)):
        anew()
        costs.append(best.cost)
    windows.search(1.0)
    assert costs == sorted(costs, reverse=True)
    assert best.cost <= costs[-1]
    assert best.cost == pytest.approx(plan_cost(task, rules, best.shots))
    told = breaches(task, rules, best.shots)
    assert not [breach for breach in told if breach.rule in (*HARD, "refused")]


@pytest.mark.parametrize("clipped", [9, 2])
def test_a_cut_between_two_shots_is_covered_again_and_these_stay(clipped):
    """With a clip for each of them, or with fewer, so that one waits or comes again."""
    task = task_of(("ines", 90), cuts=(20, 45, 70), sound_edits=())
    task = replace(task, supply=clips(clipped, 20))
    spans = (Span(18, 22), Span(68, 72))
    best, windows = begun(task, replace(ALONE, reuse_after=12), spans)
    before = best.cost
    windows.anew([Span(16, 70)], 20)  # it ends within the second of them, which stays
    assert spans[1] in [shot.span for shot in best.shots]
    assert any(45 in shot.span for shot in best.shots)
    assert best.cost < before - 900


def test_a_shot_may_end_where_one_that_stays_begins():
    task = replace(task_of(("ines", 60), cuts=(26, 32), sound_edits=()), supply=clips(4, 20))
    rules = replace(ALONE, face_min=6)
    best, windows = begun(task, rules, (Span(29, 34),))
    windows.anew([Span(10, 31)], 20)
    shots = [shot.span for shot in best.shots]
    assert shots[-1] == Span(29, 34)
    assert shots[0].end == 29
    assert 26 in shots[0]


@pytest.mark.parametrize("shots", [0, 1, 2])
def test_films_with_next_to_nothing_in_them_are_planned(shots):
    cuts = (10, 30)[:shots]
    task = replace(task_of(("ines", 40), cuts=cuts, sound_edits=()), supply=clips(3, 20))
    best, windows = begun(task, ALONE)
    windows.whole(20)
    assert len(best.shots) == shots
    windows.search(1.0)
    assert len(best.shots) == shots


def test_what_was_refused_leaves_the_place_to_the_next_best():
    task = replace(task_of(("ines", 40), cuts=(20,), sound_edits=()), supply=clips(2, 20))
    task = replace(task, refused=(Refused(task.supply[0].source, Span(10, 30)),))
    best, windows = begun(task, ALONE)
    windows.whole(1)  # of all sequences the cheapest alone
    assert [shot.moment for shot in best.shots] == [task.supply[1]]
