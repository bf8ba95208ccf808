"""Faults of a film's picture, as a film or a project is asked for them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from mltassist.findings import Findings
from mltassist.project import Project
from mltassist.recipe.rules import Recipe
from mltassist.rushes.find import begin, find
from mltassist.timeline.picturefaults import PictureFault, picture_faults


def faults_of_picture(
    project: Project, *, original: Project | None = None, recipe: Recipe | None = None
) -> tuple[PictureFault, ...]:
    """What an editor would not let through in the picture, in order of time.

    Black, flashes, a shot used twice by the editor, a voice that is never seen, and nobody seen for longer
    than the recipe allows. original: only those that it does not have, wherever they lie in it.
    """
    found = faults_in(find(project.timeline, begin(project.timeline, recipe)))
    return found if original is None else new_faults(found, faults_of_picture(original, recipe=recipe))


def faults_in(findings: Findings) -> tuple[PictureFault, ...]:
    """The same of a film whose elements are known."""
    timeline = findings.timeline
    unseen_max = int(findings.recipe.cover.unseen_max_s * timeline.rate.fraction)
    return picture_faults(timeline, findings.elements, unseen_max)


def new_faults(found: Iterable[PictureFault], before: Iterable[PictureFault]) -> tuple[PictureFault, ...]:
    """Those of the faults found that were not there before: one said twice where it was said once is new."""
    known = Counter(fault.what for fault in before)
    new = []
    for fault in found:
        known[fault.what] -= 1
        if known[fault.what] < 0:
            new.append(fault)
    return tuple(new)
