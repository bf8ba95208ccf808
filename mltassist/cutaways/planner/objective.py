"""What a whole cover plan costs: the sum that the planner makes small, written down shot by shot."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from mltassist.cutaways.planner.costs import Stretch, cost_of, stretches_of
from mltassist.cutaways.planner.film import CoverTask, Frames, Shot
from mltassist.cutaways.planner.unseen import unseen_cost
from mltassist.frames import Span


def plan_cost(task: CoverTask, rules: Frames, shots: Sequence[Shot]) -> float:
    """Cost of a plan: of its division into shots and open picture, of unseen faces, and of what fills it.

    The last part is, for every shot: `match` less by the weight of its word (where words are known),
    `quality` by how poor its moment is, `used_before` for every earlier use of its clip, and
    `same_subject` and `same_size` for each of the two shots before that has one of its subjects or its
    size, and `opening` where it is the first picture of the film and closer than wide. `shots` are in order
    and do not overlap.
    """
    spans = [shot.span for shot in shots]
    unseen = unseen_cost(task, rules, spans)
    return division_cost(stretches_of(task, rules), rules, spans) + unseen + filling_cost(task, rules, shots)


def division_cost(stretches: Sequence[Stretch], rules: Frames, spans: Sequence[Span]) -> float:
    """The part of a plan's cost that depends on where its shots begin and end: on their spans."""
    division = 0.0
    for stretch in stretches:
        inside = [span.shifted(-stretch.span.start) for span in spans if span.overlaps(stretch.span)]
        division += cost_of(stretch, rules, inside)
    return division


def filling_cost(task: CoverTask, rules: Frames, shots: Sequence[Shot]) -> float:
    """The part of a plan's cost that depends on which clips fill it."""
    weights, total = rules.weights, 0.0
    uses = Counter(used.source for used in task.used)
    for place, shot in enumerate(shots):
        moment = shot.moment
        if task.words:
            total += weights.match * (1.0 - (shot.match.weight if shot.match else 0.0))
        total += weights.quality * (1.0 - moment.worth) + weights.used_before * uses[moment.source]
        total += weights.opening * (shot.span.start == 0 and moment.is_closer)
        uses[moment.source] += 1
        for earlier in shots[max(0, place - 2) : place]:
            total += weights.same_subject * bool(set(earlier.moment.subjects) & set(moment.subjects))
            total += weights.same_size * (earlier.moment.size == moment.size)
    return total


def price_of_changes(held: Iterable[tuple[Shot, float]], shots: Iterable[Shot]) -> float:
    """What a plan of these shots pays for those that it does without, each held at its price."""
    there = {shot.use for shot in shots}
    return sum(price for shot, price in held if shot.use not in there)
