"""Our work of an earlier run taken out of a document; what the editor has made his own since stays."""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Iterable
from dataclasses import dataclass
from functools import partial

from lxml.etree import _Element as Element

from mltassist.document.placing import detach
from mltassist.hosts import playlists
from mltassist.hosts.base import OUR_TRACKS, Host, Strip
from mltassist.hosts.curves import drop_film_gain
from mltassist.hosts.groups import drop_links
from mltassist.hosts.markers import drop_our_markers
from mltassist.hosts.nesting import all_played
from mltassist.hosts.parts import PRODUCERS, Parts, Spot
from mltassist.hosts.records import Record, our_curves
from mltassist.hosts.sources import source_of
from mltassist.hosts.tracks import drop_track
from mltassist.timeline.edits import ClearOurs


@dataclass(frozen=True, slots=True)
class Clearing:
    """What is asked where work of ours is taken out.

    record: what we left. by_hand: by `id`, entries on our tracks that are not as we left them.
    """

    host: Host
    parts: Parts
    timeline: Element
    record: Record
    by_hand: Container[int]

    def clear(self, edit: ClearOurs) -> None:
        """Take out what the edit names."""
        if edit.what == "markers":
            drop_our_markers(self.host, self.parts, self.timeline)
        elif edit.what == "tracks":
            self.drop_empty_tracks()
        elif edit.what in ("duck", "levels", "gain"):
            if edit.what != "gain":
                self.drop_curves("duck")
            if edit.what != "levels":
                drop_film_gain(self.timeline)
        else:
            if edit.what == "natural":
                self.drop_curves("fade")
            if edit.what == "joins":
                self.drop_curves("join")
                self.drop_curves("match")
            roles = [role for role, track in OUR_TRACKS.items() if track.work == edit.what]
            removed: list[Element] = []
            for strip in self.host.strips(self.parts, self.timeline):
                if strip.role in roles:
                    doomed = partial(self.is_cleared, edit, strip.role)
                    for playlist in strip.playlists:
                        removed += playlists.clear(self.parts, playlist, doomed)
                    drop_links(self.host, self.parts, self.timeline, strip.index)
                    self.hide_empty(strip.role)
            self.drop_unplayed([part for role in roles for part in self.parts.ours(role)])
            self.drop_unplayed(self.copies(removed))

    def drop_empty_tracks(self) -> None:
        """Take out our tracks on which nothing lies, with what was made for them; locked ones stay."""
        for role in OUR_TRACKS:
            for strip in self.host.strips(self.parts, self.timeline):
                if strip.role == role and not strip.locked and self.is_empty(strip):
                    drop_track(self.host, self.parts, self.timeline, strip)

    def is_empty(self, strip: Strip) -> bool:
        """True where no clip lies on a track."""
        return all(spot.is_blank for playlist in strip.playlists for spot in self.parts.spots(playlist))

    def drop_curves(self, role: str) -> None:
        """Take our curves off the clips, but for those on locked tracks."""
        fixed = {
            home
            for strip in self.host.strips(self.parts, self.timeline)
            if strip.locked
            for playlist in strip.playlists
            for spot in self.parts.spots(playlist)
            for home in (spot.element, self.host.filter_home(self.parts, spot.element))
        }
        for element, _ in list(our_curves(self.parts, self.record, role)):
            if element.getparent() not in fixed:
                detach(element)

    def is_cleared(self, edit: ClearOurs, role: str, spot: Spot) -> bool:
        """True for a clip that goes. What lies beside a clip that is kept goes unless changed itself."""
        as_laid = OUR_TRACKS[role].beside and id(spot.element) not in self.by_hand
        return as_laid or spot.start not in edit.keep

    def drop_unplayed(self, candidates: Iterable[Element]) -> None:
        """Take away those of the parts that no entry and no track names any more."""
        named = all_played(self.parts.root)
        for part in candidates:
            if part.get("id") not in named:
                self.parts.remove(part)

    def copies(self, entries: Iterable[Element]) -> list[Element]:
        """The parts that entries played, where another part plays the same: hosts drop our marks on them."""
        ids = {entry.get("producer", "") for entry in entries}
        played = [
            part for name in ids if (part := self.parts.get(name)) is not None and part.tag in PRODUCERS
        ]
        if not played:
            return []
        keys = Counter(
            source_of(self.parts, part).key for part in self.parts.by_id.values() if part.tag in PRODUCERS
        )
        return [part for part in played if keys[source_of(self.parts, part).key] > 1]

    def hide_empty(self, role: str) -> None:
        """A track that begins switched off is so again once it is empty, whatever the editor did with it."""
        for strip in self.host.strips(self.parts, self.timeline):
            if strip.role == role and OUR_TRACKS[role].hidden and self.is_empty(strip):
                strip.switch_off()
