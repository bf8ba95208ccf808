"""Which element each track and clip is: interview, narration, cutaway, natural sound or music.

Decided from, in this order: what the recipe pins, track names, bin folders, tags, the words of the
clip's name, the log sheet, and at last evidence of other kinds, where it was gathered. Every decision carries
its reason.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from fnmatch import fnmatchcase
from functools import lru_cache
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


_OF = re.compile(r"of\s*:\s*(.*)", re.IGNORECASE)


def matches(pattern: str, names: Iterable[str]) -> bool:
    """True when a pattern is any of these names: matched whole, letter case aside, * being any text."""
    return any(name and fnmatchcase(name.lower(), pattern.lower()) for name in names)


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Words by which names say what a thing is, lower case; a word may end in `*`.

    pins: patterns of track names, folders or file names that are told outright. also: the same, and what such
    a clip may serve as besides.
    """

    words: Mapping[Element, tuple[str, ...]]
    pins: Mapping[str, Element] = field(default_factory=dict)
    also: Mapping[str, Element] = field(default_factory=dict)

    def serving(self, *names: str) -> tuple[Element, ...]:
        """What a clip with any of these names may serve as besides."""
        return tuple(dict.fromkeys(e for pattern, e in self.also.items() if matches(pattern, names)))

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
        return _spoken_of(tuple(self.words.items()), text)


@lru_cache(4096)
def _spoken_of(words: tuple[tuple[Element, tuple[str, ...]], ...], text: str) -> tuple[Element, str] | None:
    """Every state of a film asks for the same names again."""
    named = normalize("NFC", text).lower()  # some file systems keep accents apart from their letters
    found = [
        (element, word)
        for element, known in words
        for word in known
        if word.rstrip("*") in named and _searched(word).search(named)
    ]
    return max(found, key=lambda pair: len(pair[1]), default=None)


@lru_cache(4096)
def _searched(word: str) -> re.Pattern[str]:
    rest = r"[^\W_]*" if word.endswith("*") else ""
    return re.compile(rf"(?<![^\W\d_]){re.escape(word.rstrip('*'))}{rest}(?![^\W\d_])")


@dataclass(frozen=True, slots=True)
class Identification:
    """What a track or a source is taken for (None: not known, or none of the five), and why.

    chance: 0 to 1, how likely it is right; 1 where a name tells. also: what it may serve as besides.
    seems: what is most likely where that is too little to go by. reasons: of a guess, in words, with their
    weights; judged: it was weighed by evidence.
    """

    element: Element | None
    why: str
    sure: bool = True
    chance: float = 1.0
    also: tuple[Element, ...] = ()
    seems: Element | None = None
    reasons: tuple[tuple[str, float], ...] = ()
    judged: bool = False


NOTHING_TELLS = Identification(None, "no name tells")


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

    def serves(self, key: str, element: Element) -> bool:
        """True where a clip of the bin is this element, or may serve as it besides."""
        taken = self.sources.get(key)
        return taken is not None and (taken.element is element or element in taken.also)


def find_elements(
    timeline: Timeline,
    vocabulary: Vocabulary,
    guesses: Mapping[str, Identification] | None = None,
    logged: Mapping[str, str] | None = None,
) -> Elements:
    """Decide for every track and every source of the timeline and its bin.

    guesses: by source key, what other evidence says of sources whose names say nothing; those not listed stay
    unknown. logged: by source key, the subjects that the log sheet gives it.
    """
    weighed, sheet = guesses or {}, logged or {}
    sources = {clip.source.key: _of_bin_clip(clip, vocabulary, sheet, weighed) for clip in timeline.bin}
    for track in timeline.tracks:
        for clip in track.clips():
            if clip.source.key not in sources:
                sources[clip.source.key] = _of_name(clip, vocabulary, weighed)
    if vocabulary.also:
        sources |= {
            clip.source.key: replace(sources[clip.source.key], also=serves)
            for clip in timeline.bin
            if (serves := vocabulary.serving(clip.folder, clip.name, clip.source.key))
        }
    doubled = _doubled(timeline)
    tracks = {track.index: _of_track(track, vocabulary, sources, doubled) for track in timeline.tracks}
    return Elements(tracks, sources)


def unknown_sources(timeline: Timeline, elements: Elements) -> tuple[str, ...]:
    """Keys of files that no name explains and that matter: only other evidence can tell what they are.

    Those that are heard always do; the others only in a project in which no name tells a cutaway, for where
    some are named, the rest is not meant.
    """
    laid = [(track, clip) for track in timeline.tracks if track.ours != "joins" for clip in track.clips()]
    found = [
        clip.source.key
        for track, clip in laid
        if clip.plays_sound and clip.source.kind is SourceKind.FILE and elements.of_clip(track, clip) is None
    ]
    if not any(one.element is Element.CUTAWAY and not one.judged for one in elements.sources.values()):
        sources = [clip.source for clip in timeline.bin] + [clip.source for _, clip in laid]
        found += [
            source.key
            for source in sources
            if source.kind in (SourceKind.FILE, SourceKind.IMAGE) and elements.of_source(source.key) is None
        ]
    return tuple(dict.fromkeys(found))


def size_of(clip: BinClip) -> str:
    """Picture size named by the tags or the clip's name ("CU"), else ""."""
    return next(filter(None, map(size_in, (*clip.tags, clip.name))), "")


def size_in(text: str) -> str:
    """The first picture size that stands in a text in capital letters, else ""."""
    return next((word for word in re.split(r"[^A-Za-z]+", text) if word in SIZES), "")


def persons_in(text: str) -> tuple[str, ...]:
    """The names in a list of persons that are parted by / or |, as they are written."""
    return tuple(dict.fromkeys(name.strip() for name in re.split(r"[/|]", text) if name.strip()))


def persons_of(clip: BinClip) -> tuple[str, ...]:
    """Whose shot it is, as tags that begin with `of:` tell it ("of: Ines")."""
    told = (found[1] for tag in clip.tags if (found := _OF.fullmatch(tag)))
    return tuple(dict.fromkeys(name for text in told for name in persons_in(text)))


def subjects_of(clip: BinClip) -> tuple[str, ...]:
    """What is in the picture: tags that are no size, else the folder's last name, words of name and notes.

    Tags that tell whose shot it is name no subject.
    """
    named = (tag for tag in clip.tags if tag.upper() not in SIZES and not _OF.fullmatch(tag))
    tags = tuple(dict.fromkeys(tag.lower() for tag in named))
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
    clip: BinClip, vocabulary: Vocabulary, logged: Mapping[str, str], guesses: Mapping[str, Identification]
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
    return guesses.get(clip.source.key, NOTHING_TELLS)


def _of_name(clip: Clip, vocabulary: Vocabulary, guesses: Mapping[str, Identification]) -> Identification:
    if pinned := vocabulary.pinned(clip.name, clip.source.key):
        return Identification(pinned, "pinned by the recipe")
    for what, text in (("name", clip.name), ("file path", _end_of_path(clip.source.key))):
        if found := vocabulary.spoken_of(text):
            return Identification(found[0], f"{what} says {found[1].rstrip('*')!r}")
    return guesses.get(clip.source.key, NOTHING_TELLS)


def _end_of_path(key: str) -> str:
    """The file's name and its folder's: what lies above them speaks of the whole project."""
    return " ".join(re.split(r"[/\\]", key)[-2:])


def _of_track(
    track: Track,
    vocabulary: Vocabulary,
    sources: Mapping[str, Identification],
    doubled: frozenset[tuple[str, int]],
) -> Identification:
    if pinned := vocabulary.pinned(track.name):
        return Identification(pinned, "pinned by the recipe")
    if found := vocabulary.spoken_of(track.name):
        return Identification(found[0], f"track name says {found[1].rstrip('*')!r}")
    lengths: Counter[Element | None] = Counter()
    laid = [(clip, sources.get(clip.source.key, NOTHING_TELLS)) for clip in track.clips()]
    for clip, taken in laid:
        if taken.element is not None or taken.judged:
            lengths[_as_laid(track, clip, taken, doubled)] += clip.length
    if not any(element is not None for element in lengths):
        return Identification(None, "empty" if not laid else "no name tells")
    element, most = lengths.most_common(1)[0]
    if len(lengths) == 1:
        told = [taken for _, taken in laid if taken.element is not None]
        return Identification(
            element,
            f"all its known clips are {element}",
            sure=all(taken.sure for taken in told),
            chance=min(taken.chance for taken in told),
        )
    # A track that holds several elements has none of its own: each clip speaks for itself.
    return Identification(None, f"mixed, {most * 100 // lengths.total()}% of it {element or 'unknown'}")


def _as_laid(
    track: Track, clip: Clip, taken: Identification, doubled: frozenset[tuple[str, int]]
) -> Element | None:
    """What a clip is where it lies: a cutaway of which the sound alone is laid serves as natural sound."""
    alone = track.kind is TrackKind.SOUND and (clip.source.key, clip.start) not in doubled
    return Element.NATURAL if alone and Element.NATURAL in taken.also else taken.element


def _doubled(timeline: Timeline) -> frozenset[tuple[str, int]]:
    """Source and start of every clip whose picture is laid: the sound of the same beside it is its own."""
    return frozenset(
        (clip.source.key, clip.start)
        for track in timeline.tracks
        if track.kind is TrackKind.PICTURE
        for clip in track.clips()
    )


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
