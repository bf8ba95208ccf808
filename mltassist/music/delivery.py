"""The loudness of a whole film as it would be delivered, and the one gain that brings it to a target."""

from __future__ import annotations

from fractions import Fraction
from math import isfinite, isnan

from mltassist.media.sound.meter import Loudness, Meter
from mltassist.media.sound.mix import BLOCK_S, Report, mix_blocks
from mltassist.recipe.rules import DeliveryRules
from mltassist.timeline.model import Timeline


def mix_meter(
    timeline: Timeline, *, block_s: Fraction | int = BLOCK_S, on_missing: Report | None = None
) -> Meter:
    """A meter that has read all that a film's timeline plays.

    The mix is made and read `block_s` seconds at a time, so memory stays flat; the figures do not
    depend on where the parts meet. Files that cannot be read are silent; `on_missing` is told in each part.
    """
    meter = Meter(peaks=True)
    for part in mix_blocks(timeline, block_s, on_missing=on_missing):
        meter.add(part)
    return meter


def normalising_gain_db(figures: Loudness, rules: DeliveryRules) -> float:
    """The gain, for the whole film, that brings it to its target, or as near as the highest peak lets it.

    0 for a film without sound. Raises ValueError when the figures were read without peaks.
    """
    if isnan(figures.peak_dbtp):
        raise ValueError("the true peak was not read; use a meter that reads peaks")
    if not isfinite(figures.integrated_lufs):
        return 0.0
    return min(rules.target_lufs - figures.integrated_lufs, rules.ceiling_dbtp - figures.peak_dbtp)
