"""One function for each command: projects in, plans and reports out.

Nothing here prints, and nothing is written but the sound files that `listen` is asked for.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from math import isfinite
from pathlib import Path
from typing import Any

from mltassist.cutaways.beside import beside_cover, clear_cover, note_changed
from mltassist.cutaways.figures import cover_figures
from mltassist.cutaways.planner.film import Frames
from mltassist.cutaways.planner.plan import cover_edits, plan_cover
from mltassist.cutaways.planner.stock import unfilmed
from mltassist.cutaways.task import cover_task
from mltassist.cutaways.wordlist import Words, words
from mltassist.errors import NoSuchPlace, NothingToDo
from mltassist.findings import (
    Findings,
    StageProgress,
    cutaways,
    find,
    muted_help,
    speech_activity,
    speech_clips,
)
from mltassist.frames import Rate
from mltassist.joins.figures import listen_figures
from mltassist.joins.hear import Join, hear_joins
from mltassist.joins.mend import mend_all, note_heard
from mltassist.joins.move import place_now
from mltassist.joins.planner.judge import Verdict
from mltassist.joins.soundclips import make_folder, save_clips
from mltassist.music.delivery import normalising_gain_db
from mltassist.music.duck import duck_edits, film_meter, loudness_row, measure_mix
from mltassist.pauses.figures import pause_figures
from mltassist.pauses.opening import pause_edits, suggested_places
from mltassist.plans import Note, Plan, notes_after, unmoved_subtitles
from mltassist.project import Project
from mltassist.recipe.rules import PauseWish, Recipe
from mltassist.rushes.logs import Log, find_log
from mltassist.rushes.moments import tags_of
from mltassist.rushes.survey import Survey, survey
from mltassist.timeline.edits import (
    AddGuide,
    ClearOurs,
    Edit,
    LayShot,
    LayUnder,
    SetFilmGain,
)
from mltassist.timeline.elements import SPEECH, Element
from mltassist.timeline.places import find_place

__all__ = [
    "Hearing",
    "Plan",
    "Survey",
    "Words",
    "cover",
    "duck",
    "listen",
    "pause",
    "rough",
    "survey",
    "words",
]

DELIVERED_LU = 0.2
"""A film so near to its target has met it."""
CLEAR_JOINS = ClearOurs("joins", "what an earlier run laid to mend joins is replaced")
CLEAR_GUIDES = ClearOurs("guides", "guides of an earlier run are replaced")


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
    findings = find(mended.timeline, recipe or Recipe(), on_progress)
    _need_speech(project, findings)
    if clips is not None:
        make_folder(clips)  # before the work, and not after it
    joins = hear_joins(findings, on_progress, mend=mend)
    edits: tuple[Edit, ...] = ()
    if mend:
        mended, edits, joins = mend_all(mended, findings, joins, on_progress)
        findings.notes |= unmoved_subtitles(mended)
    note_heard(findings, joins, edits)
    plan = _plan("listen", project, (*clearing, *edits), findings, listen_figures(joins, edits))
    if clips is not None:
        after = find(mended.timeline, findings.recipe, log=findings.log) if mend else None
        save_clips(findings, joins, clips, after)
    return Hearing(project.path, findings.timeline.rate, joins, tuple(findings.notes), plan if mend else None)


def cover(
    project: Project,
    *,
    recipe: Recipe | None = None,
    keep_changed: bool = False,
    no_look: bool = False,
    no_words: bool = False,
    on_progress: StageProgress | None = None,
    log: Log | None = None,
) -> Plan:
    """Plan cutaways over every jump cut and under all narration.

    keep_changed: clips of an earlier cover that were changed by hand since stay where they are.
    no_look: pictures are not looked at, which is quicker; all moments and jumps then count alike.
    no_words: words are not sought in the sound; only what is written down counts. log: what
    the log sheets say, where they have been read; without it they are.

    Raises NothingToDo when the project has no speech, or no cutaway in its bin.
    """
    rules = recipe or Recipe()
    clearing = clear_cover(project.timeline, keep_changed=keep_changed)
    bare = project.with_edits([CLEAR_GUIDES, clearing])
    findings = find(bare.timeline, rules, on_progress, log=log)
    _need_speech(project, findings)
    note_changed(findings, project.timeline, clearing)
    if not cutaways(findings):
        raise NothingToDo(
            project.path,
            "there is no cutaway in the bin",
            "put clips in a folder named Cutaways, or pin them",
        )
    speech = speech_activity(findings, on_progress)
    task = cover_task(findings, speech, look=not no_look, hear=not no_words, on_progress=on_progress)
    frames = Frames.of(rules.cover, project.timeline.rate, rules.weights)
    if on_progress is not None:
        on_progress("planning cover", 0.0)
    others = max(rules.cover.alternatives, int(rules.cover.stack_alternatives))
    result = plan_cover(task, frames, alternatives=others)
    for span in result.bare:
        findings.note("no cutaway is left for this place", span.start, needs_editor=True)
    missed = unfilmed(task, (tag for clip in cutaways(findings) for tag in tags_of(clip, findings.log)))
    for word in missed:
        findings.note(
            f"{word.word!r} is said {len(word.at)} times, and no cutaway is tagged so: was it filmed?",
            word.at[0],
        )
    for breach in result.further_breaches:
        findings.note(f"{breach.rule}: {breach.what}", breach.at, needs_editor=True)
    shots = cover_edits(task, result)
    beside = beside_cover(findings, result, shots, on_progress)
    figures = cover_figures(findings, task, result, missed)
    figures["alternatives_laid"] = sum(isinstance(edit, LayShot) for edit in beside)
    figures["sounds_kept"] = sum(isinstance(edit, LayUnder) for edit in beside)
    return _plan("cover", project, (CLEAR_GUIDES, clearing, *shots, *beside), findings, figures)


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
    log: Log | None = None,
) -> Plan:
    """Plan the music's level under speech, and measure the whole mix before and after.

    separation (LU), depth_limit (dB), ramp_in, ramp_out and hold (seconds) overrule the recipe's figures;
    hold is the gap in speech over which music stays down. normalise: one gain on the whole film brings it
    to the loudness that the recipe's `delivery` asks for, as far as its true peak lets it. log: see `cover`.

    Raises NothingToDo when there is no speech or no music on the timeline.
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
    bare = project.with_edits([ClearOurs("duck", "measured without earlier curves")])
    findings = find(bare.timeline, rules, on_progress, log=log)
    _need_speech(project, findings)
    speech = speech_activity(findings, on_progress)
    if not speech:
        findings.note("nobody is heard speaking: the music stays as it is", needs_editor=True)
    edits, mix = duck_edits(findings, speech, separation, on_progress)
    if not mix.music:
        what = muted_help(findings, (Element.MUSIC,)) or "name its track Music, or pin it"
        raise NothingToDo(project.path, "there is no music on the timeline", what)
    ducked = find(bare.with_edits(edits).timeline, rules, log=findings.log)
    passages = measure_mix(ducked, mix.passages, on_progress)
    figures = mix.figures(passages, project.timeline.rate)
    before, meter = film_meter(findings, on_progress).read(), film_meter(ducked, on_progress)
    after = meter.read()
    gain_db = normalising_gain_db(after, rules.delivery.target_lufs, rules.delivery.ceiling_dbtp)
    if normalise and isfinite(after.integrated_lufs):
        whole = SetFilmGain(round(gain_db, 2), "brings the film to its loudness of delivery")
        edits = (*edits, whole)
        after = meter.read(whole.gain_db)
        gain_db = normalising_gain_db(after, rules.delivery.target_lufs, rules.delivery.ceiling_dbtp)
        short = rules.delivery.target_lufs - after.integrated_lufs
        if short > DELIVERED_LU:
            findings.note(
                f"the film stays {short:.1f} LU under its target: its true peak allows no more",
                needs_editor=True,
            )
    elif after.peak_dbtp > rules.delivery.ceiling_dbtp:
        findings.note(
            f"the true peak is {after.peak_dbtp:+.1f} dBTP, over {rules.delivery.ceiling_dbtp:+.1f}:"
            " --normalise brings the film under it"
        )
    figures["mix"] = {
        "before": loudness_row(before),
        "after": loudness_row(after),
        "target_lufs": rules.delivery.target_lufs,
        "gain_to_target_db": round(gain_db, 2),
    }
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
    rules = recipe or Recipe()
    wishes = [PauseWish(place, length) for place in ([at] if isinstance(at, str) else at)]
    notes: dict[Note, None] = {}
    log = find_log(project.timeline, rules.log_sheets)
    if suggest:
        findings = find(project.timeline, rules, on_progress, log=log)
        places = suggested_places(findings, suggest, [w.at for w in wishes], on_progress)
        notes.update(findings.notes)
        wishes += [PauseWish(f"f{frame}", length) for frame in places]
    if not wishes:
        raise NoSuchPlace(
            project.path, "no place for a pause was given", "give one, or let some be suggested"
        )
    edits, told, figures, _ = _open_pauses(project, rules, wishes, log, on_progress)
    notes.update(told)
    return Plan("pause", project.path, project.timeline.rate, edits, tuple(notes), {"pauses": figures})


def _open_pauses(
    project: Project,
    rules: Recipe,
    wishes: Iterable[PauseWish],
    log: Log,
    on_progress: StageProgress | None,
) -> tuple[tuple[Edit, ...], dict[Note, None], list[dict[str, Any]], Project]:
    """Edits, notes and figures of several pauses, and the project in which they are open."""
    now = project
    edits: list[Edit] = []
    figures: list[dict[str, Any]] = []
    notes: dict[Note, None] = {}
    # From the last to the first, so that no pause moves the place of one still to come.
    placed = sorted(((find_place(now.timeline, wish.at), wish) for wish in wishes), key=lambda p: -p[0])
    for _, wish in placed:
        findings = find(now.timeline, rules, on_progress, log=log)
        opened = pause_edits(findings, wish, on_progress, before=project.timeline)
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
    no_look: bool = False,
    no_words: bool = False,
    on_progress: StageProgress | None = None,
) -> Plan:
    """Plan the whole pass: every edit in speech is listened to and mended, then pauses, cover and music.

    Edits that are heard still are covered like the others, and get a guide and a note for the editor.

    Parts whose material is missing are left out with a note; without any speech NothingToDo is raised.
    """
    rules = recipe or Recipe()
    clearing = clear_cover(project.timeline, keep_changed=keep_changed)
    edits: list[Edit] = [
        CLEAR_GUIDES,
        clearing,
        ClearOurs("duck", "level curves of an earlier run are replaced"),
        CLEAR_JOINS,
    ]
    notes: dict[Note, None] = {}
    figures: dict[str, Any] = {}
    now = project.with_edits(edits)
    findings = find(now.timeline, rules, on_progress)
    _need_speech(project, findings)
    mending = rules.mend.reach_frames > 0
    joins = hear_joins(findings, on_progress, mend=mending)
    mends: tuple[Edit, ...] = ()
    if mending:
        now, mends, joins = mend_all(now, findings, joins, on_progress)
        edits += mends
    note_heard(findings, joins, mends)
    guides = tuple(
        AddGuide(
            place_now(join, mends),
            f"heard: {judgement.reasons[0].words}",
            "a cover hides no sound: mend this edit",
        )
        for join in joins
        if (judgement := (join.mended or join).judgement).verdict is Verdict.HEARD
    )
    edits += guides
    now = now.with_edits(guides)
    figures |= listen_figures(joins, mends)
    if not keep_changed:  # else the cover tells of them, at the places they have by then
        note_changed(findings, project.timeline, clearing)
    notes.update(findings.notes)
    wishes = [*rules.pauses, *(PauseWish(at, length) for at, length in pauses)]
    opened, told, pauses_made, now = _open_pauses(now, rules, wishes, findings.log, on_progress)
    edits += opened
    notes = notes_after(notes, opened)
    notes.update(told)
    if pauses_made:
        figures["pauses"] = pauses_made
    shared: dict[str, Any] = {"recipe": rules, "on_progress": on_progress, "log": findings.log}
    for make in (
        partial(cover, keep_changed=keep_changed, no_look=no_look, no_words=no_words, **shared),
        partial(duck, separation=separation, normalise=normalise, **shared),
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


def _need_speech(project: Project, findings: Findings) -> None:
    if not speech_clips(findings):
        ordinary = "name its track Interview or Narration, or pin it in a recipe"
        raise NothingToDo(project.path, "no speech was found", muted_help(findings, SPEECH) or ordinary)


def _plan(
    command: str, project: Project, edits: Iterable[Edit], findings: Findings, figures: dict[str, Any]
) -> Plan:
    rate = findings.timeline.rate
    return Plan(command, project.path, rate, tuple(edits), tuple(findings.notes), figures)
