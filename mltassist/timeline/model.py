"""The timeline as plain, immutable data.

Frames are integers at the project's rate, spans are half-open, and track numbers are the engine's:
0 is the background, 1 the lowest track above it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from pathlib import Path
from typing import Any

from mltassist.frames import Rate, Span
from mltassist.timeline.blend import Blend


class TrackKind(StrEnum):
    """What a track is for. A picture track may carry sound as well."""

    PICTURE = "picture"
    SOUND = "sound"


class SourceKind(StrEnum):
    """What stands behind a clip."""

    FILE = "file"
    IMAGE = "image"
    COLOUR = "colour"
    TITLE = "title"
    SEQUENCE = "sequence"
    OTHER = "other"


class Coverage(StrEnum):
    """How much a picture hides of what lies beneath it."""

    WHOLE = "whole"
    PART = "part"
    """It is transparent somewhere, or everywhere to some degree; so counts what cannot be known."""
    NONE = "none"
    """Nothing of it is seen."""


@dataclass(frozen=True, slots=True)
class Source:
    """What a clip plays. Two clips with the same `key` play the same material.

    key: absolute path of the file, or service and resource of something the engine makes.
    path: the file; None for what has none. It may not exist.
    length: frames it has at the project's rate; 0 when the document does not say.
    coverage: as far as the document tells; what a file holds is known once it was looked at.
    pixel_aspect, turned: what the document says of its pixels and of the degrees by which it is turned, where
    that overrules the file. shape: width by height as it is shown, by those of the film; small: it has fewer
    pixels than the film; both known once it was looked at. inside: what a sequence shows of files, where
    nothing of its own lies beneath them.
    """

    key: str
    kind: SourceKind
    path: Path | None = None
    length: int = 0
    has_picture: bool = True
    has_sound: bool = True
    proxy: bool = False
    """`path` is a stand-in of lower quality, for the original (`key`) is not there."""
    coverage: Coverage = Coverage.WHOLE
    pixel_aspect: Fraction | None = None
    turned: int | None = None
    shape: Fraction | None = None
    small: bool = False
    inside: tuple[Source, ...] = ()


Shapes = tuple[Fraction, Fraction]
"""The narrowest shape and the widest, by that of the film."""
FILM_SHAPE = (Fraction(1), Fraction(1))


@dataclass(frozen=True, slots=True)
class LevelKey:
    """One point of a volume curve: `gain_db` is reached at the end of frame `frame`."""

    frame: int
    gain_db: float
    hold: bool = False
    """The value stays until the next point instead of moving to it."""


@dataclass(frozen=True, slots=True)
class LevelCurve:
    """A volume curve in timeline frames; outside `span` (None: everywhere) it is 0 dB.

    Fades written as straight lines of amplitude have `linear_amplitude`; others are straight in dB.
    matched: it is ours and brings the clip to the level of its speaker.
    """

    keys: tuple[LevelKey, ...]
    span: Span | None = None
    linear_amplitude: bool = False
    ours: bool = False
    matched: bool = False


@dataclass(frozen=True, slots=True)
class Veil:
    """What effects do to how much a picture hides, in timeline frames; they may reach beyond its clip.

    thin: what lies beneath is seen through it; gone: nothing of it is seen; lettered: text stands over it.
    unknown: services of effects of which nobody here knows what they do. worked: by some effect that may show
    what others have made transparent. placed: one puts the picture into a rectangle.
    """

    thin: tuple[Span, ...] = ()
    gone: tuple[Span, ...] = ()
    lettered: tuple[Span, ...] = ()
    unknown: tuple[str, ...] = ()
    worked: bool = False
    placed: bool = False


NO_VEIL = Veil()
"""Of a picture as it was recorded."""


@dataclass(frozen=True, slots=True)
class Clip:
    """`length` frames of `source` from its frame `source_in`, shown at frame `start`.

    speed: source frames for each frame shown, negative for backward. remap: where the speed changes,
    points (frame of the clip, source frame) with straight lines between them, which overrule `speed`.
    keeps_pitch: at another speed its sound is shifted back to the pitch it was recorded at.
    sound_stream: which of the file's sound streams is heard, from 0. reframed: an effect crops or
    moves its picture, so that what lies beneath may be seen. zoom: how much effects enlarge its picture, at
    its first and at its last frame. veil: where effects make it transparent or write over it. fills: shapes
    of pictures that fill the frame as effects place them.
    """

    start: int
    length: int
    source: Source
    source_in: int
    name: str = ""
    plays_picture: bool = True
    plays_sound: bool = True
    speed: Fraction = Fraction(1)
    levels: tuple[LevelCurve, ...] = ()
    remap: tuple[tuple[int, Fraction], ...] = ()
    sound_stream: int = 0
    reframed: bool = False
    zoom: tuple[Fraction, Fraction] = (Fraction(1), Fraction(1))
    keeps_pitch: bool = False
    veil: Veil = NO_VEIL
    fills: Shapes = FILM_SHAPE

    @property
    def span(self) -> Span:
        """Frames of the timeline it occupies."""
        return Span(self.start, self.start + self.length)

    @property
    def source_span(self) -> Span:
        """Frames of the source it plays."""
        if self.plain_speed:
            return Span(self.source_in, self.source_in + self.length)
        ends = [self.source_frame(frame) for frame in (self.start, self.start + self.length - 1)]
        ends += [int(source) for frame, source in self.remap if 0 <= frame < self.length]
        return Span(min(ends), max(ends) + 1)

    @property
    def plain_speed(self) -> bool:
        """True when one frame is shown for each frame of the source."""
        return self.speed == 1 and not self.remap

    def source_frame(self, frame: int) -> int:
        """The source frame shown at a timeline frame."""
        own = frame - self.start
        if not self.remap:
            return self.source_in + int(own * self.speed // 1)
        before = max((p for p in self.remap if p[0] <= own), default=self.remap[0])
        after = min((p for p in self.remap if p[0] > own), default=before)
        if after[0] == before[0]:
            return int(before[1])
        part = Fraction(own - before[0], after[0] - before[0])
        return int((before[1] + part * (after[1] - before[1])) // 1)


@dataclass(frozen=True, slots=True)
class Gap:
    """Nothing: lower tracks are seen and heard."""

    start: int
    length: int

    @property
    def span(self) -> Span:
        """Frames of the timeline it occupies."""
        return Span(self.start, self.start + self.length)


@dataclass(frozen=True, slots=True)
class Dissolve:
    """Two clips of one track overlapping: the outgoing fades into the incoming.

    overlaps: the clips themselves do, so that their level curves run on from one part of them to the next.
    """

    start: int
    length: int
    outgoing: Clip
    incoming: Clip
    overlaps: bool = False

    @property
    def span(self) -> Span:
        """Frames of the timeline it occupies."""
        return Span(self.start, self.start + self.length)


Item = Clip | Gap | Dissolve


@dataclass(frozen=True, slots=True)
class Track:
    """A layer of the timeline.

    index: position in the engine's list of tracks, the background being 0.
    has_sound: its clips are heard (a sound track, or a picture track that is mixed in).
    ours: role of a track written by an earlier run ("cover", "natural"), else "".
    """

    index: int
    kind: TrackKind
    name: str
    items: tuple[Item, ...] = ()
    has_sound: bool = True
    locked: bool = False
    hidden: bool = False
    muted: bool = False
    levels: tuple[LevelCurve, ...] = ()
    ours: str = ""

    @property
    def end(self) -> int:
        """First frame after the last clip; items lie in order."""
        return next((i.start + i.length for i in reversed(self.items) if not isinstance(i, Gap)), 0)

    def clips(self) -> Iterator[Clip]:
        """All clips in order; a dissolve gives both of its halves."""
        for item in self.items:
            if isinstance(item, Clip):
                yield item
            elif isinstance(item, Dissolve):
                yield item.outgoing
                yield item.incoming


@dataclass(frozen=True, slots=True)
class BinClip:
    """A clip of the bin.

    source: its material; `zones` are the ranges marked as usable, in source frames.
    folder: names from the top, joined by "/"; empty at the top.
    """

    key: str
    name: str
    source: Source
    folder: str = ""
    tags: tuple[str, ...] = ()
    notes: str = ""
    zones: tuple[Span, ...] = ()
    markers: tuple[Marker, ...] = ()
    """Marks in the clip, in source frames."""


@dataclass(frozen=True, slots=True)
class Marker:
    """A mark on the timeline (or in a clip) with its text and the name of its category."""

    at: int
    text: str
    ours: bool = False
    category: str = ""


@dataclass(frozen=True, slots=True, order=True)
class Laid:
    """A clip as an earlier run left it on a track of ours; `file` is its source's file name."""

    role: str
    start: int
    length: int
    file: str
    source_in: int


@dataclass(frozen=True, slots=True)
class Timeline:
    """One edit, whole.

    linked: for each pair of picture and sound of one clip, (track, start) of both.
    sequences: names of all edits in the document, where the host keeps several; this is one of them.
    laid: what earlier runs left on our tracks; None where the document does not tell. changes: what they
    changed of the film itself, in that order.
    levels: volume curves on all that is heard.
    subtitles: files beside the document that hold its subtitles.
    blends: what lays tracks over each other, in the engine's order; None: each over all beneath it. A track
    that nothing lays over another hides what lies beneath it, however transparent its clips are.
    host: short name of the editor whose layout the document has.
    shape: width by height of the picture as it is shown; 0 where that is not known.
    warnings: what could not be read, one line each.
    """

    path: Path
    host: str
    rate: Rate
    width: int
    height: int
    tracks: tuple[Track, ...]
    bin: tuple[BinClip, ...] = ()
    markers: tuple[Marker, ...] = ()
    linked: tuple[tuple[tuple[int, int], ...], ...] = ()
    sequences: tuple[str, ...] = ()
    laid: frozenset[Laid] | None = None
    changes: tuple[Any, ...] = ()
    levels: tuple[LevelCurve, ...] = ()
    subtitles: tuple[Path, ...] = ()
    blends: tuple[Blend, ...] | None = None
    warnings: tuple[str, ...] = field(default=())
    shape: Fraction = Fraction(0)

    @property
    def length(self) -> int:
        """Frames up to the end of the last clip on any track."""
        return max((track.end for track in self.tracks), default=0)

    def track(self, index: int) -> Track:
        """The track with this number. Raises KeyError when there is none."""
        for track in self.tracks:
            if track.index == index:
                return track
        raise KeyError(index)

    def changed_by_hand(self, role: str) -> tuple[Clip, ...]:
        """Clips on our track of this role that are not as an earlier run left them."""
        track = self.of_role(role)
        if track is None or self.laid is None:
            return ()
        return tuple(
            clip
            for clip in track.clips()
            if Laid(role, clip.start, clip.length, Path(clip.source.key).name, clip.source_in)
            not in self.laid
        )

    def of_role(self, role: str) -> Track | None:
        """Our own track of this role, if an earlier edit has made it."""
        return next((track for track in self.tracks if track.ours == role), None)
