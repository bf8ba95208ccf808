"""Where a face has to stay for what is read over it, and where nothing at all is seen."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from mltassist.findings import Findings
from mltassist.frames import Span, without
from mltassist.timeline.edits import AddTrack
from mltassist.timeline.elements import Element
from mltassist.timeline.model import Clip, TrackKind
from mltassist.timeline.picture import Showing, layers, showing
from mltassist.timeline.picturefaults import holes, never_seen

LONGEST_CAPTION_S = Fraction(15)
"""A name stands for three to eight seconds (common practice); what stands for longer marks the whole film."""


def captions_over_faces(findings: Findings) -> tuple[tuple[Span, Clip], ...]:
    """Where what is read lies over a face, with what is read, in order."""
    longest = findings.timeline.rate.frames(LONGEST_CAPTION_S)
    found: list[tuple[Span, Clip]] = []
    for shown in findings.layers:
        if not _is_face(findings, shown):
            continue
        for clip in shown.captions:
            if _lasts(clip) > longest:
                continue
            if found and found[-1][1] is clip and found[-1][0].end == shown.span.start:
                found[-1] = (Span(found[-1][0].start, shown.span.end), clip)
            else:
                found.append((shown.span, clip))
    return tuple(found)


def holes_to_cover(findings: Findings, known: Iterable[Span]) -> tuple[Span, ...]:
    """Places without any picture that the recipe wants covered, but for those that are `known` already."""
    if findings.recipe.cover.holes == "leave":
        return ()
    return without(holes(findings.timeline, findings.elements), list(known))


def note_hidden_faces(findings: Findings, cover: Sequence[Span]) -> None:
    """Tell of everybody who was seen before and is nowhere any more: cover lies over all of their picture."""
    timeline, elements = findings.timeline, findings.elements
    shown = showing(timeline, ours=True)
    before = set(never_seen(timeline, elements, shown))
    for fault in never_seen(timeline, elements, shown, cover):
        if fault not in before:
            findings.note(f"{fault.what}: cover lies over all of its picture", fault.at)


def place_of_cover(findings: Findings) -> tuple[AddTrack, ...]:
    """The edit that puts our cover above every face and below all that is read; none where nothing is.

    A track of ours that is there already stays where it is, which is told where it lies above a caption.
    """
    timeline = findings.timeline
    faces, read = {0}, set[int]()
    for shown in layers(timeline):
        if _is_face(findings, shown) and shown.track is not None:
            faces.add(shown.track.index)
        read.update(layer.track.index for layer in shown.over if layer.is_caption)
    lowest = min((index for index in read if index > max(faces)), default=None)
    if lowest is None:
        return ()
    there = timeline.of_role("cover")
    if there is not None:
        if there.index > lowest:
            what = "the cover lies above them: move its track beneath"
            named = timeline.track(lowest).name
            findings.note(f"captions on track {named!r} are hidden, for {what}", needs_editor=True)
        return ()
    below = [t.index for t in timeline.tracks if t.kind is TrackKind.PICTURE and t.index < lowest]
    return (AddTrack("cover", "what is read stays above the cover", max(below)),) if below else ()


def note_beneath(findings: Findings, captions: Iterable[tuple[Span, Clip]], jumps: Iterable[int]) -> None:
    """Tell of every jump that is seen beneath a caption, for which the face stays."""
    places = list(captions)
    for at in jumps:
        if over := next((clip for span, clip in places if at in span), None):
            what = f"a jump cut lies beneath the caption {over.name!r}: the face stays as long as it is read"
            findings.note(what, at, needs_editor=True)


def _lasts(clip: Clip) -> int:
    """Frames for which a caption stands: letters on a clip may be shorter than it."""
    return max((span.shared(clip.span).length for span in clip.veil.lettered), default=clip.length)


def _is_face(findings: Findings, shown: Showing) -> bool:
    if shown.clip is None or shown.track is None:
        return False
    return findings.elements.of_clip(shown.track, shown.clip) is Element.INTERVIEW
