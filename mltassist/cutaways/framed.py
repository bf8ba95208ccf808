"""How the pictures of shots lie in the frame: they fill it, and stills grow where the recipe wants it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from mltassist.errors import MediaError
from mltassist.findings import Findings
from mltassist.frames import Span
from mltassist.media.picture.shape import shape_of
from mltassist.timeline.edits import Edit, LayShot
from mltassist.timeline.model import Coverage, Source, SourceKind
from mltassist.timeline.picture import ALIKE

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
    _note_beneath(findings, result)
    if cut_off:
        names = ", ".join([*cut_off][:_TOLD]) + (" ..." if len(cut_off) > _TOLD else "")
        findings.note(
            "pictures of another shape than the film's are enlarged until they fill it, for what they cover"
            f" would be seen beside them: {names};"
            f" up to {float(max(cut_off.values())):.0%} of a picture is cut off"
        )
    return tuple(result)


def _note_beneath(findings: Findings, edits: Iterable[Edit]) -> None:
    """Tell of pictures of the editor's that shots are laid over, since they hide no more than a part."""
    covers = [Span(e.at, e.at + e.length) for e in edits if isinstance(e, LayShot) and e.track == "cover"]
    told: set[int] = set()
    for shown in findings.layers if covers else ():
        for layer in shown.over:
            known = layer.is_caption or id(layer.clip) in told
            over = next((c for c in covers if not known and c.overlaps(shown.span)), None)
            if over is None or layer.coverage is not Coverage.PART:
                continue
            told.add(id(layer.clip))
            why = "does not fill the frame" if layer.strips else "is seen through"
            what = (
                f"a shot is laid over {layer.clip.name!r}, which {why}: mend that, and the shot is not needed"
            )
            findings.note(what, max(over.start, shown.span.start), needs_editor=True)


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
    return (lost, shape) if lost >= ALIKE else (Fraction(0), shape)
