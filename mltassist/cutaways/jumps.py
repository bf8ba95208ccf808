"""Which cuts of a film show as jumps: what is seen, what is hidden already, and what is heard beside it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import inf

from mltassist.cutaways.looks import jump_looks
from mltassist.cutaways.planner.film import Frames, JumpCut
from mltassist.findings import Findings
from mltassist.frames import Span
from mltassist.timeline.cuts import CutKind, SpeechEdit, speech_edits
from mltassist.timeline.elements import Element
from mltassist.timeline.picture import Showing, showing
from mltassist.timeline.picturecuts import PictureCut, picture_cuts, sound_cuts

ALIKE_LOOKS = 0.4
"""Two files whose pictures at a cut differ by less show the same set-up: cameras split long takes."""


@dataclass(frozen=True, slots=True)
class Jumps:
    """The jumps of one film.

    cuts: all that is to be covered, in order. splits: from cut in picture to cut in sound where a split edit
    jumps. seen: frames of all jumps that are open to the eye; hidden: of these, at which the editor has
    changed the size of the picture; covered: frames of jumps that lie under another picture.
    """

    cuts: tuple[JumpCut, ...]
    splits: tuple[Span, ...]
    seen: frozenset[int]
    hidden: frozenset[int]
    covered: frozenset[int]


def find_jumps(findings: Findings, *, look: bool = True) -> Jumps:
    """The jumps of a timeline on which no cover of ours lies; look: pictures are looked at."""
    timeline, elements, rules = findings.timeline, findings.elements, findings.recipe.cover
    edits = [e for e in speech_edits(timeline, elements, ours=True) if e.kind is not CutKind.THROUGH]
    pictures = picture_cuts(timeline, elements, ours=True)
    looks = jump_looks(findings, pictures) if look else {}
    frames = Frames.of(rules, timeline.rate)
    sound_of = sound_cuts(pictures, edits, timeline, frames.shot_span_max - 2 * frames.margin)
    cuts = {cut.at: cut for cut in jump_cuts(pictures, looks, rules.punch_in)}
    hidden = {cut.at for cut in pictures if cut.kind is CutKind.JUMP and is_punched_in(cut, rules.punch_in)}
    apart = [(at, sound_of[at]) for at in sorted(cuts) if at in sound_of]
    shown = showing(timeline, ours=True)
    faces = [s.span for s in shown if _element(findings, s) is Element.INTERVIEW]
    for picture, sound in apart:
        if any(sound in face or sound - 1 in face for face in faces):
            cuts[sound] = JumpCut(sound, cuts[picture].unlike, seen=False)
    told = {cut.at for cut in pictures} | set(sound_of.values())
    for edit in edits:
        if edit.kind is CutKind.JUMP and not edit.covered and edit.at not in told:
            cuts[edit.at] = JumpCut(edit.at, seen=_is_bare(shown, edit))
    seen = {cut.at for cut in cuts.values() if cut.seen} | hidden
    covered = {edit.at for edit in edits if edit.kind is CutKind.JUMP and edit.covered}
    return Jumps(
        cuts=tuple(cuts[at] for at in sorted(cuts)),
        splits=tuple(Span(min(pair), max(pair)) for pair in apart),
        seen=frozenset(seen),
        hidden=frozenset(hidden),
        covered=frozenset(covered - seen - {sound for _, sound in apart}),
    )


def _element(findings: Findings, shown: Showing) -> Element | None:
    if shown.clip is None or shown.track is None:
        return None
    return findings.elements.of_clip(shown.track, shown.clip)


def _is_bare(shown: Iterable[Showing], edit: SpeechEdit) -> bool:
    """True for an edit at which there is no picture on one side: only a picture of its own helps there."""
    return any(s.clip is None for s in shown if s.span.start <= edit.at <= s.span.end)


def jump_cuts(
    cuts: Iterable[PictureCut], looks: Mapping[int, float], punch_in: float = inf
) -> Iterator[JumpCut]:
    """Every cut that shows as a jump, with how much it shows.

    Jumps within a recording count whatever they look like; cuts between two files of one set-up, which
    only the pictures tell, count too. punch_in: a cut at which the size of the picture changes by this
    factor and more is seen as one from another angle.
    """
    for cut in cuts:
        unlike = looks.get(cut.at)
        same_set_up = unlike is not None and unlike < ALIKE_LOOKS
        if (cut.kind is CutKind.JUMP or same_set_up) and not is_punched_in(cut, punch_in):
            yield JumpCut(cut.at, 1.0 if unlike is None else min(1.0, unlike / ALIKE_LOOKS))


def is_punched_in(cut: PictureCut, punch_in: float) -> bool:
    """True for a cut at which the size of the picture changes by this factor and more."""
    return cut.size_change >= punch_in
