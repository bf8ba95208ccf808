"""What a media file is: length, picture and sound streams, read from its headers."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from mltassist.errors import MediaError
from mltassist.media.apart import Apart, Trouble
from mltassist.media.cache import state_of
from mltassist.media.opening import believable, open_media, ordinary_media

_headers = Apart("mltassist.media.headers:read_headers", limit_s=7, most_mib=512)
"""Headers are read in milliseconds; from a slow disk of the network in a second or two. The library takes
some 60 MiB, and more for a file with hundreds of thousands of parts; on damaged ones it may have no end."""

_known: dict[str, MediaFacts] = {}
"""Facts by the state of their file: a film is planned again and again, and its headers stay."""
_MOST = 10_000

_Track = dict[str, Any]
"""Fields of one stream, as text or whole numbers, by their names in the library."""


@dataclass(frozen=True, slots=True)
class MediaFacts:
    """The facts of one file.

    `frame_rate` (frames per second) is None without moving picture or where the file does not say. `width`
    and `height` are the stored pixels, before the clockwise `rotation` in degrees (0, 90, 180, 270) that a
    player applies. `start_timecode` is the label of the first frame, as the camera wrote it, "" where there
    is none. `made_by` is all by which files of one device and one setting of it are alike. `pixel_aspect` is
    the width of a pixel by its height.
    """

    frame_rate: Fraction | None
    variable_rate: bool
    width: int
    height: int
    rotation: int
    has_sound: bool
    interlaced: bool = False
    start_timecode: str = ""
    made_by: str = ""
    pixel_aspect: Fraction = Fraction(1)


_OF_DEVICE = (
    *("make", "model", "comapplequicktimemake", "comapplequicktimemodel", "writing_application"),
    *("format", "format_profile", "encoded_library_name", "bit_depth", "width", "height"),
    *("channel_s", "sampling_rate"),
)


def probe(path: Path) -> MediaFacts:
    """Read the facts of a media file.

    Raises SourceMissing when there is no file, MediaError when nothing in it can be read.
    """
    ordinary_media(path)
    state = state_of(path)
    found = None if state is None else _known.get(state)
    if found is None:
        found = _facts_of(path)
        if state is not None:
            if len(_known) >= _MOST:
                _known.clear()
            _known[state] = found
    return found


def _facts_of(path: Path) -> MediaFacts:
    tracks = _tracks(path)
    pictures = [track for track in tracks if track["track_type"] in ("Video", "Image")]
    sounds = [track for track in tracks if track["track_type"] == "Audio"]
    if not pictures and not sounds:
        raise MediaError(path, "no picture or sound can be read in it; check that it plays")
    for track in pictures:
        believable(path, width=_whole(track["width"]), height=_whole(track["height"]))
    for track in sounds:
        believable(path, channels=_whole(track["channel_s"]), rate_hz=_whole(track["sampling_rate"]))
    moving = next((track for track in pictures if track["track_type"] == "Video"), None)
    picture = moving or next(iter(pictures), None)
    return MediaFacts(
        frame_rate=_frame_rate(moving) if moving else None,
        variable_rate=moving is not None and moving["frame_rate_mode"] == "VFR",
        width=_whole(picture["width"]) if picture else 0,
        height=_whole(picture["height"]) if picture else 0,
        rotation=_whole(picture["rotation"]) % 360 if picture else 0,
        has_sound=bool(sounds),
        interlaced=moving is not None and moving["scan_type"] in ("Interlaced", "MBAFF"),
        start_timecode=_start_timecode(path, tracks),
        made_by=_made_by(tracks),
        pixel_aspect=_pixel_aspect(picture),
    )


def _pixel_aspect(picture: _Track | None) -> Fraction:
    told = re.fullmatch(r"[0-9]{1,3}(\.[0-9]{1,6})?", str((picture or {}).get("pixel_aspect_ratio") or ""))
    return Fraction(told[0]) if told and Fraction(told[0]) > 0 else Fraction(1)


def _made_by(tracks: list[_Track]) -> str:
    """What a device writes alike into all its files. A rate that varies from file to file is left out."""
    rows = []
    for track in tracks:
        if track["track_type"] in ("General", "Video", "Audio"):
            told = [track[name] for name in _OF_DEVICE]
            if track["track_type"] == "Video" and track["frame_rate_mode"] != "VFR":
                told.append(track["frame_rate"])
            rows.append(":".join(str(value) for value in told if value is not None))
    return " | ".join(rows)


def _tracks(path: Path) -> list[_Track]:
    """What the headers say, by stream."""
    answer = _headers.ask(str(path.absolute()))
    if isinstance(answer, Trouble):
        raise MediaError(path, f"its headers cannot be read ({answer.why}); convert it first")
    tracks: list[_Track] = answer
    return tracks


def _start_timecode(path: Path, tracks: list[_Track]) -> str:
    """The label of the file's own track of timecode, where it has none that of its coded pictures."""
    labels = [
        (track["track_type"] == "Video", str(track["time_code_of_first_frame"]))
        for track in tracks
        if track["time_code_of_first_frame"]
    ]
    if labels:
        return min(labels, key=lambda label: label[0])[1]
    # Handed bytes alone, the library does not go back for the one label that such a track holds.
    return _decoded_timecode(path) if any(track["track_type"] == "Other" for track in tracks) else ""


def _decoded_timecode(path: Path) -> str:
    import av  # noqa: PLC0415 - heavy, and few files need it

    try:
        with open_media(path) as container:
            found = (stream.metadata.get("timecode", "") for stream in container.streams.data)
            return next(filter(None, found), "")
    except av.error.FFmpegError:
        return ""  # told where the file is decoded


def _whole(value: Any) -> int:  # noqa: ANN401 - headers give int, text like "2 / 1", or None
    first = str(value if value is not None else 0).split("/")[0].strip()
    try:
        return round(float(first))
    except (ValueError, OverflowError):  # no number, or an endless one
        return 0


def _frame_rate(track: _Track) -> Fraction | None:
    """Exact rate: the stored ratio, else the three decimals taken as the broadcast rate they round."""
    over, under = _whole(track["framerate_num"]), _whole(track["framerate_den"])
    if over and under:
        return Fraction(over, under)
    if not track["frame_rate"]:
        return None
    rounded = Fraction(str(track["frame_rate"]))
    for nominal in (24, 30, 48, 60, 120):
        if abs(rounded - Fraction(nominal * 1000, 1001)) <= Fraction(1, 1000):
            return Fraction(nominal * 1000, 1001)
    return rounded
