"""What a host editor's layout must answer, and how to write another.

A host knows one editor's document: where its timeline, bin, markers and groups are, how it writes a new
track and a new clip. It knows no policy: which shot goes where was decided before it is asked.

To add a host, derive from `Host` in a module of its own, set the class variables, answer the questions
below in the same order, and name the class in `mltassist.hosts.registry`, where the content of a document
decides whose it is. A generation of a host whose layout differs is a class of its own too; one that
differs in a few names is a table. No host imports another: what two have in common lies in modules that
belong to none (`tracks`, `bins`, `listed`, `lengths`, `sources`), or to all generations of one editor
(`kdenlive_shared`). What is alike for all is not asked: reading (`reading`), the edits (`writing`),
markers and groups once they are read. Last, write the layout in `tests/hosts/layouts` and name it in
`tests/hosts/generations.py`, or a new host's in `tests/hosts/films.py`: every test of hosts then runs on
it.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass
from typing import ClassVar

from lxml import etree
from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.document.placing import insert_after, insert_before
from mltassist.errors import TrackLocked
from mltassist.hosts.lengths import lengthen_film
from mltassist.hosts.parts import PRODUCERS, ROLE, Parts
from mltassist.hosts.stored import Grouped, Kept, StoredMarker
from mltassist.timeline.model import BinClip, TrackKind


@dataclass(frozen=True, slots=True)
class OurTrack:
    """A kind of track that we make. name: finds it again where properties are lost.

    work: what `ClearOurs` calls all that it is cleared with. above: role of the track right above which
    it is put; "" for the host's usual place. hidden: it is switched off when we make it. beside: its
    clips accompany those of another, and go with them unless they were changed themselves.
    """

    kind: TrackKind
    name: str
    work: str
    above: str = ""
    hidden: bool = False
    beside: bool = False


OUR_TRACKS = {
    "cover": OurTrack(TrackKind.PICTURE, "Cover (mltassist)", "cover"),
    "alternatives": OurTrack(
        TrackKind.PICTURE, "Alternatives (mltassist)", "cover", above="cover", hidden=True, beside=True
    ),
    "under": OurTrack(TrackKind.SOUND, "Sound under cover (mltassist)", "cover", beside=True),
    "joins": OurTrack(TrackKind.SOUND, "Joins (mltassist)", "joins"),
    "natural": OurTrack(TrackKind.SOUND, "Natural sound (mltassist)", "natural"),
    "natural picture": OurTrack(TrackKind.PICTURE, "Natural picture (mltassist)", "natural"),
}
"""Role → the tracks we make."""


MovedFrame = Callable[[int], int]
"""Gives where a frame of the timeline lies now."""
Mover = Callable[[int, int], tuple[int, int]]
"""Gives the new (track, start) of the clip that had this one."""


@dataclass(frozen=True, slots=True)
class Strip:
    """A user track as it stands in the document.

    mark: its <track> in the timeline; holder: the part with its properties and filters;
    playlists: where its entries are (two where the host overlaps clips that dissolve). switches: what says
    in `hide` whether it is switched off; off: what a track for pictures says there then. marked: what our own
    property on its holder says.
    """

    index: int
    mark: Element
    holder: Element
    playlists: tuple[Element, ...]
    kind: TrackKind
    name: str
    has_sound: bool
    locked: bool = False
    hidden: bool = False
    muted: bool = False
    switches: tuple[Element, ...] = ()
    off: str = "video"
    marked: str = ""

    def switch_off(self) -> None:
        """Hide a picture track, as the host's own button does."""
        for mark in self.switches:
            mark.set("hide", self.off)

    @property
    def role(self) -> str:
        """Role of a track of ours, else ""."""
        named = (role for role, track in OUR_TRACKS.items() if track.name == self.name)
        return self.marked or next(named, "")


def neighbour(strips: list[Strip], role: str, over: int | None = None) -> Strip | None:
    """The track right above which a new one of this role is put; None for the host's usual place.

    over: number of that track, for a role that belongs to no other.
    """
    above = OUR_TRACKS[role].above
    if above:
        return next((strip for strip in strips if strip.role == above), None)
    return next((strip for strip in strips if strip.index == over), None)


class Host(ABC):
    """One editor's document layout. Questions with an answer here need one only where the host differs."""

    name: ClassVar[str]
    ending: ClassVar[str] = ".mlt"
    """How the names of this host's files end."""
    caption: ClassVar[str]
    """Property of a part with the name that the editor sees on its clips."""
    record: ClassVar[str]
    """Property of `record_home` with the note of what we laid."""
    volume: ClassVar[Mapping[str, str]]
    """The properties of a volume filter that the host shows as its own."""
    placing: ClassVar[Mapping[str, str]]
    """The properties of a filter that places and sizes a picture, as the host shows it."""
    rectangle: ClassVar[str]
    """The property of that filter that holds the rectangle."""
    keys_from_source: ClassVar[bool] = False
    """Whether clip filters have no range and their keys are source frames."""
    private_parts: ClassVar[bool] = False
    """Whether every clip plays a part of its own, on which its filters hang."""
    marks_clips: ClassVar[bool] = False
    """Whether clips of the bin hold markers that `mark_clip` can add to."""

    # --- reading ---

    @abstractmethod
    def owns(self, root: Element) -> bool:
        """True when the document has this layout; judged by content, never by the file's name."""

    @abstractmethod
    def timeline(self, parts: Parts) -> Element | None:
        """The tractor of the edit to work on."""

    def sequences(self, parts: Parts) -> tuple[str, ...]:
        """Names of the edits in the document; none where it can hold only one."""
        return ()

    @abstractmethod
    def strips(self, parts: Parts, timeline: Element) -> list[Strip]:
        """The user tracks, lowest picture first, without background and preview."""

    @abstractmethod
    def bin_clips(self, parts: Parts) -> Iterator[tuple[Element, BinClip]]:
        """The clips of the bin with folder, tags and marked ranges; each with its producer or chain."""

    @abstractmethod
    def read_markers(self, parts: Parts, timeline: Element) -> tuple[StoredMarker | Kept, ...] | None:
        """The markers of the timeline as they are stored; None where they cannot be read."""

    def read_groups(self, parts: Parts, timeline: Element) -> tuple[Grouped, ...] | None:
        """The groups of clips as they are stored; None where they cannot be read."""
        return ()

    def subtitle_files(self, parts: Parts, timeline: Element) -> list[str]:
        """Names, as the document spells them, of the files that hold its subtitles."""
        return []

    def record_home(self, parts: Parts, timeline: Element) -> Element | None:
        """The part that keeps the note of what we laid when the host saves."""
        return timeline

    # --- writing ---

    @abstractmethod
    def make_strip(self, parts: Parts, timeline: Element, role: str, over: int | None = None) -> None:
        """Add our track of this role, with whatever the host wants a new track to have.

        over: number of the track right above which it goes; None: the host's usual place.
        """

    def count_track(self, parts: Parts, timeline: Element, index: int, by: int) -> None:
        """Bring stored numbers of tracks to one that came in at `index` (by=1), or was taken out there (-1).

        Nothing where the host stores none.
        """
        return

    @abstractmethod
    def new_entry(self, parts: Parts, part: Element, strip: Strip, *, picture: bool, sound: bool) -> Element:
        """An entry, still without range, that plays on `strip` the bin's `part`: picture, sound, or both."""

    @abstractmethod
    def write_markers(
        self, parts: Parts, timeline: Element, markers: tuple[StoredMarker | Kept, ...]
    ) -> None:
        """Store these in place of the markers that were read."""

    def mark_clip(self, parts: Parts, part: Element, at: int, text: str) -> bool:
        """Leave a marker of ours on a clip of the bin; False where its markers cannot be written."""
        return False

    def write_groups(self, parts: Parts, timeline: Element, groups: tuple[Grouped, ...]) -> None:
        """Store these in place of the groups that were read. Nothing where the host has no groups."""
        return

    def move_view(self, parts: Parts, timeline: Element, place: MovedFrame) -> None:
        """Playhead and zone go where their frames have gone. Nothing where the host stores none."""
        return

    def rename_subtitles(self, parts: Parts, timeline: Element, names: dict[str, str]) -> None:
        """Let the document name other subtitle files: old name to new. Nothing where it names none."""
        return

    def set_length(self, parts: Parts, timeline: Element, old: int, new: int) -> None:
        """Bring background and stored durations from `old` to `new` frames."""
        users = [strip.mark for strip in self.strips(parts, timeline)]
        lengthen_film(parts, timeline, old, new, users)

    # --- what follows from the answers ---

    def filter_home(self, parts: Parts, entry: Element) -> Element:
        """Where a filter on a clip hangs: its entry, or its own part."""
        part = parts.get(entry.get("producer")) if self.private_parts else None
        return entry if part is None else part

    def split_part(self, parts: Parts, entry: Element) -> str:
        """Id that the second half of a split entry plays: the same, or a part of its own."""
        part = parts.get(entry.get("producer"))
        if not self.private_parts or part is None or part.tag not in PRODUCERS:
            return entry.get("producer", "")
        return sibling_copy(parts, part, part.tag).get("id", "")


def locked(parts: Parts, strip: Strip) -> TrackLocked:
    """The error for an edit that would change a locked track."""
    return TrackLocked(
        parts.document.path, f"track {strip.index} ({strip.name or 'unnamed'}) is locked", "unlock it first"
    )


def entry_of(part: Element) -> Element:
    """A new entry that plays a part, still without range."""
    return etree.Element("entry", producer=part.get("id", ""))


def stands_after(part: Element, user: Strip) -> bool:
    """True where a top-level part is defined only after the playlist of a track."""
    parent, playlist = part.getparent(), user.playlists[0]
    if parent is None or parent is not playlist.getparent():
        return False
    return parent.index(part) > parent.index(playlist)


def sibling_copy(
    parts: Parts,
    part: Element,
    prefix: str,
    role: str = "",
    *,
    identity: str | None = None,
    user: Strip | None = None,
) -> Element:
    """A copy of a top-level part under a fresh id, right after it; marked as ours where a role is given.

    user: whose entries will play it. A sequence may stand before the bin's parts, and the engine drops
    entries whose part comes later.
    """
    copy = deepcopy(part)
    copy.set("id", identity or parts.fresh_id(prefix))
    if user is not None and stands_after(part, user):
        insert_before(user.playlists[0], copy)
    else:
        insert_after(part, copy)
    parts.know(copy)
    if role:
        properties.put(copy, ROLE, role)
    return copy
