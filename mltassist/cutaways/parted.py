"""Shots that somebody chose, where a pause has been opened in their middle: the place is seen there.

The pause was asked for as well as the shot. So the shot ends at it, and goes on behind it from where it
stopped.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from mltassist.cutaways.planner.film import Shot, Used
from mltassist.findings import Findings
from mltassist.frames import Span, without
from mltassist.timeline.elements import Element
from mltassist.timeline.picture import blanks, showing
from mltassist.timeline.picturefaults import FLASH


def seen_pauses(findings: Findings) -> tuple[Span, ...]:
    """Where natural sound is seen: the pictures of pauses, whoever has opened them."""
    elements = findings.elements
    return tuple(
        shown.span
        for shown in showing(findings.timeline, ours=True)
        if shown.clip is not None
        and shown.track is not None
        and elements.of_clip(shown.track, shown.clip) is Element.NATURAL
    )


def parts_of(span: Span, pauses: Sequence[Span], beside: Sequence[Span]) -> tuple[Span, ...]:
    """What is left of a shot around these pauses, in order.

    A part too short to be seen is left out, unless nothing else can lie in its place. beside: what leaves no
    room for another shot between it and the pause: shots that were chosen, pictures, the whole film.
    """
    parts = without([span], pauses)
    if parts == (span,):
        return parts
    outer = {edge for other in beside for edge in (other.start, other.end)}
    held = outer & {span.start, span.end}
    return tuple(p for p in parts if p.length >= FLASH or p.start in held or p.end in held)


def unseen_pauses(findings: Findings, span: Span) -> tuple[Span, ...]:
    """Where nothing at all is seen within a shot: a pause for which no natural sound was found."""
    return tuple(both for blank in blanks(findings.timeline) if (both := blank.shared(span)).length > 0)


def used_once(shots: Iterable[Shot]) -> Iterator[Used]:
    """The frames that shots take from the supply: parts of one are one use of its clip."""
    found: dict[object, Used] = {}
    for shot in shots:
        key, last = shot.decision or shot, shot.use
        first = found.get(key, last)
        found[key] = Used(
            last.source,
            Span(first.span_in_source.start, last.span_in_source.end),
            Span(first.span_on_timeline.start, last.span_on_timeline.end),
        )
    yield from found.values()


def note_parts(findings: Findings, name: str, span: Span, parts: Sequence[Span], shortest: int) -> None:
    """Tell what has become of a chosen shot around a pause."""
    rate = findings.timeline.rate
    told = [f"{float(rate.seconds(part.length)):.3g} s" for part in parts]
    if len(parts) > 1:
        what = f"is parted by a pause: it is seen for {told[0]}, and behind it for {' and '.join(told[1:])}"
    elif parts[0].start == span.start:
        what = f"ends where a pause begins, after {told[0]}"
    else:
        what = f"begins where a pause ends, for {told[0]}"
    findings.note(f"{name!r} {what}", span.start, needs_editor=any(p.length < shortest for p in parts))
