"""The loudness of a whole film as it would be delivered, and the one gain that brings it to a target."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from math import isfinite, isnan
from pathlib import Path
from typing import Any

from mltassist.findings import Findings, plain
from mltassist.frames import Span
from mltassist.media.sound.atspeed import is_heard, unheard_because
from mltassist.media.sound.meter import Loudness, Meter
from mltassist.media.sound.mix import BLOCK_S, Report, heard_alike, mix_blocks, sounding
from mltassist.media.sound.pieces import read_in_pieces
from mltassist.recipe.rules import DeliveryRules
from mltassist.timeline.edits import Edit, SetFilmGain
from mltassist.timeline.model import SourceKind, Timeline

DELIVERED_LU = 0.2
"""A film so near to its target has met it."""


@dataclass
class HeardFilm:
    """What a whole film plays: a meter that has read it all, and the files that could not be heard."""

    meter: Meter
    missing: set[Path] = field(default_factory=set)


def whole_film(findings: Findings) -> HeardFilm:
    """All that the film plays, measured; what cannot be heard is noted."""
    findings.run.tell("measuring the film")
    for _, clip in sounding(findings.timeline):
        if clip.source.kind is SourceKind.FILE and not is_heard(clip):
            findings.note(
                f"{clip.name!r} is left out of all figures of loudness: {unheard_because(clip)}",
                clip.start,
                needs_editor=True,
            )
    gone: set[Path] = set()
    film = findings.timeline

    def told(path: Path, why: str) -> None:
        gone.add(path)

    whole, known = Span(0, film.length), findings.parts_of(told)
    if not film.levels:
        return HeardFilm(read_in_pieces(sounding(film), whole, film.rate, known, peaks=True), gone)
    alike = heard_alike(sounding(film), whole, film.rate)
    return HeardFilm(
        known(("film", alike, film.levels), lambda missing: mix_meter(film, on_missing=missing)), gone
    )


def deliver(
    findings: Findings, done: Findings, *, normalise: bool
) -> tuple[tuple[Edit, ...], dict[str, Any]]:
    """The gain that brings a film to its loudness where it is asked for, and the figures of the whole film.

    findings: the film before the curves of this run, which gets the notes; done: the film with them.
    A film of which files cannot be heard gets no gain: what they hold would be lifted with the rest.
    """
    rules = findings.recipe.delivery
    before, film = whole_film(findings).meter.read(), whole_film(done)
    after, edits = film.meter.read(), tuple[Edit, ...]()
    gain_db: float | None = normalising_gain_db(after, rules)
    if film.missing:
        gain_db = None
        if normalise:
            many = len({clip.source.path for _, clip in sounding(done.timeline)} - {None})
            findings.note(
                f"{len(film.missing)} of {many} sound files cannot be heard: the film gets no gain",
                needs_editor=True,
            )
    elif normalise and isfinite(after.integrated_lufs):
        whole = SetFilmGain(
            round(normalising_gain_db(after, rules), 2), "brings the film to its loudness of delivery"
        )
        edits = (whole,)
        after = film.meter.read(whole.gain_db)
        gain_db = normalising_gain_db(after, rules)
        short = rules.target_lufs - after.integrated_lufs
        if short > DELIVERED_LU:
            findings.note(
                f"the film stays {short:.1f} LU under its target: its true peak allows no more",
                needs_editor=True,
            )
    if not edits and after.peak_dbtp > rules.ceiling_dbtp:
        findings.note(
            f"the true peak is {after.peak_dbtp:+.1f} dBTP, over {rules.ceiling_dbtp:+.1f}:"
            " --normalise brings the film under it"
        )
    return edits, {
        "before": loudness_row(before),
        "after": loudness_row(after),
        "target_lufs": rules.target_lufs,
        "gain_to_target_db": None if gain_db is None else round(gain_db, 2),
    }


def loudness_row(loudness: Loudness) -> dict[str, float | None]:
    """The figures of a film as plain data; None where it is silent."""
    return {
        "integrated_lufs": plain(loudness.integrated_lufs),
        "range_lu": plain(loudness.range_lu),
        "peak_dbtp": plain(loudness.peak_dbtp),
    }


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
