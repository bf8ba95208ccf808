"""The cover plan: shots over every jump cut and under all narration.

Divisions of the film are taken from the cheapest on, each priced as if every shot could be filled by the
best clip there is, clips that many shots want at a price (`plan.prices`), and filled with clips. No plan
can cost less than the cheapest division not yet tried; so once the best plan found costs no more than that,
it is proven best, and otherwise the difference bounds what is left to gain. Where a film wants more shots
than its supply can fill, each is given a price, so that the divisions tried lay only as many, where they
are needed most.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import chain

import numpy as np

from mltassist.cutaways.planner.alternatives import alternatives as other_clips
from mltassist.cutaways.planner.bounds import EACH, LARGEST, NEAR, Ascent, Limits, Priced, climb, raise_bound
from mltassist.cutaways.planner.columns import Columns, columns_of
from mltassist.cutaways.planner.costs import Array, Stretch, stretches_of
from mltassist.cutaways.planner.dives import Dive, Sources
from mltassist.cutaways.planner.film import CoverTask, Frames, Shot
from mltassist.cutaways.planner.objective import division_cost, filling_cost, price_of_changes
from mltassist.cutaways.planner.packing import pack, pack_in_parts
from mltassist.cutaways.planner.prices import floor_at, prices_for, source_uses
from mltassist.cutaways.planner.rules import Breach, breaches
from mltassist.cutaways.planner.sequences import SIZES_TOLD_APART, Sequences
from mltassist.cutaways.planner.shots import Filler, Supply, supply_of
from mltassist.cutaways.planner.spans import Division, Divisions
from mltassist.cutaways.planner.unseen import unseen_cost, with_looks
from mltassist.cutaways.planner.words import Matcher
from mltassist.cutaways.planner.worths import known_good, prices_of
from mltassist.frames import Span, without

WORK = 30_000
"""Moments weighed for spans, over all divisions tried, before the best plan so far is taken."""
TRIES = 800
"""Divisions tried at most."""
PRICES = 8
"""Prices tried until the film wants no more shots than there are."""
PATIENCE = 3_000
"""Moments weighed until what is nearly the best is good enough: a small film gets the best there is."""
GOOD = 0.0005
"""Part of the cost that is then not worth another try."""
LOOKS = 4
"""Times that looks are put into cover under which nobody is seen for too long."""
_SHORT = 0.08
"""Distance to the bound, as a part of the cost, at which clips are short: shots are chosen by their gain."""
_COLUMNS = 1000
"""About so many shots are enough for the first choice among them where clips are short."""
LAST_PATHS = 3
"""Of the paths that led to good prices, those whose spans are known to be good when clips are short."""
EVERY, _FINE, BOUNDARIES, FINEST = 12, 4, 1500, 2500
"""Frames between boundaries among which better plans are looked for, and where clips are short; of long films
about so many."""
CLIMB, KNOW, DIVE, SEARCH, LAST = 30_000_000, 12_000_000, 30_000_000, 16_000_000, 4_000_000
"""Shots and states gone through for prices, for those where clips are short, for plans, for the proof, and
for plans of what that has left."""
TOO_HARD = 2
"""What a plan costs, in bounds, where to choose is too hard."""
_SMALL = 400_000
"""What it has left is looked through once more where it is no larger."""
_EQUAL = 1e-9


@dataclass(frozen=True, slots=True)
class Cover:
    """A finished plan.

    bare: spans that should have a shot and have none for want of supply. cost: by the weights of the
    recipe; bound: what no plan can cost less than. others: for every shot, the next best clips.
    """

    shots: tuple[Shot, ...]
    bare: tuple[Span, ...]
    breaches: tuple[Breach, ...]
    cost: float = 0.0
    bound: float = 0.0
    others: tuple[tuple[Shot, ...], ...] = ()

    @property
    def gap(self) -> float:
        """Part of the cost that a better plan might save at most; 0 when this one is proven best."""
        return max(0.0, self.cost - self.bound) / self.cost if self.cost > _EQUAL else 0.0

    @property
    def further_breaches(self) -> tuple[Breach, ...]:
        """The breaches that say more than that a bare span has no shot."""
        bare = ("cover every jump cut", "cover narration", "no black")
        return tuple(
            breach
            for breach in self.breaches
            if breach.rule not in bare or not any(breach.at in span for span in self.bare)
        )


def plan_cover(
    task: CoverTask,
    rules: Frames,
    *,
    alternatives: int = 0,
    closely: bool = False,
    tries: int = TRIES,
    held: Sequence[tuple[Shot, float]] = (),
    known: tuple[Shot, ...] | None = None,
    bound_alone: bool = False,
) -> Cover:
    """Lay shots by the rules. The same task gives the same plan.

    Where supply runs out, spans stay bare and are named; every rule that is not kept is named too.
    alternatives: how many other clips are told for every shot. closely: a few seconds more go into better
    plans of films that are short enough, and into a proof of how near the best they are. tries: divisions
    that are filled at most, beside those that look for looks. held: shots that the task allows, with what it
    costs to do without each, which is told neither in the cost nor in the bound; known: a plan to begin with.
    bound_alone: nothing is asked but how cheap a plan might be, so that no better ones are looked for.
    """
    supply = supply_of(task)
    subjects = [moment.subjects for moment in supply.moments]
    matcher = Matcher(task.words, subjects, dict(task.synonyms)) if task.words else None
    best = _Best(task, rules, supply, matcher, tries=tries, held=held)
    if known is not None:
        best.begin_with(known)
    uses = source_uses(task, rules, supply)
    stretches = stretches_of(task, rules, floor_at(task, rules, supply, matcher, uses.free))
    rules = best.rules
    most, earned = int(uses.most.sum()), 0.0
    wanted, cheap, price = _first(stretches, rules).spans, 0.0, 0.0
    if len(wanted) <= most:
        prices = prices_for(rules, supply, uses, wanted, matcher)
        stretches = stretches_of(task, rules, floor_at(task, rules, supply, matcher, prices))
        earned = float(uses.earned(prices).sum())
    tried = Divisions(stretches, rules)
    first = next(tried)
    wanted = first.spans
    if len(wanted) > most:
        cheap, price = _prices(stretches, rules, most)
        tried = Divisions(_dearer(stretches, price), rules, most=most)
        first = next(tried, Division((), tried.bound))
    bound = np.inf  # of the divisions whose fillings were not all weighed
    if cheap < price:  # a few shots too many: the worst places to leave bare are told by filling them
        best.fill(_first(_dearer(stretches, cheap), rules))
    best.look_in(_dearer(stretches, price), first)
    for division in chain([first], tried):
        least = division.cost - price * most - earned
        if best.is_as_good_as(least):
            bound = min(bound, least)
            break
        if not best.fill(division):
            bound = min(bound, least)
    else:
        bound = min(bound, tried.bound - price * most - earned)
    if closely and supply.moments and best.cost - bound > NEAR * best.cost:
        bound = max(bound, best.closer(wanted, bound_alone=bound_alone))
    cost, shots = best.cost - best.changes, best.shots
    bare = tuple(span for span in wanted if is_bare(task, shots, span))
    others = other_clips(task, rules, supply, matcher, shots, many=alternatives)
    bound = min(bound - best.changes, cost)
    return Cover(shots, bare, breaches(task, rules, shots), cost, bound, others)


class _Best:
    """The best plan of those tried, and how much work it has cost to find it."""

    def __init__(
        self,
        task: CoverTask,
        rules: Frames,
        supply: Supply,
        matcher: Matcher | None,
        *,
        tries: int,
        held: Sequence[tuple[Shot, float]] = (),
    ) -> None:
        self._task, self._most_tries = task, tries
        self._unfilled = stretches_of(task, rules)
        numbers = {moment: number for number, moment in enumerate(supply.moments)}
        self._held = {(shot.span, numbers[shot.moment]): price for shot, price in held}
        begun = {(shot.span, numbers[shot.moment]): shot.source_in for shot, _ in held}
        self._filler = Filler(task, rules, supply, matcher, begun)
        self._were = tuple(held)
        self.rules = _within(rules, supply)
        self._supply, self._matcher = supply, matcher
        self._work = self._tries = 0
        self._found = False
        self._asked: set[tuple[Span, ...]] = set()
        self.cost = 0.0
        self.shots: tuple[Shot, ...] = ()

    def begin_with(self, shots: tuple[Shot, ...]) -> None:
        """Weigh a plan that is known."""
        self._keep(shots)

    @property
    def changes(self) -> float:
        """What the best plan pays for what was held and is not in it: part of its cost."""
        return price_of_changes(self._were, self.shots)

    def fill(self, division: Division) -> bool:
        """Fill a division and keep the plan if it is the best so far; False when a better one may be left."""
        self._tries += 1
        self._work += (1 + len(division.spans)) * (1 + len(self._supply.moments))
        bare = [_bare_cost(self._unfilled, span) for span in division.spans]
        filling = self._filler.fill(division.spans, bare, self._below(division.spans))
        if filling is None:
            return True
        shots = tuple(shot for shot in filling.shots if shot is not None)
        self._keep(shots)
        return filling.closed

    def _below(self, spans: tuple[Span, ...]) -> float:
        """What clips for all of these spans must cost less than, for the best plan so far to be bettered."""
        if not self._found:
            return np.inf
        unseen = unseen_cost(self._task, self.rules, spans)
        return self.cost - _EQUAL - unseen - division_cost(self._unfilled, self.rules, spans)

    def closer(self, wanted: tuple[Span, ...], *, bound_alone: bool = False) -> float:
        """A better bound, and better plans on the way, where boundaries and moments are few enough."""
        task, rules, supply = self._task, self.rules, self._supply
        every = max(EVERY, task.length // BOUNDARIES)
        if task.length // every * len(supply.moments) > LARGEST // SIZES_TOLD_APART:
            return -np.inf
        sequences = Sequences(task, rules, supply, self._matcher, every=every, held=self._held)
        uses = source_uses(task, rules, supply)
        limits = Limits.of(task, rules, supply, uses)
        priced = Priced(sequences, supply, limits)
        begin = priced.begin(prices_for(rules, supply, uses, wanted, self._matcher))
        cheapest = sequences.cheapest(priced.entry(begin))
        coarse = cheapest.cost - priced.earned(begin) > self.cost
        if coarse:  # between boundaries so few lies no plan that is any good
            sequences.look_closer(self._edges(), 1)
        ascent = Ascent(begin)
        paths: list[tuple[Span, ...]] = []

        def filled(path: tuple[Span, ...]) -> float:
            paths.append(path)
            return self._filled(path)

        told = None if coarse else cheapest
        climb(sequences, priced, ascent, self.cost, fill=filled, work=CLIMB, first=told)
        columns = partial(columns_of, task, rules, supply, limits, self._matcher)
        worth = partial(prices_of, supply=supply, limits=limits, ways=set[int]())
        good = partial(known_good, columns=lambda spans: columns(spans=spans), prices=worth)
        if not bound_alone:
            if coarse or self.cost - ascent.bound > _SHORT * self.cost:
                spans = {*wanted, *(shot.span for shot in self.shots)}
                for path in reversed(paths):
                    if len(spans) * len(supply.moments) < _COLUMNS:
                        spans.update(path)
                self._packed(columns(spans=sorted(spans)), limits)
            self._dive(sequences, priced, ascent, limits.frames)
        more: Ascent | None = None
        if coarse or self.cost - ascent.bound > _SHORT * self.cost:
            # Where clips are short much hangs on a few frames more or less.
            fine = max(_FINE, task.length // FINEST)
            sequences = Sequences(task, rules, supply, self._matcher, every=fine, held=self._held)
            sequences.look_closer(self._edges(), 1)
            more = Ascent(ascent.best)
            spans = {*wanted, *(shot.span for shot in self.shots), *chain.from_iterable(paths[-LAST_PATHS:])}
            known = good(sequences, Priced(sequences, supply, limits), more, self.cost, spans, work=KNOW)
            if not bound_alone:
                self._packed(known, limits, TOO_HARD * more.bound)
        if task.length * len(supply.moments) > LARGEST // SIZES_TOLD_APART:
            return -np.inf
        whole = Sequences(task, rules, supply, self._matcher, held=self._held)
        others = [ascent.best] if more else []
        ascent, priced = Ascent((more or ascent).best), Priced(whole, supply, limits)
        # Where it is too hard prices found on fewer boundaries are worth little here.
        if more and known and self.cost > TOO_HARD * more.bound:
            good(whole, priced, ascent, self.cost, {*known.spans}, work=SEARCH / 4)
        bound = raise_bound(whole, priced, ascent, self.cost, work=SEARCH, others=others)
        if not bound_alone and self.cost - bound > NEAR * self.cost and whole.size <= _SMALL:
            sources = Sources(supply.sources, limits.frames, rules)
            Dive(whole, priced, ascent.best, sources, lay=self._laid).search(self.cost, bound, LAST, EACH)
        return bound

    def _packed(self, columns: Columns | None, limits: Limits, enough: float = np.inf) -> None:
        """Lay the best choice of these shots; where that costs more than enough it is made in parts, too."""
        told = columns, self.rules, self._supply, limits, division_cost(self._unfilled, self.rules, ())
        begun = tuple((shot.span, self._supply.moments.index(shot.moment)) for shot in self.shots)
        for way in (pack, partial(pack_in_parts, begun=begun, enough=enough)):
            rows = way(*told)
            self._laid(rows)  # once filled anew it knows of repeated subjects and sizes
            self._filled(tuple(span for span, _ in rows))
            if self.cost <= enough:
                break

    def _dive(self, sequences: Sequences, priced: Priced, ascent: Ascent, frames: Array) -> None:
        """Look for better plans at the prices that an ascent has found. frames: of each source."""
        every = max(EVERY, self._task.length // BOUNDARIES)
        sources = Sources(self._supply.sources, frames, self.rules)
        entry = priced.entry(ascent.best)
        if sequences.cheapest(entry).cost < np.inf:
            sequences.drop(entry, self.cost + priced.earned(ascent.best) + _EQUAL)

        def lay(rows: tuple[tuple[Span, int], ...]) -> float:
            self._filled(tuple(span for span, _ in rows))  # good ones, though clips may come again too soon
            return self._laid(rows)

        dive = Dive(sequences, priced, ascent.best, sources, lay=lay)
        dive.search(self.cost, ascent.bound, DIVE, EACH)
        sequences.look_closer(self._edges(), every)
        dive.again()

    def _edges(self) -> list[int]:
        """The frames where shots of the best plan begin and end."""
        return sorted({edge for shot in self.shots for edge in (shot.span.start, shot.span.end)})

    def _laid(self, rows: tuple[tuple[Span, int], ...]) -> float:
        """Keep a plan of these shots if it can be laid and is the best so far; the cost of the best."""
        shots = self._filler.laid(rows)
        if shots is not None:
            self._keep(shots)
        return self.cost

    def _keep(self, shots: tuple[Shot, ...]) -> None:
        spans = [shot.span for shot in shots]
        cost = division_cost(self._unfilled, self.rules, spans) + filling_cost(self._task, self.rules, shots)
        cost += unseen_cost(self._task, self.rules, spans) + price_of_changes(self._were, shots)
        if not self._found or cost < self.cost - _EQUAL:
            self._found, self.cost, self.shots = True, cost, shots

    def _filled(self, spans: tuple[Span, ...]) -> float:
        if spans not in self._asked:  # prices lead to the same ones again and again
            self._asked.add(spans)
            self.fill(Division(spans, 0.0))
        return self.cost

    def look_in(self, stretches: tuple[Stretch, ...], division: Division) -> None:
        """Fill divisions with looks where this one hides everybody for too long.

        Divisions are found without regard to that limit, so that those that keep it may come late.
        """
        for _ in range(LOOKS):
            if not unseen_cost(self._task, self.rules, division.spans):
                return
            stretches = with_looks(self._task, self.rules, stretches, division.spans)
            division = _first(stretches, self.rules)
            self.fill(division)

    def is_as_good_as(self, least: float) -> bool:
        """True when no plan costs less, or is worth looking for, where those left cost at least so much."""
        near = GOOD if self._work >= PATIENCE else 0.0
        tired = self._work >= WORK or self._tries >= self._most_tries
        return self._found and (tired or self.cost <= least * (1 + near) + _EQUAL)


def _within(rules: Frames, supply: Supply) -> Frames:
    """The rules with no shot longer than the longest moment."""
    longest = int(supply.lengths.max(initial=0))
    if longest < rules.shot_min:
        return rules  # nothing can be laid at all; what is missing is told by the rules as they are
    return replace(rules, shot_span_max=min(rules.shot_span_max, longest))


def _first(stretches: tuple[Stretch, ...], rules: Frames) -> Division:
    return next(Divisions(stretches, rules))


def _dearer(stretches: tuple[Stretch, ...], price: float) -> tuple[Stretch, ...]:
    """The same stretches where every shot costs so much more."""
    return tuple(replace(stretch, base=stretch.base + price) for stretch in stretches)


def _prices(stretches: tuple[Stretch, ...], rules: Frames, most: int) -> tuple[float, float]:
    """Two prices on every shot, near each other, at which a film wants too many and not too many of them.

    With the second the divisions lay their shots where they are needed most; and as no plan has more than
    `most` shots, what a division costs less `most` prices still bounds what any plan costs.
    """
    low, high = 0.0, 2 * rules.weights.bare_cut + 100 * rules.weights.bare_narration
    for _ in range(PRICES):
        middle = (low * high) ** 0.5 if low else high / 64
        if len(_first(_dearer(stretches, middle), rules).spans) <= most:
            high = middle
        else:
            low = middle
    return low, high


def is_bare(task: CoverTask, shots: tuple[Shot, ...], span: Span) -> bool:
    """True for a span that should be covered and is not, for a cut, narration or a split edit in it."""
    cover = [shot.span for shot in shots]
    cuts = any(cut.at in span and not any(cut.at in one for one in cover) for cut in task.cuts)
    needing = [part for part in (span.shared(said) for said in task.never_bare) if part.length > 0]
    return cuts or bool(without(needing, cover))


def _bare_cost(stretches: tuple[Stretch, ...], span: Span) -> float:
    """What it costs to leave a span open that was to be covered, about: its ends are not weighed."""
    stretch = next(one for one in stretches if one.span.covers(span))
    first, last = span.start - stretch.span.start, span.end - stretch.span.start
    opened = float(stretch.open_sum[last] - stretch.open_sum[first])
    return max(1000.0, opened - float(stretch.cover_sum[last] - stretch.cover_sum[first]))
