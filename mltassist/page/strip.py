"""The film as a strip: what is seen and heard when, and how loud speech and music are."""

from __future__ import annotations

from fractions import Fraction
from math import ceil
from typing import Any

import numpy as np

from mltassist.findings import Findings, spoken_sound
from mltassist.frames import Span, joined
from mltassist.media.sound.mix import heard_alike, sounding
from mltassist.media.sound.pieces import read_in_pieces
from mltassist.page.gallery import HeardClips
from mltassist.timeline.elements import Element, clips_of
from mltassist.timeline.picture import is_black, showing

MOST_POINTS = 4000
"""Values of a curve at most: a wide screen has fewer columns for the whole film."""
STEP_S = Fraction(1, 5)
QUIET_LUFS = -70.0
"""What lies under it is told as silence: the absolute gate of BS.1770."""
_HOPS = 10  # energies a second that a meter reads


def strip_of(findings: Findings, *, loudness: bool = True) -> dict[str, Any]:
    """One state of the film, in frames. seen: [first, length, element, name]; also `none`, `black`."""
    timeline = findings.timeline
    found: dict[str, Any] = {
        "length": timeline.length,
        "seen": _seen(findings),
        "heard": {
            element.value: [[span.start, span.length] for span in _heard(findings, element)]
            for element in Element
        },
    }
    if loudness:
        natural = clips_of(timeline, findings.elements, (Element.NATURAL,))
        found["loudness"] = {
            "speech": _measured(findings, spoken_sound(findings)),
            "music": _measured(findings, clips_of(timeline, findings.elements, (Element.MUSIC,))),
            "natural": _measured(findings, natural),
        }
    return found


def _seen(findings: Findings) -> list[list[Any]]:
    rows: list[list[Any]] = []
    for shown in showing(findings.timeline, ours=True):
        kind, name = "none", ""
        if shown.clip is not None and shown.track is not None:
            element = findings.elements.of_clip(shown.track, shown.clip)
            kind = "black" if is_black(shown.clip) else "other" if element is None else element.value
            name = shown.clip.name
        rows.append([shown.span.start, shown.span.length, kind, name])
    return rows


def _heard(findings: Findings, element: Element) -> tuple[Span, ...]:
    heard = {(track.index, clip.start) for track, clip in sounding(findings.timeline)}
    spans = [
        clip.span
        for track, clip in clips_of(findings.timeline, findings.elements, (element,))
        if (track.index, clip.start) in heard
    ]
    return joined(spans)


def _measured(findings: Findings, clips: HeardClips) -> dict[str, Any]:
    """The curve of these clips, measured once for all states of the film in which they sound the same."""
    whole, rate = Span(0, findings.timeline.length), findings.timeline.rate
    alike = "curve", heard_alike(clips, whole, rate)
    return findings.run.memory.get(alike, lambda: _curve(findings, clips))


def _curve(findings: Findings, clips: HeardClips) -> dict[str, Any]:
    """Loudness in steps of `step_s` seconds: whole LUFS, None for silence. Only what sounds is decoded."""
    rate, length = findings.timeline.rate, findings.timeline.length
    step_s = STEP_S * max(1, ceil(rate.seconds(length) / MOST_POINTS / STEP_S))
    points = max(1, ceil(rate.seconds(length) / step_s))
    values: list[int | None] = [None] * points
    for whole in joined([clip.span for _, clip in clips], bridge=rate.frames(1)):
        part = whole.shared(Span(0, length))
        energies = read_in_pieces(clips, part, rate, findings.measured).blocks
        first = float(rate.seconds(part.start))
        places = ((first + np.arange(energies.size) / _HOPS) / float(step_s)).astype(int)
        for place in np.unique(places[places < points]).tolist():
            mean = float(energies[places == place].mean())
            lufs = -0.691 + 10 * np.log10(mean) if mean > 0 else QUIET_LUFS
            if lufs > QUIET_LUFS:
                values[place] = round(max(lufs, -99 if values[place] is None else values[place] or -99))
    return {"step_s": float(step_s), "lufs": values}
