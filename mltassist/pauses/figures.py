"""The figures of a plan that opens pauses."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from mltassist.frames import format_timecode
from mltassist.timeline.edits import Edit, LayNatural, OpenPause
from mltassist.timeline.model import Timeline
from mltassist.timeline.moves import moves_of_all


def pause_figures(
    edits: tuple[Edit, ...], timeline: Timeline, later: Sequence[dict[str, Any]] = ()
) -> list[dict[str, Any]]:
    """A row for the pause that these edits make, if they make one, and then the rows of later pauses.

    Those were opened before this one, which moves them: places are told as they are in the result.
    """
    opened = [edit for edit in edits if isinstance(edit, OpenPause)]
    laid = next((edit for edit in edits if isinstance(edit, LayNatural)), None)
    place = opened[0] if opened else laid
    if place is None:
        return [*later]
    moves, rate = moves_of_all(edits), timeline.rate
    row = {
        "at": place.at,
        "timecode": format_timecode(place.at, rate),
        "length": place.length,
        "seconds": round(float(rate.seconds(place.length)), 2),
        "rippled": bool(opened),
        "natural_sound": laid.name if laid is not None else "",
    }
    moved = [
        {**other, "at": (at := moves.frame(other["at"])), "timecode": format_timecode(at, rate)}
        for other in later
    ]
    return [row, *moved]
