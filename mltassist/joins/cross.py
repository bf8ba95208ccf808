"""Joins that still click, made to cross over within a frame, and listened to again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from mltassist.findings import Findings
from mltassist.joins.hear import Join, hear_joins
from mltassist.joins.planner.choose import is_better
from mltassist.joins.sides import own_gain_db
from mltassist.project import Project
from mltassist.rushes.find import find
from mltassist.timeline.edits import CROSSING_FRAMES, FadeJoin, NudgeJoin
from mltassist.timeline.moves import moves_of, moves_of_all


def cross_joins(
    project: Project,
    findings: Findings,
    joins: Sequence[Join],
    mends: Sequence[NudgeJoin],
) -> tuple[Project, tuple[FadeJoin, ...], tuple[Join, ...]]:
    """The project with joins crossed over, the edits that do it, and what became of every join.

    `joins` were listened to before `mends` were carried out on the project. Every crossing is listened to
    in the project that has it, and only those that sound better there are kept.
    """
    better_by = findings.recipe.mend.better_by
    chosen = _chosen(project, findings, joins, mends)
    while chosen:
        (_, first), *others = chosen
        # The first may add a track of ours: from then on the others are counted otherwise.
        moves = moves_of(first, project.timeline, project.with_edits([first]).timeline)
        edits = (first, *(replace(edit, track=moves.track(edit.track)) for _, edit in others))
        crossed = project.with_edits(edits)
        places = [moves.clip(edit.track, edit.at) for _, edit in chosen]
        there = find(crossed.timeline, findings.run)
        heard = hear_joins(there, only=places)
        after = {(join.track, join.at): join for join in heard}
        told = {id(join): after.get(place) for (join, _), place in zip(chosen, places, strict=True)}
        better = [
            (join, edit)
            for join, edit in chosen
            if (now := told[id(join)]) is not None
            and is_better(now.judgement, (join.mended or join).judgement, better_by)
        ]
        if len(better) == len(chosen):
            return crossed, edits, tuple(replace(j, mended=told.get(id(j)) or j.mended) for j in joins)
        chosen = better
    return project, (), tuple(joins)


def _chosen(
    project: Project, findings: Findings, joins: Sequence[Join], mends: Sequence[NudgeJoin]
) -> list[tuple[Join, FadeJoin]]:
    """The joins that would sound better crossed over, each with its edit, those heard most first."""
    better_by, moves = findings.recipe.mend.better_by, moves_of_all(mends)
    found: list[tuple[Join, FadeJoin]] = []
    for join in sorted(joins, key=lambda j: -(j.mended or j).judgement.score):
        now = join.mended or join
        _, at = moves.clip(join.track, join.at)
        if now.crossed is None or not is_better(now.crossed, now.judgement, better_by):
            continue
        if any(abs(at - other.at) < CROSSING_FRAMES for _, other in found):
            continue  # there the other one lies on our own track
        clip = now.edit.after
        edit = FadeJoin(
            at=at,
            track=now.track,
            source=clip.source.key,
            source_in=clip.source_in,
            reason="; ".join(reason.words for reason in now.judgement.reasons),
            gain_db=own_gain_db(clip, project.timeline.track(now.track), now.at),
            score_before=now.judgement.score,
            score_after=now.crossed.score,
            verdict_before=now.judgement.verdict.value,
            verdict_after=now.crossed.verdict.value,
            decision=findings.named(findings.places.join(join.edit)),
        )
        found.append((join, edit))
    return found
