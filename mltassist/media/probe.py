"""What a media file is: length, picture and sound streams, read from its headers."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from queue import Empty, Queue
from threading import Thread
from typing import Any

from mltassist.errors import MediaError
from mltassist.files import open_ordinary
from mltassist.media.headers import Blotted, is_list
from mltassist.media.opening import open_media, ordinary_media

LONGEST_S = 10
"""Headers are read in milliseconds; from a slow disk of the network in a second or two."""


@dataclass(frozen=True, slots=True)
class MediaFacts:
    """The facts of one file.

    `frame_rate` (frames per second) is None without moving picture or where the file does not say. `width`
    and `height` are the stored pixels, before the clockwise `rotation` in degrees (0, 90, 180, 270) that a
    player applies. `start_timecode` is the label of the first frame, as the camera wrote it, "" where there
    is none.
    """

    frame_rate: Fraction | None
    variable_rate: bool
    width: int
    height: int
    rotation: int
    has_sound: bool
    interlaced: bool = False
    start_timecode: str = ""


def probe(path: Path) -> MediaFacts:
    """Read the facts of a media file.

    Raises SourceMissing when there is no file, MediaError when nothing in it can be read.
    """
    ordinary_media(path)
    tracks = _tracks(path)
    pictures = [track for track in tracks if track.track_type in ("Video", "Image")]
    sounds = [track for track in tracks if track.track_type == "Audio"]
    if not pictures and not sounds:
        raise MediaError(path, "no picture or sound can be read in it; check that it plays")
    moving = next((track for track in pictures if track.track_type == "Video"), None)
    picture = moving or next(iter(pictures), None)
    return MediaFacts(
        frame_rate=_frame_rate(moving) if moving else None,
        variable_rate=moving is not None and moving.frame_rate_mode == "VFR",
        width=_whole(picture.width) if picture else 0,
        height=_whole(picture.height) if picture else 0,
        rotation=round(float(picture.rotation or 0)) % 360 if picture else 0,
        has_sound=bool(sounds),
        interlaced=moving is not None and moving.scan_type in ("Interlaced", "MBAFF"),
        start_timecode=_start_timecode(path, tracks),
    )


def _tracks(path: Path) -> list[Any]:
    """What the headers say, by stream. On some damaged files the library never ends: it is not waited for."""
    answers: Queue[list[Any] | Exception] = Queue()

    def read() -> None:
        try:
            answers.put(_parsed(path))
        except Exception as problem:  # raised again below, where somebody waits for it
            answers.put(problem)

    Thread(target=read, daemon=True).start()
    try:
        answer = answers.get(timeout=LONGEST_S)
    except Empty:
        raise MediaError(path, f"its headers cannot be read within {LONGEST_S} s; convert it first") from None
    if isinstance(answer, OSError | RuntimeError) and not isinstance(answer, MediaError):
        raise MediaError(path, f"its headers cannot be read ({answer})") from answer
    if isinstance(answer, Exception):
        raise answer
    return answer


def _parsed(path: Path) -> list[Any]:
    from pymediainfo import MediaInfo  # noqa: PLC0415 - loads a shared library, so only when asked

    with open_ordinary(path) as file:
        if is_list(file):
            raise MediaError(path, "it is a list of other files, not a recording; convert it first")
        parsed = MediaInfo.parse(Blotted(file))
    # With no options given a parsed object comes back, never text.
    return list(parsed.tracks)


def _start_timecode(path: Path, tracks: list[Any]) -> str:
    """The label of the file's own track of timecode, where it has none that of its coded pictures."""
    labels = [
        (track.track_type == "Video", str(track.time_code_of_first_frame))
        for track in tracks
        if track.time_code_of_first_frame
    ]
    if labels:
        return min(labels, key=lambda label: label[0])[1]
    # Handed bytes alone, the library does not go back for the one label that such a track holds.
    return _decoded_timecode(path) if any(track.track_type == "Other" for track in tracks) else ""


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
        return int(float(first))
    except ValueError:
        return 0


def _frame_rate(track: Any) -> Fraction | None:  # noqa: ANN401 - untyped library object
    """Exact rate: the stored ratio, else the three decimals taken as the broadcast rate they round."""
    over, under = _whole(track.framerate_num), _whole(track.framerate_den)
    if over and under:
        return Fraction(over, under)
    if not track.frame_rate:
        return None
    rounded = Fraction(str(track.frame_rate))
    for nominal in (24, 30, 48, 60, 120):
        if abs(rounded - Fraction(nominal * 1000, 1001)) <= Fraction(1, 1000):
            return Fraction(nominal * 1000, 1001)
    return rounded
