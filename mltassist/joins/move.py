"""Joins that are heard, moved until they are not: the moves chosen, carried out, and listened to again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from mltassist.errors import ProjectError
from mltassist.findings import Findings
from mltassist.joins.freedom import freedom
from mltassist.joins.hear import Join, hear_joins
from mltassist.joins.planner.choose import Move, is_better
from mltassist.joins.planner.judge import Verdict
from mltassist.project import Project
from mltassist.rushes.find import find
from mltassist.timeline.edits import NudgeJoin
from mltassist.timeline.moves import moves_of_all

CHOSEN = "it was chosen so"
"""The reason for a move that nobody weighs."""


def mend_joins(
    project: Project, findings: Findings, joins: Sequence[Join]
) -> tuple[Project, tuple[NudgeJoin, ...], tuple[Join, ...]]:
    """The mended project, the edits that mend it, last join first, and what became of every join.

    `joins` were listened to with their moves. Every mend is listened to again on the mended timeline, and
    only those that sound better there are kept; what cannot be mended and why is noted.
    """
    kept, mended = _chosen(project, findings, joins)
    while kept:
        moves = moves_of_all(kept)
        places = {(track, edit.at): moves.clip(track, edit.at) for edit in kept for track in edit.tracks}
        there = find(mended.timeline, findings.run)
        heard = hear_joins(there, only=list(places.values()))
        by_place = {(join.track, join.at): join for join in heard}
        after = {before: by_place[now] for before, now in places.items() if now in by_place}
        better = tuple(
            edit for edit in kept if edit.reason == CHOSEN or _sounds_better(findings, joins, edit, after)
        )
        if better == kept:
            told = tuple(replace(join, mended=after.get((join.track, join.at))) for join in joins)
            return mended, tuple(_as_heard(edit, after) for edit in kept), told
        kept, mended = better, project.with_edits(better)
    return project, (), tuple(joins)


def _chosen(
    project: Project, findings: Findings, joins: Sequence[Join]
) -> tuple[tuple[NudgeJoin, ...], Project]:
    """The best move of each join that the timeline leaves it, from the last to the first; the film with them.

    All are looked for on the film as it is, which is then asked whether it takes them. Moves of a few frames
    are in each other's way only where cuts lie close; there each is looked for after those behind it.
    """
    edits, notes, _ = _looked_for(project, findings, joins, one_by_one=False)
    mended = project
    if edits:
        try:
            mended = project.with_edits(edits)
        except ProjectError:
            edits, notes, mended = _looked_for(project, findings, joins, one_by_one=True)
    for what, at in notes:
        findings.note(what, at, needs_editor=True)
    return edits, mended


def _looked_for(
    project: Project, findings: Findings, joins: Sequence[Join], *, one_by_one: bool
) -> tuple[tuple[NudgeJoin, ...], list[tuple[str, int]], Project]:
    """Moves; what is told of joins without one, with their frames; the film as moves one by one leave it."""
    rules = findings.recipe.mend
    edits: list[NudgeJoin] = []
    notes: list[tuple[str, int]] = []
    # Tracks cut at one frame are moved once: the join that is heard most says how.
    taken: set[int] = set()
    for join in sorted(joins, key=lambda j: (-j.at, j.chosen is None, -j.judgement.score, j.track)):
        ways = join.moves if join.chosen is None else _ways(join, *join.chosen)
        if not ways or join.at in taken:
            continue
        if join.chosen is None and join.crossed is not None and join.crossed.verdict is Verdict.CLEAN:
            continue  # a crossing mends it without moving anything
        free = freedom(project.timeline, join.edit, picture_follows=rules.picture == "follows")
        move = next((move for move in ways if free.allows(move.before_by, move.after_by)), None)
        if move is None:
            why = free.held or "what lies on other tracks cannot follow"
            what = "could be mended" if join.chosen is None else "was to be moved as it was chosen"
            notes.append((f"this join {what}, but {why}", join.at))
            continue
        edit = _nudge(findings, join, free.tracks, move)
        edits.append(edit)
        taken.add(join.at)
        if one_by_one:
            project = project.with_edits([edit])
    return tuple(edits), notes, project


def _nudge(findings: Findings, join: Join, tracks: tuple[int, ...], move: Move) -> NudgeJoin:
    return NudgeJoin(
        at=join.at,
        tracks=tracks,
        before_by=move.before_by,
        after_by=move.after_by,
        reason=CHOSEN if join.chosen else "; ".join(r.words for r in join.judgement.reasons),
        score_before=join.judgement.score,
        score_after=move.judgement.score,
        verdict_before=join.judgement.verdict.value,
        verdict_after=move.judgement.verdict.value,
        decision=findings.named(findings.places.join(join.edit)),
    )


def _ways(join: Join, before_by: int, after_by: int) -> tuple[Move, ...]:
    """The one way in which a join is to be moved that somebody chose; what it sounds like is heard later."""
    return (Move(before_by, after_by, join.judgement, 0.0),) if before_by or after_by else ()


def _as_heard(edit: NudgeJoin, after: Mapping[tuple[int, int], Join]) -> NudgeJoin:
    """A move that was chosen, with what it sounds like."""
    heard = [after[track, edit.at].judgement for track in edit.tracks if (track, edit.at) in after]
    if edit.reason != CHOSEN or not heard:
        return edit
    worst = max(heard, key=lambda judgement: judgement.score)
    return replace(edit, score_after=worst.score, verdict_after=worst.verdict.value)


def _sounds_better(
    findings: Findings, joins: Sequence[Join], edit: NudgeJoin, after: Mapping[tuple[int, int], Join]
) -> bool:
    """True when no join that the edit moves sounds worse, and one sounds better."""
    pairs = [
        (join.judgement, after[join.track, join.at].judgement)
        for join in joins
        if join.at == edit.at and (join.track, join.at) in after
    ]
    better_by = findings.recipe.mend.better_by
    worse = any(is_better(was, now, 0.0) and was.score < now.score for was, now in pairs)
    return not worse and any(is_better(now, was, better_by) for was, now in pairs)
