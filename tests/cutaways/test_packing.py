"""Where clips are short: the shots that are chosen save the most that any choice of these spans can."""

from __future__ import annotations

import ctypes
import os
from collections import Counter
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from mltassist.cutaways.planner.bounds import Limits, Priced
from mltassist.cutaways.planner.columns import columns_of
from mltassist.cutaways.planner.costs import stretches_of
from mltassist.cutaways.planner.film import CoverTask, Frames, Moment
from mltassist.cutaways.planner.objective import division_cost
from mltassist.cutaways.planner.packing import nothing_printed, pack, pack_in_parts
from mltassist.cutaways.planner.prices import source_uses
from mltassist.cutaways.planner.sequences import Sequences
from mltassist.cutaways.planner.supply import supply_of
from mltassist.cutaways.planner.worths import prices_of
from mltassist.frames import Span
from tests.cutaways.films import TINY, task_of

PLAIN = replace(TINY, unseen_max=99, weights=replace(TINY.weights, same_subject=0.0, same_size=0.0))


def packed(task: CoverTask, rules: Frames, spans: list[Span]) -> tuple[tuple[Span, int], ...]:
    supply = supply_of(task)
    limits = Limits.of(task, rules, supply, source_uses(task, rules, supply))
    columns = columns_of(task, rules, supply, limits, None, spans=spans)
    return pack(columns, rules, supply, limits, cost(task, rules, []))


def packed_in_parts(
    task: CoverTask, rules: Frames, spans: list[Span], begun: tuple[tuple[Span, int], ...]
) -> tuple[tuple[Span, int], ...]:
    supply = supply_of(task)
    limits = Limits.of(task, rules, supply, source_uses(task, rules, supply))
    columns = columns_of(task, rules, supply, limits, None, spans=spans)
    return pack_in_parts(columns, rules, supply, limits, cost(task, rules, []), begun=begun, enough=0.0)


def cost(task: CoverTask, rules: Frames, shots: list[tuple[Span, int]]) -> float:
    moments = supply_of(task).moments
    poor = sum(rules.weights.quality * (1 - moments[number].worth) for _, number in shots)
    used = Counter(moments[number].source for _, number in shots)
    again = rules.weights.used_before * sum(many * (many - 1) / 2 for many in used.values())
    return division_cost(stretches_of(task, rules), rules, [span for span, _ in shots]) + poor + again


def cheapest(task: CoverTask, rules: Frames, spans: list[Span], shots: list[tuple[Span, int]]) -> float:
    """What the best choice costs, by trying them all."""
    best = cost(task, rules, shots)
    moments = supply_of(task).moments
    for span in spans:
        if shots and span.start < shots[-1][0].end:
            continue
        for number, moment in enumerate(moments):
            if shots and shots[-1][0].end == span.start and shots[-1][1] == number:
                continue  # a clip does not follow itself
            own = [one for one, other in shots if moments[other].source == moment.source]
            rested = all(span.start >= one.end + rules.reuse_after for one in own)
            if rested and sum(one.length for one in (*own, span)) <= moment.span.length:
                best = min(best, cheapest(task, rules, spans, [*shots, (span, number)]))
    return best


@settings(max_examples=30, deadline=None)
@given(
    cuts=st.sets(st.integers(2, 28), min_size=1, max_size=5),
    turns=st.sets(st.integers(1, 29), max_size=2),
    lengths=st.lists(st.integers(3, 9), min_size=1, max_size=3),
    starts=st.sets(st.integers(0, 26), min_size=1, max_size=6),
    least=st.tuples(st.sampled_from([0, 4, 10]), st.integers(0, 3)),
)
@example(cuts={7, 11}, turns=set(), lengths=[9], starts={0, 1, 7, 11}, least=(0, 0))
@example(cuts={7, 11}, turns=set(), lengths=[9, 9], starts={0, 1, 7, 11}, least=(0, 0))
def test_no_other_choice_of_these_spans_saves_more(cuts, turns, lengths, starts, least):
    rest, face_min = least
    supply = tuple(
        Moment(f"/{n}.mov", Span(0, length), "", "WS", (f"thing{n}",), 1 - n / 4)
        for n, length in enumerate(lengths)
    )
    edges = [0, *sorted(turns), 30]
    parts = [(("ines", "tobias")[n % 2], end - at) for n, (at, end) in enumerate(pairwise(edges))]
    task = replace(task_of(*parts, cuts=tuple(sorted(cuts)), sound_edits=()), supply=supply)
    rules = replace(PLAIN, reuse_after=rest, face_min=face_min)
    spans = sorted({Span(at, min(30, at + 3 + at % 3)) for at in starts})
    spans = [span for span in spans if span.length >= rules.shot_min]
    found = list(packed(task, rules, spans))
    assert all(one.end <= other.start for (one, _), (other, _) in pairwise(found))
    best = cheapest(task, rules, spans, [])
    assert cost(task, rules, found) <= best + max(1.0, 0.001 * abs(cost(task, rules, [])))


@pytest.mark.parametrize("lengths", [(4, 5, 9), (4, 4, 8, 8)])
def test_a_choice_made_in_parts_leads_from_a_bad_one_to_the_best(lengths):
    supply = tuple(
        Moment(f"/{n}.mov", Span(0, length), "", "WS", (f"thing{n}",), 1 - n / 5)
        for n, length in enumerate(lengths)
    )
    task = replace(task_of(("ines", 50), cuts=(7, 16, 25, 34, 43), sound_edits=()), supply=supply)
    rules = replace(PLAIN, reuse_after=12)
    spans = [Span(cut - 2, cut + end) for cut in (7, 16, 25, 34, 43) for end in (2, 3, 6)]
    bad = ((Span(14, 22), len(lengths) - 1),)
    found = packed_in_parts(task, rules, spans, bad)
    assert all(one.end <= other.start for (one, _), (other, _) in pairwise(found))
    least = cost(task, rules, list(packed(task, rules, spans)))
    assert cost(task, rules, list(found)) <= least + 0.001 * cost(task, rules, [])
    assert least < cost(task, rules, list(bad)) - 1000


def test_one_clip_goes_where_most_is_saved():
    supply = (Moment("/gate.mov", Span(0, 5), "", "WS", ("gate",)),)
    film = task_of(("ines", 12), ("", 8), ("ines", 10), cuts=(6,), narration=((12, 16),))
    task = replace(film, supply=supply, sound_edits=())
    weights = replace(PLAIN.weights, bare_narration=4000.0)
    spans = [Span(4, 8), Span(12, 16)]
    assert packed(task, replace(PLAIN, weights=weights), spans) == ((Span(12, 16), 0),)
    weights = replace(weights, bare_narration=1.0)
    assert packed(task, replace(PLAIN, weights=weights), spans) == ((Span(4, 8), 0),)


@pytest.mark.parametrize("clips", [1, 2, 3])
def test_prices_of_the_linear_program_tell_what_a_clip_is_worth(clips):
    supply = tuple(Moment(f"/{n}.mov", Span(0, 5), "", "WS", (f"thing{n}",)) for n in range(clips))
    task = replace(task_of(("ines", 40), cuts=(10, 20, 30), sound_edits=()), supply=supply)
    own = supply_of(task)
    limits = Limits.of(task, PLAIN, own, source_uses(task, PLAIN, own))
    spans = [Span(at - 2, at + 2) for at in (10, 20, 30)]
    prices, slack = prices_of(columns_of(task, PLAIN, own, limits, None, spans=spans), own, limits, set())
    assert (slack > -1e-6).all()
    sequences = Sequences(task, PLAIN, own, None)
    priced = Priced(sequences, own, limits)
    bound = sequences.cheapest(priced.entry(prices)).cost - priced.earned(prices)
    least = cheapest(task, PLAIN, spans, [])
    assert least * 0.98 - 20 <= bound <= least + 1e-6
    assert bound > sequences.cheapest(priced.entry(priced.begin(np.zeros(clips)))).cost - 1e-6


def test_ways_to_weigh_lengths_are_taken_in_once_they_are_needed():
    supply = (Moment("/gate.mov", Span(0, 8), "", "WS", ("gate",)),)
    task = replace(task_of(("ines", 40), cuts=(10, 30), sound_edits=()), supply=supply)
    own, ways = supply_of(task), set[int]()
    limits = Limits.of(task, PLAIN, own, source_uses(task, PLAIN, own))
    # By frames alone 0.8 of each would fit; only one of them does.
    columns = columns_of(task, PLAIN, own, limits, None, spans=[Span(8, 13), Span(28, 33)])
    prices, _ = prices_of(columns, own, limits, ways)
    assert not prices.weighed.any()
    assert ways
    prices, _ = prices_of(columns, own, limits, ways)
    assert prices.weighed.any()


def test_of_a_long_film_each_span_is_left_with_its_best_moments(monkeypatch):
    task = task_of(("ines", 40), cuts=(10, 30), sound_edits=())
    worth = (0.2, 1.0, 0.6)
    supply = tuple(Moment(f"/{n}.mov", Span(0, 9), "", "WS", (), one) for n, one in enumerate(worth))
    task, spans = replace(task, supply=supply), [Span(8, 12), Span(28, 32)]
    rules = replace(PLAIN, reuse_after=4, weights=replace(PLAIN.weights, used_before=0.0))
    whole = packed(task, rules, spans)
    monkeypatch.setattr("mltassist.cutaways.planner.columns.MOST_CANDIDATES", 2)
    assert packed(task, rules, spans) == whole == ((spans[0], 1), (spans[1], 1))


def test_without_clips_nothing_is_chosen():
    task = task_of(("ines", 20), cuts=(10,))
    assert packed(task, PLAIN, [Span(8, 12)]) == ()
    assert cost(task, PLAIN, []) == pytest.approx(cheapest(task, PLAIN, [Span(8, 12)], []))


@pytest.mark.skipif(os.name != "posix", reason="asks the C library by its usual name")
def test_what_the_solver_prints_does_not_come_into_what_we_print(capfd: pytest.CaptureFixture[str]) -> None:
    library = ctypes.CDLL(None)
    library.puts(b"before")
    with nothing_printed():
        library.puts(b"meanwhile")
    library.puts(b"after")
    library.fflush(None)
    assert capfd.readouterr().out == "before\nafter\n"
