"""The mix of one stretch: speech, and each layer beneath it, apart; and how well the words come through."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import nan

import numpy as np

from mltassist.findings import Clips, Findings, Missing
from mltassist.frames import Rate, Span
from mltassist.media.sound.clarity import Bands, SpokenBands, intelligibility
from mltassist.media.sound.meter import Meter
from mltassist.media.sound.mix import heard_alike, stem_blocks
from mltassist.media.sound.recordings import Sound


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
        lambda missing: _read(rate, span, over, beneath, missing, speech=speech),
    )


def _read(
    rate: Rate, span: Span, over: Clips, beneath: Mapping[int, Clips], missing: Missing, *, speech: bool
) -> Reading:
    numbers = list(beneath)
    foreground, meters, bands = Meter(), {number: Meter() for number in numbers}, Bands()
    noise = _Beneath(bool(numbers) and speech)
    for sound, *parts in zip(
        *(stem_blocks(clips, span, rate, on_missing=missing) for clips in (over, *beneath.values())),
        strict=True,
    ):
        foreground.add(sound)
        if speech:
            bands.add(sound)
        for number, part in zip(numbers, parts, strict=True):
            meters[number].add(part)
        noise.add(parts)
    spoken = SpokenBands.of(bands.powers) if speech else None
    return Reading(foreground, meters, spoken, noise.words(spoken))


def read_again(findings: Findings, span: Span, beneath: Mapping[int, Clips], before: Reading) -> Reading:
    """The same stretch where nothing but what lies beneath has changed."""
    if not beneath:
        return before
    rate = findings.timeline.rate
    apart = tuple((number, heard_alike(clips, span, rate)) for number, clips in beneath.items())
    _, found = findings.measured(
        # The first is kept with the second, so that no other can have its number.
        ("again", id(before), apart),
        lambda missing: (before, _again(rate, span, beneath, before, missing)),
    )
    return found


def _again(
    rate: Rate, span: Span, beneath: Mapping[int, Clips], before: Reading, missing: Missing
) -> Reading:
    meters, noise = {number: Meter() for number in beneath}, _Beneath(before.spoken is not None)
    for parts in zip(
        *(stem_blocks(clips, span, rate, on_missing=missing) for clips in beneath.values()), strict=True
    ):
        for meter, part in zip(meters.values(), parts, strict=True):
            meter.add(part)
        noise.add(parts)
    return replace(before, beneath=meters, words=noise.words(before.spoken))


class _Beneath:
    """All that lies beneath speech, in bands; `wanted` is False where nobody asks."""

    def __init__(self, wanted: bool) -> None:
        self._bands = Bands() if wanted else None

    def add(self, parts: Sequence[Sound]) -> None:
        if self._bands is not None and parts:
            self._bands.add(np.asarray(sum(parts[1:], parts[0]), np.float32))

    def words(self, spoken: SpokenBands | None) -> float:
        if spoken is None or not spoken.spoken.any():
            return nan
        return 1.0 if self._bands is None else intelligibility(spoken, self._bands.powers)
