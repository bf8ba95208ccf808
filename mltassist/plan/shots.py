"""Which clip fills each span: a beam search over the spans in order of time.

Hard rules (a source frame is used once; a clip rests before it comes again; touching shots differ)
are never broken: a span for which nothing legal is left stays bare. The search keeps the best few
partial choices at every span; it is deterministic, and its result is good rather than proven best.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from mltassist.frames import Span, without
from mltassist.plan.film import CoverTask, Frames, Moment, Shot

BEAM = 16
BRANCH = 6
BARE = 1000.0
BARE_CUT = 400.0  # besides, for each jump cut in the span
SAME_SUBJECT = 6.0  # as one of the two shots before
SAME_SIZE = 2.0
USED_BEFORE = 4.0  # each time its clip has been used
WASTE = 0.5  # a span that leaves a stub too short to be used


@dataclass(frozen=True, slots=True)
class _Choice:
    """A partial choice: the shots so far, what is spent, and its cost."""

    cost: float
    shots: tuple[Shot | None, ...]
    spent: tuple[tuple[str, Span, Span], ...]
    """(source, its frames, its place on the timeline), the editor's own shots included."""


def choose(task: CoverTask, rules: Frames, spans: tuple[Span, ...]) -> tuple[Shot | None, ...]:
    """A shot for each span, None where the supply has nothing that may be used there."""
    spent = tuple((used.source, used.span_in_source, used.span_on_timeline) for used in task.used)
    beam = [_Choice(0.0, (), spent)]
    supply = sorted(task.supply, key=lambda moment: (moment.source, moment.span))
    for span in spans:
        following = [choice for state in beam for choice in _extended(task, rules, supply, state, span)]
        beam = sorted(following, key=lambda choice: choice.cost)[:BEAM]
    return beam[0].shots


def _extended(
    task: CoverTask, rules: Frames, supply: list[Moment], state: _Choice, span: Span
) -> Iterator[_Choice]:
    """The state with each of the best few legal shots for `span`, and with none."""
    found: list[tuple[float, int, Shot]] = []
    recent = [shot for shot in state.shots[-2:] if shot is not None]
    for number, moment in enumerate(supply):
        if moment.span.length < span.length or not _may_follow(recent, moment, span):
            continue
        source_in = _free_start(state, rules, moment, span)
        if source_in is None:
            continue
        cost = sum(USED_BEFORE for source, _, _ in state.spent if source == moment.source)
        for shot in recent:
            cost += SAME_SUBJECT * bool(set(shot.moment.subjects) & set(moment.subjects))
            cost += SAME_SIZE * (shot.moment.size == moment.size)
        left = moment.span.end - source_in - span.length
        cost += WASTE * (0 < left < rules.shot_min)
        found.append((cost, number, Shot(span, moment, source_in)))
    for cost, _, shot in sorted(found, key=lambda item: item[:2])[:BRANCH]:
        used = (shot.moment.source, Span(shot.source_in, shot.source_in + span.length), span)
        yield _Choice(state.cost + cost, (*state.shots, shot), (*state.spent, used))
    cuts = sum(cut.at in span for cut in task.cuts)
    yield _Choice(state.cost + BARE + BARE_CUT * cuts, (*state.shots, None), state.spent)


def _may_follow(recent: list[Shot], moment: Moment, span: Span) -> bool:
    """Touching shots must differ in size or in subject."""
    if not recent or recent[-1].span.end != span.start:
        return True
    other = recent[-1].moment
    return other.source != moment.source and differ(other, moment)


def differ(one: Moment, other: Moment) -> bool:
    """True when two moments may stand side by side: another size, or no subject in common."""
    return one.size != other.size or not set(one.subjects) & set(other.subjects)


def _free_start(state: _Choice, rules: Frames, moment: Moment, span: Span) -> int | None:
    """First source frame from which `span` can be filled with frames nobody has used."""
    mine = [(frames, place) for source, frames, place in state.spent if source == moment.source]
    if any(place.grown(rules.reuse_after, rules.reuse_after).overlaps(span) for _, place in mine):
        return None
    free = without([moment.span], [frames for frames, _ in mine])
    return next((part.start for part in free if part.length >= span.length), None)
