"""All that mends the joins of a film, in order, and what is left to hear."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from mltassist.findings import Findings
from mltassist.joins.chosen import as_chosen, tones_as_chosen
from mltassist.joins.cross import cross_joins
from mltassist.joins.hear import Join, hear_joins
from mltassist.joins.levels import match_levels
from mltassist.joins.move import mend_joins
from mltassist.joins.planner.judge import Verdict
from mltassist.joins.roomtone import tone_edits
from mltassist.joins.saidwords import speech_at_joins, with_words
from mltassist.plans import notes_after
from mltassist.project import Project
from mltassist.rushes.find import find
from mltassist.timeline.edits import Edit
from mltassist.timeline.moves import moves_of_all


def listen_and_mend(
    project: Project, findings: Findings, *, mend: bool, obey: bool
) -> tuple[Project, tuple[Edit, ...], tuple[Join, ...]]:
    """Every join listened to, and with `mend` mended; each is told what its words tell of it in the end.

    obey: what was chosen for joins is looked at, and told where it cannot be done.
    """
    speech = speech_at_joins(findings)
    joins = hear_joins(findings, mend=mend, speech=speech)
    joins = as_chosen(findings, joins, mend=mend) if obey else joins
    edits: tuple[Edit, ...] = ()
    if mend:
        project, edits, joins = mend_all(project, findings, joins)
    return project, edits, with_words(joins, speech)


def mend_all(
    project: Project, findings: Findings, joins: tuple[Join, ...]
) -> tuple[Project, tuple[Edit, ...], tuple[Join, ...]]:
    """Joins moved, levels matched, joins that click still crossed over, holes in recordings filled.

    The notes of `findings` are told afterwards where they lie in the project that is given back.
    """
    moved, moves, joins = mend_joins(project, findings, joins)
    findings.notes = notes_after(findings.notes, moves)
    moved, matches, joins = match_levels(moved, findings, joins, moves)
    crossed, crossings, joins = cross_joins(moved, findings, joins, moves)
    there = findings
    if findings.recipe.mend.room_tone:
        there = find(crossed.timeline, findings.run)
    tones = tones_as_chosen(there, tone_edits(there))
    findings.notes.update(there.notes)
    return crossed.with_edits(tones), (*moves, *matches, *crossings, *tones), joins


def note_heard(findings: Findings, joins: Iterable[Join], edits: Sequence[Edit] = ()) -> None:
    """A note for every join that is not clean as it now sounds, at the frame where it now lies."""
    moves = moves_of_all(edits)
    for join in joins:
        judgement = (join.mended or join).judgement
        if judgement.verdict is not Verdict.CLEAN:
            words = "; ".join(reason.words for reason in judgement.reasons)
            heard = judgement.verdict is Verdict.HEARD
            told = f"heard: {words}" if heard else f"perhaps heard: {words}"
            findings.note(told, moves.clip(join.track, join.at)[1], needs_editor=heard)
        for reason in join.words:
            findings.note(f"by the words: {reason.words}", moves.clip(join.track, join.at)[1])
