"""Subtitles that go with a document: moved with the film, written as a new file beside the new one."""

from __future__ import annotations

from contextlib import suppress
from math import ceil
from pathlib import Path

from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.document.load import Document
from mltassist.files import here, read_bytes
from mltassist.hosts.base import Host, MovedFrame
from mltassist.hosts.parts import Parts
from mltassist.hosts.reading import beside
from mltassist.hosts.subtitletimes import SUFFIXES, kind_of, moved

_UNREAD = "they cannot be read as subtitles: their times were not moved with the film; move them by hand"


def move_subtitles(host: Host, parts: Parts, timeline: Element, place: MovedFrame) -> None:
    """Lines go where the frames have gone in which they begin and end.

    Files beside the document are not touched: their new text waits in the document's companions until
    it is written. Text inside the document changes in place. What could not be read stays as it is; the
    document remembers its name as unmoved.
    """

    def later_ms(at_ms: int) -> int:
        # The last frame that begins by then, its time being cut to milliseconds as it is in subtitles.
        frame = ceil((at_ms + 1) * parts.rate.fraction / 1000) - 1
        return int(parts.rate.seconds(place(frame) - frame) * 1000)

    unmoved = parts.document.unmoved
    for name in host.subtitle_files(parts, timeline):
        try:
            parts.document.companions[name] = moved(_text_of(parts.document, name), later_ms)
        except (OSError, ValueError):  # not there, not UTF-8, or no subtitles
            unmoved[str(beside(parts.document, name))] = _UNREAD
    for element in timeline.iterchildren("filter"):
        text = properties.get(element, "text")
        if properties.get(element, "mlt_service") == "subtitle" and text:
            try:
                properties.put(element, "text", moved(text, later_ms))
            except ValueError:
                unmoved[f"{parts.document.path}: subtitles inside the document"] = _UNREAD


def own_subtitles(host: Host, parts: Parts, timeline: Element) -> None:
    """Let a changed document have subtitles of its own: what is edited in them is not edited in the original.

    Its new files wait in the document's companions. What cannot be read as subtitles is left where it is.
    """
    for name in host.subtitle_files(parts, timeline):
        with suppress(OSError, ValueError):
            text = _text_of(parts.document, name)
            kind_of(text)  # it will be named by what it holds
            parts.document.companions[name] = text


def _text_of(document: Document, name: str) -> str:
    """The text of subtitles as it now is. Raises OSError or ValueError for none in UTF-8."""
    if name in document.companions:
        return document.companions[name]
    # Read as bytes: a mark at the beginning and the ends of lines are to stay.
    return read_bytes(here(beside(document, name))).decode("utf-8")


def place_companions(host: Host, document: Document, target: Path) -> dict[Path, str]:
    """Let the document name its companions after `target`; gives the files to write beside it.

    Of the name that the document had for one nothing is taken: its ending is that of what it holds.
    """
    if not document.companions:
        return {}
    parts = Parts(document)
    timeline = host.timeline(parts)
    names: dict[str, str] = {}
    files: dict[Path, str] = {}
    for number, (name, text) in enumerate(document.companions.items()):
        mark = f"-{number}" if number else ""
        path = target.resolve().parent / f"{target.name}{mark}{SUFFIXES[kind_of(text)]}"
        names[name] = str(path) if Path(name).is_absolute() else path.name
        files[path] = text
    if timeline is not None:
        host.rename_subtitles(parts, timeline, names)
    return files
