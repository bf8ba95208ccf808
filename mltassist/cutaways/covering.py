"""The cover of one project, from what an earlier run left of it to its plan."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import partial

from mltassist.cutaways.beside import beside_cover, clear_cover, note_changed
from mltassist.cutaways.figures import cover_figures
from mltassist.cutaways.framed import framed
from mltassist.cutaways.kept import EarlierCover, Settled, placed_now
from mltassist.cutaways.looks import courses
from mltassist.cutaways.planner.alternatives import alternatives
from mltassist.cutaways.planner.beginnings import begun_well
from mltassist.cutaways.planner.closing import closed
from mltassist.cutaways.planner.film import CoverTask, Frames
from mltassist.cutaways.planner.laying import cover_edits
from mltassist.cutaways.planner.objective import plan_cost
from mltassist.cutaways.planner.plan import Cover, is_bare, plan_cover
from mltassist.cutaways.planner.rules import breaches
from mltassist.cutaways.planner.stable import Placed, plan_stably
from mltassist.cutaways.planner.stock import Unfilmed, unfilmed
from mltassist.cutaways.planner.supply import supply_of
from mltassist.cutaways.sight import note_hidden_faces, place_of_cover
from mltassist.cutaways.task import cover_task
from mltassist.errors import NothingToDo
from mltassist.findings import (
    NOBODY_SPEAKS,
    Findings,
    Run,
    cutaways,
    plan_of,
    somebody_speaks,
    speech_activity,
)
from mltassist.frames import Span
from mltassist.plans import Plan
from mltassist.project import Project
from mltassist.rushes.find import find
from mltassist.rushes.moments import tags_of
from mltassist.timeline.edits import AddMarker, ClearOurs, Edit, LayShot, LayUnder

CLEAR_MARKERS = ClearOurs("markers", "markers of an earlier run are replaced")


def plan_of_cover(
    project: Project,
    run: Run,
    earlier: EarlierCover,
    *,
    keep_changed: bool,
    no_look: bool,
    settled: Sequence[Settled] = (),
) -> Plan:
    """Plan the cover of a project.

    earlier: what is to be kept of an earlier one. settled: shots of this film as nobody has chosen, of which
    choices change as few as they can: they count in place of earlier ones.

    Raises NothingToDo without a cutaway, or where speech may have been missed.
    """
    clearing = clear_cover(project.timeline, keep_changed=keep_changed)
    bare = project.with_edits([CLEAR_MARKERS, clearing])
    findings = find(bare.timeline, run)
    speaks = somebody_speaks(project, findings)
    note_changed(findings, project.timeline, clearing)
    earlier.note(findings)
    if not speaks:
        findings.note(NOBODY_SPEAKS)
        return plan_of("cover", project, (CLEAR_MARKERS, clearing), findings, {})
    if not cutaways(findings):
        raise NothingToDo(
            project.path,
            "there is no cutaway in the bin",
            "put clips in a folder named Cutaways, or pin them",
        )
    task, jumps = cover_task(
        findings, speech_activity(findings), look=not no_look, left_open=earlier.left_open
    )
    task = earlier.resting(findings, task)
    result = _planned(findings, task, earlier, settled)
    missed = _note_what_lacks(findings, task, result)
    shots = cover_edits(task, result)
    beside = beside_cover(findings, result, shots)
    figures = cover_figures(findings, task, jumps, result, missed)
    figures["earlier_shots"] = len(earlier.shots)
    figures["earlier_shots_kept"] = earlier.kept_in(result.shots)
    figures["earlier_shots_given_up"] = earlier.note_given_up(findings, task, _frames(findings), result)
    figures["alternatives_laid"] = sum(isinstance(edit, LayShot) for edit in beside)
    figures["sounds_kept"] = sum(isinstance(edit, LayUnder) for edit in beside)
    place = place_of_cover(findings) if shots or beside else ()
    laid = (*place, *_named(findings, result, framed(findings, (*shots, *beside))))
    return plan_of("cover", project, (CLEAR_MARKERS, clearing, *laid), findings, figures)


def _planned(findings: Findings, task: CoverTask, earlier: EarlierCover, settled: Sequence[Settled]) -> Cover:
    """The shots; what an earlier plan of this very film has come to is taken from memory."""
    run, rules = findings.run, findings.recipe
    frames = _frames(findings)
    run.tell("planning cover")
    others = max(rules.cover.alternatives, int(rules.cover.stack_alternatives))
    stays = tuple(placed_now(findings, settled))
    placed = stays or earlier.shots
    planned = partial(plan_stably, task, frames, placed, alternatives=others)
    changed = bool(stays) or earlier.changed
    result = run.memory.get(
        ("cover", task, frames, placed, others, bool(stays), changed),
        lambda: planned(tries=1) if stays else planned(closely=True, changed=changed),
    )
    if stays and not run.memory.hurried:  # the plan is found in a moment; how good it is takes a closer look
        bound = run.memory.get(("bound", task, frames, result.shots), lambda: _bound(task, frames, result))
        result = replace(result, bound=min(bound, result.cost))
    return run.memory.get(
        ("begun", task, frames, result, placed), lambda: _begun(findings, task, result, placed)
    )


def _begun(findings: Findings, task: CoverTask, planned: Cover, placed: Sequence[Placed]) -> Cover:
    """The plan with its new shots from their best frames, and with other clips as many as before."""
    frames = _frames(findings)
    many = max((len(others) for others in planned.others), default=0)
    earlier, shots = set(placed), planned.shots
    stay = {shot for shot in shots if Placed.of(shot) in earlier}
    shots = closed(task, frames, shots, stay=stay)
    if shots != planned.shots:
        cost = min(planned.cost, plan_cost(task, frames, shots))
        bare = tuple(span for span in planned.bare if is_bare(task, shots, span))
        told = breaches(task, frames, shots)
        planned = replace(planned, bare=bare, breaches=told, cost=cost, bound=min(planned.bound, cost))
    seen = courses(findings, {shot.moment.source for shot in shots})
    offered = [other for others in planned.others for other in others]
    shots = begun_well(task, frames, shots, seen, stay=stay, others=offered)
    supply = supply_of(task)
    others = alternatives(task, frames, supply, task.matcher(supply.subjects), shots, many=many)
    shown = replace(task, used=(*task.used, *(shot.use for shot in shots)))
    offered = [other for row in others for other in row]
    seen = courses(findings, {other.moment.source for other in offered})
    begun = iter(begun_well(shown, frames, offered, seen))
    return replace(planned, shots=shots, others=tuple(tuple(next(begun) for _ in row) for row in others))


def _frames(findings: Findings) -> Frames:
    return Frames.of(findings.recipe.cover, findings.timeline.rate, findings.recipe.weights)


def _bound(task: CoverTask, frames: Frames, planned: Cover) -> float:
    """What no cover of this film costs less than, with what was chosen for it."""
    return plan_cover(task, frames, closely=True, tries=1, known=planned.shots, bound_alone=True).bound


def _note_what_lacks(findings: Findings, task: CoverTask, result: Cover) -> tuple[Unfilmed, ...]:
    """Tell of places without a shot, faces seen no more and rules not kept; gives what was never filmed."""
    for span in result.bare:
        findings.note("no cutaway is left for this place", span.start, needs_editor=True)
    missed = unfilmed(task, (tag for clip in cutaways(findings) for tag in tags_of(clip, findings.run.log)))
    for word in missed:
        findings.note(
            f"{word.word!r} is said {len(word.at)} times, and no cutaway is tagged so: was it filmed?",
            word.at[0],
        )
    note_hidden_faces(findings, [shot.span for shot in (*result.shots, *task.fixed)])
    for breach in result.further_breaches:
        findings.note(f"{breach.rule}: {breach.what}", breach.at, needs_editor=True)
    return missed


def _named(findings: Findings, result: Cover, edits: Sequence[Edit]) -> Iterable[Edit]:
    """The edits with the names of what they decide, remembered: shots, and those missing."""
    spans = {span.start: span for span in result.bare}
    names = {Span(e.at, e.at + e.length): e.decision for e in edits if isinstance(e, LayShot) and e.decision}
    decided = set[str]()
    for edit in edits:
        match edit:
            case LayShot() | LayUnder():
                span = Span(edit.at, edit.at + edit.length)
            case AddMarker() if edit.at in spans:
                span = spans[edit.at]
            case _:
                yield edit
                continue
        name = edit.decision or names.get(span) or findings.places.shot(span)
        beside = isinstance(edit, LayUnder) or (isinstance(edit, LayShot) and edit.track != "cover")
        if not beside and name not in decided:  # one that a pause has parted lies where its first part does
            decided.add(name)
            findings.decide(name, edit.at, edit.reason)
        yield replace(edit, decision=name)
