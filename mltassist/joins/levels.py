"""Clips that were turned up or down against their own speaker, brought back to that speaker's level."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import mean

from mltassist.choices.kinds import LevelChoice
from mltassist.errors import MediaError
from mltassist.findings import Findings
from mltassist.joins.chosen import levels_as_chosen
from mltassist.joins.hear import Join, hear_joins
from mltassist.joins.move import CHOSEN
from mltassist.joins.planner.choose import is_better
from mltassist.joins.planner.level import Link, gains_db
from mltassist.joins.sides import turned_db
from mltassist.project import Project
from mltassist.rushes.find import find
from mltassist.timeline.cuts import CutKind
from mltassist.timeline.edits import MatchLevel, NudgeJoin
from mltassist.timeline.moves import Place, moves_of_all

SAME = 0.5
"""Likeness of two recordings from which a level is matched across them."""


@dataclass(frozen=True, slots=True)
class _Heard:
    """A join as it now is: its place, and the clips on both sides by theirs."""

    join: Join
    now: Join
    before: Place
    after: Place


def match_levels(
    project: Project, findings: Findings, joins: Sequence[Join], mends: Sequence[NudgeJoin]
) -> tuple[Project, tuple[MatchLevel, ...], tuple[Join, ...]]:
    """The project with levels matched, the edits that do it, and what became of every join.

    `joins` were listened to before `mends` were carried out on the project. Every gain is listened to in the
    project that has it, and those after which some join sounds worse are left out again.
    """
    heard = tuple(_placed(joins, mends))
    planned = findings.recipe.mend.levels and any(row.now.judgement.turned_db for row in heard)
    if not planned and not findings.run.choices.levels:
        return project, (), tuple(joins)
    there = find(project.timeline, findings.run)
    own = dict(there.notes)
    wishes = levels_as_chosen(there)
    findings.notes.update((note, None) for note in there.notes if note not in own)
    chains = _chosen(project, there, findings, heard) if planned else []
    chains = [left for chain in chains if (left := tuple(e for e in chain if (e.track, e.at) not in wishes))]
    fixed = [(edit,) for place, choice in wishes.items() for edit in _wished(findings, there, place, choice)]
    chains += fixed
    while chains:
        edits = tuple(sorted((edit for chain in chains for edit in chain), key=lambda e: (e.track, e.at)))
        matched = project.with_edits(edits)
        changed = _places(edits)
        met = [row for row in heard if changed & {row.before, row.after}]
        after = {
            (join.track, join.at): join
            for join in hear_joins(find(matched.timeline, findings.run), only=[row.after for row in met])
        }
        kept = [c for c in chains if c in fixed or _sounds_better(findings, c, met, after)]
        if kept == chains:
            became = {id(row.join): after[row.after] for row in met if row.after in after}
            told = tuple(replace(j, mended=became.get(id(j), j.mended)) for j in joins)
            return matched, tuple(_scored(edits, met, after)), told
        chains = kept
    return project, (), tuple(joins)


def _wished(findings: Findings, there: Findings, place: Place, choice: LevelChoice) -> Iterator[MatchLevel]:
    """The gain that somebody chose for a bite; none where it was left as it is."""
    track = there.timeline.track(place[0])
    if choice.choice == "left":
        return
    if track.locked:
        findings.note_unfit(choice, place[1], f"track {track.name!r} is locked")
        return
    clip = next(clip for clip in track.clips() if clip.start == place[1])
    yield MatchLevel(place[1], place[0], choice.gain_db, CHOSEN, clip.source.key, decision=choice.name)


def _places(edits: Sequence[MatchLevel]) -> set[Place]:
    return {(edit.track, edit.at) for edit in edits}


def _sounds_better(
    findings: Findings, chain: Sequence[MatchLevel], met: Sequence[_Heard], after: Mapping[Place, Join]
) -> bool:
    """True where some join of a chain sounds better with its gains, and none worse."""
    places = _places(chain)
    pairs = [
        (row.now.judgement, after[row.after].judgement) for row in met if places & {row.before, row.after}
    ]
    better_by = findings.recipe.mend.better_by
    worse = any(is_better(now, then, 0.0) and now.score < then.score for now, then in pairs)
    return not worse and any(is_better(then, now, better_by) for now, then in pairs)


def _placed(joins: Sequence[Join], mends: Sequence[NudgeJoin]) -> Iterator[_Heard]:
    moves = moves_of_all(mends)
    for join in joins:
        now = join.mended or join
        after = moves.clip(join.track, join.at)
        before = moves.clip(join.track, join.edit.before.start)
        yield _Heard(join, now, before, after)


def _chosen(
    project: Project, there: Findings, findings: Findings, heard: Sequence[_Heard]
) -> list[tuple[MatchLevel, ...]]:
    """Gains for the clips that are louder or quieter than their speaker, those of one chain together."""
    rules = findings.recipe.mend
    clips = {(track.index, clip.start): clip for track in there.timeline.tracks for clip in track.clips()}
    links = []
    spoken: dict[Place, list[float]] = {}
    for row in heard:
        m = row.now.measures
        spoken.setdefault(row.before, []).append(m.speech_before_dbfs)
        spoken.setdefault(row.after, []).append(m.speech_after_dbfs)
        if row.now.edit.kind is CutKind.DISSOLVED or row.now.same_speaker < SAME:
            continue
        step = row.now.judgement.turned_db
        if step:
            track = project.timeline.track(row.after[0])
            try:
                step = turned_db(there.timeline.rate, track, clips[row.before], clips[row.after], step)
            except MediaError:
                continue  # it was told when it was first listened to
        links.append(Link(row.before, row.after, step))
    levels = {place: mean(known) for place, found in spoken.items() if (known := _numbers(found))}
    lengths = {place: clips[place].length for place in spoken if place in clips}
    chains = []
    for gains in gains_db(links, levels, lengths):
        held = False
        edits = []
        for (number, at), gain in sorted(gains.items()):
            clip, track = clips[number, at], project.timeline.track(number)
            told = f"{abs(gain):.1f} dB {'louder' if gain < 0 else 'quieter'} than this speaker's other bites"
            name = there.places.match(clip)
            why = f"it is {told}"
            edits.append(MatchLevel(at, number, round(gain, 2), why, clip.source.key, decision=name))
            if abs(gain) > rules.level_most_db or track.locked:
                held = True  # nor are those that belong with it: each alone would make a step of its own
                why = f"track {track.index} is locked" if track.locked else "that is more than is mended"
                findings.note(f"this clip is {told}, but {why}", at, needs_editor=True)
        chains += [] if held else [tuple(edits)]
    return chains


def _numbers(values: Sequence[float]) -> list[float]:
    return [value for value in values if value == value]  # noqa: PLR0124 - nan is no level


def _scored(
    edits: Sequence[MatchLevel], met: Sequence[_Heard], after: Mapping[Place, Join]
) -> Iterator[MatchLevel]:
    """The edits with what is heard, at the worse of the clip's ends, without and with them."""
    for edit in edits:
        rows = [row for row in met if (edit.track, edit.at) in (row.before, row.after)]
        if not rows:  # it meets no other bite
            yield edit
            continue
        was = max((row.now.judgement for row in rows), key=lambda j: j.score)
        now = max((after[row.after].judgement for row in rows), key=lambda j: j.score)
        yield replace(
            edit,
            score_before=was.score,
            score_after=now.score,
            verdict_before=was.verdict.value,
            verdict_after=now.verdict.value,
        )
