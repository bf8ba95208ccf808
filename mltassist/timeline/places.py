"""Places on a timeline as people name them."""

from __future__ import annotations

from collections.abc import Iterable

from mltassist.errors import NoSuchPlace, TimeError
from mltassist.frames import format_timecode, parse_place
from mltassist.timeline.model import Marker, Timeline

_TOLD = 6
"""Markers that are named where one that was asked for is not found."""


def to_choose_from(markers: Iterable[Marker]) -> str:
    """What may be asked for instead of a place that is not there."""
    texts = dict.fromkeys(marker.text.strip() for marker in markers if not marker.ours)
    named = [repr(text) for text in texts if text]
    if not named:
        return "give a timecode, f-number or marker text"
    more = f" and {len(named) - _TOLD} more" if len(named) > _TOLD else ""
    return f"there are {', '.join(named[:_TOLD])}{more}; give one of them, a timecode or f-number"


def find_place(timeline: Timeline, text: str) -> int:
    """The frame of a timecode, of f1234, or of the marker whose text this is.

    Raises NoSuchPlace when there is none, or it lies beyond the end of the film.
    """
    try:
        frame = parse_place(text, timeline.rate)
    except TimeError as error:
        raise NoSuchPlace(timeline.path, str(error)) from None
    if frame is None:
        named = [
            marker.at for marker in timeline.markers if marker.text.strip().lower() == text.strip().lower()
        ]
        if len(named) > 1:
            raise NoSuchPlace(
                timeline.path, f"{len(named)} markers say {text!r}", "give the timecode instead"
            )
        if not named:
            raise NoSuchPlace(timeline.path, f"no marker says {text!r}", to_choose_from(timeline.markers))
        frame = named[0]
    if frame > timeline.length:
        end = format_timecode(timeline.length, timeline.rate)
        raise NoSuchPlace(timeline.path, f"{text} lies beyond the end of the film, which is {end}")
    return frame
