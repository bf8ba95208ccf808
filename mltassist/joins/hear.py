"""What is heard at each speech edit: the decoded sound on both sides of it, measured and judged."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import astuple, dataclass, replace
from fractions import Fraction
from math import log10
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mltassist.errors import MediaError
from mltassist.findings import Findings, note_timing, plain, speech_clips
from mltassist.frames import Rate
from mltassist.joins.freedom import freedom
from mltassist.joins.measures import Side, can_cross, habits, measure, side
from mltassist.joins.offsets import offsets
from mltassist.joins.planner.choose import Move, improvements
from mltassist.joins.planner.judge import Habits, Judgement, Measures, Verdict, judge
from mltassist.media.cache import Analysis, remembered
from mltassist.media.sound.decode import read_sound
from mltassist.media.sound.mix import gain_at
from mltassist.media.sound.speech import RATE_HZ
from mltassist.timeline.cuts import CutKind, SpeechEdit, speech_edits
from mltassist.timeline.edits import CROSSING_FRAMES
from mltassist.timeline.model import Clip, Timeline, Track

SIDE_S = Fraction(7, 2)
"""Seconds heard on each side of an edit, within its clip."""
HANDLE_S = Fraction(3, 5)
"""Seconds heard beyond it in the source, to tell whether a word goes on."""
HABITS_S = 300
"""Seconds of a recording from which its speaker's habits are taken."""
HABITS = Analysis("habits", 2)


@dataclass(frozen=True, slots=True)
class Join:
    """A speech edit as it sounds: where it is, what was measured, and what that means."""

    edit: SpeechEdit
    measures: Measures
    judgement: Judgement
    moves: tuple[Move, ...] = ()
    """Moves of the join that would make it better, best first; where they were looked for."""
    crossed: Judgement | None = None
    """How it would be judged if its sides crossed over; where that could make it better."""
    mended: Join | None = None
    """The same join as it sounds after it was moved, or its sides cross over."""

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
            "speech_dbfs": [plain(level) for level in (m.speech_before_dbfs, m.speech_after_dbfs)],
            "speech_step_db": plain(m.speech_step_db),
            "background_step_db": plain(m.background_step_db),
            "background_shape_db": plain(m.background_shape_db),
            "cut_before": plain(m.cut_before),
            "cut_after": plain(m.cut_after),
            "click_db": plain(m.click_db),
            "pause_s": plain(m.pause_s),
            "pitch_step_semitones": plain(m.pitch_step_semitones),
            "mended": None if self.mended is None else self.mended.as_dict(),
        }


def hear_joins(
    findings: Findings, *, mend: bool = False, only: Collection[tuple[int, int]] | None = None
) -> tuple[Join, ...]:
    """Every speech edit measured at the gains of the timeline and judged; missing files are noted.

    mend: also look for moves that would make those that are not clean better. only: listen to the edits
    at these (track, frame) alone.
    """
    timeline = findings.timeline
    edits = [
        edit
        for edit in speech_edits(timeline, findings.elements)
        if only is None or (edit.track, edit.at) in only
    ]
    note_timing(findings, speech_clips(findings))
    known: dict[str, Habits] = {}
    found = []
    for edit in findings.run.each("listening to the edits", edits):
        sides = list(_sides(findings, timeline.track(edit.track), edit))
        if len(sides) < 2:
            continue
        key = edit.after.source.key
        if key not in known:
            known[key] = _habits(findings, edit.after)
        found.append(_judged(findings, edit, (sides[0], sides[1]), known[key], mend=mend))
    return tuple(found)


def _judged(
    findings: Findings, edit: SpeechEdit, sides: tuple[Side, Side], usual: Habits, *, mend: bool
) -> Join:
    rules = findings.recipe.mend
    frame = findings.timeline.rate.samples(1, RATE_HZ)
    is_crossed = crosses_over(findings.timeline, edit)
    measures = measure(*sides, crossed=frame if is_crossed else 0)
    same = edit.before.source.key == edit.after.source.key
    if edit.kind is CutKind.THROUGH:  # its source runs on, so there is nothing to hear
        return Join(edit, measures, Judgement(Verdict.CLEAN, 0.0, ()))
    judgement = judge(measures, usual, findings.recipe.listen, same_speaker=same)
    moves: tuple[Move, ...] = ()
    if mend and edit.kind in (CutKind.JUMP, CutKind.CHANGE) and judgement.verdict is not Verdict.CLEAN:
        free = freedom(findings.timeline, edit, picture_follows=rules.picture == "follows")
        before, after = (
            _steps(findings.timeline.rate, rules.reach_frames, limits) for limits in (free.before, free.after)
        )
        moves = improvements(
            judgement,
            offsets(*sides, before, after),
            usual,
            findings.recipe.listen,
            rules,
            same_speaker=same,
        )
    crossed = None
    may_cross = rules.crossfade and not is_crossed and _may_cross(findings, edit, judgement)
    if may_cross and can_cross(sides[1], frame):
        crossed = judge(measure(*sides, crossed=frame), usual, findings.recipe.listen, same_speaker=same)
    return Join(edit, measures, judgement, moves, crossed)


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


def _steps(rate: Rate, reach: int, limits: tuple[int, int]) -> dict[int, int]:
    """The moves within reach and limits, in frames with their samples."""
    frames = range(max(-reach, limits[0]), min(reach, limits[1]) + 1)
    return {n: (1 if n >= 0 else -1) * rate.samples(abs(n), RATE_HZ) for n in frames}


def _sides(findings: Findings, track: Track, edit: SpeechEdit) -> Iterator[Side]:
    """Both sides of an edit, each with its handle; fewer where a file cannot be read."""
    rate = findings.timeline.rate
    for clip, before in ((edit.before, True), (edit.after, False)):
        if clip.source.path is None or not clip.plain_speed:
            continue
        join = rate.samples(clip.source_in + edit.at - clip.start, RATE_HZ)
        length = rate.samples(clip.length, RATE_HZ)
        inside, beyond = min(length, int(SIDE_S * RATE_HZ)), int(HANDLE_S * RATE_HZ)
        first = max(0, join - (inside if before else beyond))
        last = join + (beyond if before else inside)
        try:
            mono = _mono(clip.source.path, first, last - first, clip.sound_stream)
        except MediaError as error:
            findings.missing(clip.source.path, str(error))
            continue
        gain = own_gain(clip, track, edit.at - 1 if before else edit.at)
        chance = findings.run.detector.probability(mono)
        yield side(mono * np.float32(gain), chance, edit=join - first, before=before)


def own_gain(clip: Clip, track: Track, frame: int) -> float:
    """The factor at which a clip sounds at a frame, curves of ours aside."""
    own = replace(clip, levels=tuple(curve for curve in clip.levels if not curve.ours))
    return gain_at(own, track, frame)


def own_gain_db(clip: Clip, track: Track, frame: int) -> float:
    """The same in dB, as the volume of a filter is written; what is silent counts as -60."""
    return round(20 * log10(max(1e-3, own_gain(clip, track, frame))), 2)


def _mono(path: Path, start: int, count: int, stream: int) -> NDArray[np.float32]:
    return np.asarray(read_sound(path, start, count, rate_hz=RATE_HZ, stream=stream, mono=True)[0])


def _habits(findings: Findings, clip: Clip) -> Habits:
    """Habits of a clip's recording, taken from its first minutes; remembered between runs.

    All 0 where it cannot be read so far, which is noted.
    """
    path, rate, detector = clip.source.path, findings.timeline.rate, findings.run.detector
    if path is None:
        return Habits()
    length = rate.samples(clip.source.length, RATE_HZ) if clip.source.length else HABITS_S * RATE_HZ

    def compute() -> dict[str, NDArray[Any]]:
        mono = _mono(path, 0, min(length, HABITS_S * RATE_HZ), clip.sound_stream)
        return {"habits": np.array(astuple(habits(mono, detector.probability(mono))))}

    parameters = (("stream", clip.sound_stream), ("detector", detector.name), ("samples", length))
    try:
        stored = remembered(path, Analysis(HABITS.name, HABITS.version, parameters), compute)
    except MediaError as error:
        findings.missing(path, str(error))
        return Habits()
    return Habits(*stored["habits"].tolist())
