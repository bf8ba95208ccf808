"""Holes between two bites of one recording, filled with the sound of its room."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from math import inf
from pathlib import Path

import numpy as np

from mltassist.errors import MediaError
from mltassist.findings import Findings, speech_clips, speech_in
from mltassist.frames import Span, joined, without
from mltassist.joins.sides import own_gain_db
from mltassist.media.sound.decode import read_sound
from mltassist.media.sound.speech import RATE_HZ, block_levels_db
from mltassist.timeline.edits import LayTone
from mltassist.timeline.elements import SPEECH
from mltassist.timeline.model import Clip, Gap, Track

LEAD, TRAIL = 2, 1
"""Frames under the speech at both ends: the first frame of a fade is silent, the next one rises."""
CLEAR_S = Fraction(1, 5)
"""Seconds that the room must keep from any word: voices die away slowly."""
_ROOM_S = 300
"""Seconds around the hole, in the recording, in which its room is looked for."""


def tone_edits(findings: Findings) -> tuple[LayTone, ...]:
    """The room of the recording in every hole that its speech leaves, where the recipe wants it.

    A hole lies between two clips of one source on one track, with no other speech and nothing of ours in
    it. Where the recording is nowhere quiet for long enough, a note says so.
    """
    rules = findings.recipe.mend
    if not rules.room_tone:
        return ()
    timeline = findings.timeline
    longest = timeline.rate.frames(rules.room_tone_max_s)
    others = [clip.span for _, clip in speech_clips(findings)]
    others += [clip.span for track in timeline.tracks if track.ours for clip in track.clips()]
    found: list[LayTone] = []
    for track in timeline.tracks:
        if track.muted or track.ours or not track.has_sound:
            continue
        for before, gap, after in _holes(findings, track):
            if gap.length > longest or any(span.overlaps(gap.span) for span in others):
                continue
            edit = _filled(findings, track, before, gap, after)
            if edit is None:
                findings.note("this hole is silent: its recording is nowhere quiet for so long", gap.start)
            else:
                found.append(edit)
                others.append(Span(edit.at, edit.at + edit.length))
    return tuple(found)


def _holes(findings: Findings, track: Track) -> Iterator[tuple[Clip, Gap, Clip]]:
    for (before, gap), (_, after) in pairwise(pairwise(track.items)):
        if not (isinstance(before, Clip) and isinstance(gap, Gap) and isinstance(after, Clip)):
            continue
        speech = all(findings.elements.of_clip(track, clip) in SPEECH for clip in (before, after))
        if speech and before.source.key == after.source.key and before.plays_sound and after.plays_sound:
            yield before, gap, after


def _filled(findings: Findings, track: Track, before: Clip, gap: Gap, after: Clip) -> LayTone | None:
    """The quietest stretch of the recording that is long enough and clear of words, those nearby first."""
    timeline, path = findings.timeline, before.source.path
    lead, trail = min(LEAD, before.length), min(TRAIL, after.length)
    length = lead + gap.length + trail
    if path is None or not (before.plain_speed and after.plain_speed):
        return None
    rate = timeline.rate
    reach = rate.frames(_ROOM_S)
    end = before.source_in + before.length
    near = Span(max(0, end - reach), min(before.source.length, end + reach))
    try:
        quiet = _clear_of_words(findings, track, before, near)
        found = [
            (level, first)
            for span in quiet
            if span.length >= length
            for level, first in [_quietest(findings, before, path, span, length)]
        ]
    except MediaError as error:
        findings.missing(path, str(error))
        return None
    if not found:
        return None
    return LayTone(
        at=gap.start - lead,
        length=length,
        source=before.source.key,
        source_in=min(found)[1],
        reason="the room of the recording fills a hole in it",
        gain_db=own_gain_db(before, track, before.span.end - 1),
        fade_in=lead - 1,
        fade_out=trail,
        decision=findings.places.tone(gap.start),
    )


def _clear_of_words(findings: Findings, track: Track, clip: Clip, near: Span) -> tuple[Span, ...]:
    """Stretches of the recording, in its frames, that keep off every word in it."""
    rate = findings.timeline.rate
    whole = replace(clip, start=0, length=near.length, source_in=near.start, levels=(), remap=())
    clear = rate.frames(CLEAR_S)
    spoken = speech_in(findings, [(track, whole)])
    words = joined([span.shifted(near.start).grown(clear, clear) for span in spoken])
    return without([near], words)


def _quietest(findings: Findings, clip: Clip, path: Path, span: Span, length: int) -> tuple[float, int]:
    """Level (dBFS) and first frame of the stretch of a length in which nothing happens, within `span`.

    Told by its loudest tenth of a second: a knock in it is heard, a rustle less is not.
    """
    rate = findings.timeline.rate
    first = rate.samples(span.start, RATE_HZ)
    count = rate.samples(span.end, RATE_HZ) - first
    sound = read_sound(path, first, count, rate_hz=RATE_HZ, stream=clip.sound_stream, mono=True)[0]
    block = RATE_HZ // 10
    levels = block_levels_db(sound, block)
    best = (inf, span.start)
    for start in range(span.start, span.end - length + 1, max(1, rate.frames(1) // 4)):
        blocks = [(rate.samples(frame, RATE_HZ) - first) // block for frame in (start, start + length)]
        loudest = float(np.max(levels[blocks[0] : blocks[1] + 1]))
        best = min(best, (loudest, start))
    return best
