"""What a division of an edit into shots and open picture costs, by the weights of the recipe.

A division is a path of boundaries; between two of them lies either one shot or open picture. Its cost is
the sum over its parts (`shot_parts`, `open_parts`) and its boundaries.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mltassist.cutaways.planner.film import CoverTask, Frames
from mltassist.frames import Span, joined

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Floor:
    """The least that filling a shot can cost, whatever clip fills it.

    base: where no spoken word helps. said: how much the best word said at a frame takes off it, for every
    frame of the film and `reach` more on either side; a shot gains from the words within `reach`
    frames of it.
    """

    base: float
    said: Array
    reach: int


@dataclass(frozen=True, slots=True)
class Stretch:
    """Costs over one stretch of the edit between pictures that the editor has laid.

    Arrays are indexed by frame within it and one longer than it, but for `face` and `said` (which begins
    `floor.reach` frames before the stretch and ends as many after it).
    """

    span: Span
    boundary: Array
    open_sum: Array
    cover_sum: Array
    cuts_before: NDArray[np.int64]
    changes: NDArray[np.int64]
    face: NDArray[np.bool_]
    base: float
    said: Array
    reach: int

    @property
    def length(self) -> int:
        """Frames of the stretch."""
        return self.span.length


def open_stretches(task: CoverTask) -> tuple[Span, ...]:
    """Everything but what the editor has covered."""
    return joined(view.span for view in task.views if view.who is not None)


def find_first_looks(task: CoverTask, rules: Frames) -> dict[str, Span]:
    """For each speaker the earliest stretch of face that is long enough and free of cuts and narration.

    A speaker whose face is never open for so long between cuts has none.
    """
    # Both ends of narration are sound edits, from which the ends of its shots keep their distance.
    guards = [span.grown(rules.edge, rules.edge) for span in task.never_bare]
    guards += [Span(cut.at - rules.margin, cut.at + rules.margin) for cut in task.cuts]
    guards.sort()
    found: dict[str, Span] = {}
    for view in task.views:
        if not view.who or view.who in found:
            continue
        start = view.span.start
        for guard in guards:
            if guard.end <= start:
                continue
            if guard.start - start >= rules.face_first:
                break
            start = max(start, guard.end)
        if view.span.end - start >= rules.face_first:
            found[view.who] = Span(start, start + rules.face_first)
    return found


def stretches_of(task: CoverTask, rules: Frames, floor: Floor | None = None) -> tuple[Stretch, ...]:
    """Every open stretch of an edit with its costs; without a floor filling a shot costs nothing."""
    looks = find_first_looks(task, rules)
    floor = floor or Floor(0.0, np.zeros(task.length), 0)
    return tuple(_stretch(task, rules, span, looks, floor) for span in open_stretches(task))


def _stretch(task: CoverTask, rules: Frames, span: Span, looks: dict[str, Span], floor: Floor) -> Stretch:
    open_frame, cover_frame, face, changes = _picture_costs(task, rules, span, looks)
    boundary, cut_frames = _boundary_costs(task, rules, span)
    for cut in task.cuts:
        if cut.at in span:
            open_frame[cut.at - span.start] += rules.weights.bare_cut * (0.5 + cut.unlike / 2)
    return Stretch(
        span=span,
        boundary=boundary,
        open_sum=np.concatenate(([0.0], np.cumsum(open_frame))),
        cover_sum=np.concatenate(([0.0], np.cumsum(cover_frame))),
        cuts_before=np.concatenate(([0], np.cumsum(cut_frames))),
        changes=changes,
        face=face,
        base=floor.base,
        said=floor.said[span.start : span.end + 2 * floor.reach],
        reach=floor.reach,
    )


def _window(span: Span, stretch: Span) -> slice:
    """The frames of `span` that lie in `stretch`, counted from its start; empty where none do."""
    both = span.shared(stretch)
    return slice(both.start - stretch.start, both.end - stretch.start) if both.length > 0 else slice(0, 0)


def _picture_costs(
    task: CoverTask, rules: Frames, stretch: Span, looks: dict[str, Span]
) -> tuple[Array, Array, NDArray[np.bool_], NDArray[np.int64]]:
    """Per frame: cost of leaving it open, of covering it, whether it shows a face; and view changes."""
    weights = rules.weights
    open_frame, cover_frame = np.zeros(stretch.length), np.zeros(stretch.length)
    face = np.zeros(stretch.length, dtype=bool)
    changes = {0, stretch.length}
    for view in task.views:
        part = _window(view.span, stretch)
        if part.start == part.stop:
            continue
        changes |= {part.start, part.stop}
        if not view.who:
            continue
        face[part] = True
        cover_frame[part] += weights.cover
        if look := looks.get(view.who):
            cover_frame[_window(look.shared(view.span), stretch)] += weights.covered_first_look
            early = view.span.shared(Span(view.span.start, look.start))
            open_frame[_window(early, stretch)] += weights.early_look
    for span in task.never_bare:
        part = _window(span, stretch)
        open_frame[part] += weights.bare_narration
        cover_frame[part] = 0.0
    return open_frame, cover_frame, face, np.array(sorted(changes), dtype=np.int64)


def _boundary_costs(task: CoverTask, rules: Frames, stretch: Span) -> tuple[Array, NDArray[np.int64]]:
    """Cost of a picture edit of ours at every frame boundary; and the number of jump cuts per frame."""
    weights, length = rules.weights, stretch.length
    boundary = np.zeros(length + 1)
    boundary[1:length] = weights.in_speech
    wider = Span(stretch.start, stretch.end + 1)
    for pause in task.pauses:
        boundary[_window(pause.grown(0, 1), wider)] = 0.0
    for at in task.sound_edits:
        boundary[_window(Span(at - rules.edge + 1, at + rules.edge), wider)] += weights.near_sound_edit
    for split in task.splits:  # best is one shot over the whole of it
        boundary[_window(Span(split.start + 1, split.end), wider)] += weights.short_margin
    cut_frames = np.zeros(length, dtype=np.int64)
    slope = max(1, rules.ideal_margin - rules.margin)
    reach = max(rules.ideal_margin, rules.margin)
    half = weights.bare_cut / 2
    for cut in task.cuts:
        place = cut.at - stretch.start
        if cut.at not in stretch:
            continue
        cut_frames[place] += 1
        near = np.arange(max(0, place - reach), min(length, place + reach) + 1)
        distance = np.abs(near - place)
        close = weights.short_margin * np.maximum(0, rules.ideal_margin - distance) / slope
        boundary[near] += np.where(distance < rules.margin, half, close)
    # The ends of a stretch are the editor's own picture edits: no cost, but for a cut left bare there.
    for end in (0, length):
        boundary[end] = half if half and boundary[end] >= half else 0.0
    return boundary, cut_frames


def length_costs(rules: Frames) -> Array:
    """Cost of a shot by its length, index 0 to the longest; infinite where it is too short."""
    lengths = np.arange(rules.shot_span_max + 1)
    cost = rules.weights.length * ((lengths - rules.shot_ideal) / rules.shot_ideal) ** 2
    cost[lengths > rules.shot_max] += rules.weights.spanning
    cost[lengths < rules.shot_min] = np.inf
    return cost


def shot_parts(stretch: Stretch, rules: Frames, by_length: Array, q: int) -> tuple[int, Array]:
    """All shots that end at boundary `q`: the first boundary they may begin at, and the cost from each on.

    by_length: `length_costs(rules)`. The floor of filling them is included.
    """
    low, high = max(0, q - rules.shot_span_max), q - rules.shot_min
    if high < low:
        return low, np.zeros(0)
    cost = by_length[q - high : q - low + 1][::-1] + stretch.cover_sum[q] - stretch.cover_sum[low : high + 1]
    long = max(0, q - rules.shot_max - low)  # starts that make the shot longer than ordinary
    few = stretch.cuts_before[q] - stretch.cuts_before[low : low + long] < 2
    cost[:long][few] = np.inf
    if stretch.base:
        words = stretch.said[low : q + 2 * stretch.reach]
        best = np.maximum.accumulate(words[::-1])[::-1] if len(words) else np.zeros(0)
        cost = cost + stretch.base - best[: high - low + 1]
    return low, cost


def open_parts(stretch: Stretch, rules: Frames, q: int, since: int = 0) -> Array:
    """Open picture that ends at boundary `q`: the cost from every boundary from `since` to it on."""
    least, weights = max(1, rules.face_min), rules.weights
    cost = stretch.open_sum[q] - stretch.open_sum[since:q]
    starts = np.arange(since, q)
    view = np.searchsorted(stretch.changes, starts, side="right") - 1  # the view that a look begins in
    begins, ends = stretch.changes[view], np.minimum(stretch.changes[view + 1], q)
    last_view = int(np.searchsorted(stretch.changes, q, side="left")) - 1
    first_of_last = int(stretch.changes[last_view])
    whole_last = q == int(stretch.changes[last_view + 1])
    same = view == last_view
    # The look that a shot of ours leaves behind it, short where the view ends soon.
    short = (ends - starts < least) & stretch.face[starts] & (starts > 0)
    alone = (starts == begins) & (ends == stretch.changes[view + 1])
    head = np.where(short & ~same, np.where(alone, weights.short_view, weights.short_face), 0.0)
    # The look that a shot of ours ends, short where the view began late.
    tail = np.zeros(q - since)
    if stretch.face[q - 1]:
        lengths = q - np.maximum(starts, first_of_last)
        ours = (starts > 0) & same if q == stretch.length else np.ones(q - since, dtype=bool)
        full = (starts <= first_of_last) & whole_last
        flash = (lengths < least) & ours
        tail = np.where(flash, np.where(full, weights.short_view, weights.short_face), 0.0)
    return np.asarray(cost + head + tail)


def cost_of(stretch: Stretch, rules: Frames, shots: list[Span]) -> float:
    """Cost of dividing one stretch so: `shots` in order, in frames within it. Infinite where not allowed."""
    by_length = length_costs(rules)
    total, at = float(stretch.boundary[0]), 0
    for shot in shots:
        if shot.start > at:
            total += float(open_parts(stretch, rules, shot.start)[at]) + float(stretch.boundary[shot.start])
        low, cost = shot_parts(stretch, rules, by_length, shot.end)
        if not low <= shot.start < low + len(cost):
            return float("inf")
        total += float(cost[shot.start - low])
        at = shot.end
        if at < stretch.length:
            total += float(stretch.boundary[at])
    if at < stretch.length:
        total += float(open_parts(stretch, rules, stretch.length)[at])
    return total
