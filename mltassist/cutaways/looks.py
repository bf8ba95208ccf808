"""What is seen: how much a jump shows, and which moments of a cutaway are worth using."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from mltassist.cutaways.planner.beginnings import Course
from mltassist.errors import MediaError
from mltassist.findings import Findings
from mltassist.frames import Rate, Span, joined
from mltassist.media.cache import Analysis, remembered
from mltassist.media.picture.glance import worth_a_look
from mltassist.media.picture.likeness import unlikeness
from mltassist.media.picture.looks import Look, look
from mltassist.media.picture.thumbnails import picture_at
from mltassist.media.picture.usable import usable_spans, worth
from mltassist.timeline.picturecuts import PictureCut

JUMP = Analysis("jump", 1)
_STEP = 2
"""Every so many frames of a cutaway are looked at: shake and splices last longer, or show all the same."""
_SMOOTHED_S = Fraction(2, 5)
"""The pace of a camera is a mean over so long: a trembling hand is shake, and no turn."""
_TURN, _LIGHT, _FOCUS = 0.1, 0.1, 0.08
"""Deviations within a shot that are as bad as any: of the camera's pace (picture widths a second), where it
turns elsewhere; of the mean grey, where it sets its exposure; of sharpness, where it finds its focus."""
_STIR, _STILL = 0.03, 10
"""Change between samples at which much happens; and the percentile of a clip's taken for its noise."""


def jump_looks(findings: Findings, cuts: Sequence[PictureCut]) -> dict[int, float]:
    """How unlike the pictures on both sides of each cut in an interview are, 0 to 1, by its frame.

    Cuts whose pictures cannot be read are left out. Remembered between runs.
    """
    found: dict[int, float] = {}
    for cut in findings.run.each("looking at jump cuts", cuts):
        before, after = cut.before.source, cut.after.source
        if before.path is None or after.path is None:
            continue
        last, first = cut.before.source_frame(cut.at - 1), cut.after.source_frame(cut.at)
        try:
            found[cut.at] = _unlike(before.path, last, after.path, first, findings.timeline.rate)
        except MediaError as error:
            findings.missing(Path(error.path), str(error))  # of either side
    return found


def _unlike(before: Path, last: int, after: Path, first: int, rate: Rate) -> float:
    changed = after.stat().st_mtime_ns if after.exists() else 0
    parameters = (
        ("last", last),
        ("after", str(after)),
        ("changed", changed),
        ("first", first),
        ("rate", str(rate.fraction)),
    )

    def compare() -> dict[str, np.ndarray]:
        pictures = picture_at(before, last, rate), picture_at(after, first, rate)
        return {"unlike": np.array(unlikeness(*pictures))}

    return float(remembered(before, Analysis(JUMP.name, JUMP.version, parameters), compare)["unlike"])


Worth = tuple[tuple[Span, float], ...]
"""Usable stretches in source frames, each with how good it looks, 0 to 1."""


def worth_of_each(path: Path, spans: Iterable[Span], rate: Rate, at_least: int) -> dict[Span, Worth]:
    """Usable stretches of a cutaway in each of these spans of its source frames.

    Spans may overlap: no frame is looked at twice. Of long stretches only the parts are looked at that a
    glance at their key pictures finds best. Raises MediaError when it cannot be looked at.
    """
    wanted = tuple(spans)
    rows: dict[Span, list[tuple[Span, float]]] = {span: [] for span in wanted}
    for whole in (part for long in joined(wanted) for part in worth_a_look(path, long, rate)):
        looked = look(path, whole, rate, step=_STEP)
        values = worth(looked)
        for part in usable_spans(looked, at_least):
            for span in wanted:
                inside = part.shared(span)
                if inside.length >= at_least:
                    seen = (looked.frames >= inside.start) & (looked.frames < inside.end)
                    rows[span].append((inside, round(float(values[seen].mean()), 2)))
    return {span: tuple(found) for span, found in rows.items()}


def courses(findings: Findings, sources: Iterable[str]) -> dict[str, tuple[Course, ...]]:
    """How what was looked at of these sources looks from frame to frame."""
    rate, found = findings.timeline.rate, dict[str, tuple[Course, ...]]()
    for source in sources:
        with suppress(MediaError):  # told where it was looked at for the first time
            rows = findings.looked_at.get(source, ())
            found[source] = tuple(one for path, spans in rows for one in courses_of(path, spans, rate))
    return found


def courses_of(path: Path, spans: tuple[Span, ...], rate: Rate) -> Iterator[Course]:
    """How the parts of a file that `worth_of_each` looks at for these spans look from frame to frame.

    Raises MediaError when it cannot be looked at.
    """
    for whole in (part for long in joined(spans) for part in worth_a_look(path, long, rate)):
        looked = look(path, whole, rate, step=_STEP)
        span = Span(int(looked.frames[0]), int(looked.frames[-1]) + looked.step)
        rows = np.searchsorted(looked.frames, np.arange(span.start, span.end), side="right") - 1
        change = np.maximum(0.0, looked.change - np.percentile(looked.change, _STILL))
        columns = worth(looked), _swerves(looked), np.minimum(1.0, change / _STIR)
        yield Course(span, *(column.astype(np.float64)[rows] for column in columns))


def _swerves(looked: Look) -> NDArray[np.float64]:
    """What is to stay even within a shot, at each sample: pace of the camera, light, focus; shape (n, 4)."""
    size = max(1, looked.rate.frames(_SMOOTHED_S) // looked.step)
    smooth = uniform_filter1d(looked.motion.astype(np.float64), size, axis=0, mode="nearest")
    pace = smooth * float(looked.rate.fraction) / _TURN
    return np.column_stack((pace, looked.brightness / _LIGHT, looked.sharpness / _FOCUS))
