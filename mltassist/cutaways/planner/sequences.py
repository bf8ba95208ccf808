"""The cheapest sequence of shots: where they begin and end and which moments fill them, found together.

Dynamic programming over (boundary, last moment, class of the shot before it). The costs of an edit are exact
but for two things, which are left out, so that no plan costs less than what is found: a subject seen two
shots before, unless it is watched, and what nobody's being seen for too long costs. How often, how long
and how soon again a clip is used is not known to it: that is what the prices are for.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from mltassist.cutaways.planner.boundaries import boundaries_of, runs_of
from mltassist.cutaways.planner.costs import Array, Stretch, length_costs, open_parts, stretches_of
from mltassist.cutaways.planner.film import CoverTask, Frames
from mltassist.cutaways.planner.openings import Numbers, Openings, Returns
from mltassist.cutaways.planner.paths import Entry, Path
from mltassist.cutaways.planner.saidnear import SaidNear
from mltassist.cutaways.planner.spent import longest_free, no_starts
from mltassist.cutaways.planner.supply import Supply
from mltassist.cutaways.planner.words import Matcher
from mltassist.frames import Span

AT_ONCE = 10_000
"""Pairs of moments that are weighed at once: more of them do not stay near the processor."""
KEPT = 16_000_000
"""Costs of shots that are kept, at eight bytes each; others are put together again each time."""
SIZES_TOLD_APART = 4
"""Sizes that are told apart two shots on: those of most moments. The others count as seen once."""


@dataclass(slots=True)
class _Part:
    """One stretch with the boundaries that are left of it, and shots between them once asked for.

    shots: for each boundary the first one that a shot may begin at, and (beginnings, moments) costs, as
    far as they are kept. foreign:
    columns of those, and the last boundary, as a frame of the film, that each shot of theirs may end at.
    runs: boundaries that are gone through at once, as first and last of their places.
    """

    stretch: Stretch
    kept: Numbers
    foreign: list[tuple[Numbers, Numbers]]
    runs: list[tuple[int, int]]
    shots: dict[int, tuple[int, Array]] = field(default_factory=dict)
    ended: Array = field(default_factory=lambda: np.zeros(0))
    opened: Array = field(default_factory=lambda: np.zeros(0))
    entered: Array = field(default_factory=lambda: np.zeros(0))


class Sequences:
    """All sequences of shots of one film; those that cannot be part of a good plan are dropped on the way.

    every: other boundaries than the best of their surroundings are left out, but for one in so many frames.
    held: shots with the numbers of their moments, and what it costs to go without each.
    """

    def __init__(
        self,
        task: CoverTask,
        rules: Frames,
        supply: Supply,
        matcher: Matcher | None,
        *,
        every: int = 1,
        held: Mapping[tuple[Span, int], float] | None = None,
    ) -> None:
        self._task, self._rules, self._supply, self._matcher = task, rules, supply, matcher
        self._by_length = length_costs(rules)
        common = Counter(moment.size for moment in supply.moments).most_common(SIZES_TOLD_APART)
        self._told = {size for size, _ in common}
        self._watched: frozenset[str] = frozenset()
        self._stretches = stretches_of(task, rules)
        self._kept = [boundaries_of(stretch, every) for stretch in self._stretches]
        self._hold(held or {})
        self._order: Numbers = np.arange(len(supply.moments))
        self.look_closer([edge for span, _ in held or () for edge in (span.start, span.end)], 0)

    def _hold(self, held: Mapping[tuple[Span, int], float]) -> None:
        self._held: defaultdict[int, list[tuple[int, int, float]]] = defaultdict(list)
        for (span, number), price in held.items():
            self._held[span.end].append((span.start, number, price))
        self._without_held = sum(held.values())

    def of(self, frames: Numbers, held: Mapping[tuple[Span, int], float]) -> None:
        """Look at these frames of the film alone, and where the picture changes; with other shots held."""
        self._hold(held)
        for number, stretch in enumerate(self._stretches):
            inside = frames[(frames >= stretch.span.start) & (frames <= stretch.span.end)]
            inside = np.concatenate((inside - stretch.span.start, stretch.changes, [0, stretch.length]))
            self._kept[number] = np.unique(inside)
        self._choose(self._order)

    @property
    def frames(self) -> Numbers:
        """The boundaries that are left, as frames of the film."""
        both = zip(self._stretches, self._kept, strict=True)
        return np.concatenate([np.zeros(0, np.int64), *(stretch.span.start + kept for stretch, kept in both)])

    @property
    def moments(self) -> Numbers:
        """Numbers of the moments that are left, in the order in which entries are given."""
        return self._order

    @property
    def stretches(self) -> tuple[Stretch, ...]:
        """The stretches that sequences lie in."""
        return self._stretches

    @property
    def size(self) -> int:
        """Shots and states that a search goes through, about."""
        return self.boundaries * len(self._order) * self._classes

    @property
    def boundaries(self) -> int:
        """How many there are of them."""
        return sum(len(kept) for kept in self._kept)

    def look_closer(self, frames: Iterable[int], reach: int) -> None:
        """Take in all boundaries that lie within `reach` of these frames of the film."""
        wanted = [np.arange(frame - reach, frame + reach + 1) for frame in frames]
        for number, stretch in enumerate(self._stretches):
            all_kept = np.concatenate((*(near - stretch.span.start for near in wanted), self._kept[number]))
            inside = (all_kept >= 0) & (all_kept <= stretch.length)
            self._kept[number] = np.unique(all_kept[inside])
        self._choose(self._order)

    def watch(self, path: Path) -> bool:
        """Tell apart the subjects that this path shows again two shots on; False where it shows none."""
        seen = [set(self._supply.moments[number].subjects) for _, number in path.shots]
        again = frozenset(s for one, later in zip(seen, seen[2:], strict=False) for s in one & later)
        if again <= self._watched:
            return False
        self._watched |= again
        self._choose(self._order)
        return True

    def _choose(self, order: Numbers) -> None:
        """Go on with these moments, which are put in order of their classes.

        A class is what the next shot but one has to know: a size that is told apart, and watched subjects.
        """
        supply, weights = self._supply, self._rules.weights
        of_each = [
            (
                moment.size if moment.size in self._told else None,
                tuple(sorted(self._watched & set(moment.subjects))),
            )
            for moment in (supply.moments[number] for number in order.tolist())
        ]
        classes = sorted(set(of_each), key=repr)
        known = np.array([classes.index(one) for one in of_each], dtype=np.int64)
        by_class = np.argsort(known, kind="stable")
        self._order, self._class, many = order[by_class], known[by_class], len(order)
        self._parts = [
            _Part(
                stretch,
                kept,
                self._foreign(stretch.span.start + kept),
                list(
                    runs_of(stretch, kept, self._rules.shot_min, max(1, AT_ONCE // (many * (many + 1) or 1)))
                ),
            )
            for stretch, kept in zip(self._stretches, self._kept, strict=True)
        ]
        self._firsts = np.searchsorted(self._class, np.arange(len(classes)))
        self._classes = len(classes) + 1  # the last of them stands for no shot at all
        self._again = np.zeros((len(classes), self._classes))
        for row, (size, subjects) in enumerate(classes):
            for column, (other, others) in enumerate(classes):
                same_size = size is not None and size == other
                same_subject = bool(set(subjects) & set(others))
                self._again[row, column] = weights.same_size * same_size + weights.same_subject * same_subject
        # Laid out so that the least is looked for along whole rows: three times as quick.
        self._after = np.ascontiguousarray(self._again.T)[:, :, None]
        self._apart = np.zeros((many, many + 1))
        self._touch = np.full((many, many + 1), np.inf)
        taste, alike = (table[np.ix_(self._order, self._order)] for table in supply.tastes(weights))
        self._apart[:, :many] = taste
        self._touch[:, :many] = np.where(alike, np.inf, taste)
        self._states = (self._classes, many + 1)
        self._longest = longest_free(self._task, supply)[self._order]
        self._said, self._room = None, KEPT
        if self._matcher is not None:
            tags = [frozenset(supply.moments[number].subjects) for number in self._order.tolist()]
            self._said = SaidNear(self._matcher, self._rules, self._task.length, tags)

    def _foreign(self, frames: Numbers) -> list[tuple[Numbers, Numbers]]:
        """Columns of what may not be seen everywhere, and until when it may be from each frame."""
        found = self._supply.foreign_from(frames)
        return [(np.flatnonzero(np.isin(self._order, moments)), until) for moments, until in found]

    def own_costs(self) -> tuple[Array, ...]:
        """For each stretch (boundaries, moments): a shot's own cost without words; infinite in a rest."""
        weights, rules = self._rules.weights, self._rules
        unnamed = 0.0 if self._matcher is None else weights.match
        own = weights.quality * self._supply.poor[self._order] + unnamed
        resting = no_starts(self._task.used, rules)
        found = []
        for stretch in self._stretches:
            cost = np.tile(own, (stretch.length + 1, 1))
            if stretch.span.start == 0:
                cost[0] += weights.opening * self._supply.closer[self._order]
            for column, number in enumerate(self._order.tolist()):
                for rest in resting.get(self._supply.moments[number].source, ()):
                    first, last = rest.start - stretch.span.start, rest.end - stretch.span.start
                    cost[max(0, first) : max(0, last), column] = np.inf
            found.append(cost)
        return tuple(found)

    def _shots(self, part: _Part, place: int) -> tuple[int, Array]:
        """Shots that end at a boundary: where the first begins, and what they cost from each on."""
        if place in part.shots:
            return part.shots[place]
        found = self._weigh(part, place)
        self._room -= found[1].size
        if self._room >= 0:
            part.shots[place] = found
        return found

    def _paid(self, part: _Part, place: int, paid: Array | None) -> tuple[int, Array]:
        """The same with what they pay by their length."""
        first, shots = self._shots(part, place)
        if paid is not None:
            shots = shots + paid[part.kept[place] - part.kept[first : first + len(shots)]]
        return first, shots

    def _weigh(self, part: _Part, place: int) -> tuple[int, Array]:
        rules, stretch, q = self._rules, part.stretch, int(part.kept[place])
        first, last = np.searchsorted(part.kept, (q - rules.shot_span_max, q - rules.shot_min + 1)).tolist()
        starts = part.kept[first:last]
        if not len(starts):
            return first, np.zeros((0, len(self._order)))
        lengths = q - starts
        cost = self._by_length[lengths] + stretch.cover_sum[q] - stretch.cover_sum[starts]
        single = stretch.cuts_before[q] - stretch.cuts_before[starts] < 2
        cost[(lengths > rules.shot_max) & single] = np.inf
        shots = np.where(lengths[:, None] <= self._longest[None, :], cost[:, None], np.inf)
        if self._said is not None:
            self._said.take_off(shots, stretch.span.start + starts, stretch.span.start + q)
        for columns, until in part.foreign:
            late = np.flatnonzero(until[first:last] < stretch.span.start + q)
            shots[np.ix_(late, columns)] = np.inf
        for start, number, price in self._held.get(stretch.span.start + q, ()):
            shots[starts == start - stretch.span.start, self._order == number] -= price
        return first, shots

    def cheapest(self, entry: Entry) -> Path:
        """The cheapest sequence at these prices; an infinite cost where there is none."""
        now = np.full(self._states, np.inf)
        now[-1, -1] = self._without_held
        for part, begin, end in zip(self._parts, entry.begin, entry.end, strict=True):
            now = self._forward(part, begin, end, now, entry.length)
        state = int(now.T.argmin())
        cost = float(now.T.flat[state])
        if cost == np.inf:
            return Path(cost, ())
        shots: list[tuple[Span, int]] = []
        for part in reversed(self._parts):
            found, state = self._back(part, state, entry.length)
            shots += found
        return Path(cost, tuple(reversed(shots)))

    def _forward(self, part: _Part, begin: Array, end: Array, start: Array, paid: Array | None) -> Array:
        """Least cost of reaching every boundary in every state: after a shot, after open picture."""
        stretch, kept, many = part.stretch, part.kept, len(part.kept)
        ended, opened = np.full((many, *self._states), np.inf), np.full((many, *self._states), np.inf)
        entered = np.full((many, self._classes, len(self._order)), np.inf)
        looks = Openings(stretch, self._rules, kept, self._states)
        ended[0] = start + stretch.boundary[0]
        looks.leave(0, ended[:1])
        entered[:1] = self._enter(opened[:1], ended[:1]) + begin[0]
        for since, until in part.runs:
            for place in range(since, until):
                first, shots = self._paid(part, place, paid)
                if len(shots):
                    both = entered[first : first + len(shots)] + shots[:, None, :]
                    ended[place, :, :-1] = both.min(axis=0) + end[kept[place]]
            run = kept[since:until]
            edits = stretch.boundary[run][:, None, None]
            ended[since:until] += edits
            looks.leave(since, ended[since:until])
            opened[since:until] = looks.reach(since, until) + edits
            going = since + int(np.searchsorted(run, stretch.length - self._rules.shot_min, side="right"))
            if going > since:
                begun = self._enter(ended[since:going], opened[since:going])
                entered[since:going] = begun + begin[kept[since:going]][:, None, :]
        part.ended, part.opened, part.entered = ended, opened, entered
        return np.asarray(np.minimum(ended[-1], opened[-1]) - stretch.boundary[-1])

    def _enter(self, ended: Array, opened: Array) -> Array:
        """Cost of beginning a shot at some boundaries, by the class of the one before and its moment."""
        best: list[Array] = []
        for values, tastes in ((ended, self._touch), (opened, self._apart)):
            room = values[:, :, None, :] + self._after
            best.append(room.min(axis=1)[:, self._class] + tastes)
        both = np.minimum(best[0], best[1], out=best[0])
        return np.minimum.reduceat(both, (*self._firsts, len(self._class)), axis=2).transpose(0, 2, 1)

    def _back(self, part: _Part, state: int, paid: Array | None) -> tuple[list[tuple[Span, int]], int]:
        """The shots that lead to a state at the end of a stretch, the last first, and the state before it."""
        stretch, kept, place = part.stretch, part.kept, len(part.kept) - 1
        moment, before = divmod(state, self._classes)
        shots: list[tuple[Span, int]] = []
        after_open = part.opened[place, before, moment] < part.ended[place, before, moment]
        while place:
            q = int(kept[place])
            if after_open:
                costs = part.ended[:place, before, moment] + open_parts(stretch, self._rules, q)[kept[:place]]
                place, after_open = int(costs.argmin()), False
                continue
            first, costs = self._paid(part, place, paid)
            ways = part.entered[first : first + len(costs), before, moment] + costs[:, moment]
            place = first + int(ways.argmin())
            span = Span(int(kept[place]), q).shifted(stretch.span.start)
            shots.append((span, int(self._order[moment])))
            after_open, moment, before = self._before(part, place, moment, before)
        return shots, moment * self._classes + before

    def _before(self, part: _Part, place: int, moment: int, before: int) -> tuple[bool, int, int]:
        """The state that a shot of this moment began in: after open picture or not, last moment, class."""
        ended, opened = part.ended[place], part.opened[place]
        if not place:
            ended, opened = np.full_like(ended, np.inf), ended
        again = self._again[self._class[moment]]
        of_class = np.append(self._class, self._classes - 1) == before
        best: tuple[float, bool, int] = (np.inf, False, 0)
        for after_open, values, tastes in ((False, ended, self._touch), (True, opened, self._apart)):
            costs = np.where(of_class[:, None], values.T + again[None, :] + tastes[moment][:, None], np.inf)
            if costs.min() < best[0]:
                best = float(costs.min()), after_open, int(costs.argmin())
        return best[1] and place > 0, *divmod(best[2], self._classes)

    def drop(self, entry: Entry, most: float) -> None:
        """Drop every boundary and moment of which no sequence through it costs at most `most`.

        `cheapest` was asked with the same prices just before.
        """
        after = np.zeros(self._states)
        useful = np.zeros(len(self._order), dtype=bool)
        for number in reversed(range(len(self._parts))):
            part = self._parts[number]
            begin, end = entry.begin[number], entry.end[number]
            after, through, moments = self._backward(part, begin, end, after, entry.length)
            left = through <= most
            left[[0, -1]] = True
            left[np.isin(part.kept, part.stretch.changes)] = True
            self._kept[number] = part.kept[left]
            useful |= moments <= most
        useful[0] |= not useful.any()  # what has no moment at all needs a search of its own
        self._choose(self._order[useful])

    def _backward(
        self, part: _Part, begin: Array, end: Array, after: Array, paid: Array | None
    ) -> tuple[Array, Array, Array]:
        """What is still to be paid from the start of a stretch in every state, from that of its end on.

        Besides, the cheapest sequence through each boundary, and with each moment in this stretch.
        """
        stretch, kept, many = part.stretch, part.kept, len(part.kept)
        entered = np.full((many, self._classes, len(self._order)), np.inf)
        through, moments = np.full(many, np.inf), np.full(len(self._order), np.inf)
        looks = Returns(stretch, self._rules, kept, self._states)
        for place in reversed(range(many)):
            q = int(kept[place])
            if place == many - 1:
                shot = opened = after
            else:
                own = entered[place] + begin[q]
                opened = self._leave(own, self._apart)
                shot = np.minimum(self._leave(own, self._touch), looks.best(place))
                if not place:
                    return np.minimum(opened, looks.best(0)) + stretch.boundary[0], through, moments
                shot, opened = shot + stretch.boundary[q], opened + stretch.boundary[q]
            own_boundary = stretch.boundary[q]
            ways = part.ended[place] - own_boundary + shot
            through[place] = min(ways.min(), (part.opened[place] - own_boundary + opened).min())
            moments = np.minimum(moments, ways[:, :-1].min(axis=0))
            looks.arrive(place, opened)
            first, shots = self._paid(part, place, paid)
            if len(shots):
                part_of = entered[first : first + len(shots)]
                np.minimum(part_of, shots[:, None, :] + (shot[:, :-1] + end[q])[None], out=part_of)
        raise AssertionError  # a stretch has two boundaries at least

    def _leave(self, entered: Array, tastes: Array) -> Array:
        """What is still to be paid in every state before a shot, from what it is once that is chosen."""
        previous = np.append(self._class, self._classes - 1)
        ways = tastes.T + entered[previous]
        by_class = np.minimum.reduceat(ways, self._firsts, axis=1)
        return np.asarray((by_class[:, None, :] + self._again.T[None, :, :]).min(axis=2)).T
