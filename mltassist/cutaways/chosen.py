"""What was chosen to be seen, before any cover is planned."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from mltassist.choices.kinds import ANYWHERE, ShotChoice
from mltassist.cutaways.parted import note_parts, parts_of, seen_pauses, unseen_pauses
from mltassist.cutaways.planner.film import Moment, Refused, Shot
from mltassist.findings import Findings, chosen_name
from mltassist.frames import Span, without
from mltassist.timeline.elements import size_of, subjects_of
from mltassist.timeline.model import BinClip, SourceKind


@dataclass(frozen=True, slots=True)
class Chosen:
    """Stretches that stay as they are, shots to be laid with their places, and what is not laid where."""

    stays: tuple[Span, ...] = ()
    shots: tuple[tuple[ShotChoice, Span], ...] = ()
    refused: tuple[Refused, ...] = ()

    @property
    def spans(self) -> tuple[Span, ...]:
        """All places for which somebody chose what is seen, or that nothing is laid."""
        return *self.stays, *(span for _, span in self.shots)


_TOLD = {
    "face stays": "the face stays",
    "refused": "another shot, or none",
    "accepted": "not laid",
    "other clip": "not laid",
}
"""What is told of choices but for those whose shots are laid."""


def chosen_places(findings: Findings) -> Chosen:
    """Where the choices on shots lie by now; those that no longer apply are noted."""
    film = Span(0, findings.timeline.length)
    found: dict[Span, ShotChoice] = {}
    for choice in findings.run.choices.shots:
        named = findings.places.span(chosen_name(choice))
        if named is None:
            findings.note_lost(choice)
            continue
        span = Span(named.start + choice.begin_by, named.end + choice.end_by).shared(film)
        if span.length < 1:
            findings.note_unfit(choice, named.start, "nothing is left of its length")
            continue
        if span in found:
            findings.note_overruled(found[span], span.start)
        found[span] = choice
    stays = tuple(span for span, choice in found.items() if choice.choice == "face stays")
    for span, choice in found.items():
        findings.decide(choice.name, span.start, _TOLD[choice.choice])
    shots = tuple((c, span) for span, c in found.items() if c.choice in ("accepted", "other clip"))
    return Chosen(stays, shots, tuple(_refused(findings, found.items())))


def _refused(findings: Findings, found: Iterable[tuple[Span, ShotChoice]]) -> Iterator[Refused]:
    for span, choice in found:
        if choice.choice == "refused":
            clip = findings.clip_called(choice.clip)
            if clip is None:
                findings.note_lost(choice)  # and so is not laid
            else:
                yield Refused(clip.source.key, span)


def chosen_shots(
    findings: Findings, chosen: Chosen, supply: Sequence[Moment], pictures: Sequence[Span]
) -> tuple[Shot, ...]:
    """The shots that were chosen, as far as they can be laid; the others are noted.

    pictures: places where the editor has laid a picture.
    """
    laid: list[Shot] = []
    film = Span(0, findings.timeline.length)
    pauses = seen_pauses(findings) if chosen.shots else ()
    for choice, span in sorted(chosen.shots, key=lambda row: row[1]):
        clip = findings.clip_called(choice.clip)
        if clip is None:
            findings.note_unfit(choice, span.start, f"no clip of the bin is called {choice.clip!r}")
            continue
        beside = (film, *pictures, *(other for _, other in chosen.shots if other != span))
        parts = parts_of(span, pauses, beside)
        if not parts or any(part.overlaps(other) for part in parts for other in pictures):
            why = "a picture of yours lies here" if parts else "a pause is seen here"
            findings.note_unfit(choice, span.start, why)
            continue
        if any(span.overlaps(other) for other in (*chosen.stays, *(shot.span for shot in laid))):
            findings.note_unfit(choice, span.start, "another choice is for a part of this place")
            continue
        laid += _shots(findings, choice, span, parts, clip, supply=supply, laid=laid)
    return tuple(laid)


def _shots(
    findings: Findings,
    choice: ShotChoice,
    span: Span,
    parts: Sequence[Span],
    clip: BinClip,
    *,
    supply: Sequence[Moment],
    laid: Sequence[Shot],
) -> tuple[Shot, ...]:
    """The shot of a choice, in these parts of its place; none where it cannot be laid, which is noted."""
    whole = clip.source.length if clip.source.kind is not SourceKind.IMAGE else 0
    if whole and whole < _length(parts):  # it cannot run on over a pause in which nothing is seen
        around = without([span], unseen_pauses(findings, span))
        parts = around if len(around) > 1 else parts
    length = _length(parts)
    if not clip.source.has_picture or (whole and whole < length):
        why = f"{clip.name!r} is shorter" if clip.source.has_picture else f"{clip.name!r} has no picture"
        findings.note_unfit(choice, span.start, why)
        return ()
    if parts != (span,):
        note_parts(
            findings, clip.name, span, parts, findings.timeline.rate.frames(findings.recipe.cover.shot_min_s)
        )
    first = choice.source_in
    if first == ANYWHERE:
        first = _best(clip, length, supply, laid)
    if whole and first + length > whole:
        first = whole - length
        findings.note(f"{clip.name!r} begins earlier than it was chosen to: it ends too soon", span.start)
    shots = []
    for part in parts:
        frames = Span(first, first + part.length)
        moment = Moment(clip.source.key, frames, clip.name, size_of(clip), subjects_of(clip))
        shots.append(Shot(part, moment, first, decision=choice.name))
        first = frames.end
    return tuple(shots)


def _length(parts: Iterable[Span]) -> int:
    return sum(part.length for part in parts)


def _best(clip: BinClip, length: int, supply: Sequence[Moment], laid: Sequence[Shot]) -> int:
    """First frame of the best moment of a clip that is long enough and not shown yet; else of its middle."""
    spent = [shot.frames for shot in laid if shot.moment.source == clip.source.key]
    fitting = [
        moment for moment in supply if moment.source == clip.source.key and moment.span.length >= length
    ]
    for moment in sorted(fitting, key=lambda one: (-one.worth, one.span)):
        shown = Span(moment.span.start, moment.span.start + length)
        if not any(shown.overlaps(other) for other in spent):
            return shown.start
    return max(0, (clip.source.length - length) // 2)
