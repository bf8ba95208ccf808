"""How each recording is used in the timeline, as far as that tells what it is; nothing is decoded."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import islice, pairwise

from mltassist.frames import Span, joined
from mltassist.timeline.model import Clip, Timeline, Track
from mltassist.timeline.wholes import whole_clips


@dataclass(frozen=True, slots=True)
class Use:
    """What the timeline does with a recording; parts are 0 to 1.

    pieces: how many of it are laid; shortened: of these, how many follow the one before at once, with some of
    the source left out. heard: part of its seen frames in which its own sound plays. over: part of its seen
    frames in which somebody else speaks. beneath: part of its heard frames in which somebody else speaks.
    throughout: part of the film in which it is heard.
    """

    pieces: int = 0
    shortened: int = 0
    heard: float = 0.0
    over: float = 0.0
    beneath: float = 0.0
    throughout: float = 0.0


def uses_of(
    timeline: Timeline, speaking: Iterable[str], together: Mapping[str, str] | None = None
) -> dict[str, Use]:
    """By source key; recordings that are not laid are left out.

    speaking: keys of those that are mostly speech. together: by key, that of the recording whose other half
    it is (the sound recorded apart for a picture); the two never count as somebody else to each other.
    """
    twins = together or {}
    seen: dict[str, list[Span]] = {}
    heard: dict[str, list[Span]] = {}
    laid: dict[str, set[tuple[int, int, int]]] = {}
    shortened: dict[str, int] = {}
    for track in timeline.tracks:
        if track.ours:
            continue
        clips = tuple(whole_clips(track))
        for clip in clips:
            key = clip.source.key
            laid.setdefault(key, set()).add((clip.start, clip.length, clip.source_in))
            if clip.plays_picture and clip.source.has_picture and not track.hidden:
                seen.setdefault(key, []).append(clip.span)
            if _sounds(track, clip):
                heard.setdefault(key, []).append(clip.span)
        here: dict[str, int] = {}
        for before, after in pairwise(clips):
            if _shortened(before, after):
                here[after.source.key] = here.get(after.source.key, 0) + 1
        for key, count in here.items():  # picture and sound of one clip may lie on two tracks
            shortened[key] = max(count, shortened.get(key, 0))
    loud = set(speaking) & heard.keys()
    everybody = joined([span for voice in loud for span in heard[voice]])
    found = {}
    for key, places in laid.items():
        own = {key, twins.get(key, key), *(k for k, of in twins.items() if of == key)}
        others = everybody
        if own & loud:
            others = joined([span for voice in loud - own for span in heard[voice]])
        sound = joined([span for k in own for span in heard.get(k, ())])
        shown, sounding = joined(seen.get(key, ())), joined(heard.get(key, ()))
        found[key] = Use(
            pieces=len(places),
            shortened=shortened.get(key, 0),
            heard=_part(shown, sound),
            over=_part(shown, others),
            beneath=_part(sounding, others),
            throughout=sum(span.length for span in sounding) / max(1, timeline.length),
        )
    return found


def _sounds(track: Track, clip: Clip) -> bool:
    return clip.plays_sound and clip.source.has_sound and track.has_sound and not track.muted


def _shortened(before: Clip, after: Clip) -> bool:
    """True where a piece follows another of its source, a little further on."""
    return (
        before.source.key == after.source.key
        and before.span.end == after.start
        and after.source_in > before.source_frame(before.span.end)
    )


def _part(spans: tuple[Span, ...], others: tuple[Span, ...]) -> float:
    """The part of some spans that others share; both are joined."""
    whole = sum(span.length for span in spans)
    ends = [other.end for other in others]
    shared = 0
    for span in spans:
        for other in islice(others, bisect_right(ends, span.start), None):
            if other.start >= span.end:
                break
            shared += span.shared(other).length
    return shared / whole if whole else 0.0
