"""A plan that keeps what an earlier run has laid: shots that are still valid stay, the rest is new."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from mltassist.cutaways.planner.alternatives import alternatives as other_clips
from mltassist.cutaways.planner.film import CoverTask, Frames, Shot, without_views
from mltassist.cutaways.planner.objective import plan_cost, price_of_changes
from mltassist.cutaways.planner.plan import TRIES, Cover, plan_cover
from mltassist.cutaways.planner.rules import Breach, breaches
from mltassist.cutaways.planner.shots import supply_of
from mltassist.cutaways.planner.unseen import faces_of
from mltassist.cutaways.planner.words import Matcher
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
BEHIND = 2
"""Shots may change cheaply where they lie within so many ideal lengths behind trouble."""
FIRM, _FAR = 400, 25
"""How much dearer it is elsewhere: no sum of tastes pays for the first, and where a rule is broken for it the
second is asked, which a broken rule pays for."""
REACHES = (0, 1, 3, 9)
"""How far from trouble shots are released, in ideal lengths, one after the other."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A shot as it lies: its place, its source, and its first frame of that."""

    span: Span
    source: str
    source_in: int

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
) -> Cover:
    """Lay shots by the rules, and keep what is still valid of these earlier ones.

    Every earlier shot that is given up has a price by the recipe's weights, a small one where something has
    changed and just behind that, one elsewhere that only a broken rule outweighs; the plan is taken that
    costs least with it. What is tried first: all of them kept and the rest planned around them; those beside
    rules that are not kept then released, more and more of them; a plan from nothing. closely, tries: see
    `plan_cover`.
    """
    valid = tuple(_valid(task, rules, earlier))
    if not valid:
        return plan_cover(task, rules, alternatives=alternatives, closely=closely, tries=tries)
    fresh = plan_cover(task, rules, tries=tries)
    anyway = Counter(breach.rule for breach in fresh.breaches)
    for elsewhere in (FIRM, _FAR):
        held = tuple(_priced(task, rules, valid, fresh.breaches, elsewhere))
        best = _keeping(task, rules, held, fresh, closely=closely)
        if Counter(breach.rule for breach in best.breaches) <= anyway:
            break
    if not alternatives:
        return best
    supply, matcher = supply_of(task), _matcher(task)
    return replace(best, others=other_clips(task, rules, supply, matcher, best.shots, many=alternatives))


def _keeping(
    task: CoverTask, rules: Frames, held: Sequence[tuple[Shot, float]], fresh: Cover, *, closely: bool
) -> Cover:
    """The plan that costs least with what is paid for these shots where it does without them."""
    keep = tuple(shot for shot, _ in held)
    best, least = fresh, fresh.cost + price_of_changes(held, fresh.shots)
    for reach in REACHES:
        if not keep or least == fresh.cost:
            break
        bare, shots = _around(task, rules, keep)
        cost, told = plan_cost(task, rules, shots), breaches(task, rules, shots)
        price = cost + price_of_changes(held, shots)
        if price < least and not any(breach.rule in HARD for breach in told):
            best, least = Cover(shots, bare, told, cost, min(fresh.bound, cost)), price
        trouble = [breach.at for breach in told if breach not in fresh.breaches]
        if not trouble:
            break
        wide = reach * rules.shot_ideal + 1
        near_it = [Span(at - wide, at + wide) for at in trouble]
        keep = tuple(shot for shot in keep if not any(shot.span.overlaps(span) for span in near_it))
    if closely:  # what divisions alone tell is known by now
        found = plan_cover(task, rules, closely=True, tries=1, held=held, known=best.shots)
        best = replace(found, bound=min(found.cost, max(found.bound, fresh.bound)))
    return best


def _priced(
    task: CoverTask, rules: Frames, valid: Sequence[Shot], anyway: Sequence[Breach], elsewhere: float
) -> Iterator[tuple[Shot, float]]:
    """What it costs to do without each of these shots.

    anyway: what a plan from nothing does not keep; elsewhere: how much dearer it is where nothing changed.
    """
    behind = BEHIND * rules.shot_ideal
    told = [breach for breach in breaches(task, rules, tuple(valid)) if breach not in anyway]
    trouble = [Span(breach.at, breach.at + behind) for breach in told]
    for shot in valid:
        near = any(shot.span.overlaps(span) for span in trouble)
        yield shot, rules.weights.change * (1 if near else elsewhere)


def _matcher(task: CoverTask) -> Matcher | None:
    subjects = [moment.subjects for moment in supply_of(task).moments]
    return Matcher(task.words, subjects, dict(task.synonyms)) if task.words else None


def _valid(task: CoverTask, rules: Frames, earlier: Sequence[Placed]) -> Iterator[Shot]:
    """The earlier shots that a plan of today could lay, each with the best moment it is part of."""
    free = [view.span for view in task.views if view.who is not None]
    matcher, reach = _matcher(task), rules.match_reach
    for placed in sorted(earlier, key=lambda one: one.span):
        others = [voice for voice in task.voices if voice.span.overlaps(placed.span)]
        moments = [
            m
            for m in task.supply
            if m.source == placed.source
            and m.span.covers(placed.frames)
            and not any(voice.is_foreign_to(m) for voice in others)
        ]
        taken = [used for used in task.used if used.source == placed.source]
        resting = any(
            used.span_in_source.overlaps(placed.frames)
            or used.span_on_timeline.grown(rules.reuse_after, rules.reuse_after).overlaps(placed.span)
            for used in taken
        )
        cuts = sum(cut.at in placed.span for cut in task.cuts)
        longest = rules.shot_span_max if cuts > 1 else rules.shot_max
        fits = rules.shot_min <= placed.span.length <= longest and not without([placed.span], free)
        if moments and fits and not resting and not task.refuses(placed.source, placed.span):
            moment = max(moments, key=lambda one: (one.worth, one.span))
            match = None if matcher is None else matcher.match(moment.subjects, placed.span, reach)
            yield Shot(placed.span, moment, placed.source_in, match)


def _around(
    task: CoverTask, rules: Frames, keep: Sequence[Shot]
) -> tuple[tuple[Span, ...], tuple[Shot, ...]]:
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
