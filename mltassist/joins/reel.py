"""All joins in one sound file, to be heard away from the desk: a chapter each, a short tone between them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np

from mltassist.findings import Findings, spoken_sound
from mltassist.frames import Span, format_timecode
from mltassist.joins.hear import Join
from mltassist.joins.soundclips import AROUND_S
from mltassist.media.sound.decode import MIX_HZ
from mltassist.media.sound.listening import save_chapters
from mltassist.media.sound.mix import stem
from mltassist.media.sound.recordings import Sound

REST_S, TONE_S = 0.4, 0.2
TONE_HZ = 660
TONE_LEVEL = 10 ** (-32 / 20)
"""Soft beside speech at -23 LUFS: it parts the joins, and wakes nobody."""


def save_reel(findings: Findings, joins: Iterable[Join], path: Path, after: Findings | None = None) -> None:
    """Write every join with two seconds of speech either side, one after the other.

    Each has a chapter with its number and timecode, and no verdict: the ear judges first. after: the timeline
    on which joins were mended; those that were are heard from it. Raises as `save_chapters`.
    """
    save_chapters(path, _parts(findings, joins, after))


def _parts(findings: Findings, joins: Iterable[Join], after: Findings | None) -> Iterator[tuple[str, Sound]]:
    for number, join in enumerate(joins, start=1):
        if number > 1:
            yield "", _tone()
        where, place = (after, join.mended) if after is not None and join.mended else (findings, join)
        timeline = where.timeline
        around = timeline.rate.frames(AROUND_S)
        span = Span(max(0, place.at - around), min(timeline.length, place.at + around))
        title = f"{number}  {format_timecode(place.at, timeline.rate)}"
        yield title, stem(spoken_sound(where), span, timeline.rate)


def _tone() -> Sound:
    """Rest, a tone that swells and fades, rest: shape (1, samples)."""
    rest = np.zeros(round(REST_S * MIX_HZ), np.float32)
    at = np.arange(round(TONE_S * MIX_HZ)) / MIX_HZ
    tone = TONE_LEVEL * np.sin(2 * np.pi * TONE_HZ * at) * np.sin(np.pi * at / TONE_S)
    return np.concatenate((rest, tone.astype(np.float32), rest))[np.newaxis]
