"""Cutaways whose names say nothing of what they show, told apart by how they look."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import PurePath

import numpy as np
from numpy.typing import NDArray

from mltassist.cutaways.planner.film import Moment
from mltassist.errors import MediaError
from mltassist.findings import Findings
from mltassist.media.picture.hints import picture_hints
from mltassist.media.picture.kind import shot_likeness
from mltassist.timeline.elements import words_in
from mltassist.timeline.model import BinClip

ALIKE_PICTURES = 0.75
"""Likeness from which two shots may show one thing. Of shots of one thing three in four reached it, of
others one in a hundred (cutaways of the example film, and the tuning half of the labelled rushes)."""
_CAMERA = re.compile(r"(?:[A-Z]{0,4}[_-]?\d{3,}[_-]?)+")
"""What cameras call their files: a few capitals and a number, or a date and a number (common practice)."""
_PLACES = frozenset(
    re.findall(
        r"\w+",
        "bin camera card clips day dcim disk files folder footage media part reel roll rushes shoot tape",
    )
)
"""Words of folders that tell where a file came from (common practice)."""


def told_apart(findings: Findings, clips: Sequence[BinClip], moments: Sequence[Moment]) -> tuple[Moment, ...]:
    """The same moments; those of clips that are named by number alone get the look they share as subject.

    A look is called by the first clip that has it: it claims nothing about what is shown.
    """
    nameless = {clip.source.key: clip for clip in clips if _numbered(clip)}
    looks = _looks(findings, [clip for clip in clips if clip.source.key in nameless])
    plain = {key: f"\u2248 {look.lower()}" for key, look in looks.items()}
    return tuple(
        replace(moment, subjects=(plain[moment.source],))
        if moment.source in plain and _says_nothing(moment)
        else moment
        for moment in moments
    )


def _numbered(clip: BinClip) -> bool:
    """True when a clip has no more than the number that its camera gave it."""
    folder = words_in(clip.folder.rpartition("/")[2]) if "/" in clip.folder else ()
    told = (*clip.tags, *words_in(clip.notes), *(word for word in folder if word not in _PLACES))
    return not told and _CAMERA.fullmatch(PurePath(clip.name).stem) is not None


def _says_nothing(moment: Moment) -> bool:
    """True when no log sheet and no marker has said what a moment shows."""
    own = PurePath(moment.name)
    known = {word.lower() for word in re.split(r"[^A-Za-z]+", own.name)} | _PLACES
    return all(set(re.split(r"\W+|\d+", subject)) <= known | {""} for subject in moment.subjects)


def _looks(findings: Findings, clips: Sequence[BinClip]) -> dict[str, str]:
    """By source key, the name of the first clip that looks like it; clips that cannot be seen have none."""
    first: list[tuple[str, NDArray[np.float32]]] = []
    found: dict[str, str] = {}
    for clip in findings.run.each("telling look-alikes", clips):
        if clip.source.path is None:
            continue
        try:
            seen = picture_hints(clip.source.path).signature
        except MediaError:
            continue  # told where it is looked at
        likeness = [shot_likeness(seen, other) for _, other in first]
        if likeness and max(likeness) >= ALIKE_PICTURES:
            found[clip.source.key] = first[int(np.argmax(likeness))][0]
        else:
            first.append((clip.name, seen))
            found[clip.source.key] = clip.name
    return found
