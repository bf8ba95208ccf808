"""The bytes of a file as a reader of headers may see them: whatever names other files is blotted out.

The library that reads headers opens what lists, reference movies and MXF without essence name in their
turn, local or not, even where it is handed bytes alone, and has no switch against it.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, BinaryIO

from mltassist.files import open_ordinary

_LONGEST = 16
_REFERRING = re.compile(
    # QuickTime: an alias of another file among the references to data, whose flag does not say that it is
    # this one (ISO/IEC 14496-12, 8.7.2), and a compressed header, in which one could hide.
    rb"alis(?!\x00\x00\x00\x01)|cmov"
    # MXF: the key of a network locator (SMPTE ST 377-1, annex B), whatever its version.
    rb"|\x06\x0e\x2b\x34\x02\x53\x01.\x0d\x01\x01\x01\x01\x01[\x32\x33]\x00",
    re.DOTALL,
)
_LISTS = (b"<", b"#EXT", b"\xff\xfe", b"\xfe\xff")
"""How XML and playlists begin, in any encoding; no recording does. (UTF-8's mark is taken off before.)"""


FIELDS = (
    *(
        "track_type",
        "width",
        "height",
        "rotation",
        "pixel_aspect_ratio",
        "scan_type",
        "frame_rate",
        "frame_rate_mode",
    ),
    *("framerate_num", "framerate_den", "time_code_of_first_frame", "channel_s", "sampling_rate"),
    *("format", "format_profile", "bit_depth", "encoded_library_name", "writing_application"),
    *("make", "model", "comapplequicktimemake", "comapplequicktimemodel"),
)


def read_headers(name: str) -> list[dict[str, Any]]:
    """What the headers of a file say of each stream: of all fields those that are asked for.

    Raises OSError, RuntimeError, or ValueError for a list of other files. The library may never end, or ask
    for all memory there is: it is called in a process apart.
    """
    from pymediainfo import MediaInfo  # noqa: PLC0415 - loads a shared library, so only when asked

    with open_ordinary(Path(name)) as file:
        if is_list(file):
            raise ValueError("it is a list of other files, not a recording")
        parsed = MediaInfo.parse(Blotted(file))
    # With no options given a parsed object comes back, never text.
    return [{field: _plain(getattr(track, field)) for field in FIELDS} for track in parsed.tracks]


def _plain(value: Any) -> Any:  # noqa: ANN401 - headers give int, text, or None
    return value if value is None or isinstance(value, int) else str(value)


def is_list(file: BinaryIO) -> bool:
    """True for text that may name other files. The place in the file is its beginning afterwards."""
    file.seek(0)
    head = file.read(256).removeprefix(b"\xef\xbb\xbf").lstrip()
    file.seek(0)
    return head.startswith(_LISTS) or head[:2] in (b"<\0", b"\0<", b"#\0", b"\0#")


class Blotted:
    """A file read as it is, except that the names of parts that lead to other files read as zeros."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file

    def seek(self, place: int, whence: int = 0) -> int:
        """As of any file."""
        return self._file.seek(place, whence)

    def tell(self) -> int:
        """As of any file."""
        return self._file.tell()

    def read(self, size: int) -> bytes:
        """At most `size` bytes. A name that lies across an end of them is found all the same."""
        place = self._file.tell()
        before = min(place, _LONGEST - 1)
        self._file.seek(place - before)
        data = self._file.read(before + size + _LONGEST - 1)
        self._file.seek(min(place + size, place - before + len(data)))
        blotted = _REFERRING.sub(lambda found: bytes(len(found[0])), data)
        return blotted[before : before + size]
