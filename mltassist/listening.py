"""What is heard at each speech edit: levels on both sides of it, measured on the decoded sound."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite
from typing import Any

import numpy as np

from mltassist.facts import Findings
from mltassist.frames import Rate, Span
from mltassist.media.loudness import block_energies, energy_lufs, integrated_lufs
from mltassist.media.mix import MIX_HZ, Report, stem
from mltassist.timeline.cuts import CutKind, speech_edits
from mltassist.timeline.model import Clip, Track

SIDE_S = 3
"""Seconds heard on each side of an edit, within its clip."""


@dataclass(frozen=True, slots=True)
class Join:
    """A speech edit as it sounds.

    speech_lufs: gated loudness of the seconds before and after; background_lufs: loudness of the
    quietest tenth of each side, what is left when nobody speaks. -inf where a side is silent.
    """

    at: int
    track: int
    kind: CutKind
    removed: int
    speech_lufs: tuple[float, float]
    background_lufs: tuple[float, float]

    @property
    def speech_step_db(self) -> float:
        """How much louder speech is after the edit; 0 where a side is silent."""
        return _step(self.speech_lufs)

    @property
    def background_step_db(self) -> float:
        """How much louder the background is after the edit; 0 where a side is silent."""
        return _step(self.background_lufs)

    def as_dict(self) -> dict[str, Any]:
        """Plain data: levels in LUFS, steps in dB, None where a side is silent."""
        return {
            "at": self.at,
            "track": self.track,
            "kind": self.kind.value,
            "removed": self.removed,
            "speech_lufs": [_plain(level) for level in self.speech_lufs],
            "background_lufs": [_plain(level) for level in self.background_lufs],
            "speech_step_db": round(self.speech_step_db, 2),
            "background_step_db": round(self.background_step_db, 2),
        }


def _plain(level: float) -> float | None:
    return round(level, 2) if isfinite(level) else None


def _step(pair: tuple[float, float]) -> float:
    return pair[1] - pair[0] if all(isfinite(level) for level in pair) else 0.0


def hear_joins(findings: Findings) -> tuple[Join, ...]:
    """Every speech edit with its levels, at the gains of the timeline."""
    timeline, rate = findings.timeline, findings.timeline.rate
    found = []
    for edit in speech_edits(timeline, findings.elements):
        track = timeline.track(edit.track)
        side = rate.frames(SIDE_S)
        spans = (
            Span(max(edit.before.start, edit.at - side), edit.at),
            Span(edit.at, min(edit.after.span.end, edit.at + side)),
        )
        levels = [
            _levels(track, clip, span, rate, findings.missing)
            for clip, span in zip((edit.before, edit.after), spans, strict=True)
        ]
        found.append(
            Join(
                at=edit.at,
                track=edit.track,
                kind=edit.kind,
                removed=edit.removed,
                speech_lufs=(levels[0][0], levels[1][0]),
                background_lufs=(levels[0][1], levels[1][1]),
            )
        )
    return tuple(found)


def _levels(track: Track, clip: Clip, span: Span, rate: Rate, missing: Report) -> tuple[float, float]:
    sound = stem([(track, clip)], span, rate, on_missing=missing)
    energies = block_energies(sound, MIX_HZ)
    if not energies.size:
        return -inf, -inf
    quiet = np.sort(energies)[: max(1, len(energies) // 10)]
    return float(integrated_lufs(sound, MIX_HZ)), float(energy_lufs(float(quiet.mean())))
