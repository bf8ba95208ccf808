"""The whole pass over one film: speech heard and mended, pauses opened, cover laid, music set under speech.

What was decided on places changes as little as it can: the shots that nobody has decided on stay those of the
plan that would be made if nobody had. So one choice on a shot costs little where that plan is remembered, and
a run that remembers nothing comes to the same.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from mltassist.choices.decisions import Decision
from mltassist.choices.kinds import Choices
from mltassist.cutaways.beside import clear_cover, note_changed
from mltassist.cutaways.covering import CLEAR_MARKERS, plan_of_cover
from mltassist.cutaways.kept import EarlierCover, Settled, earlier_cover, settled_in
from mltassist.errors import NothingToDo
from mltassist.findings import NOBODY_SPEAKS, Memory, Run, StageProgress, somebody_speaks
from mltassist.frames import format_timecode
from mltassist.joins.figures import decide_joins, listen_figures, moved_rows
from mltassist.joins.hear import Join
from mltassist.joins.mend import listen_and_mend, note_heard
from mltassist.joins.planner.judge import Verdict
from mltassist.music.ducking import plan_of_levels
from mltassist.pauses.several import open_pauses
from mltassist.plans import Note, Plan, decisions_moved, notes_after
from mltassist.project import Project
from mltassist.recipe.layers import plain_rules
from mltassist.recipe.rules import Recipe
from mltassist.rushes.find import begin, find
from mltassist.timeline.edits import AddMarker, ClearOurs, Edit
from mltassist.timeline.model import Timeline
from mltassist.timeline.moves import Moves, moves_of_all

CLEAR_JOINS = ClearOurs("joins", "what an earlier run laid to mend joins is replaced")


@dataclass(frozen=True, slots=True)
class PassOptions:
    """What is asked of a pass, as `api.rough` tells it."""

    rules: Recipe
    normalise: bool = False
    keep_changed: bool = False
    anew: bool = False
    no_look: bool = False
    no_words: bool = False
    no_mend: bool = False


@dataclass(frozen=True, slots=True)
class _Opened:
    """A film whose joins are mended and whose pauses are open.

    moves: of all that was done to it. observed: nobody speaks in it.
    """

    now: Project
    edits: tuple[Edit, ...]
    notes: dict[Note, None]
    figures: dict[str, Any]
    decisions: tuple[Decision, ...]
    moves: Moves
    observed: bool


def whole_pass(
    project: Project, wanted: PassOptions, choices: Choices, on_progress: StageProgress | None, memory: Memory
) -> Plan:
    """Plan the pass. Raises NothingToDo without speech; of other parts it tells what they lack."""
    of_film = partial(begin, project.timeline, wanted.rules, no_words=wanted.no_words, memory=memory)
    run = of_film(on_progress, choices)
    settled = tuple[Settled, ...]()
    if choices != choices.undecided:
        nobodys = of_film(on_progress, choices.undecided)
        made_of = ("settled", project.state, repr((wanted, choices.undecided, run.log)), *_files(project))
        settled = memory.get(made_of, lambda: _settled(project, wanted, nobodys))
    opened = _opened(project, wanted, run)
    now, edits, notes = opened.now, list(opened.edits), dict(opened.notes)
    figures, decisions = dict(opened.figures), opened.decisions

    def covered(film: Project) -> Plan:
        return _cover(film, project, wanted, run, opened.moves, settled=settled)

    levels = partial(plan_of_levels, run=run, normalise=wanted.normalise)
    for make in (levels,) if opened.observed else (covered, levels):
        try:
            plan = make(now)
        except NothingToDo as error:
            notes[Note(str(error).removeprefix(f"{error.path}: "), needs_editor=True)] = None
            continue
        now = plan.apply(now)
        edits += [edit for edit in plan.edits if not isinstance(edit, ClearOurs)]
        notes.update(dict.fromkeys(plan.notes))
        figures |= plan.figures
        decisions += plan.decisions
    memory.done(now)
    whole = Plan("rough", project.path, now.timeline.rate, tuple(edits), tuple(notes), figures)
    return replace(whole, decisions=decisions, recipe=plain_rules(wanted.rules), state=project.state)


def _settled(project: Project, wanted: PassOptions, run: Run) -> tuple[Settled, ...]:
    """The shots of the film as nobody has chosen; none where it cannot be covered."""
    try:
        opened = _opened(project, wanted, run)
        return () if opened.observed else settled_in(_cover(opened.now, project, wanted, run, opened.moves))
    except NothingToDo:
        return ()


def _cover(
    film: Project,
    project: Project,
    wanted: PassOptions,
    run: Run,
    moves: Moves,
    *,
    settled: tuple[Settled, ...] = (),
) -> Plan:
    """The cover of a film that was made of a project, on which an earlier one may lie, by these moves."""
    earlier = EarlierCover() if wanted.anew else earlier_cover(project.timeline).moved(moves)
    return plan_of_cover(
        film,
        run,
        earlier,
        keep_changed=wanted.keep_changed,
        no_look=wanted.no_look,
        settled=settled,
    )


def _opened(project: Project, wanted: PassOptions, run: Run) -> _Opened:
    """Every edit in speech listened to and mended, and pauses opened."""
    clearing = clear_cover(project.timeline, keep_changed=wanted.keep_changed)
    edits: list[Edit] = [
        CLEAR_MARKERS,
        clearing,
        ClearOurs("duck", "level curves of an earlier run are replaced"),
        CLEAR_JOINS,
    ]
    now = project.with_edits(edits)
    findings = find(now.timeline, run)
    observed = not somebody_speaks(project, findings)
    if observed:
        findings.note(NOBODY_SPEAKS)
    mending = not wanted.no_mend and run.recipe.mend.reach_frames > 0
    now, mends, joins = listen_and_mend(now, findings, mend=mending, obey=True)
    edits += mends
    note_heard(findings, joins, mends)
    moves = moves_of_all(mends)
    markers = tuple(_markers(joins, moves))
    edits += markers
    now = now.with_edits(markers)
    decide_joins(findings, joins, mends)
    figures = listen_figures(joins, project.timeline.rate, mends)
    if not wanted.keep_changed:  # else the cover tells of them, at the places they have by then
        note_changed(findings, project.timeline, clearing)
    opened = open_pauses(now, run, run.recipe.pauses)
    now, later = opened.project, moves_of_all(opened.edits)
    edits += opened.edits
    notes = notes_after(findings.notes, opened.edits)
    notes.update(opened.notes)
    decisions = (*decisions_moved(findings.decisions.values(), later), *opened.decisions)
    figures["mends"] = moved_rows(figures["mends"], later, project.timeline.rate)
    figures["length"] = length_figures(project, now)
    if opened.figures:
        figures["pauses"] = opened.figures
    return _Opened(now, tuple(edits), notes, figures, decisions, moves.then(later), observed)


def _files(project: Project) -> Iterator[tuple[str, int, int]]:
    """What lies in the folders of the film's sources: their recordings, with transcripts and log sheets."""
    for folder in sorted({os.fspath(path.parent) for path in _paths(project.timeline)}):
        try:
            with os.scandir(folder) as found:
                for entry in sorted(found, key=lambda one: one.name):
                    state = entry.stat()
                    yield entry.path, state.st_size, state.st_mtime_ns
        except OSError:
            yield folder, 0, 0


def _paths(timeline: Timeline) -> Iterator[Path]:
    sources = [clip.source for clip in timeline.bin]
    sources += [clip.source for track in timeline.tracks for clip in track.clips()]
    yield from (source.path for source in sources if source.path is not None)


def _markers(joins: Iterable[Join], moves: Moves) -> Iterator[AddMarker]:
    """A marker at every join that is heard still."""
    for join in joins:
        judgement = (join.mended or join).judgement
        if judgement.verdict is Verdict.HEARD:
            at = moves.clip(join.track, join.at)[1]
            told = f"heard: {judgement.reasons[0].words}"
            yield AddMarker(at, told, "a cover hides no sound: mend this edit")


def length_figures(project: Project, now: Project) -> dict[str, Any]:
    """How long a film was and is."""
    rate = project.timeline.rate
    frames = {"before": project.timeline.length, "after": now.timeline.length}
    return {**frames, "timecode": format_timecode(frames["after"], rate)}
