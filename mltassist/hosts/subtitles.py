"""Subtitles that go with a document: moved with the film, written as a new file beside the new one."""

from __future__ import annotations

from pathlib import Path

from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.document.load import Document
from mltassist.files import read_bytes
from mltassist.hosts.base import Host
from mltassist.hosts.parts import Parts
from mltassist.hosts.reading import beside
from mltassist.hosts.subtitletimes import SUFFIXES, kind_of, moved

_UNREAD = "they cannot be read as subtitles: their times were not moved with the film; move them by hand"


def move_subtitles(host: Host, parts: Parts, timeline: Element, at: int, by: int) -> None:
    """Lines at or after frame `at` move `by` frames; a line across it stays longer.

    Files beside the document are not touched: their new text waits in the document's companions until
    it is written. Text inside the document changes in place. What could not be read stays as it is; the
    document remembers its name as unmoved.
    """
    start_ms, shift_ms = (int(parts.rate.seconds(frame) * 1000) for frame in (at, by))
    unmoved = parts.document.unmoved
    for name in host.subtitle_files(parts, timeline):
        text = parts.document.companions.get(name)
        if text is None:
            try:
                # Read as bytes: a mark at the beginning and the ends of lines are to stay.
                text = read_bytes(beside(parts.document, name)).decode("utf-8")
            except (OSError, ValueError):  # not there, or not UTF-8
                unmoved[str(beside(parts.document, name))] = _UNREAD
                continue
        try:
            parts.document.companions[name] = moved(text, start_ms, shift_ms)
        except ValueError:
            unmoved[str(beside(parts.document, name))] = _UNREAD
    for element in timeline.iterchildren("filter"):
        text = properties.get(element, "text")
        if properties.get(element, "mlt_service") == "subtitle" and text:
            try:
                properties.put(element, "text", moved(text, start_ms, shift_ms))
            except ValueError:
                unmoved[f"{parts.document.path}: subtitles inside the document"] = _UNREAD


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
