"""What the editor's own shots leave of the supply."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from mltassist.cutaways.planner.film import CoverTask, Frames, Used
from mltassist.cutaways.planner.openings import Numbers
from mltassist.cutaways.planner.supply import Supply
from mltassist.frames import Span, without


def no_starts(used: Iterable[Used], rules: Frames) -> dict[str, list[Span]]:
    """By source, where no shot of it may begin: it would come too near to one that the editor has laid."""
    found: dict[str, list[Span]] = {}
    for one in used:
        rest = one.span_on_timeline.grown(rules.reuse_after + rules.shot_min - 1, rules.reuse_after)
        found.setdefault(one.source, []).append(rest)
    return found


def longest_free(task: CoverTask, supply: Supply) -> Numbers:
    """The longest part of each moment that the editor has not used."""
    taken: dict[str, list[Span]] = {}
    for used in task.used:
        taken.setdefault(used.source, []).append(used.span_in_source)
    free = (without([moment.span], taken.get(moment.source, ())) for moment in supply.moments)
    return np.array([max((span.length for span in spans), default=0) for spans in free], dtype=np.int64)
