"""How the pictures of shots lie in the frame: they fill it, and stills grow where the recipe wants it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from mltassist.errors import MediaError
from mltassist.findings import Findings
from mltassist.media.picture.shape import shape_of
from mltassist.timeline.edits import Edit, LayShot
from mltassist.timeline.model import Source, SourceKind

_ALIKE = Fraction(1, 200)
"""Shapes that differ by less are one: as much as rounded pixels of a small picture make, seen by nobody."""
_TOLD = 3
"""Pictures that are named."""


def framed(findings: Findings, edits: Iterable[Edit]) -> tuple[Edit, ...]:
    """The same edits, in which shots say what they need to hide the frame beneath, and stills move.

    A picture of another shape than the film's leaves strips free, in which what it is to cover is seen.
    """
    sources = {clip.source.key: clip.source for clip in findings.timeline.bin}
    push_in = findings.recipe.cover.stills_push_in
    shapes, cut_off = dict[str, float](), dict[str, Fraction]()
    result: list[Edit] = []
    for edit in edits:
        source = sources.get(edit.source) if isinstance(edit, LayShot) else None
        if not isinstance(edit, LayShot) or source is None:
            result.append(edit)
            continue
        if source.key not in shapes:
            lost, shape = _shape(findings, source)
            shapes[source.key] = float(round(shape, 6)) if lost else 0.0
            if lost:
                cut_off[edit.name or source.key] = lost
        moves = push_in if source.kind is SourceKind.IMAGE else 1.0
        result.append(replace(edit, push_in=moves, shape=shapes[source.key]))
    if cut_off:
        names = ", ".join([*cut_off][:_TOLD]) + (" ..." if len(cut_off) > _TOLD else "")
        findings.note(
            "pictures of another shape than the film's are enlarged until they fill it, for what they cover"
            f" would be seen beside them: {names};"
            f" up to {float(max(cut_off.values())):.0%} of a picture is cut off"
        )
    return tuple(result)


def _shape(findings: Findings, source: Source) -> tuple[Fraction, Fraction]:
    """How much of a picture is cut off when it fills the frame, and its shape; 0 of one like the film."""
    film = findings.timeline.shape
    if source.path is None or not film:
        return Fraction(0), Fraction(0)
    try:
        shape = shape_of(source.path)
    except MediaError:  # told where it is looked at
        return Fraction(0), Fraction(0)
    ratio = shape / film
    lost = 1 - min(ratio, 1 / ratio) if ratio else Fraction(0)
    return (lost, shape) if lost >= _ALIKE else (Fraction(0), shape)
