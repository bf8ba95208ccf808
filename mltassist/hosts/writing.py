"""The edits carried out on a document, through any host."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import groupby

from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.document.load import Document
from mltassist.errors import NoSuchPlace, ProjectError
from mltassist.frames import Span, format_timecode
from mltassist.hosts import playlists
from mltassist.hosts.base import OUR_TRACKS, Host, Strip, locked
from mltassist.hosts.clearing import Clearing
from mltassist.hosts.closing import close_pause
from mltassist.hosts.curves import (
    fade_keys,
    hang_on_clip,
    hang_on_whole,
    plays_source,
    set_film_gain,
)
from mltassist.hosts.groups import link
from mltassist.hosts.levels import is_ours
from mltassist.hosts.markers import add_markers
from mltassist.hosts.nudging import nudge_joins
from mltassist.hosts.opening import open_pause
from mltassist.hosts.parts import PRODUCERS, ROLE, Parts, Spot
from mltassist.hosts.pushing import place
from mltassist.hosts.reading import main_timeline
from mltassist.hosts.records import Record, file_name, our_curves, store_record, stored_record
from mltassist.hosts.sources import source_of
from mltassist.hosts.subtitles import own_subtitles
from mltassist.timeline.changes import EditPoint, Nudged
from mltassist.timeline.earlier import earlier_of
from mltassist.timeline.edits import (
    CROSSING_FRAMES,
    FADE_DB,
    HOSTS_PLACE,
    AddMarker,
    AddTrack,
    ClearOurs,
    ClosePause,
    Edit,
    FadeJoin,
    LayNatural,
    LayShot,
    LayTone,
    LayUnder,
    MarkClip,
    MatchLevel,
    NudgeJoin,
    OpenPause,
    SetFilmGain,
    SetLevelCurve,
)
from mltassist.timeline.model import Laid, TrackKind
from mltassist.timeline.moves import Moves, moves_of_all

CURVES = ("duck", "join", "match")
"""Roles of the level curves on clips of the editor's that the next run makes anew."""


def apply(host: Host, document: Document, edits: Iterable[Edit]) -> None:
    """Carry out the edits in order, changing `document` in place.

    Raises TrackLocked, NoSuchPlace or ProjectError when one cannot be carried out; the document is
    then half changed and must be thrown away.
    """
    edits = tuple(edits)
    writer = _Writer(host, document)
    old = writer.content_length()
    for kind, row in groupby(edits, type):
        writer.carry_out_row(kind, row)
    writer.leave_record(moves_of_all(edits))
    host.set_length(writer.parts, writer.timeline, old, writer.content_length())
    if edits:
        own_subtitles(host, writer.parts, writer.timeline)


class _Writer:
    def __init__(self, host: Host, document: Document) -> None:
        self.host, self.document = host, document
        self.parts = Parts(document)
        self.parts.check_nesting()
        self.timeline = main_timeline(host, self.parts)
        self._bin: dict[str, Element] = {}
        self._record = stored_record(host, self.parts, self.timeline)
        self._changes = list(self._record.changes)
        for role in CURVES:
            for element, _ in our_curves(self.parts, self._record, role):
                # Known by its keys alone where the host has dropped the mark; the edits may move those.
                if not is_ours(element):
                    properties.put(element, ROLE, role)
        # Clips on our tracks that are not as we left them: the editor's now, wherever they move.
        # Held as elements: an id alone would outlive what it names.
        there = [row for row, _ in self._on_our_tracks()]
        earlier = [earlier_of(self._record.laid, there, role) for role in OUR_TRACKS]
        ours = self._record.laid.union(*(found.kept for found in earlier))
        self._by_hand = {
            id(spot.element): spot.element
            for row, spot in self._on_our_tracks()
            if self._record.known and row not in ours
        }
        self.clearing = Clearing(host, self.parts, self.timeline, self._record, self._by_hand)
        # Deleted by hand: remembered until something of ours lies there again.
        self._deleted = [row for found in earlier for row in found.deleted if row.role == "cover"]

    def _on_our_tracks(self) -> Iterator[tuple[Laid, Spot]]:
        for strip in self.strips():
            for playlist in strip.playlists if strip.role else ():
                for spot in self.parts.spots(playlist):
                    part = self.parts.get(spot.element.get("producer"))
                    if not spot.is_blank and part is not None:
                        first = spot.first + self.parts.begins(part)
                        name = file_name(source_of(self.parts, part).key)
                        yield Laid(strip.role, spot.start, spot.length, name, first), spot

    def leave_record(self, moves: Moves) -> None:
        """Note what is ours now, and what was deleted, for the next run."""
        laid = frozenset(row for row, spot in self._on_our_tracks() if id(spot.element) not in self._by_hand)
        taken = [Span(row.start, row.start + row.length) for row in laid if row.role == "cover"]
        for row in self._deleted:
            first = moves.frame(row.start)
            if not any(span.overlaps(Span(first, first + row.length)) for span in taken):
                laid |= {replace(row, start=first)}
        curves, fades, matches = (
            frozenset(curve for _, curve in our_curves(self.parts, self._record, role)) for role in CURVES
        )
        record = Record(laid, curves, fades, matches, tuple(self._changes))
        if laid or curves or fades or matches or self._changes or self._record.known:
            store_record(self.host, self.parts, self.timeline, record)

    def carry_out_row(self, kind: type[Edit], row: Iterable[Edit]) -> None:
        """Edits of one kind; where each would write all of a list anew, it is written once."""
        if kind is NudgeJoin:
            nudges = [edit for edit in row if isinstance(edit, NudgeJoin)]
            for nudge, before, after in nudge_joins(self.host, self.parts, self.timeline, nudges):
                self.remember_nudge(nudge, before, after)
        elif kind is AddMarker:
            marks = [(edit.at, edit.text) for edit in row if isinstance(edit, AddMarker)]
            add_markers(self.host, self.parts, self.timeline, marks)
        else:
            for edit in row:
                self.carry_out(edit)

    def carry_out(self, edit: Edit) -> None:  # noqa: PLR0912 - one for each kind
        match edit:
            case ClearOurs():
                self.clearing.clear(edit)
            case AddTrack():
                self.add_track(edit)
            case LayShot():
                self.lay_shot(edit)
            case LayNatural():
                self.lay_natural(edit)
            case LayUnder():
                self.lay_under(edit)
            case OpenPause():
                self._changes.append(open_pause(self.host, self.parts, self.timeline, edit))
            case ClosePause():
                self._changes = close_pause(self.host, self.parts, self.timeline, edit, self._changes)
            case FadeJoin():
                self.fade_join(edit)
            case LayTone():
                self.lay_sound(edit, Span(edit.at, edit.at + edit.length), edit.source_in, "joins")
            case MatchLevel():
                self.set_level_curve(edit.curve)
            case SetLevelCurve():
                self.set_level_curve(edit)
            case SetFilmGain():
                set_film_gain(self.host, self.timeline, edit.gain_db)
            case MarkClip():
                self.mark_clip(edit)

    def remember_nudge(
        self, edit: NudgeJoin, before: tuple[EditPoint, ...], after: tuple[EditPoint, ...]
    ) -> None:
        """Note a moved join; one that is moved back is forgotten."""
        undone = Nudged(-edit.before_by, -edit.after_by, before)
        if undone in self._changes:
            self._changes.reverse()
            self._changes.remove(undone)
            self._changes.reverse()
        else:
            self._changes.append(Nudged(edit.before_by, edit.after_by, after))

    # --- finding ---

    def strips(self) -> list[Strip]:
        return self.host.strips(self.parts, self.timeline)

    def content_length(self) -> int:
        return max(
            (
                spot.span.end
                for strip in self.strips()
                for playlist in strip.playlists
                for spot in self.parts.spots(playlist)
                if not spot.is_blank
            ),
            default=0,
        )

    def our_strip(self, role: str, over: int | None = None) -> Strip:
        """Our track of this role, made now if it is not there; right above track `over` where one is told."""
        if role not in OUR_TRACKS:
            known = ", ".join(OUR_TRACKS)
            raise ProjectError(
                self.document.path, f"no track of ours is called {role!r}", f"these are: {known}"
            )
        for _ in range(2):
            for strip in self.strips():
                if strip.role == role:
                    if strip.locked:
                        raise locked(self.parts, strip)
                    return strip
            self.host.make_strip(self.parts, self.timeline, role, over)
            self.clearing.hide_empty(role)
        raise ProjectError(self.document.path, f"no track for {OUR_TRACKS[role].name!r} could be added")

    def add_track(self, edit: AddTrack) -> None:
        strips = self.strips()
        if any(strip.role == edit.role for strip in strips):
            return
        if edit.above != HOSTS_PLACE and all(strip.index != edit.above for strip in strips):
            raise NoSuchPlace(self.document.path, f"there is no track {edit.above}")
        self.our_strip(edit.role, None if edit.above == HOSTS_PLACE else edit.above)

    def bin_part(self, key: str) -> Element:
        """The bin's part for a source, else any part that plays it."""
        if not self._bin:
            everything = [part for part in self.parts.by_id.values() if part.tag in PRODUCERS]
            in_bin = [part for part, _ in self.host.bin_clips(self.parts)]
            for part in (*in_bin, *everything):
                self._bin.setdefault(source_of(self.parts, part).key, part)
        if key not in self._bin:
            raise ProjectError(self.document.path, f"has no clip of {key}", "add it to the bin first")
        return self._bin[key]

    def timecode(self, frame: int) -> str:
        return format_timecode(frame, self.document.rate)

    # --- the edits ---

    def mark_clip(self, edit: MarkClip) -> None:
        part = self.bin_part(edit.source)
        if not self.host.mark_clip(self.parts, part, edit.source_in, edit.text):
            what = f"{file_name(edit.source)!r} takes no marker in the bin"
            raise ProjectError(self.document.path, what, "its list of markers cannot be written here")

    def lay_shot(self, edit: LayShot) -> None:
        span = Span(edit.at, edit.at + edit.length)
        spot = self.lay(self.our_strip(edit.track), edit.source, span, edit.source_in)
        if edit.push_in > 1 or edit.shape:
            place(self.host, self.parts, spot, shape=edit.shape, push_in=edit.push_in)

    def lay(self, strip: Strip, key: str, span: Span, source_in: int) -> Spot:
        """A clip of a source on a track of ours."""
        part = self.bin_part(key)
        lasts, end = source_of(self.parts, part).length, source_in + span.length
        if source_in < 0 or (lasts and end > lasts):
            since, until, whole, at = map(self.timecode, (source_in, end, lasts, span.start))
            what = (
                f"{file_name(key)!r} lasts {whole}: there is nothing from {since} to {until} to lay at {at}"
            )
            raise NoSuchPlace(self.document.path, what, "choose frames that it has")
        picture = strip.kind is TrackKind.PICTURE
        entry = self.host.new_entry(self.parts, part, strip, picture=picture, sound=not picture)
        first = source_in - self.parts.begins(part)
        self.parts.set_range(entry, first, span.length)
        if not playlists.fill(self.parts, strip.playlists[0], span.start, span.length, entry):
            raise NoSuchPlace(
                self.document.path,
                f"{self.timecode(span.start)} on track {strip.name!r} is taken",
                "let the earlier clips be cleared first",
            )
        return Spot(entry, span.start, span.length, first)

    def lay_natural(self, edit: LayNatural) -> None:
        picture = Span(edit.at, edit.at + edit.length)
        heard = picture.grown(edit.lead, edit.trail)
        shown = self.our_strip("natural picture")
        self.lay(shown, edit.source, picture, edit.source_in)
        strip = self.lay_sound(edit, heard, edit.source_in - edit.lead, "natural")
        shown = self.our_strip("natural picture")  # a new sound track may have moved it
        pair = ((shown.index, picture.start), (strip.index, heard.start))
        link(self.host, self.parts, self.timeline, pair)

    def lay_sound(
        self, edit: LayNatural | LayUnder | LayTone, heard: Span, source_in: int, role: str
    ) -> Strip:
        """The sound of an edit with its gain and fades; gives the track it is on."""
        strip = self.our_strip("joins" if isinstance(edit, LayTone) else edit.track)
        spot = self.lay(strip, edit.source, heard, source_in)
        keys = fade_keys(heard.length, edit.gain_db, edit.fade_in, edit.fade_out)
        hang_on_clip(self.host, self.parts, spot, keys, role)
        return strip

    def lay_under(self, edit: LayUnder) -> None:
        span = Span(edit.at, edit.at + edit.length)
        strip = self.lay_sound(edit, span, edit.source_in, "under")
        for shown in self.strips():  # after the sound: its new track may have moved that of the cover
            for playlist in shown.playlists if shown.role == "cover" else ():
                if any(spot.span == span and not spot.is_blank for spot in self.parts.spots(playlist)):
                    pair = ((shown.index, span.start), (strip.index, span.start))
                    link(self.host, self.parts, self.timeline, pair)

    def fade_join(self, edit: FadeJoin) -> None:
        """A fade on the clip before the join, and the head of what follows it on our own track."""
        following = self.found(edit.track, edit.at, edit.source)
        strip = following[0] if following is not None else self.editable(edit.track)
        spots = (spot for playlist in strip.playlists for spot in self.parts.spots(playlist))
        spot = next((s for s in spots if s.span.end == edit.at and not s.is_blank), None)
        if following is None or spot is None or spot.length < CROSSING_FRAMES:
            raise NoSuchPlace(
                self.document.path, f"no clip ends at {self.timecode(edit.at)} on track {strip.name!r}"
            )
        hang_on_clip(
            self.host,
            self.parts,
            spot,
            [(spot.length - CROSSING_FRAMES, 0.0), (spot.length - 1, FADE_DB)],
            "join",
        )
        head = LayTone(
            edit.at - CROSSING_FRAMES,
            CROSSING_FRAMES,
            edit.source,
            edit.source_in - CROSSING_FRAMES,
            edit.reason,
            edit.gain_db,
            fade_in=CROSSING_FRAMES - 1,
            fade_out=0,
        )
        self.carry_out(head)

    def found(self, index: int, at: int, source: str) -> tuple[Strip, list[Spot]] | None:
        """The clip that begins at a frame on the track with this number, and is heard where any is.

        Where a source is named it plays that; it may then be the only one so on another of the editor's
        tracks. What a cut has left of a clip that dissolves into it begins there with it.
        Raises TrackLocked where its track is locked.
        """
        rows = [
            (strip, spot)
            for strip in self.strips()
            if strip.index == index or (source and not strip.role)
            for playlist in strip.playlists
            for spot in self.parts.spots(playlist)
            if spot.start == at and plays_source(self.parts, spot, source)
        ]
        # The picture of a clip may begin there too, on the very number that its sound had.
        rows = [row for row in rows if row[0].has_sound] or rows
        own = [row for row in rows if row[0].index == index]
        if not own and len(rows) != 1:
            return None
        strip = (own or rows)[0][0]
        if strip.locked:
            raise locked(self.parts, strip)
        return strip, [spot for other, spot in own or rows if other is strip]

    def editable(self, index: int) -> Strip:
        """The track with this number. Raises NoSuchPlace, TrackLocked."""
        strip = next((s for s in self.strips() if s.index == index), None)
        if strip is None:
            raise NoSuchPlace(self.document.path, f"there is no track {index}")
        if strip.locked:
            raise locked(self.parts, strip)
        return strip

    def set_level_curve(self, edit: SetLevelCurve) -> None:
        found = self.found(edit.track, edit.at, edit.source)
        if found is None:
            name = self.editable(edit.track).name
            what = f"no clip starts at {self.timecode(edit.at)} on track {name!r}"
            raise NoSuchPlace(self.document.path, what)
        keys = sorted({frame - edit.at: gain for frame, gain in edit.keys}.items())
        for spot in found[1]:
            hang_on_whole(self.host, self.parts, spot, edit, keys)
