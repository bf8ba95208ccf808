"""What was chosen for joins, holes and bites, before anything is planned for them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from mltassist.choices.kinds import JoinChoice, LevelChoice
from mltassist.findings import Findings, chosen_name, speech_clips
from mltassist.joins.hear import Join
from mltassist.timeline.cuts import CutKind, speech_edits
from mltassist.timeline.edits import LayTone
from mltassist.timeline.moves import Place


def as_chosen(findings: Findings, joins: tuple[Join, ...], *, mend: bool) -> tuple[Join, ...]:
    """The joins with what is to become of those that somebody chose for; what cannot be obeyed is noted.

    mend: False where nothing is moved at all.
    """
    wishes: dict[tuple[int, int], JoinChoice] = {}
    edits = speech_edits(findings.timeline, findings.elements)
    for choice in findings.run.choices.joins:
        name = chosen_name(choice)
        if name.kind != "join":
            continue
        edit = findings.places.join_of(name, edits)
        if edit is None:
            findings.note_lost(choice)
        else:
            if (edit.track, edit.at) in wishes:
                findings.note_overruled(wishes[edit.track, edit.at], edit.at)
            wishes[edit.track, edit.at] = choice
            findings.known_as[findings.places.join(edit)] = choice.name
    heard = {(join.track, join.at) for join in joins}
    for place in wishes.keys() - heard:
        findings.note_unfit(wishes[place], place[1], "its sound cannot be heard")
    return tuple(_wished(findings, join, wishes.get((join.track, join.at)), mend=mend) for join in joins)


def _wished(findings: Findings, join: Join, choice: JoinChoice | None, *, mend: bool) -> Join:
    if choice is None:
        return join
    name, before, after = chosen_name(choice), join.edit.before, join.edit.after
    if choice.choice == "left":
        return replace(join, moves=(), crossed=None)
    if name.last is None or (choice.choice == "accepted" and not (choice.before_by or choice.after_by)):
        return join
    if join.edit.kind is CutKind.DISSOLVED:
        findings.note_unfit(choice, join.at, "its clips overlap")
        return join
    # Counted from the frames of the name: what a pass has moved already is not moved again.
    wish = (
        name.first.frame + choice.before_by - before.source_frame(before.span.end - 1),
        name.last.frame + choice.after_by - after.source_in,
    )
    if wish != (0, 0) and not mend:
        findings.note_unfit(choice, join.at, "no join is moved in this run")
        return join
    return replace(join, moves=(), crossed=None, chosen=wish)


def tones_as_chosen(findings: Findings, tones: tuple[LayTone, ...]) -> tuple[LayTone, ...]:
    """The tones without those that somebody chose to leave out."""
    left = set()
    for choice in findings.run.choices.joins:
        name = chosen_name(choice)
        if name.kind == "tone":
            named = [tone.decision for tone in tones if findings.places.same(tone.decision, name)]
            if not named:
                findings.note_lost(choice)
            elif choice.choice == "left":
                left.update(named)
    return tuple(tone for tone in tones if tone.decision not in left)


def levels_as_chosen(findings: Findings) -> Mapping[Place, LevelChoice]:
    """By their places, the bites for whose level somebody chose."""
    found: dict[Place, LevelChoice] = {}
    for choice in findings.run.choices.levels:
        name = chosen_name(choice)
        if name.kind != "match":
            continue
        bites = [
            (track.index, clip.start)
            for track, clip in speech_clips(findings)
            if findings.places.same(findings.places.match(clip), name)
        ]
        if len(bites) != 1:
            findings.note_lost(choice)
        else:
            if bites[0] in found:
                findings.note_overruled(found[bites[0]], bites[0][1])
            found[bites[0]] = choice
    return found
