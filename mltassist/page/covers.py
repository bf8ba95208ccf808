"""The shots on a page: what is seen before, in and after them, what is said there, and what else there is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Any

from mltassist.frames import Span
from mltassist.media.sound.mix import sounding
from mltassist.page.gallery import Gallery
from mltassist.page.stages import Stages
from mltassist.timeline.cuts import CutKind, speech_edits
from mltassist.timeline.edits import LayNatural, LayShot, OpenPause
from mltassist.timeline.model import BinClip, Clip, Source

BESIDE_S = Fraction(2)
"""Seconds of what is said before and after a shot that are shown with it: a word may name it from there."""
HEARD_S = 1
"""Seconds of the film that are heard before and after a shot or a pause."""
PREVIEW_S = Fraction(1, 2)
"""One picture of a moving preview for so many seconds."""


def cover_rows(stages: Stages, gallery: Gallery) -> list[dict[str, Any]]:
    """Every shot that the plan lays, in the order of the film."""
    bins = {clip.source.key: clip for clip in stages.after.timeline.bin}
    figures = stages.plan.figures
    matched = {row["at"]: row for row in figures.get("matched", ())}
    others = {row["at"]: row["clips"] for row in figures.get("others", ())}
    jumps = speech_edits(stages.after.timeline, stages.after.elements, ours=True)
    rows = []
    for edit, at in stages.placed():
        if not isinstance(edit, LayShot) or edit.track != "cover":
            continue
        span = Span(at, at + edit.length)
        clip = bins.get(edit.source)
        row = {
            "name_of": edit.decision,
            "clip_name": stages.clip_name(edit.source),
            "at": at,
            "time": stages.time(at),
            "length": edit.length,
            "seconds": stages.seconds(edit.length),
            "name": edit.name or (clip.name if clip else ""),
            "source_in": edit.source_in,
            "why": edit.reason,
            "cuts": [stages.time(j.at) for j in jumps if j.at in span and j.kind is CutKind.JUMP],
            "word": matched.get(edit.at, {}).get("word", ""),
            "tag": matched.get(edit.at, {}).get("tag", ""),
            **_said(stages, span),
            **_sound(stages, gallery, span),
            "stills": _stills(stages, gallery, clip, edit, span),
            "others": list(_others(stages, gallery, bins.values(), others.get(edit.at, ()), edit)),
        }
        rows.append(row)
    rows.sort(key=lambda row: int(row["at"]))
    _tell_parts(rows)
    return rows


def _tell_parts(rows: Iterable[dict[str, Any]]) -> None:
    """Which part of its shot each row is, where a pause has parted it: all of them are one decision."""
    by_name: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        by_name.setdefault(row["name_of"], []).append(row)
    for parts in by_name.values():
        for number, row in enumerate(parts, 1):
            # What is chosen on any of them is chosen for the shot, which begins with the first.
            row |= {"part": number, "parts": len(parts), "source_in": parts[0]["source_in"]}


def _said(stages: Stages, span: Span) -> dict[str, str]:
    beside = stages.rate.frames(BESIDE_S)
    return {
        "said_before": stages.words_in(Span(span.start - beside, span.start)),
        "said": stages.words_in(span),
        "said_after": stages.words_in(Span(span.end, span.end + beside)),
    }


def _stills(
    stages: Stages, gallery: Gallery, clip: BinClip | None, edit: LayShot, span: Span
) -> dict[str, str]:
    """Names of the stills: before, first, middle, last, after; those of a preview parted by blanks."""
    first, last = edit.source_in, edit.source_in + edit.length - 1
    source = clip.source if clip is not None else None
    passing = range(first, last + 1, max(1, stages.rate.frames(PREVIEW_S))) if gallery.moving else ()
    return {
        "before": _of_film(stages, gallery, span.start - 1),
        "first": _of(gallery, source, first),
        "middle": _of(gallery, source, (first + last) // 2),
        "last": _of(gallery, source, last),
        "after": _of_film(stages, gallery, span.end),
        "moving": " ".join(_of(gallery, source, frame, small=True) for frame in passing),
    }


def _of(gallery: Gallery, source: Source | None, frame: int, *, small: bool = False) -> str:
    if source is None or source.path is None or not source.has_picture:
        return ""
    return gallery.still(source.path, frame, small=small)


def _of_film(stages: Stages, gallery: Gallery, frame: int) -> str:
    """The name of what is seen at a frame of the film; empty where that is no file."""
    shown: Clip | None = stages.showing_at(frame)
    return "" if shown is None else _of(gallery, shown.source, shown.source_frame(frame))


def _sound(stages: Stages, gallery: Gallery, span: Span) -> dict[str, Any]:
    """The film's sound over a stretch with what is beside it, and the second at which the stretch begins."""
    around = span.grown(stages.rate.frames(HEARD_S), stages.rate.frames(HEARD_S))
    heard = around.shared(Span(0, stages.after.timeline.length))
    name = gallery.sound(sounding(stages.after.timeline), heard)
    return {"sound": name, "sound_at_s": stages.seconds(span.start - heard.start)}


def _others(
    stages: Stages, gallery: Gallery, bins: Iterable[BinClip], rows: Iterable[dict[str, Any]], edit: LayShot
) -> Iterator[dict[str, Any]]:
    """Other clips for the place of a shot, each with the picture in its middle."""
    by_source = {clip.source.key: clip for clip in bins}
    for row in rows:
        clip = by_source.get(row["source"])
        if clip is None:
            continue
        yield {
            "name": row["name"],
            "clip_name": stages.clip_name(row["source"]),
            "source_in": row["source_in"],
            "still": _of(gallery, clip.source, row["source_in"] + edit.length // 2),
        }


def pause_rows(stages: Stages, gallery: Gallery) -> list[dict[str, Any]]:
    """Every pause that the plan opens, with what is heard and seen in it."""
    bins = {clip.source.key: clip for clip in stages.after.timeline.bin}
    natural = [(edit, at) for edit, at in stages.placed() if isinstance(edit, LayNatural)]
    beside = stages.rate.frames(BESIDE_S * 2)
    rows = []
    for edit, at in stages.placed():
        if not isinstance(edit, OpenPause):
            continue
        laid = next((one for one, place in natural if at <= place < at + edit.length), None)
        clip = bins.get(laid.source) if laid is not None else None
        source = clip.source if clip is not None else None
        middle = laid.source_in + laid.length // 2 if laid is not None else 0
        shown = stages.showing_at(at + edit.length // 2) if laid is None else None
        rows.append(
            {
                "name_of": edit.decision,
                "clip_name": "" if laid is None else stages.clip_name(laid.source),
                "at": at,
                "time": stages.time(at),
                "length": edit.length,
                "seconds": stages.seconds(edit.length),
                **_sound(stages, gallery, Span(at, at + edit.length)),
                "why": edit.reason if laid is None else laid.reason,
                "name": "" if laid is None else laid.name,
                "seen": laid.name if laid is not None else "" if shown is None else shown.name,
                "still": _of_film(stages, gallery, at + edit.length // 2)
                if laid is None
                else _of(gallery, source, middle),
                "said_before": stages.words_in(Span(at - beside, at)),
                "said_after": stages.words_in(Span(at + edit.length, at + edit.length + beside)),
            }
        )
    return sorted(rows, key=lambda row: int(row["at"]))  # they are opened from the last to the first
