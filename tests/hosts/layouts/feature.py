"""A small film with one thing that not every project has, and what a correct reading must say of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

from lxml import etree

from mltassist.demofilm.film import Film
from mltassist.demofilm.markup import document_bytes


class Feature(NamedTuple):
    """suffix: end of the file name. write: gives the document of the small film.

    says: plain data, by topic; times are frames. Topics:

    - ``clips``: track number, start, length, file, first source frame of all clips of those tracks
    - ``nested``: the same of a sequence used as a clip: outer (track, start, length, first frame)
    - ``dissolves``: track number, start, length, outgoing file, incoming file
    - ``speeds``: (track number, start) → speed as a decimal text
    - ``markers``: (frame, text), sorted. ``categories``: names. ``markers``: file → (frame, text)
    - ``linked``: sets of (track number, start)
    - ``gain_db``: (track number, start) → steady gain. ``levels``: (track number, start) → (timeline
      frame, gain in dB) keys. ``fades``: (track number, start) → frames (in, out)
    - ``muted``, ``hidden``, ``locked``: track numbers. ``names``: track names, lowest first
    - ``folders``: file → path of bin folders. ``zones``: file → (first, last) frame
    - ``paths``: file that a document names → file that it stands for. ``side``: path of a side file
    - ``ignored``: track numbers that are not the user's

    beside: further files, by path from the document's folder.
    plays: False when the engine cannot play it everywhere.
    """

    suffix: str
    write: Callable[[Film], bytes]
    says: Mapping[str, object]
    beside: Mapping[str, bytes] = {}
    plays: bool = True


def changed(
    base: Callable[[Film], etree._Element], change: Callable[[Film, etree._Element], None]
) -> Callable[[Film], bytes]:
    """A writer that makes a tree and then changes it."""

    def write(film: Film) -> bytes:
        root = base(film)
        change(film, root)
        return document_bytes(root)

    return write


def parsed(writer: Callable[[Film], bytes]) -> Callable[[Film], etree._Element]:
    """A writer's document as a tree."""
    return lambda film: etree.fromstring(writer(film))
