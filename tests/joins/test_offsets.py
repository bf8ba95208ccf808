"""Bad joins from open recordings are mended where any move in reach could mend them; no word is hurt.

The reference is an exhaustive search over all pairs of moves; that no voice is taken away is judged by the
spans of speech found in the whole recording, not by what the search itself looks at.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import product

import numpy as np
import pytest

from mltassist.frames import Span, shared
from mltassist.joins import measures as joins
from mltassist.joins.offsets import keeps_words, offsets
from mltassist.joins.planner.choose import _ORDER, nearest_improvements
from mltassist.joins.planner.judge import Measures, judge
from mltassist.media.sound.speech import RATE_HZ
from mltassist.recipe.rules import ListenRules, MendRules
from tests.joins.test_measures import judged
from tests.joins.truth import Edit, Recording, edit, recordings

FRAME = RATE_HZ // 25
REACH = 6
STEPS = {n: n * FRAME for n in range(-REACH, REACH + 1)}
KINDS = ("clipped", "through", "short")
EACH = 7
EDGE = RATE_HZ // 20
"""Spans of speech are known to about this much at either end."""


def bad_joins() -> list[tuple[Recording, Edit]]:
    rng = np.random.default_rng(23)
    found = [
        (r, edit(r, rng, kind)) for r in recordings("held out", 23, 2) for kind in KINDS for _ in range(EACH)
    ]
    return [(r, e) for r, e in found if judged(r, e).score >= 1]


@pytest.fixture(scope="module")
def bad() -> list[tuple[Recording, Edit]]:
    return bad_joins()


@pytest.fixture(scope="module")
def mended(bad):
    """Each with its verdict and the move that is made."""
    return [(recording, one, *best(recording, one)) for recording, one in bad]


RIPPLED = MendRules()


def best(recording: Recording, one: Edit, mend: MendRules = RIPPLED):
    """The first move the planner would make, with the verdicts before and after; None where it makes none."""
    now = judged(recording, one)

    def within(reach: int) -> Iterator[tuple[int, int, Measures]]:
        steps = {n: n * FRAME for n in range(-reach, reach + 1)}
        return offsets(*one.sides, steps, steps)

    found = nearest_improvements(now, within, lambda m: judge(m, recording.habits, ListenRules()), mend)
    return now, (found[0] if found else None)


def taken_away(recording: Recording, one: Edit, before_by: int, after_by: int) -> int:
    """Samples of speech that a move takes out of the film, but for the uncertain ends of phrases."""
    speech = [s.grown(-EDGE, -EDGE) for s in recording.speech if s.length > 2 * EDGE]
    lost = [
        Span(one.out + min(0, before_by) * FRAME, one.out),
        Span(one.into, one.into + max(0, after_by) * FRAME),
    ]
    return sum(span.length for span in shared(speech, [span for span in lost if span.length > 0]))


def reachable(recording: Recording, one: Edit) -> bool:
    """True when some pair of moves in reach improves the verdict without taking speech away."""
    now = _ORDER[judged(recording, one).verdict]
    heard = [cache(lambda by, side=side: joins.heard(side.moved(by * FRAME))) for side in one.sides]
    for n, m in sorted(product(STEPS, STEPS), key=lambda pair: abs(pair[0]) + abs(pair[1])):
        if taken_away(recording, one, n, m):
            continue
        measures = joins.compare(heard[0](n), heard[1](m))
        if _ORDER[judged(recording, replace(one, measures=measures)).verdict] < now:
            return True
    return False


def test_most_joins_that_some_move_would_mend_are_mended(mended):
    tally: dict[str, list[bool]] = defaultdict(list)
    for recording, one, now, move in mended:
        if reachable(recording, one):
            improved = move is not None and _ORDER[move.judgement.verdict] < _ORDER[now.verdict]
            tally[one.kind].append(improved)
    everything = [improved for found in tally.values() for improved in found]
    assert len(everything) >= 20
    assert np.mean(everything) >= 0.8, {kind: np.mean(found) for kind, found in tally.items()}


def test_no_mend_sounds_worse_or_takes_a_voice_away(mended):
    moved = 0
    for recording, one, now, move in mended:
        if move is None:
            continue
        moved += 1
        assert _ORDER[move.judgement.verdict] <= _ORDER[now.verdict]
        assert move.judgement.score < now.score
        assert taken_away(recording, one, move.before_by, move.after_by) == 0
    assert moved >= 25


def test_a_film_that_keeps_its_length_is_mended_by_rolling_alone(bad):
    kept = [best(r, e, MendRules(length="kept"))[1] for r, e in bad]
    moves = [move for move in kept if move is not None]
    assert moves
    assert all(move.shift == 0 for move in moves)


def test_clean_joins_are_left_alone(bad):
    recording = bad[0][0]
    rng = np.random.default_rng(4)
    for _ in range(5):
        clean = edit(recording, rng, "clean")
        if judged(recording, clean).score < 1:
            assert best(recording, clean)[1] is None


def tone_side(loud: list[tuple[float, float]], at_s: float, *, before: bool) -> joins.Side:
    """A side with a voice-like buzz in these stretches, over a faint room."""
    count = int(3 * RATE_HZ)
    t = np.arange(count) / RATE_HZ
    room = np.random.default_rng(1).standard_normal(count) * 1e-3
    buzz = 0.2 * np.sign(np.sin(2 * np.pi * 140 * t))
    gate = np.zeros(count)
    for start, end in loud:
        gate[int(start * RATE_HZ) : int(end * RATE_HZ)] = 1
    sound = (room + buzz * gate).astype(np.float32)
    chance = gate[::512][: -(-count // 512)].astype(np.float32)
    return joins.side(sound, chance, edit=int(at_s * RATE_HZ), before=before)


def moves_of(left: joins.Side, right: joins.Side) -> tuple[set[int], set[int]]:
    pairs = [(n, m) for n, m, _ in offsets(left, right, STEPS, STEPS)]
    return {n for n, _ in pairs}, {m for _, m in pairs}


def test_a_word_that_was_cut_may_be_completed_but_not_cut_further():
    left = tone_side([(0.5, 1.6)], 1.5, before=True)  # cut 100 ms before the word ends
    right = tone_side([(1.7, 2.6)], 1.8, before=False)  # cut 100 ms after it began
    before, after = moves_of(left, right)
    assert before == set(range(7))
    assert after == set(range(-6, 1))


def test_the_next_word_of_the_source_is_not_entered():
    left = tone_side([(0.5, 1.4), (1.6, 2.6)], 1.5, before=True)  # 100 ms to the next word
    right = tone_side([(0.5, 1.4), (1.6, 2.6)], 1.5, before=False)
    before, after = moves_of(left, right)
    assert max(before) == 2
    assert min(after) == -2
    assert min(before) == -2
    assert max(after) == 2


@pytest.mark.parametrize(("silence", "kept"), [(5, True), (8, True), (14, False)])
def test_the_rest_of_a_word_goes_on_behind_the_closure_of_a_plosive(silence, kept):
    """Ends that are given back include the release; what follows a longer silence is another word."""
    active = np.zeros(120)
    active[20:53] = active[53 + silence : 58 + silence] = 1.0
    sound = np.zeros(120 * 160, np.float32)
    was = joins.side(sound, np.zeros(60, np.float32), edit=50 * 160, before=True)
    assert keeps_words(was, was.moved(25 * 160), active) is kept
