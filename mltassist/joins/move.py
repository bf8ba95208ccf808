"""Joins that are heard, moved until they are not: the moves chosen, carried out, and listened to again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from mltassist.findings import Findings
from mltassist.joins.freedom import freedom, nudged
from mltassist.joins.hear import Join, hear_joins
from mltassist.joins.planner.choose import is_better
from mltassist.joins.planner.judge import Judgement, Verdict
from mltassist.project import Project
from mltassist.rushes.find import find
from mltassist.timeline.edits import Edit, NudgeJoin


def mend_joins(
    project: Project, findings: Findings, joins: Sequence[Join]
) -> tuple[Project, tuple[NudgeJoin, ...], tuple[Join, ...]]:
    """The mended project, the edits that mend it, last join first, and what became of every join.

    `joins` were listened to with their moves. Every mend is listened to again on the mended timeline, and
    only those that sound better there are kept; what cannot be mended and why is noted.
    """
    kept = _chosen(findings, joins)
    while kept:
        places = _places(kept)
        mended = project.with_edits(kept)
        there = find(mended.timeline, findings.run)
        heard = hear_joins(there, only=list(places.values()))
        by_place = {(join.track, join.at): join for join in heard}
        after = {before: by_place[now] for before, now in places.items() if now in by_place}
        better = tuple(edit for edit in kept if _sounds_better(findings, joins, edit, after))
        if better == kept:
            told = tuple(replace(join, mended=after.get((join.track, join.at))) for join in joins)
            return mended, kept, told
        kept = better
    return project, (), tuple(joins)


def _chosen(findings: Findings, joins: Sequence[Join]) -> tuple[NudgeJoin, ...]:
    """The best move of each join that the timeline leaves it, from the last to the first."""
    timeline, rules = findings.timeline, findings.recipe.mend
    edits: list[NudgeJoin] = []
    # Tracks cut at one frame are moved once: the join that is heard most says how.
    taken: set[int] = set()
    for join in sorted(joins, key=lambda j: (-j.at, -j.judgement.score, j.track)):
        if not join.moves or join.at in taken:
            continue
        if join.crossed is not None and join.crossed.verdict is Verdict.CLEAN:
            continue  # a crossing mends it without moving anything
        free = freedom(timeline, join.edit, picture_follows=rules.picture == "follows")
        move = next(
            (
                move
                for move in join.moves
                if not free.held
                and free.before[0] <= move.before_by <= free.before[1]
                and free.after[0] <= move.after_by <= free.after[1]
                and free.shift[0] <= move.shift <= free.shift[1]
            ),
            None,
        )
        if move is None:
            why = free.held or "what lies on other tracks cannot follow"
            findings.note(f"this join could be mended, but {why}", join.at, needs_editor=True)
            continue
        edit = NudgeJoin(
            at=join.at,
            tracks=free.tracks,
            before_by=move.before_by,
            after_by=move.after_by,
            reason=_told(join.judgement),
            score_before=join.judgement.score,
            score_after=move.judgement.score,
            verdict_before=join.judgement.verdict.value,
            verdict_after=move.judgement.verdict.value,
        )
        edits.append(edit)
        taken.add(join.at)
        timeline = nudged(timeline, edit)
    return tuple(edits)


def _told(judgement: Judgement) -> str:
    return "; ".join(reason.words for reason in judgement.reasons)


def _places(edits: Sequence[NudgeJoin]) -> dict[tuple[int, int], tuple[int, int]]:
    """Where every moved join lies once all are moved: (track, frame) before → after."""
    return {
        (track, edit.at): (track, edit.joined_at + sum(e.shift for e in edits if e.at < edit.at))
        for edit in edits
        for track in edit.tracks
    }


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


def place_now(join: Join, edits: Sequence[Edit]) -> int:
    """The first frame after a join once the edits are carried out."""
    if join.mended is not None:
        return join.mended.at
    moves = (edit for edit in edits if isinstance(edit, NudgeJoin))
    return join.at + sum(edit.shift for edit in moves if edit.at < join.at)
