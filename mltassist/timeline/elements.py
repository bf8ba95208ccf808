"""Which element each track and clip is: interview, narration, cutaway, natural sound or music.

Decided from, in this order: what the recipe pins, track names, bin folders, tags, the words of the
clip's name, the log sheet, and at last how much speech the sound holds. Every decision carries its reason.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from fnmatch import fnmatchcase
from unicodedata import normalize

from mltassist.timeline.commonwords import COMMON_WORDS, SHORTEST
from mltassist.timeline.model import BinClip, Clip, SourceKind, Timeline, Track, TrackKind


class Element(StrEnum):
    """What a clip is to the film."""

    INTERVIEW = "interview"
    NARRATION = "narration"
    CUTAWAY = "cutaway"
    NATURAL = "natural sound"
    MUSIC = "music"


SPEECH = (Element.INTERVIEW, Element.NARRATION)
"""The elements that are speech."""

SIZES = ("ECU", "BCU", "CU", "MCU", "MS", "MLS", "LS", "WS", "EWS")
"""Picture sizes as the trade abbreviates them, tightest first (common practice, no source)."""


def matches(pattern: str, names: Iterable[str]) -> bool:
    """True when a pattern is any of these names: matched whole, letter case aside, * being any text."""
    return any(name and fnmatchcase(name.lower(), pattern.lower()) for name in names)


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Words by which names say what a thing is, lower case; a word may end in `*`.

    pins: patterns of track names, folders or file names that are told outright.
    """

    words: Mapping[Element, tuple[str, ...]]
    pins: Mapping[str, Element] = field(default_factory=dict)

    def pinned(self, *names: str) -> Element | None:
        """The element that a pin gives to any of these names (matched whole, letter case aside)."""
        for pattern, element in self.pins.items():
            if matches(pattern, names):
                return element
        return None

    def spoken_of(self, text: str) -> tuple[Element, str] | None:
        """The element a text names, with the word that told; the longest word wins.

        Digits and underscores part words, as in "VO2" or "nat_gulls".
        """
        named = normalize("NFC", text).lower()  # some file systems keep accents apart from their letters
        found = [
            (element, word)
            for element, known in self.words.items()
            for word in known
            if re.search(rf"(?<![^\W\d_]){_pattern(word)}(?![^\W\d_])", named)
        ]
        return max(found, key=lambda pair: len(pair[1]), default=None)


def _pattern(word: str) -> str:
    return re.escape(word.rstrip("*")) + (r"[^\W_]*" if word.endswith("*") else "")


@dataclass(frozen=True, slots=True)
class Identification:
    """What a track or a source is taken for (None: not known), and why."""

    element: Element | None
    why: str
    sure: bool = True


@dataclass(frozen=True, slots=True)
class Elements:
    """What all of a timeline is taken for: by track number, and by source key."""

    tracks: Mapping[int, Identification]
    sources: Mapping[str, Identification]

    def of_clip(self, track: Track, clip: Clip) -> Element | None:
        """What a clip on the timeline is: its track says, else its source.

        What we lay to mend joins is part of them, and no element of its own.
        """
        if track.ours == "joins":
            return None
        taken = self.tracks.get(track.index)
        if taken is not None and taken.element is not None:
            return taken.element
        own = self.sources.get(clip.source.key)
        return own.element if own is not None else None

    def of_source(self, key: str) -> Element | None:
        """What a clip of the bin is."""
        taken = self.sources.get(key)
        return taken.element if taken is not None else None


def find_elements(
    timeline: Timeline,
    vocabulary: Vocabulary,
    speech_share: Mapping[str, float] | None = None,
    logged: Mapping[str, str] | None = None,
) -> Elements:
    """Decide for every track and every source of the timeline and its bin.

    speech_share: by source key, the part of its sound that is speech (0 to 1), for sources whose
    names say nothing; those not listed stay unknown. logged: by source key, the subjects that the log
    sheet gives it.
    """
    shares, sheet = speech_share or {}, logged or {}
    sources = {clip.source.key: _of_bin_clip(clip, vocabulary, sheet, shares) for clip in timeline.bin}
    for track in timeline.tracks:
        for clip in track.clips():
            sources.setdefault(clip.source.key, _of_name(clip, vocabulary, shares))
    tracks = {track.index: _of_track(track, vocabulary, sources) for track in timeline.tracks}
    return Elements(tracks, sources)


def unknown_sources(timeline: Timeline, elements: Elements) -> tuple[str, ...]:
    """Keys of files on sounding tracks that no name explains: only their sound can tell."""
    found = [
        clip.source.key
        for track in timeline.tracks
        for clip in track.clips()
        if clip.plays_sound and clip.source.kind is SourceKind.FILE and elements.of_clip(track, clip) is None
    ]
    return tuple(dict.fromkeys(found))


def size_of(clip: BinClip) -> str:
    """Picture size named by the tags or the clip's name ("CU"), else ""."""
    return next(filter(None, map(size_in, (*clip.tags, clip.name))), "")


def size_in(text: str) -> str:
    """The first picture size that stands in a text in capital letters, else ""."""
    return next((word for word in re.split(r"[^A-Za-z]+", text) if word in SIZES), "")


def subjects_of(clip: BinClip) -> tuple[str, ...]:
    """What is in the picture: tags that are no size, else the folder's last name, words of name and notes."""
    tags = tuple(dict.fromkeys(tag.lower() for tag in clip.tags if tag.upper() not in SIZES))
    if tags:
        return tags
    folder = clip.folder.rpartition("/")[2].lower() if "/" in clip.folder else ""
    return tuple(dict.fromkeys(filter(None, (folder, *_words(clip.name), *words_in(clip.notes)))))


def words_in(text: str) -> tuple[str, ...]:
    """The words of a sentence that may name something in the picture, lower case, each once."""
    named = (word for word in _words(text) if len(word) >= SHORTEST and word not in COMMON_WORDS)
    return tuple(dict.fromkeys(named))


def _words(text: str) -> list[str]:
    """The words of a text in lower case, without numbers and picture sizes."""
    return [w.lower() for w in re.split(r"[^\w]+|_|\d+", text) if w and w.upper() not in SIZES]


def _of_bin_clip(
    clip: BinClip, vocabulary: Vocabulary, logged: Mapping[str, str], shares: Mapping[str, float]
) -> Identification:
    if pinned := vocabulary.pinned(clip.folder, clip.name, clip.source.key):
        return Identification(pinned, "pinned by the recipe")
    for what, text in (
        ("bin folder", clip.folder),
        ("tag", " ".join(clip.tags)),
        ("name", clip.name),
        ("file path", _end_of_path(clip.source.key)),
    ):
        if found := vocabulary.spoken_of(text):
            return Identification(found[0], f"{what} says {found[1].rstrip('*')!r}")
    if size_of(clip) and clip.source.has_picture:
        return Identification(Element.CUTAWAY, f"its name has a picture size ({size_of(clip)})")
    if clip.source.key in logged:
        if found := vocabulary.spoken_of(logged[clip.source.key]):
            return Identification(found[0], f"the log sheet says {found[1].rstrip('*')!r}")
        if clip.source.has_picture:
            return Identification(Element.CUTAWAY, "the log sheet names it")
    return _by_sound(clip.source.key, shares)


def _of_name(clip: Clip, vocabulary: Vocabulary, shares: Mapping[str, float]) -> Identification:
    if pinned := vocabulary.pinned(clip.name, clip.source.key):
        return Identification(pinned, "pinned by the recipe")
    for what, text in (("name", clip.name), ("file path", _end_of_path(clip.source.key))):
        if found := vocabulary.spoken_of(text):
            return Identification(found[0], f"{what} says {found[1].rstrip('*')!r}")
    return _by_sound(clip.source.key, shares)


def _end_of_path(key: str) -> str:
    """The file's name and its folder's: what lies above them speaks of the whole project."""
    return " ".join(re.split(r"[/\\]", key)[-2:])


def _by_sound(key: str, shares: Mapping[str, float]) -> Identification:
    share = shares.get(key)
    if share is None:
        return Identification(None, "no name tells")
    if share >= 0.4:  # a bite or a narration is mostly speech; a place is hardly ever
        return Identification(Element.INTERVIEW, f"a guess: {share:.0%} of its sound is speech", sure=False)
    return Identification(None, f"no name tells, and {share:.0%} of its sound is speech", sure=False)


def _of_track(track: Track, vocabulary: Vocabulary, sources: Mapping[str, Identification]) -> Identification:
    if pinned := vocabulary.pinned(track.name):
        return Identification(pinned, "pinned by the recipe")
    if found := vocabulary.spoken_of(track.name):
        return Identification(found[0], f"track name says {found[1].rstrip('*')!r}")
    lengths: Counter[Element] = Counter()
    for clip in track.clips():
        taken = sources.get(clip.source.key)
        if taken is not None and taken.element is not None:
            lengths[taken.element] += clip.length
    if not lengths:
        return Identification(None, "empty" if not any(track.clips()) else "no name tells")
    element, most = lengths.most_common(1)[0]
    if len(lengths) == 1:
        return Identification(element, f"all its known clips are {element}")
    # A track that holds several elements has none of its own: each clip speaks for itself.
    return Identification(None, f"mixed, {most * 100 // lengths.total()}% of it {element}")


def clips_of(
    timeline: Timeline, elements: Elements, wanted: Iterable[Element], *, heard: bool = True
) -> tuple[tuple[Track, Clip], ...]:
    """Clips of these elements in order of time, with their tracks; only those that sound if `heard`."""
    kinds = frozenset(wanted)
    found = [
        (track, clip)
        for track in timeline.tracks
        for clip in track.clips()
        if elements.of_clip(track, clip) in kinds
        and (not heard or (clip.plays_sound and not track.muted))
        and (heard or track.kind is TrackKind.PICTURE)
    ]
    return tuple(sorted(found, key=lambda pair: (pair[1].start, pair[0].index)))
