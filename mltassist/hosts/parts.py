"""A document's parts by id, its time notation, and the grammar of playlists all layouts share."""

from __future__ import annotations

import os
from collections.abc import Callable, Container, Iterator
from functools import cached_property
from pathlib import Path
from typing import NamedTuple, TypeVar

from lxml.etree import _Element as Element

from mltassist.document import keyframes, paths, properties, times
from mltassist.document.keyframes import Key
from mltassist.document.load import Document
from mltassist.document.placing import detach, insert_before
from mltassist.errors import TimeError
from mltassist.frames import Span
from mltassist.hosts.nesting import check_nesting

PRODUCERS = ("producer", "chain")
"""What plays a file or something made by the engine."""
PLAYABLE = ("producer", "chain", "playlist", "tractor", "multitrack")
"""Whatever an entry or a track may name."""
ROLE = "mltassist:role"
"""Property that marks what is ours."""

_Told = TypeVar("_Told")


class Spot(NamedTuple):
    """An entry or blank of a playlist where the engine plays it. `first` is the entry's own in."""

    element: Element
    start: int
    length: int
    first: int

    @property
    def span(self) -> Span:
        """Frames of the playlist."""
        return Span(self.start, self.start + self.length)

    @property
    def is_blank(self) -> bool:
        """True for a blank."""
        return bool(self.element.tag == "blank")


class Parts:
    """Index of one document: what has which id, how times are written, where entries lie.

    It must be told of every part that is added (`add`), so that ids stay unique.
    """

    def __init__(self, document: Document) -> None:
        self.document = document
        self.root: Element = document.root
        self.rate = document.rate
        self._times: dict[str, int] = {}
        self._files: dict[tuple[str, str], Path | None] = {}
        self.by_id: dict[str, Element] = {}
        self.warnings: dict[str, None] = {}
        self._nests_well = False
        for element in self.root:
            if element.tag in PLAYABLE:
                self.by_id.setdefault(element.get("id", ""), element)
        self.style = times.style_of(self._sample_time())

    @cached_property
    def _taken(self) -> set[str]:
        """Ids of all that the document holds; only who adds to it needs them."""
        return {name for element in self.root.iter() if (name := element.get("id"))}

    def check_nesting(self) -> None:
        """What `nesting.check_nesting` says, once: for whoever goes from a part into those that it plays."""
        if not self._nests_well:
            check_nesting(self.document)
            self._nests_well = True

    def _sample_time(self) -> str:
        """Some time the document has: what the host writes for others is copied from it."""
        for element in self.root.iter("entry", "blank", *PRODUCERS, "tractor"):
            for name in ("out", "length"):
                if text := element.get(name):
                    return text
        return "0"

    @cached_property
    def folder(self) -> Path:
        """The folder from which relative names of media count."""
        return paths.base(self.document)

    def file(self, resource: str, service: str = "") -> Path | None:
        """The file a resource names (see `mltassist.document.paths`), without needless steps in its name."""
        known = self._files.get((resource, service), self)
        if not isinstance(known, Parts):
            return known
        path = paths.resolve(self.document, resource, service, folder=self.folder)
        # One file, one key, however its name is spelt.
        found = None if path is None else Path(os.path.normpath(path))
        self._files[resource, service] = found
        return found

    # --- times ---

    def frames(self, text: str | None, missing: int = 0) -> int:
        """Read a time value; `missing` where there is none or it cannot be read."""
        if text is None:
            return missing
        found = self._times.get(text)
        if found is None:
            try:
                found = self._times[text] = times.parse(text, self.rate)
            except TimeError:
                return missing
        return found

    def keys(self, text: str) -> tuple[Key, ...]:
        """The keys of an animated value; none where they cannot be read, of which whoever reads is warned."""
        try:
            return keyframes.parse(text, self.rate)
        except TimeError:
            self.warnings[f"times in {text!r:.60} cannot be read: the value is left out of account"] = None
            return ()

    def write(self, frame: int) -> str:
        """A time value in the notation of this document."""
        return times.write(frame, self.rate, self.style)

    # --- ids ---

    def get(self, identity: str | None) -> Element | None:
        """The part an entry or track names."""
        return None if identity is None else self.by_id.get(identity)

    def fresh_id(self, prefix: str) -> str:
        """An id nothing in the document has: the prefix with the next free number."""
        number = 0
        while f"{prefix}{number}" in self._taken:
            number += 1
        self._taken.add(f"{prefix}{number}")
        return f"{prefix}{number}"

    def add(self, element: Element, before: Element) -> None:
        """Put a new part (with its id) among the top-level ones: it must precede whoever names it."""
        insert_before(before, element)
        self.know(element)

    def know(self, element: Element) -> None:
        """Take note of a part that has been put into the document."""
        identity = element.get("id", "")
        self.by_id[identity] = element
        self._taken.add(identity)

    def ours(self, role: str) -> list[Element]:
        """Producers and chains that an edit of ours made for this role."""
        return [
            part
            for part in self.by_id.values()
            if part.tag in PRODUCERS and properties.get(part, ROLE) == role
        ]

    def remove(self, element: Element) -> None:
        """Take a top-level part away. Its id is free again, so that the same work gives the same ids."""
        self.by_id.pop(element.get("id", ""), None)
        self._taken.discard(element.get("id", ""))
        detach(element)

    # --- playlists ---

    def begins(self, part: Element) -> int:
        """First frame of a producer that is played: what lies before its beginning, the engine leaves out."""
        return max(0, self.frames(part.get("in")))

    def length_of(self, part: Element | None) -> int:
        """Frames that a producer, playlist or tractor lasts when an entry names no out.

        Raises ProjectError or HostileDocument where what plays others plays itself, or nests without measure.
        """
        if part is None:
            return 0
        if part.tag in PRODUCERS:
            if out := part.get("out"):
                return self.frames(out) - self.begins(part) + 1
            return self.frames(properties.get(part, "length"))
        self.check_nesting()
        if part.tag == "playlist":
            return sum(spot.length for spot in self.spots(part))
        return max(
            (self.length_of(self.get(track.get("producer"))) for track in part.iter("track")), default=0
        )

    def spots(self, playlist: Element) -> Iterator[Spot]:
        """Entries and blanks in order. Entries that name nothing are skipped, as the engine does."""
        at = 0
        for element in playlist:
            if element.tag == "entry":
                part = self.get(element.get("producer"))
                if part is None:
                    continue
                first, length = self._range(element, part)
            elif element.tag == "blank":
                first, length = 0, self._empty(element)
            else:
                continue
            yield Spot(element, at, length, first)
            at += length

    def rows(
        self, playlist: Element, told: Callable[[Element], _Told | None], apart: Container[Element] = ()
    ) -> tuple[list[tuple[int, int, int, _Told | None]], dict[int, tuple[Element, Element]]]:
        """Like `spots`, as bare rows: start, length, first, and what is told of the part; no empty ones.

        Besides, entries with their parts by the number of their row: those of which nothing is told, and
        those apart. A long film has tens of thousands of few parts: each is asked for once, and times that
        were read before are looked up without a call.
        """
        at = 0
        known, by_id = self._times, self.by_id
        of_part: dict[Element, _Told | None] = {}
        rows: list[tuple[int, int, int, _Told | None]] = []
        others: dict[int, tuple[Element, Element]] = {}
        add = rows.append
        for element in playlist:
            tag = element.tag
            if tag == "entry":
                get = element.get
                part = by_id.get(get("producer"))  # type: ignore[arg-type]
                if part is None:
                    continue
                try:
                    first = known[get("in")]  # type: ignore[index]
                    length = known[get("out")] - first + 1  # type: ignore[index]
                except KeyError:
                    first, length = self._range(element, part)
                if first < 0 or length <= 0:
                    first, length = self._range(element, part)
                try:
                    one = of_part[part]
                except KeyError:
                    one = of_part[part] = told(part)
                if one is None or (apart and element in apart):
                    others[len(rows)] = element, part
                add((at, length, first, one))
            elif tag == "blank":
                length = self._empty(element)
                if length:
                    add((at, length, 0, None))
            else:
                continue
            at += length
        return rows, others

    def _range(self, entry: Element, part: Element) -> tuple[int, int]:
        """The first frame that an entry plays of its part, and for how long; at least one frame."""
        out = entry.get("out")
        first = self.frames(entry.get("in"))
        last = self.frames(out) if out else self.length_of(part) - 1
        if not 0 <= first <= last:
            first, last = sorted((first, last))
            if first < 0:  # the engine plays from the first frame on
                first, last = 0, max(0, last)
        return first, last - first + 1

    def _empty(self, blank: Element) -> int:
        """Frames of a blank; one of less than nothing the engine leaves out."""
        text = blank.get("length")
        return max(0, self._times[text] if text in self._times else self.frames(text))

    def set_range(self, entry: Element, first: int, length: int) -> None:
        """Make an entry (or any part with in and out) play `length` frames from its own frame `first`."""
        entry.set("in", self.write(first))
        entry.set("out", self.write(first + length - 1))
