"""A plan that keeps what an earlier run has laid: shots that are still valid stay, the rest is new."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from mltassist.cutaways.planner.alternatives import alternatives as other_clips
from mltassist.cutaways.planner.film import CoverTask, Frames, Moment, Shot, without_views
from mltassist.cutaways.planner.objective import filling_cost, plan_cost, price_of_changes
from mltassist.cutaways.planner.plan import TRIES, Cover, plan_cover
from mltassist.cutaways.planner.rules import breaches
from mltassist.cutaways.planner.supply import supply_of
from mltassist.cutaways.planner.unseen import faces_of
from mltassist.frames import Span, joined, without

HARD = (
    "neighbours differ",
    "handled ends",
    "no frame twice",
    "rest before reuse",
    "shot length",
    "whose shot it is",
)
"""Rules that no plan breaks."""
BEHIND = (14, 5)
"""Shots may change cheaply where they lie within so many ideal lengths behind trouble: ten seconds or so."""
FIRM = 25
"""How much dearer it is elsewhere: no sum of tastes pays for that, and every broken rule does."""
FIRMEST = 400
"""That where the film was cut anew, unless more rules are broken for it: what is dear and told by none, as a
covered first look, does not pay either."""
REACHES = (0, 1, 3, 9)
"""How far from trouble shots are released, in ideal lengths, one after the other; in place of the first,
where the film was cut anew, those just behind the new jump cuts."""
DEARER, ONE_OF = 0.02, 20
"""One shot of so many may go for tastes alone, where that takes so much off the cost."""
STEEPER = (1, 3)
"""Prices that are tried, as parts of that one, until no more are lost."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A shot as it lies: its place, its source, and its first frame of that."""

    span: Span
    source: str
    source_in: int

    @classmethod
    def of(cls, shot: Shot) -> Placed:
        """Where a shot of a plan lies."""
        return cls(shot.span, shot.moment.source, shot.source_in)

    @property
    def frames(self) -> Span:
        """Frames of the source that are shown."""
        return Span(self.source_in, self.source_in + self.span.length)


def plan_stably(
    task: CoverTask,
    rules: Frames,
    earlier: Sequence[Placed],
    *,
    alternatives: int = 0,
    closely: bool = False,
    tries: int = TRIES,
    changed: bool = True,
) -> Cover:
    """Lay shots by the rules, and keep what is still valid of these earlier ones.

    Every earlier shot that is given up has a price by the recipe's weights, a small one where something has
    changed and just behind that, one elsewhere that only a broken rule outweighs; the plan is taken that
    costs least with it. What is tried first: all of them kept and the rest planned around them; those beside
    rules that are not kept then released, more and more of them; a plan from nothing. Where the film itself
    was cut anew, so that jump cuts lie bare, only shots just behind these are cheap, and elsewhere none goes
    for tastes. Otherwise, looked for closely, one shot of twenty may, where that takes 2 % off the cost.
    changed: False where the earlier shots lie as they were left: then nothing is planned but for a rule.
    closely, tries: see `plan_cover`.
    """
    valid = tuple(valid_shots(task, rules, earlier))
    if not valid:
        return plan_cover(task, rules, alternatives=alternatives, closely=closely, tries=tries)
    fresh = plan_cover(task, rules, tries=tries)
    lies = Cover(valid, (), breaches(task, rules, valid), plan_cost(task, rules, valid))
    best: Cover | None = None
    if not changed and len(valid) == len(earlier):
        best = _as_it_lies(task, rules, lies, fresh, closely=closely)
    if best is None:
        kept = _Kept(task, rules, lies, fresh)
        best = kept.plan(FIRMEST if kept.cut_anew else FIRM, closely=closely)
        if kept.cut_anew and _more_broken(best, fresh):
            best = kept.plan(FIRM, closely=closely)
        if closely and changed and not kept.cut_anew:
            best = kept.cheaper(best, most=max(len(earlier) // ONE_OF, int(2 * len(earlier) >= ONE_OF)))
    if not alternatives:
        return best
    supply = supply_of(task)
    matcher = task.matcher(supply.subjects)
    return replace(best, others=other_clips(task, rules, supply, matcher, best.shots, many=alternatives))


def _as_it_lies(task: CoverTask, rules: Frames, lies: Cover, fresh: Cover, *, closely: bool) -> Cover | None:
    """The plan that lies there; None where a plan from nothing keeps a rule that it breaks."""
    firm = rules.weights.change * FIRM
    if lies.cost - fresh.cost >= firm or any(breach.rule in HARD for breach in lies.breaches):
        return None
    held = tuple((shot, firm) for shot in lies.shots)
    found = plan_cover(task, rules, closely=closely, tries=1, held=held, known=lies.shots, bound_alone=True)
    return found if found.shots == lies.shots else None


class _Kept:
    """Plans of a film that pay for what they do without of an earlier plan.

    lies: what is valid of that; fresh: a plan from nothing. cut_anew: there are jump cuts that it does not
    cover, and the plan from nothing does.
    """

    def __init__(self, task: CoverTask, rules: Frames, lies: Cover, fresh: Cover) -> None:
        self._task, self._rules, self._shots, self._fresh = task, rules, lies.shots, fresh
        behind = BEHIND[0] * rules.shot_ideal // BEHIND[1]
        trouble = [breach for breach in lies.breaches if breach not in fresh.breaches]
        new = [breach for breach in trouble if breach.rule == "cover every jump cut"]
        self.cut_anew = bool(new)
        self._near = _beside(lies.shots, (Span(b.at, b.at + behind) for b in new or trouble))

    def plan(self, elsewhere: float, *, closely: bool) -> Cover:
        """The plan that costs least with the prices of what it does without, far from trouble this one."""
        task, rules, fresh = self._task, self._rules, self._fresh
        held, keep = self._held(elsewhere), self._shots
        best, least = fresh, fresh.cost + price_of_changes(held, fresh.shots)
        for reach in REACHES:
            if not keep or least == fresh.cost:
                break
            bare, shots = around(task, rules, keep)
            cost, told = plan_cost(task, rules, shots), breaches(task, rules, shots)
            price = cost + price_of_changes(held, shots)
            if price < least and not any(breach.rule in HARD for breach in told):
                best, least = Cover(shots, bare, told, cost, min(fresh.bound, cost)), price
            trouble = [breach.at for breach in told if breach not in fresh.breaches]
            if not trouble:
                break
            wide = reach * rules.shot_ideal + 1
            near_it = _beside(keep, (Span(at - wide, at + wide) for at in trouble))
            if self.cut_anew and reach == 0:
                near_it = self._near
            keep = tuple(shot for shot in keep if shot not in near_it)
        if closely:  # what divisions alone tell is known by now
            found = plan_cover(task, rules, closely=True, tries=1, held=held, known=best.shots)
            best = replace(found, bound=min(found.cost, max(found.bound, fresh.bound)))
        return best

    def cheaper(self, best: Cover, most: int) -> Cover:
        """The same, or a plan that gives up more where that takes much off the cost.

        At its price nothing goes where this plan costs at most 2 % more than the best one from nothing.
        most: shots that may be lost.
        """
        task, rules = self._task, self._rules
        most = max(most, self._lost(best))
        if not most or not rules.weights.change:
            return best
        price = DEARER * best.cost / most / rules.weights.change
        for part in STEEPER:
            held = self._held(min(FIRM, price * part))
            found = plan_cover(task, rules, closely=True, tries=1, held=held, known=best.shots)
            if self._lost(found) <= most:
                if cost_beside(task, rules, found) < cost_beside(task, rules, best):
                    best = replace(found, bound=min(found.cost, max(found.bound, self._fresh.bound)))
                break
        return best

    def _held(self, elsewhere: float) -> tuple[tuple[Shot, float], ...]:
        """What each of these shots costs to do without; elsewhere: in ordinary changes, away from trouble."""
        change = self._rules.weights.change
        near = min(1, elsewhere)
        return tuple((shot, change * (near if shot in self._near else elsewhere)) for shot in self._shots)

    def _lost(self, plan: Cover) -> int:
        return len({shot.use for shot in self._shots} - {shot.use for shot in plan.shots})


def cost_beside(task: CoverTask, rules: Frames, plan: Cover) -> float:
    """What a plan costs where shots of the editor's count as neighbours of ours, in subject and size.

    The search does not know of them: beside a shot that the editor has shortened a plan from nothing may
    seem cheaper only for repeating what that shows.
    """
    moments = {moment.source: moment for moment in task.supply}
    theirs = [
        Shot(used.span_on_timeline, moments[used.source], used.span_in_source.start)
        for used in task.used
        if used.source in moments and used.span_in_source.length
    ]
    alone = replace(task, words=(), used=())
    rules = replace(rules, weights=replace(rules.weights, used_before=0.0))  # that is in its cost already
    together = filling_cost(alone, rules, sorted([*plan.shots, *theirs], key=lambda shot: shot.span))
    apart = filling_cost(alone, rules, plan.shots) + filling_cost(alone, rules, theirs)
    return plan.cost + together - apart


def _more_broken(one: Cover, other: Cover) -> bool:
    """True where a plan breaks a rule more often than another."""
    ours, theirs = (Counter(breach.rule for breach in plan.breaches) for plan in (one, other))
    return not ours <= theirs


def _beside(shots: Sequence[Shot], spans: Iterable[Span]) -> tuple[Shot, ...]:
    places = tuple(spans)
    return tuple(shot for shot in shots if any(shot.span.overlaps(span) for span in places))


def valid_shots(task: CoverTask, rules: Frames, earlier: Sequence[Placed]) -> Iterator[Shot]:
    """The earlier shots that a plan of today could lay, each with the best moment it is part of."""
    matcher, reach = task.matcher(supply_of(task).subjects), rules.match_reach
    for placed in sorted(earlier, key=lambda one: one.span):
        if not unfit(task, rules, placed):
            moment = max(_moments(task, placed), key=lambda one: (one.worth, one.span))
            match = None if matcher is None else matcher.match(moment.subjects, placed.span, reach)
            yield Shot(placed.span, moment, placed.source_in, match)


def unfit(task: CoverTask, rules: Frames, placed: Placed) -> str:
    """Why no plan of today could lay this shot; "" where one could."""
    free = [view.span for view in task.views if view.who is not None]
    cuts = sum(cut.at in placed.span for cut in task.cuts)
    longest = rules.shot_span_max if cuts > 1 else rules.shot_max
    taken = [used for used in task.used if used.source == placed.source]
    near = placed.span.grown(rules.reuse_after, rules.reuse_after)
    flaws = {
        "something else is to be seen here by now": without([placed.span], free),
        "this clip was refused here": task.refuses(placed.source, placed.span),
        "it is shorter or longer than the recipe allows": not rules.shot_min <= placed.span.length <= longest,
        "a shot of yours shows these frames": any(u.span_in_source.overlaps(placed.frames) for u in taken),
        "a shot of yours, laid or deleted, has its clip too near": any(
            u.span_on_timeline.overlaps(near) for u in taken
        ),
        "somebody else speaks here": not _moments(task, placed) and _usable(task, placed),
        "these frames are no longer among what can be used": not _usable(task, placed),
    }
    return next((why for why, holds in flaws.items() if holds), "")


def _usable(task: CoverTask, placed: Placed) -> list[Moment]:
    """The moments that a shot is part of."""
    return [m for m in task.supply if m.source == placed.source and m.span.covers(placed.frames)]


def _moments(task: CoverTask, placed: Placed) -> list[Moment]:
    """Those of them that may be shown where it lies."""
    others = [voice for voice in task.voices if voice.span.overlaps(placed.span)]
    return [m for m in _usable(task, placed) if not any(voice.is_foreign_to(m) for voice in others)]


def around(task: CoverTask, rules: Frames, keep: Sequence[Shot]) -> tuple[tuple[Span, ...], tuple[Shot, ...]]:
    """What stays bare beside these shots, and they with what is planned beside them, in order."""
    spans = tuple(shot.span for shot in keep)
    beneath = (face.shared(span) for face in faces_of(task) for span in spans)
    rest = replace(
        task,
        hidden=joined([*task.hidden, *(both for both in beneath if both.length > 0)]),
        views=tuple(without_views(task.views, spans)),
        cuts=tuple(cut for cut in task.cuts if not any(cut.at in span for span in spans)),
        narration=without(task.narration, spans),
        splits=without(task.splits, spans),
        holes=without(task.holes, spans),
        used=(*task.used, *(shot.use for shot in keep)),
    )
    found = plan_cover(rest, rules)
    return found.bare, tuple(sorted((*keep, *found.shots), key=lambda shot: shot.span))
