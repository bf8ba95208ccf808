"""One function for each command: projects in, plans and reports out.

Nothing here prints, and nothing is written but the sound files that `listen` is asked for.
"""

from __future__ import annotations

import os
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import Any

from mltassist.cutaways.beside import beside_cover, clear_cover, note_changed
from mltassist.cutaways.figures import cover_figures
from mltassist.cutaways.kept import EarlierCover, earlier_cover
from mltassist.cutaways.planner.film import Frames
from mltassist.cutaways.planner.plan import cover_edits
from mltassist.cutaways.planner.stable import plan_stably
from mltassist.cutaways.planner.stock import unfilmed
from mltassist.cutaways.sight import place_of_cover
from mltassist.cutaways.task import cover_task
from mltassist.errors import NoSuchPlace, NothingToDo
from mltassist.findings import (
    Findings,
    Run,
    StageProgress,
    cutaways,
    muted_help,
    speech_activity,
    speech_clips,
)
from mltassist.frames import Rate, format_timecode
from mltassist.joins.figures import listen_figures, moved_rows
from mltassist.joins.hear import Join, hear_joins
from mltassist.joins.mend import mend_all, note_heard
from mltassist.joins.planner.judge import Verdict
from mltassist.joins.soundclips import make_folder, save_clips
from mltassist.music.delivery import deliver
from mltassist.music.duck import duck_edits, measured_again, note_unclear
from mltassist.music.figures import mix_figures
from mltassist.pauses.figures import pause_figures
from mltassist.pauses.opening import pause_edits, suggested_places
from mltassist.plans import Note, Plan, notes_after, unmoved_subtitles
from mltassist.project import Project
from mltassist.recipe.rules import PauseWish, Recipe
from mltassist.rushes.find import begin, find
from mltassist.rushes.moments import tags_of
from mltassist.rushes.survey import Survey, survey
from mltassist.timeline.edits import (
    AddMarker,
    ClearOurs,
    Edit,
    LayShot,
    LayUnder,
)
from mltassist.timeline.elements import SPEECH
from mltassist.timeline.moves import moves_of_all
from mltassist.timeline.places import find_place

__all__ = ["Hearing", "Plan", "Survey", "cover", "duck", "listen", "pause", "rough", "survey"]

CLEAR_JOINS = ClearOurs("joins", "what an earlier run laid to mend joins is replaced")
CLEAR_MARKERS = ClearOurs("markers", "markers of an earlier run are replaced")


@dataclass(frozen=True, slots=True)
class Hearing:
    """Every speech edit with its measures and verdict, and what to check.

    plan: the moves that mend those that are heard, where a mend was asked for.
    """

    project: Path
    rate: Rate
    joins: tuple[Join, ...]
    notes: tuple[Note, ...]
    plan: Plan | None = None

    def as_dict(self) -> dict[str, Any]:
        """The measures as plain data, in the form of docs/formats.md; None where a side is silent."""
        return {
            "version": 1,
            "project": str(self.project),
            "rate": [self.rate.numerator, self.rate.denominator],
            "joins": [join.as_dict() for join in self.joins],
            "notes": [note.text for note in self.notes],
            "plan": None if self.plan is None else self.plan.as_dict(),
        }


def listen(
    project: Project,
    *,
    recipe: Recipe | None = None,
    clips: str | os.PathLike[str] | None = None,
    mend: bool = False,
    on_progress: StageProgress | None = None,
) -> Hearing:
    """Judge by measurement whether each edit in speech is heard.

    clips: a folder for one small sound file of every edit, speech alone, two seconds either side, before
    and after the mend. mend: plan how joins that are heard are moved by a few frames until they are not.
    Raises NothingToDo without any speech, OutputError when the folder cannot be written.
    """
    clearing = (CLEAR_JOINS,) if mend else ()
    mended = project.with_edits(clearing)
    findings = find(mended.timeline, begin(project.timeline, recipe, on_progress))
    _need_speech(project, findings)
    if clips is not None:
        make_folder(clips)  # before the work, and not after it
    joins = hear_joins(findings, mend=mend)
    edits: tuple[Edit, ...] = ()
    if mend:
        mended, edits, joins = mend_all(mended, findings, joins)
        findings.notes |= unmoved_subtitles(mended)
    note_heard(findings, joins, edits)
    figures = listen_figures(joins, findings.timeline.rate, edits)
    figures["length"] = _length(project, mended)
    plan = _plan("listen", project, (*clearing, *edits), findings, figures)
    if clips is not None:
        after = find(mended.timeline, findings.run) if mend else None
        save_clips(findings, joins, clips, after)
    return Hearing(project.path, findings.timeline.rate, joins, tuple(findings.notes), plan if mend else None)


def cover(
    project: Project,
    *,
    recipe: Recipe | None = None,
    keep_changed: bool = False,
    anew: bool = False,
    no_look: bool = False,
    on_progress: StageProgress | None = None,
) -> Plan:
    """Plan cutaways over every jump cut and under all narration.

    Shots of an earlier run that are still valid stay, and where one was deleted by hand none is laid; anew:
    all is planned from nothing. keep_changed: clips of an earlier cover that were changed by hand since stay
    where they are. no_look: pictures are not looked at, which is quicker; all moments and jumps then count
    alike.

    Raises NothingToDo when the project has no speech, or no cutaway in its bin.
    """
    run = begin(project.timeline, recipe, on_progress)
    earlier = EarlierCover() if anew else earlier_cover(project.timeline)
    return _cover(project, run, earlier, keep_changed=keep_changed, no_look=no_look)


def _cover(project: Project, run: Run, earlier: EarlierCover, *, keep_changed: bool, no_look: bool) -> Plan:
    rules = run.recipe
    clearing = clear_cover(project.timeline, keep_changed=keep_changed)
    bare = project.with_edits([CLEAR_MARKERS, clearing])
    findings = find(bare.timeline, run)
    _need_speech(project, findings)
    note_changed(findings, project.timeline, clearing)
    earlier.note(findings)
    if not cutaways(findings):
        raise NothingToDo(
            project.path,
            "there is no cutaway in the bin",
            "put clips in a folder named Cutaways, or pin them",
        )
    look = not no_look
    task, jumps = cover_task(findings, speech_activity(findings), look=look, left_open=earlier.left_open)
    frames = Frames.of(rules.cover, project.timeline.rate, rules.weights)
    run.tell("planning cover")
    others = max(rules.cover.alternatives, int(rules.cover.stack_alternatives))
    result = plan_stably(task, frames, earlier.shots, alternatives=others, closely=True)
    for span in result.bare:
        findings.note("no cutaway is left for this place", span.start, needs_editor=True)
    missed = unfilmed(task, (tag for clip in cutaways(findings) for tag in tags_of(clip, run.log)))
    for word in missed:
        findings.note(
            f"{word.word!r} is said {len(word.at)} times, and no cutaway is tagged so: was it filmed?",
            word.at[0],
        )
    for breach in result.further_breaches:
        findings.note(f"{breach.rule}: {breach.what}", breach.at, needs_editor=True)
    shots = cover_edits(task, result)
    beside = beside_cover(findings, result, shots)
    figures = cover_figures(findings, task, jumps, result, missed)
    figures["earlier_shots"] = len(earlier.shots)
    figures["earlier_shots_kept"] = earlier.kept_in(result.shots)
    figures["alternatives_laid"] = sum(isinstance(edit, LayShot) for edit in beside)
    figures["sounds_kept"] = sum(isinstance(edit, LayUnder) for edit in beside)
    place = place_of_cover(findings) if shots or beside else ()
    return _plan("cover", project, (CLEAR_MARKERS, clearing, *place, *shots, *beside), findings, figures)


def duck(
    project: Project,
    *,
    recipe: Recipe | None = None,
    separation: float | None = None,
    depth_limit: float | None = None,
    ramp_in: Fraction | None = None,
    ramp_out: Fraction | None = None,
    hold: Fraction | None = None,
    normalise: bool = False,
    on_progress: StageProgress | None = None,
) -> Plan:
    """Plan the music's level under speech, and measure the whole mix before and after.

    separation (LU), depth_limit (dB), ramp_in, ramp_out and hold (seconds) overrule the recipe's figures;
    hold is the gap in speech over which music stays down. normalise: one gain on the whole film brings it
    to the loudness that the recipe's `delivery` asks for, as far as its true peak lets it.

    A film without music is measured all the same. Raises NothingToDo when there is no speech.
    """
    rules = recipe or Recipe()
    given: dict[str, Any] = {
        "depth_limit_db": depth_limit,
        "ramp_in_s": ramp_in,
        "ramp_out_s": ramp_out,
        "bridge_s": hold,
    }
    given = {name: value for name, value in given.items() if value is not None}
    rules = replace(rules, duck=replace(rules.duck, **given))
    run = begin(project.timeline, rules, on_progress)
    return _duck(project, run, separation=separation, normalise=normalise)


def _duck(project: Project, run: Run, *, separation: float | None, normalise: bool) -> Plan:
    bare = project.with_edits([ClearOurs("duck", "measured without earlier curves")])
    findings = find(bare.timeline, run)
    _need_speech(project, findings)
    speech = speech_activity(findings)
    edits, mix = duck_edits(findings, speech, separation)
    ducked = find(bare.with_edits(edits).timeline, run)
    after = measured_again(ducked, mix)
    note_unclear(findings, mix, after)
    figures: dict[str, Any] = {"passages": mix_figures(mix, after, project.timeline.rate)}
    whole, figures["mix"] = deliver(findings, ducked, normalise=normalise)
    edits = (*edits, *whole)
    return _plan("duck", project, edits, findings, figures)


def pause(
    project: Project,
    *,
    at: Sequence[str] = (),
    length: Fraction,
    suggest: int = 0,
    recipe: Recipe | None = None,
    on_progress: StageProgress | None = None,
) -> Plan:
    """Plan natural-sound pauses of `length` seconds at places given by timecode, frame (f1234) or marker.

    suggest: besides, so many pauses where speech rests longest, well apart. Raises NoSuchPlace when a
    place is not in the project, or none can be suggested; TrackLocked when a locked track would have
    to move.
    """
    run = begin(project.timeline, recipe, on_progress)
    wishes = [PauseWish(place, length) for place in ([at] if isinstance(at, str) else at)]
    notes: dict[Note, None] = {}
    suggested: list[PauseWish] = []
    if suggest:
        findings = find(project.timeline, run)
        places = suggested_places(findings, suggest, [w.at for w in wishes])
        notes.update(findings.notes)
        suggested = [PauseWish(f"f{frame}", length) for frame in places]
        wishes += suggested
    if not wishes:
        raise NoSuchPlace(
            project.path, "no place for a pause was given", "give one, or let some be suggested"
        )
    edits, told, figures, _ = _open_pauses(project, run, wishes, suggested)
    notes.update(told)
    return Plan("pause", project.path, project.timeline.rate, edits, tuple(notes), {"pauses": figures})


def _open_pauses(
    project: Project, run: Run, wishes: Iterable[PauseWish], suggested: Collection[PauseWish] = ()
) -> tuple[tuple[Edit, ...], dict[Note, None], list[dict[str, Any]], Project]:
    """Edits, notes and figures of several pauses, and the project in which they are open."""
    now = project
    edits: list[Edit] = []
    figures: list[dict[str, Any]] = []
    notes: dict[Note, None] = {}
    # From the last to the first, so that no pause moves the place of one still to come.
    placed = sorted(((find_place(now.timeline, wish.at), wish) for wish in wishes), key=lambda p: -p[0])
    for _, wish in placed:
        findings = find(now.timeline, run)
        opened = pause_edits(findings, wish, before=project.timeline, suggested=wish in suggested)
        timeline = now.timeline
        now = now.with_edits(opened)  # a plan that cannot be carried out is refused here, with the reason
        edits += opened
        notes = notes_after(notes, opened)
        notes.update(findings.notes)
        figures = pause_figures(opened, timeline, figures)
    return tuple(edits), notes | unmoved_subtitles(now), figures, now


def rough(
    project: Project,
    *,
    recipe: Recipe | None = None,
    pauses: Iterable[tuple[str, Fraction]] = (),
    separation: float | None = None,
    normalise: bool = False,
    keep_changed: bool = False,
    anew: bool = False,
    no_look: bool = False,
    no_mend: bool = False,
    on_progress: StageProgress | None = None,
) -> Plan:
    """Plan the whole pass: every edit in speech is listened to and mended, then pauses, cover and music.

    Joins that are heard are moved by a few frames and levels matched, which changes the editor's own cuts;
    no_mend: they are only listened to.
    Edits that are heard still are covered like the others, and get a marker and a note for the editor.

    Parts whose material is missing are left out with a note; without any speech NothingToDo is raised.
    """
    run = begin(project.timeline, recipe, on_progress)
    clearing = clear_cover(project.timeline, keep_changed=keep_changed)
    edits: list[Edit] = [
        CLEAR_MARKERS,
        clearing,
        ClearOurs("duck", "level curves of an earlier run are replaced"),
        CLEAR_JOINS,
    ]
    notes: dict[Note, None] = {}
    figures: dict[str, Any] = {}
    now = project.with_edits(edits)
    findings = find(now.timeline, run)
    _need_speech(project, findings)
    mending = not no_mend and run.recipe.mend.reach_frames > 0
    joins = hear_joins(findings, mend=mending)
    mends: tuple[Edit, ...] = ()
    if mending:
        now, mends, joins = mend_all(now, findings, joins)
        edits += mends
    note_heard(findings, joins, mends)
    moves = moves_of_all(mends)
    markers = tuple(
        AddMarker(
            moves.clip(join.track, join.at)[1],
            f"heard: {judgement.reasons[0].words}",
            "a cover hides no sound: mend this edit",
        )
        for join in joins
        if (judgement := (join.mended or join).judgement).verdict is Verdict.HEARD
    )
    edits += markers
    now = now.with_edits(markers)
    figures |= listen_figures(joins, project.timeline.rate, mends)
    if not keep_changed:  # else the cover tells of them, at the places they have by then
        note_changed(findings, project.timeline, clearing)
    notes.update(findings.notes)
    wishes = [*run.recipe.pauses, *(PauseWish(at, length) for at, length in pauses)]
    opened, told, pauses_made, now = _open_pauses(now, run, wishes)
    edits += opened
    notes = notes_after(notes, opened)
    notes.update(told)
    figures["mends"] = moved_rows(figures["mends"], moves_of_all(opened), project.timeline.rate)
    figures["length"] = _length(project, now)
    if pauses_made:
        figures["pauses"] = pauses_made
    earlier = EarlierCover()
    if not anew:
        earlier = earlier_cover(project.timeline).moved(moves.then(moves_of_all(opened)))
    for make in (
        partial(_cover, run=run, earlier=earlier, keep_changed=keep_changed, no_look=no_look),
        partial(_duck, run=run, separation=separation, normalise=normalise),
    ):
        try:
            plan = make(now)
        except NothingToDo as error:
            notes[Note(str(error).removeprefix(f"{error.path}: "), needs_editor=True)] = None
            continue
        now = plan.apply(now)
        edits += [edit for edit in plan.edits if not isinstance(edit, ClearOurs)]
        notes.update(dict.fromkeys(plan.notes))
        figures |= plan.figures
    return Plan("rough", project.path, project.timeline.rate, tuple(edits), tuple(notes), figures)


def _length(project: Project, now: Project) -> dict[str, Any]:
    """How long a film was and is."""
    rate = project.timeline.rate
    frames = {"before": project.timeline.length, "after": now.timeline.length}
    return {**frames, "timecode": format_timecode(frames["after"], rate)}


def _need_speech(project: Project, findings: Findings) -> None:
    if not speech_clips(findings):
        ordinary = "name its track Interview or Narration, or pin it in a recipe"
        raise NothingToDo(project.path, "no speech was found", muted_help(findings, SPEECH) or ordinary)


def _plan(
    command: str, project: Project, edits: Iterable[Edit], findings: Findings, figures: dict[str, Any]
) -> Plan:
    rate = findings.timeline.rate
    return Plan(command, project.path, rate, tuple(edits), tuple(findings.notes), figures)
