"""One function for each command: projects in, plans and reports out.

`choices`, wherever they are asked for, are what was decided on the film: they are obeyed before all else.
Nothing here prints, and nothing is written but the sound files that `listen` is asked for.
"""

from __future__ import annotations

import os
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import Any

from mltassist.choices.kinds import Choices
from mltassist.cutaways.covering import plan_of_cover
from mltassist.cutaways.kept import EarlierCover, Settled, earlier_cover, settled_in
from mltassist.errors import NoSuchPlace
from mltassist.findings import NOBODY_SPEAKS, Memory, StageProgress, plan_of, somebody_speaks
from mltassist.frames import Rate
from mltassist.joins.figures import decide_joins, listen_figures
from mltassist.joins.hear import Join
from mltassist.joins.mend import listen_and_mend, note_heard
from mltassist.joins.reel import save_reel
from mltassist.joins.soundclips import make_sound_folder, save_clips
from mltassist.media.sound.listening import codec_for
from mltassist.music.ducking import plan_of_levels
from mltassist.music.measured import Measured, measured
from mltassist.passed.adopting import Adopted, adopted
from mltassist.passed.clearing import PARTS, plan_of_clearing
from mltassist.passed.remarks import plan_of_remarks, read_remarks
from mltassist.pauses.opening import suggested_places
from mltassist.pauses.several import open_pauses
from mltassist.plans import Note, Plan, unmoved_subtitles
from mltassist.project import Project
from mltassist.recipe.layers import plain_rules
from mltassist.recipe.rules import PauseWish, Recipe
from mltassist.rushes.find import begin, find
from mltassist.rushes.survey import Survey, survey
from mltassist.wholepass import CLEAR_JOINS, PassOptions, length_figures, whole_pass

__all__ = [
    "Adopted",
    "Hearing",
    "Measured",
    "Plan",
    "Survey",
    "adopt",
    "apply",
    "clear",
    "cover",
    "duck",
    "listen",
    "measure",
    "pause",
    "remarks",
    "rough",
    "survey",
]


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
    tracks: Mapping[int, str] = field(default_factory=dict)
    """Names of the tracks, by their numbers."""

    def as_plan(self) -> Plan:
        """The hearing as a plan that changes nothing."""
        return Plan("listen", self.project, self.rate, (), self.notes)

    def as_dict(self) -> dict[str, Any]:
        """The measures as plain data, in the form of docs/formats.md; None where a side is silent."""
        return {
            "version": 2,
            "project": str(self.project),
            "rate": [self.rate.numerator, self.rate.denominator],
            "joins": [join.as_dict() for join in self.joins],
            "notes": [asdict(note) for note in self.notes],
            "plan": None if self.plan is None else self.plan.as_dict(),
        }


def listen(
    project: Project,
    *,
    recipe: Recipe | None = None,
    choices: Choices | None = None,
    clips: str | os.PathLike[str] | None = None,
    reel: str | os.PathLike[str] | None = None,
    mend: bool = False,
    no_words: bool = False,
    on_progress: StageProgress | None = None,
) -> Hearing:
    """Judge by measurement whether each edit in speech is heard.

    clips: a folder for one small sound file of every edit, speech alone, two seconds either side, before
    and after the mend. reel: one sound file for all of them as they then sound, with chapters. mend: plan how
    joins that are heard are moved by a few frames until they are not. no_words: words are not sought in the
    sound, and so nothing is told of them.
    Raises NothingToDo where speech may have been missed, OutputError when the folder cannot be written.
    """
    clearing = (CLEAR_JOINS,) if mend else ()
    mended = project.with_edits(clearing)
    run = begin(project.timeline, recipe, on_progress, choices, no_words=no_words)
    findings = find(mended.timeline, run)
    if not somebody_speaks(project, findings):
        findings.note(NOBODY_SPEAKS)
    if clips is not None:
        make_sound_folder(clips)  # before the work, and not after it
    if reel is not None:
        codec_for(Path(reel))
    mended, edits, joins = listen_and_mend(mended, findings, mend=mend, obey=mend)
    findings.notes |= unmoved_subtitles(mended) if mend else {}
    note_heard(findings, joins, edits)
    decide_joins(findings, joins, edits)
    figures = listen_figures(joins, findings.timeline.rate, edits)
    figures["length"] = length_figures(project, mended)
    plan = plan_of("listen", project, (*clearing, *edits), findings, figures)
    plan = replace(plan, state=project.state)
    if clips is not None:
        after = find(mended.timeline, findings.run) if mend else None
        save_clips(findings, joins, clips, after)
    if reel is not None:
        save_reel(findings, joins, Path(reel), find(mended.timeline, findings.run) if mend else None)
    names = {track.index: track.name for track in findings.timeline.tracks}
    rate, notes = findings.timeline.rate, tuple(findings.notes)
    return Hearing(project.path, rate, joins, notes, plan if mend else None, names)


def cover(
    project: Project,
    *,
    recipe: Recipe | None = None,
    choices: Choices | None = None,
    keep_changed: bool = False,
    anew: bool = False,
    no_look: bool = False,
    no_words: bool = False,
    on_progress: StageProgress | None = None,
) -> Plan:
    """Plan cutaways over every jump cut and under all narration.

    Shots of an earlier run that are still valid stay, and where one was deleted by hand none is laid; anew:
    all is planned from nothing. keep_changed: clips of an earlier cover that were changed by hand since stay
    where they are. no_look: pictures are not looked at, which is quicker; all moments and jumps then count
    alike. no_words: words are not sought in the sound; only what is written down counts.

    Raises NothingToDo without a cutaway in the bin, or where speech may have been missed.
    """
    run = begin(project.timeline, recipe, on_progress, choices, no_words=no_words)
    earlier = EarlierCover() if anew else earlier_cover(project.timeline)
    of_cover = partial(plan_of_cover, project, earlier=earlier, keep_changed=keep_changed, no_look=no_look)
    settled: tuple[Settled, ...] = ()
    if run.choices != run.choices.undecided:
        nobodys = begin(project.timeline, recipe, on_progress, run.choices.undecided, no_words=no_words)
        settled = settled_in(of_cover(run=nobodys))
    plan = of_cover(run=run, settled=settled)
    return replace(plan, state=project.state)


def duck(
    project: Project,
    *,
    recipe: Recipe | None = None,
    choices: Choices | None = None,
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

    A film without music is measured all the same, and one in which places are heard and nobody speaks.
    Raises NothingToDo where there is no speech in another.
    """
    rules = (recipe or Recipe()).separated(separation)
    given: dict[str, Any] = {
        "depth_limit_db": depth_limit,
        "ramp_in_s": ramp_in,
        "ramp_out_s": ramp_out,
        "bridge_s": hold,
    }
    given = {name: value for name, value in given.items() if value is not None}
    rules = replace(rules, duck=replace(rules.duck, **given))
    run = begin(project.timeline, rules, on_progress, choices)
    return replace(plan_of_levels(project, run, normalise=normalise), state=project.state)


def pause(
    project: Project,
    *,
    at: Sequence[str] = (),
    length: Fraction,
    suggest: int = 0,
    recipe: Recipe | None = None,
    choices: Choices | None = None,
    on_progress: StageProgress | None = None,
) -> Plan:
    """Plan natural-sound pauses of `length` seconds at places given by timecode, frame (f1234) or marker.

    suggest: besides, so many pauses where speech rests longest, well apart. Raises NoSuchPlace when a
    place is not in the project, or none can be suggested; TrackLocked when a locked track would have
    to move.
    """
    run = begin(project.timeline, recipe, on_progress, choices)
    wishes = [PauseWish(place, length) for place in ([at] if isinstance(at, str) else at)]
    notes: dict[Note, None] = {}
    suggested: list[PauseWish] = []
    if suggest:
        findings = find(project.timeline, run)
        places = suggested_places(findings, suggest, [w.at for w in wishes])
        notes.update(findings.notes)
        suggested = [PauseWish(f"f{frame}", length) for frame in places]
        wishes += suggested
    if not wishes and not run.choices.pauses:
        raise NoSuchPlace(
            project.path, "no place for a pause was given", "give one, or let some be suggested"
        )
    opened = open_pauses(project, run, wishes, suggested)
    notes.update(opened.notes)
    figures, rate = {"pauses": opened.figures}, project.timeline.rate
    plan = Plan("pause", project.path, rate, opened.edits, tuple(notes), figures, opened.decisions)
    return replace(plan, recipe=plain_rules(run.recipe), state=project.state)


def rough(
    project: Project,
    *,
    recipe: Recipe | None = None,
    choices: Choices | None = None,
    pauses: Iterable[tuple[str, Fraction]] = (),
    separation: float | None = None,
    normalise: bool = False,
    keep_changed: bool = False,
    anew: bool = False,
    no_look: bool = False,
    no_words: bool = False,
    no_mend: bool = False,
    known: Memory | None = None,
    on_progress: StageProgress | None = None,
) -> Plan:
    """Plan the whole pass: every edit in speech is listened to and mended, then pauses, cover and music.

    Joins that are heard are moved by a few frames and levels matched, which changes the editor's own cuts;
    no_mend: they are only listened to.
    Edits that are heard still are covered like the others, and get a marker and a note for the editor.
    Choices change as little as they can of the plan that would be made without them.
    known: what earlier passes on this film have worked out in this process; this one adds to it.

    Parts whose material is missing are left out with a note. A film in which places are heard and nobody
    speaks is left as it is, but for pauses asked for and its loudness; without any speech in another,
    NothingToDo is raised.
    """
    rules = _asked_for(recipe or Recipe(), separation, pauses)
    wanted = PassOptions(rules, normalise, keep_changed, anew, no_look, no_words, no_mend)
    return whole_pass(project, wanted, choices or Choices(), on_progress, known or Memory())


def measure(
    project: Project, *, recipe: Recipe | None = None, on_progress: StageProgress | None = None
) -> Measured:
    """Measure what a project plays, as it stands: the mix of the whole film, and where someone speaks.

    Nothing is planned. A film without speech or sound is measured all the same.
    """
    findings = find(project.timeline, begin(project.timeline, recipe, on_progress, no_words=True))
    return measured(project.path, findings)


def apply(plan: Plan, project: Project) -> Project:
    """Carry out a plan on the very state of the project that it was made for.

    Raises PlanError for any other; NoSuchPlace, TrackLocked where an edit cannot be carried out.
    """
    plan.need_state(project)
    return plan.apply(project)


def clear(project: Project, *, part: Collection[str] = ()) -> Plan:
    """Plan to take out all that is ours, or these parts: cover, levels, gain, markers, joins, pauses.

    A project on which a pass was made is then what it was before. What was changed by hand since is
    left, and told.
    """
    return plan_of_clearing(project, part or PARTS)


def adopt(
    project: Project,
    *,
    recipe: Recipe | None = None,
    original: Project | None = None,
    choices: Choices | None = None,
) -> Adopted:
    """Take up as choices what was changed by hand in a project since a pass was made on it.

    Shots that were swapped, shortened, moved or deleted, and joins that were moved. original: the film
    before the pass; without it only joins are compared that the pass had moved. choices: what was decided
    before; what is taken up comes in place of choices on the same.
    """
    findings = find(project.timeline, begin(project.timeline, recipe, no_words=True))
    before = None if original is None else find(original.timeline, findings.run)
    return adopted(findings, before, choices or Choices())


def remarks(file: str | os.PathLike[str], project: Project, *, recipe: Recipe | None = None) -> Plan:
    """Plan a marker of ours for every remark in a file (docs/formats.md). Raises PlanError."""
    said = read_remarks(file)
    return plan_of_remarks(
        project, find(project.timeline, begin(project.timeline, recipe, no_words=True)), said
    )


def _asked_for(recipe: Recipe, separation: float | None, pauses: Iterable[tuple[str, Fraction]]) -> Recipe:
    """A recipe with what is asked for besides: the one that the plan is made by."""
    wishes = (PauseWish(at, length) for at, length in pauses)
    return replace(recipe.separated(separation), pauses=(*recipe.pauses, *wishes))
