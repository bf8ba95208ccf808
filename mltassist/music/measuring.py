"""The mix of one stretch: speech, and each layer beneath it, apart; and how well the words come through."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import nan

from mltassist.findings import Clips, Findings, Missing
from mltassist.frames import Rate, Span
from mltassist.media.sound.clarity import Bands, Powers, SpokenBands, intelligibility
from mltassist.media.sound.meter import Meter
from mltassist.media.sound.mix import heard_alike, stem_blocks
from mltassist.media.sound.pieces import read_in_pieces


@dataclass(frozen=True, slots=True)
class Reading:
    """What was measured in one stretch. over: the speech, or the natural sound that is heard alone.

    beneath: by number of layer; words: index of intelligibility, 0 to 1, nan where nobody speaks.
    """

    over: Meter
    beneath: Mapping[int, Meter]
    spoken: SpokenBands | None
    words: float = nan


def read_stretch(
    findings: Findings, span: Span, over: Clips, beneath: Mapping[int, Clips], *, speech: bool
) -> Reading:
    """Measure a stretch in which `over` is heard above `beneath`; files that cannot be read are noted."""
    rate = findings.timeline.rate
    apart = tuple((number, heard_alike(clips, span, rate)) for number, clips in beneath.items())
    return findings.measured(
        ("stretch", speech, heard_alike(over, span, rate), apart),
        lambda missing: _read(findings, span, over, beneath, missing, speech=speech),
    )


def _read(
    findings: Findings,
    span: Span,
    over: Clips,
    beneath: Mapping[int, Clips],
    missing: Missing,
    *,
    speech: bool,
) -> Reading:
    """Each is measured under what is heard of it alone: music that lies otherwise leaves speech as it was."""
    rate, known = findings.timeline.rate, findings.parts_of(missing)
    foreground = read_in_pieces(over, span, rate, known)
    spoken: SpokenBands | None = None
    if speech:
        alike = heard_alike(over, span, rate)
        spoken = known(("spoken", alike), lambda told: SpokenBands.of(_bands(over, span, rate, told)))
    before = Reading(foreground, {}, spoken)
    return _with(findings, span, beneath, before, missing)


def read_again(findings: Findings, span: Span, beneath: Mapping[int, Clips], before: Reading) -> Reading:
    """The same stretch where nothing but what lies beneath has changed."""
    if not beneath:
        return before
    rate = findings.timeline.rate
    apart = tuple((number, heard_alike(clips, span, rate)) for number, clips in beneath.items())
    _, found = findings.measured(
        # The first is kept with the second, so that no other can have its number.
        ("again", id(before), apart),
        lambda missing: (before, _with(findings, span, beneath, before, missing)),
    )
    return found


def _with(
    findings: Findings, span: Span, beneath: Mapping[int, Clips], before: Reading, missing: Missing
) -> Reading:
    """A reading with what lies beneath it."""
    rate, known = findings.timeline.rate, findings.parts_of(missing)
    meters = {number: read_in_pieces(clips, span, rate, known) for number, clips in beneath.items()}
    words = nan
    if before.spoken is not None and before.spoken.spoken.any():
        noise = [pair for clips in beneath.values() for pair in clips]
        words = intelligibility(before.spoken, _bands(noise, span, rate, missing)) if noise else 1.0
    return replace(before, beneath=meters, words=words)


def _bands(clips: Clips, span: Span, rate: Rate, missing: Missing) -> Powers:
    """All of these clips together, in bands."""
    bands = Bands()
    for sound in stem_blocks(clips, span, rate, on_missing=missing):
        bands.add(sound)
    return bands.powers
