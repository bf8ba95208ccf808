"""What a host editor's layout must answer, and how to write another.

A host knows one editor's document: where its timeline, bin and guides are, how it writes a new track
and a new clip. It knows no policy: which shot goes where was decided before it is asked. To add one,
derive from `Host` in a module of its own, answer every question below in the same order, and name the
class in `mltassist.hosts.registry`. Reading (`reading.py`) and the edits (`writing.py`) are shared.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from typing import ClassVar

from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.errors import TrackLocked
from mltassist.hosts.levels import ROLE
from mltassist.hosts.parts import Parts, insert_after
from mltassist.timeline.model import BinClip, Guide, TrackKind


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


GUIDE_PREFIX = "mltassist: "
"""Begins the text of every guide of ours, which is all that survives in every host."""


Mover = Callable[[int, int], tuple[int, int]]
"""Gives the new (track, start) of the clip that had this one."""


@dataclass(frozen=True, slots=True)
class Strip:
    """A user track as it stands in the document.

    mark: its <track> in the timeline; holder: the part with its properties and filters;
    playlists: where its entries are (two where the host overlaps clips that dissolve).
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

    @property
    def role(self) -> str:
        """Role of a track of ours, else ""."""
        if found := properties.get(self.holder, ROLE):
            return found
        return next((role for role, track in OUR_TRACKS.items() if track.name == self.name), "")


def neighbour(strips: list[Strip], role: str) -> Strip | None:
    """The track right above which a new one of this role is put; None for the host's usual place."""
    above = OUR_TRACKS[role].above
    return next((strip for strip in strips if strip.role == above), None) if above else None


def playlist_strip(
    index: int, mark: Element, holder: Element, *, sound: bool, name: str, locked: bool
) -> Strip:
    """A track that is a plain playlist; `hide` only says which of its halves is switched off."""
    hide = mark.get("hide", "")
    muted = hide in ("audio", "both")
    return Strip(
        index=index,
        mark=mark,
        holder=holder,
        playlists=(holder,),
        kind=TrackKind.SOUND if sound else TrackKind.PICTURE,
        name=name,
        has_sound=not muted,
        locked=locked,
        hidden=not sound and hide in ("video", "both"),
        muted=muted,
    )


class Host(ABC):
    """One editor's document layout."""

    name: ClassVar[str]
    ending: ClassVar[str] = ".mlt"
    """How the names of this host's files end."""

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
    def bin_parts(self, parts: Parts) -> Iterator[tuple[Element, Element | None]]:
        """The producers or chains of the bin's clips, each with its entry there where it has one."""

    @abstractmethod
    def bin_clip(self, parts: Parts, part: Element, entry: Element | None) -> BinClip:
        """One clip of the bin with its folder, tags and marked ranges."""

    @abstractmethod
    def caption(self, part: Element, values: Mapping[str, str]) -> str:
        """The name the editor sees on a clip; `values` are all properties of its part."""

    @abstractmethod
    def guides(self, parts: Parts, timeline: Element) -> tuple[Guide, ...]:
        """Guides on the timeline, in order."""

    @abstractmethod
    def linked(self, parts: Parts, timeline: Element) -> tuple[tuple[tuple[int, int], ...], ...]:
        """Picture and sound of one clip, each as (track, start)."""

    def grouped(self, parts: Parts, timeline: Element) -> tuple[tuple[int, int], ...]:
        """Every clip a group names, as (track, start). None where the host has no groups."""
        return ()

    def subtitle_files(self, parts: Parts, timeline: Element) -> list[str]:
        """Names, as the document spells them, of the files that hold its subtitles."""
        return []

    # --- writing ---

    @abstractmethod
    def make_strip(self, parts: Parts, timeline: Element, role: str) -> None:
        """Add our track of this role, with whatever the host wants a new track to have."""

    def switch_off(self, strip: Strip) -> None:
        """Hide a picture track, as the host's own button does."""
        strip.mark.set("hide", "video")

    @abstractmethod
    def clip_part(self, parts: Parts, part: Element, strip: Strip, *, picture: bool, sound: bool) -> str:
        """Id of a copy of the bin's `part` that plays on `strip` its picture, its sound, or both."""

    def dress_entry(self, entry: Element, part: Element) -> None:
        """Give a new entry what the host writes into its own. Nothing by default."""
        return

    def split_part(self, parts: Parts, entry: Element) -> str:
        """Id that the second half of a split entry plays; the same part unless the host keeps one each."""
        return entry.get("producer", "")

    @abstractmethod
    def filter_home(self, parts: Parts, entry: Element) -> Element:
        """Where a filter on a clip hangs: its entry or its part."""

    @abstractmethod
    def level_properties(self) -> dict[str, str]:
        """The properties of a volume filter that the host shows as its own."""

    def filter_keys_from_source(self) -> bool:
        """True when clip filters have no range and their keys are source frames."""
        return False

    @abstractmethod
    def add_guide(self, parts: Parts, timeline: Element, at: int, text: str) -> None:
        """Put a guide of ours on the timeline; its text begins with `GUIDE_PREFIX`."""

    def add_guides(self, parts: Parts, timeline: Element, guides: Sequence[tuple[int, str]]) -> None:
        """Put several guides of ours on the timeline, each given as (frame, text)."""
        for at, text in guides:
            self.add_guide(parts, timeline, at, text)

    @abstractmethod
    def drop_our_guides(self, parts: Parts, timeline: Element) -> None:
        """Take away the guides whose text begins with `GUIDE_PREFIX`."""

    @abstractmethod
    def move_guides(self, parts: Parts, timeline: Element, at: int, by: int) -> None:
        """Guides at or after `at` move `by` frames, with all that the host stores in them."""

    def link(self, parts: Parts, timeline: Element, clips: tuple[tuple[int, int], ...]) -> None:
        """Link picture and sound, each given as (track, start). Nothing where the host has no links."""
        return

    def move_links(self, parts: Parts, timeline: Element, change: Mover) -> None:
        """Groups name their clips by position, which `change` gives anew. Nothing without groups."""
        return

    def drop_links(self, parts: Parts, timeline: Element, track: int) -> None:
        """Forget the clips of a track of ours that was emptied. Nothing where the host has no links."""
        return

    def rename_subtitles(self, parts: Parts, timeline: Element, names: dict[str, str]) -> None:
        """Let the document name other subtitle files: old name to new. Nothing where it names none."""
        return

    @abstractmethod
    def record(self, parts: Parts, timeline: Element) -> str | None:
        """The note of what we laid, from a place that survives the host's own saving."""

    @abstractmethod
    def put_record(self, parts: Parts, timeline: Element, text: str) -> None:
        """Leave the note of what we laid."""

    @abstractmethod
    def set_length(self, parts: Parts, timeline: Element, old: int, new: int) -> None:
        """Bring background and stored durations from `old` to `new` frames."""


def locked(parts: Parts, strip: Strip) -> TrackLocked:
    """The error for an edit that would change a locked track."""
    return TrackLocked(
        parts.document.path, f"track {strip.index} ({strip.name or 'unnamed'}) is locked", "unlock it first"
    )


def sibling_copy(
    parts: Parts, part: Element, prefix: str, role: str = "", *, identity: str | None = None
) -> Element:
    """A copy of a top-level part under a fresh id, right after it; marked as ours where a role is given."""
    copy = deepcopy(part)
    copy.set("id", identity or parts.fresh_id(prefix))
    insert_after(part, copy)
    parts.know(copy)
    if role:
        properties.put(copy, ROLE, role)
    return copy
