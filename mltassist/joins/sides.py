"""The decoded sound on both sides of a speech edit, and what is measured there; remembered between runs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import astuple, dataclass, fields, replace
from fractions import Fraction
from functools import cached_property
from math import log10
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mltassist.errors import MediaError
from mltassist.findings import Findings
from mltassist.frames import Rate
from mltassist.joins.measures import (
    HeardSide,
    Side,
    can_cross,
    compare,
    frame_levels,
    habits,
    heard,
    side,
    whole_of,
)
from mltassist.joins.offsets import offsets
from mltassist.joins.planner.judge import Habits, Measures
from mltassist.joins.rooms import Room, compare_rooms, quietest
from mltassist.joins.speaker import UNKNOWN, Speaker, speaker
from mltassist.media.cache import Analysis, remembered, state_of
from mltassist.media.sound.decode import read_sound
from mltassist.media.sound.mix import gain_at
from mltassist.media.sound.recordings import ENTRY_S
from mltassist.media.sound.speech import RATE_HZ
from mltassist.timeline.cuts import SpeechEdit
from mltassist.timeline.model import Clip, Track

SIDE_S = Fraction(7, 2)
"""Seconds heard on each side of an edit, within its clip."""
HANDLE_S = Fraction(3, 5)
"""Seconds heard beyond it in the source, to tell whether a word goes on."""
HABITS_S = 84
"""Seconds in the middle of a recording from which its speaker's habits are taken: some thirty pauses. Slates
and what is said before and after lie at its ends."""
_ROOM_S = 20
"""Seconds of a clip over which its room is measured where its level is to be matched."""
_HEARD_DB = 30.0
"""What a room holds so far under its level is not compared there."""
_NEAR_DB = 1.5
"""A step found in another way is taken for the one that is heard if it lies so near to it."""
HABITS = Analysis("habits", 6)
JOIN = Analysis("join", 5, (("measures", " ".join(field.name for field in fields(Measures))),))
_NONE_SO_FAR = (Habits(), UNKNOWN)
Moves = list[tuple[int, int, Measures]]
States = dict[Path, str | None]
"""What tells each file, as it was when first asked for, from all others: found out once for all joins."""


@dataclass(frozen=True, slots=True)
class _Stretch:
    """What is heard of one clip at an edit, in samples at 16 kHz; `edit` is the first after it."""

    path: Path
    stream: int
    first: int
    last: int
    edit: int
    gain: float
    before: bool


class Sides:
    """Both sides of an edit. Nothing is decoded before something is asked that no earlier run has found out.

    What is asked for raises MediaError where a file cannot be read.
    """

    def __init__(self, findings: Findings, edit: SpeechEdit, states: States | None = None) -> None:
        self._findings = findings
        self._states: States = {} if states is None else states
        track = findings.timeline.track(edit.track)
        self._stretches = tuple(
            found
            for clip, before in ((edit.before, True), (edit.after, False))
            if (found := _stretch(findings, track, clip, edit.at, before=before)) is not None
        )

    @property
    def known(self) -> bool:
        """True where both sides have a recording that plays at its own speed."""
        return len(self._stretches) == 2

    @property
    def gain_step_db(self) -> float:
        """How much louder the clip after plays its source at the edit, by the timeline's own gains, dB."""
        before, after = (max(1e-3, stretch.gain) for stretch in self._stretches)
        return round(20 * log10(after / before), 2)

    @cached_property
    def both(self) -> tuple[Side, Side]:
        """The decoded sides."""
        one, other = (_listened(self._findings, stretch) for stretch in self._stretches)
        return one, other

    @cached_property
    def _heard(self) -> tuple[HeardSide, HeardSide]:
        one, other = self.both
        return heard(one), heard(other)

    def measures(self, crossed: int = 0) -> Measures:
        """What is measured, where the sides cross over in so many samples before the edit."""
        found = self._kept(
            "measures", (("crossed", crossed),), lambda: astuple(compare(*self._heard, crossed=crossed))
        )
        return Measures(*found.tolist())

    def may_cross(self, samples: int) -> bool:
        """True where what comes before the edit in the source of the right side may be heard so long."""
        found = self._kept("may cross", (("samples", samples),), lambda: can_cross(self._heard[1], samples))
        return bool(found)

    def moved(self, before: Mapping[int, int], after: Mapping[int, int]) -> Moves:
        """What is measured after each pair of moves that harms no word: see `offsets`."""
        found = self._kept(
            "moved",
            (("before", str(dict(before))), ("after", str(dict(after)))),
            lambda: [(n, m, *astuple(measures)) for n, m, measures in offsets(*self.both, before, after)],
        )
        return [(int(n), int(m), Measures(*figures)) for n, m, *figures in found.tolist()]

    def _kept(
        self, what: str, asked: tuple[tuple[str, str | int | float], ...], compute: Callable[[], Any]
    ) -> NDArray[np.float64]:
        one, other = self._stretches
        for path in (one.path, other.path):
            if path not in self._states:
                self._states[path] = state_of(path)
        states = self._states[one.path], self._states[other.path]
        if None in states:  # one of them is not there: whoever reads it says so
            return np.array(compute(), np.float64)
        parameters = (
            *JOIN.parameters,
            ("what", what),
            ("detector", self._findings.run.detector.name),
            ("states", str(states)),
            ("stretches", str([astuple(replace(stretch, path=Path())) for stretch in self._stretches])),
            *asked,
        )
        analysis = Analysis(JOIN.name, JOIN.version, parameters)
        return remembered(one.path, analysis, lambda: {"found": np.array(compute(), np.float64)})["found"]


def _stretch(findings: Findings, track: Track, clip: Clip, at: int, *, before: bool) -> _Stretch | None:
    if clip.source.path is None or not clip.plain_speed:
        return None
    rate = findings.timeline.rate
    join = rate.samples(clip.source_in + at - clip.start, RATE_HZ)
    length = rate.samples(clip.length, RATE_HZ)
    inside, beyond = min(length, int(SIDE_S * RATE_HZ)), int(HANDLE_S * RATE_HZ)
    first = max(0, join - (inside if before else beyond))
    last = join + (beyond if before else inside)
    gain = own_gain(clip, track, at - 1 if before else at)
    return _Stretch(clip.source.path, clip.sound_stream, first, last, join - first, gain, before)


def _listened(findings: Findings, stretch: _Stretch) -> Side:
    count = stretch.last - stretch.first
    sound = mono(stretch.path, stretch.first, count, stretch.stream)
    chance = findings.run.detector.probability(sound)
    return side(sound * np.float32(stretch.gain), chance, edit=stretch.edit, before=stretch.before)


def turned_db(rate: Rate, track: Track, before: Clip, after: Clip, heard_db: float) -> float:
    """How much louder all of `after` is than `before`, dB, where at the edit it sounds so by `heard_db`.

    What the editor's own gains tell, if that is what is heard; else the step of the room over up to ROOM_S of
    both clips, which is steadier than over the few seconds of a side. Raises MediaError.
    """
    at = after.start
    if before.source.key == after.source.key:
        given = own_gain_db(after, track, at) - own_gain_db(before, track, at - 1)
        if abs(given - heard_db) <= _NEAR_DB:
            return given
    one, other = (_room(rate, clip, track, near_end=clip is before) for clip in (before, after))
    if one is None or other is None:
        return heard_db
    step = compare_rooms(one, other, max(one[0], other[0]) - _HEARD_DB)[0]
    return step if abs(step - heard_db) <= _NEAR_DB else heard_db


def _room(rate: Rate, clip: Clip, track: Track, *, near_end: bool) -> Room | None:
    """The room in the part of a clip that is nearest to its edit; None in less than a second."""
    length = min(clip.length, rate.frames(_ROOM_S))
    first = clip.source_in + (clip.length - length if near_end else 0)
    start, end = (rate.samples(frame, RATE_HZ) for frame in (first, first + length))
    if clip.source.path is None:
        return None
    sound = mono(clip.source.path, start, end - start, clip.sound_stream)
    found = quietest(*frame_levels(sound))
    gain = own_gain_db(clip, track, clip.span.end - 1 if near_end else clip.start)
    return None if found is None else (found[0] + gain, found[1] + gain)


def own_gain(clip: Clip, track: Track, frame: int) -> float:
    """The factor at which a clip sounds at a frame: curves of ours aside, but for matched levels."""
    own = replace(clip, levels=tuple(curve for curve in clip.levels if not curve.ours or curve.matched))
    return gain_at(own, track, frame)


def own_gain_db(clip: Clip, track: Track, frame: int) -> float:
    """The same in dB, as the volume of a filter is written; what is silent counts as -60."""
    return round(20 * log10(max(1e-3, own_gain(clip, track, frame))), 2)


def mono(path: Path, start: int, count: int, stream: int) -> NDArray[np.float32]:
    """Sound at 16 kHz, one channel. Raises MediaError."""
    return np.asarray(read_sound(path, start, count, rate_hz=RATE_HZ, stream=stream, mono=True)[0])


def usual(findings: Findings, clip: Clip) -> tuple[Habits, Speaker]:
    """Habits and voice of a clip's recording, taken from its middle; remembered between runs.

    All 0, and nobody, where it cannot be read so far, which is noted.
    """
    path, rate, detector = clip.source.path, findings.timeline.rate, findings.run.detector
    if path is None:
        return _NONE_SO_FAR
    length = rate.samples(clip.source.length, RATE_HZ) if clip.source.length else HABITS_S * RATE_HZ

    def compute() -> dict[str, NDArray[Any]]:
        # Streams are entered at whole multiples of ENTRY_S.
        first = max(0, length - HABITS_S * RATE_HZ) // 2 // (ENTRY_S * RATE_HZ) * (ENTRY_S * RATE_HZ)
        sound = mono(path, first, min(length, HABITS_S * RATE_HZ), clip.sound_stream)
        whole = whole_of(sound, detector.probability(sound))
        return {"habits": np.array(astuple(habits(whole))), "voice": speaker(whole).as_array()}

    parameters = (("stream", clip.sound_stream), ("detector", detector.name), ("samples", length))
    try:
        stored = remembered(path, Analysis(HABITS.name, HABITS.version, parameters), compute)
    except MediaError as error:
        findings.missing(path, str(error))
        return _NONE_SO_FAR
    return Habits(*stored["habits"].tolist()), Speaker.of(stored["voice"])
