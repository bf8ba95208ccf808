"""What is heard at each speech edit: the decoded sound on both sides of it, measured and judged."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import asdict, astuple, dataclass, replace
from fractions import Fraction
from math import nan
from pathlib import Path
from typing import Any

from mltassist.errors import MediaError
from mltassist.findings import Findings, note_timing, plain, speech_clips
from mltassist.frames import Rate
from mltassist.joins.freedom import freedom
from mltassist.joins.planner.choose import Move, nearest_improvements
from mltassist.joins.planner.judge import Habits, Judgement, Measures, Reason, Verdict, judge
from mltassist.joins.sides import HANDLE_S, Moves, Sides, States, usual
from mltassist.joins.speaker import Speaker, likeness
from mltassist.media.sound.speech import RATE_HZ
from mltassist.rushes.speech import Speech
from mltassist.timeline.cuts import CutKind, SpeechEdit, speech_edits
from mltassist.timeline.edits import CROSSING_FRAMES
from mltassist.timeline.model import Timeline

LEAST_GAIN_DB = 0.5
"""A step of gain from which it is listened to where a source runs on; smaller ones are those of a slope."""
_LEVELS = ("speech_before_dbfs", "speech_after_dbfs")
"""Measures that are told as a pair; all others by their own names."""


HEARD_BEYOND = int((HANDLE_S - Fraction(1, 10)) * RATE_HZ)
"""Samples by which a move may go at most: what lies behind it is still heard for a tenth of a second then."""


@dataclass(frozen=True, slots=True)
class Join:
    """A speech edit as it sounds: where it is, what was measured, and what that means."""

    edit: SpeechEdit
    measures: Measures
    judgement: Judgement
    same_speaker: float = 1.0
    """From 1 where both sides are one voice at one microphone, to 0 where they are two."""
    moves: tuple[Move, ...] = ()
    """Moves of the join that would make it better, best first; where they were looked for."""
    crossed: Judgement | None = None
    """How it would be judged if its sides crossed over; where that could make it better."""
    mended: Join | None = None
    """The same join as it sounds after it was moved, or its sides cross over."""
    words: tuple[Reason, ...] = ()
    """What the words of the recording tell of it, where they are known; no verdict changes by them."""
    chosen: tuple[int, int] | None = None
    """By how many frames both its sides are to move because somebody chose it, whatever it sounds like."""

    @property
    def at(self) -> int:
        """First frame after it."""
        return self.edit.at

    @property
    def track(self) -> int:
        """The track it is on."""
        return self.edit.track

    def as_dict(self) -> dict[str, Any]:
        """Plain data: steps in dB, seconds, semitones; None where a side gives too little to tell."""
        m = self.measures
        return {
            "at": self.at,
            "track": self.track,
            "kind": self.edit.kind.value,
            "removed": self.edit.removed,
            "verdict": self.judgement.verdict.value,
            "score": self.judgement.score,
            "reasons": [
                {"kind": r.kind, "size": round(r.size, 3), "words": r.words} for r in self.judgement.reasons
            ],
            "speech_dbfs": [plain(getattr(m, name)) for name in _LEVELS],
            "speech_step_db": plain(m.speech_step_db),
            **{name: plain(value) for name, value in asdict(m).items() if name not in _LEVELS},
            "same_speaker": plain(self.same_speaker),
            "words": [{"kind": r.kind, "words": r.words} for r in self.words],
            "mended": None if self.mended is None else self.mended.as_dict(),
        }


def hear_joins(
    findings: Findings,
    *,
    mend: bool = False,
    only: Collection[tuple[int, int]] | None = None,
    speech: Speech | None = None,
) -> tuple[Join, ...]:
    """Every speech edit measured at the gains of the timeline and judged; missing files are noted.

    mend: also look for moves that would make those that are not clean better. only: listen to the edits
    at these (track, frame) alone. speech: the words of the film; no move may end inside one of them.
    """
    timeline = findings.timeline
    edits = [
        edit
        for edit in speech_edits(timeline, findings.elements)
        if only is None or (edit.track, edit.at) in only
    ]
    note_timing(findings, speech_clips(findings))
    known: dict[str, tuple[Habits, Speaker]] = {}
    states: States = {}
    found = []
    for edit in findings.run.each("listening to the edits", edits):
        sides = Sides(findings, edit, states)
        if not sides.known:
            continue
        for clip in (edit.before, edit.after):
            if clip.source.key not in known:
                known[clip.source.key] = usual(findings, clip)
        try:
            found.append(_judged(findings, edit, sides, known, mend=mend, speech=speech))
        except MediaError as error:
            findings.missing(Path(error.path), str(error))
    return tuple(found)


def _judged(
    findings: Findings,
    edit: SpeechEdit,
    sides: Sides,
    known: dict[str, tuple[Habits, Speaker]],
    *,
    mend: bool,
    speech: Speech | None,
) -> Join:
    rules, limits = findings.recipe.mend, findings.recipe.listen
    frame = findings.timeline.rate.samples(1, RATE_HZ)
    is_crossed = crosses_over(findings.timeline, edit)
    measures = sides.measures(frame if is_crossed else 0)
    if edit.kind is CutKind.THROUGH:
        if abs(sides.gain_step_db) < LEAST_GAIN_DB:  # its source runs on, so there is nothing to hear
            return Join(edit, measures, Judgement(Verdict.CLEAN, 0.0, ()))
        # Nothing is lost where a word runs on; only its level steps.
        measures = replace(measures, cut_before=0.0, cut_after=0.0, pause_s=nan, pitch_step_semitones=nan)
    (habits, voice), (other_habits, other) = (known[clip.source.key] for clip in (edit.before, edit.after))
    same = 1.0
    if edit.before.source.key != edit.after.source.key:
        same = likeness(voice, other)
        habits = Habits(*map(max, astuple(habits), astuple(other_habits)))

    def judged(measures: Measures) -> Judgement:
        return judge(measures, habits, limits, same_speaker=same)

    judgement = judged(measures)
    moves: tuple[Move, ...] = ()
    if mend and edit.kind in (CutKind.JUMP, CutKind.CHANGE) and judgement.verdict is not Verdict.CLEAN:
        free = freedom(findings.timeline, edit, picture_follows=rules.picture == "follows")

        def within(reach: int) -> Moves:
            rate = findings.timeline.rate
            return sides.moved(*(_steps(rate, reach, limit) for limit in (free.before, free.after)))

        found = nearest_improvements(judgement, within, judged, rules)
        moves = tuple(m for m in found if speech is None or not _ends_in_words(edit, m, speech))
    crossed = None
    may_cross = rules.crossfade and not is_crossed and _may_cross(findings, edit, judgement)
    if may_cross and sides.may_cross(frame):
        crossed = judged(sides.measures(frame))
    return Join(edit, measures, judgement, same, moves, crossed)


def _may_cross(findings: Findings, edit: SpeechEdit, judgement: Judgement) -> bool:
    """True for a join that clicks, where both sides have the frames that a fade of ours takes."""
    clicks = any(reason.kind == "click" for reason in judgement.reasons)
    room = min(edit.before.length, edit.after.source_in) >= CROSSING_FRAMES
    return (
        clicks
        and room
        and edit.kind in (CutKind.JUMP, CutKind.CHANGE)
        and not findings.timeline.track(edit.track).locked
    )


def crosses_over(timeline: Timeline, edit: SpeechEdit) -> bool:
    """True where an earlier edit of ours lets the sides of a join cross over."""
    track = timeline.of_role("joins")
    return track is not None and any(
        clip.span.end == edit.at
        and clip.source.key == edit.after.source.key
        and clip.source_in + clip.length == edit.after.source_in
        for clip in track.clips()
    )


def _ends_in_words(edit: SpeechEdit, move: Move, speech: Speech) -> bool:
    """True where a side that is moved would then lie inside a word."""
    sides = (
        (edit.before, edit.before.source_frame(edit.at) + move.before_by, move.before_by),
        (edit.after, edit.after.source_in + move.after_by, move.after_by),
    )
    return any(by and speech.word_across(clip, frame) is not None for clip, frame, by in sides)


def _steps(rate: Rate, reach: int, limits: tuple[int, int]) -> dict[int, int]:
    """The moves within reach and limits, and within what is heard, in frames with their samples."""
    frames = range(max(-reach, limits[0]), min(reach, limits[1]) + 1)
    steps = {n: (1 if n >= 0 else -1) * rate.samples(abs(n), RATE_HZ) for n in frames}
    return {n: samples for n, samples in steps.items() if abs(samples) <= HEARD_BEYOND}
