"""Where shots begin and end: the best division of an edit into cover and open picture.

Every stretch between pictures that the editor has laid is divided by dynamic programming over its
frames: a path of boundaries, between which lies either one shot or open picture. The path of least
cost is exact for the costs below; which clip fills a shot is decided afterwards (`shots.py`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Span, joined
from mltassist.plan.film import CoverTask, Frames

# Costs rank the rules: one broken rule outweighs any sum of preferences on a normal stretch.
BARE_CUT = 4000.0
BARE_NARRATION = 400.0  # a frame
NEAR_SOUND_EDIT = 1500.0
SHORT_FACE = 900.0  # a look at a face under the least time, begun or ended by a shot of ours
SHORT_VIEW = 300.0  # the same where the editor's own cuts make it short: less than a frame of narration
COVERED_FIRST_LOOK = 60.0  # a frame
EARLY_LOOK = 20.0  # a frame of a face shown before its first long look
SHORT_MARGIN = 12.0  # at the least margin, falling to 0 at the ideal one
IN_SPEECH = 3.0  # a shot that changes inside a phrase
COVER = 0.015  # a frame of face that is covered: the face is worth seeing
LENGTH = 6.0  # times the squared relative distance from the ideal length
SPANNING = 8.0  # a shot longer than the ordinary limit


@dataclass(frozen=True, slots=True)
class _Costs:
    """Costs over one stretch; arrays are indexed by frame within it and one longer than it."""

    boundary: NDArray[np.float64]
    open_sum: NDArray[np.float64]
    cover_sum: NDArray[np.float64]
    cuts_before: NDArray[np.int64]
    changes: NDArray[np.int64]
    face: NDArray[np.bool_]


def divide(task: CoverTask, rules: Frames) -> tuple[Span, ...]:
    """Spans of the shots to lay, in order; touching spans are shots in sequence."""
    first_looks = find_first_looks(task, rules)
    found: list[Span] = []
    for stretch in open_stretches(task):
        costs = _costs(task, rules, stretch, first_looks)
        found += [span.shifted(stretch.start) for span in _best_path(costs, rules)]
    return tuple(found)


def open_stretches(task: CoverTask) -> tuple[Span, ...]:
    """Everything but what the editor has covered."""
    return joined(view.span for view in task.views if view.who is not None)


def find_first_looks(task: CoverTask, rules: Frames) -> dict[str, Span]:
    """For each speaker the earliest stretch of face that is long enough and free of cuts and narration.

    A speaker whose face is never open for so long between cuts has none.
    """
    # Both ends of narration are sound edits, from which the ends of its shots keep their distance.
    guards = [span.grown(rules.edge, rules.edge) for span in task.narration]
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


def _costs(task: CoverTask, rules: Frames, stretch: Span, looks: dict[str, Span]) -> _Costs:
    open_frame, cover_frame, face, changes = _picture_costs(task, stretch, looks)
    boundary, cut_frames = _boundary_costs(task, rules, stretch)
    for cut in task.cuts:
        if cut.at in stretch:
            open_frame[cut.at - stretch.start] += BARE_CUT * (0.5 + cut.unlike / 2)
    return _Costs(
        boundary=boundary,
        open_sum=np.concatenate(([0.0], np.cumsum(open_frame))),
        cover_sum=np.concatenate(([0.0], np.cumsum(cover_frame))),
        cuts_before=np.concatenate(([0], np.cumsum(cut_frames))),
        changes=changes,
        face=face,
    )


def _window(span: Span, stretch: Span) -> slice:
    """The frames of `span` that lie in `stretch`, counted from its start; empty where none do."""
    both = span.shared(stretch)
    return slice(both.start - stretch.start, both.end - stretch.start) if both.length > 0 else slice(0, 0)


def _picture_costs(
    task: CoverTask, stretch: Span, looks: dict[str, Span]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_], NDArray[np.int64]]:
    """Per frame: cost of leaving it open, of covering it, whether it shows a face; and view changes."""
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
        cover_frame[part] += COVER
        if look := looks.get(view.who):
            cover_frame[_window(look.shared(view.span), stretch)] += COVERED_FIRST_LOOK
            open_frame[_window(view.span.shared(Span(view.span.start, look.start)), stretch)] += EARLY_LOOK
    for span in task.narration:
        part = _window(span, stretch)
        open_frame[part] += BARE_NARRATION
        cover_frame[part] = 0.0
    return open_frame, cover_frame, face, np.array(sorted(changes), dtype=np.int64)


def _boundary_costs(
    task: CoverTask, rules: Frames, stretch: Span
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Cost of a picture edit of ours at every frame boundary; and the number of jump cuts per frame."""
    length = stretch.length
    boundary = np.zeros(length + 1)
    boundary[1:length] = IN_SPEECH
    wider = Span(stretch.start, stretch.end + 1)
    for pause in task.pauses:
        boundary[_window(pause.grown(0, 1), wider)] = 0.0
    for at in task.sound_edits:
        boundary[_window(Span(at - rules.edge + 1, at + rules.edge), wider)] += NEAR_SOUND_EDIT
    cut_frames = np.zeros(length, dtype=np.int64)
    slope = max(1, rules.ideal_margin - rules.margin)
    reach = max(rules.ideal_margin, rules.margin)
    for cut in task.cuts:
        place = cut.at - stretch.start
        if cut.at not in stretch:
            continue
        cut_frames[place] += 1
        near = np.arange(max(0, place - reach), min(length, place + reach) + 1)
        distance = np.abs(near - place)
        close = SHORT_MARGIN * np.maximum(0, rules.ideal_margin - distance) / slope
        boundary[near] += np.where(distance < rules.margin, BARE_CUT / 2, close)
    # The ends of a stretch are the editor's own picture edits: no cost, but for a cut left bare there.
    for end in (0, length):
        boundary[end] = BARE_CUT / 2 if boundary[end] >= BARE_CUT / 2 else 0.0
    return boundary, cut_frames


def _length_costs(rules: Frames) -> NDArray[np.float64]:
    lengths = np.arange(rules.shot_span_max + 1)
    cost = LENGTH * ((lengths - rules.shot_ideal) / rules.shot_ideal) ** 2
    cost[lengths > rules.shot_max] += SPANNING
    cost[lengths < rules.shot_min] = np.inf
    return cost


def _best_path(costs: _Costs, rules: Frames) -> list[Span]:
    """Shots of the cheapest path from the first to the last frame boundary of a stretch.

    shot_end[q] and open_end[q] are the least costs of reaching boundary q at the end of a shot or of
    open picture. Open picture follows only a shot (or the start), so its neighbours are always cover.
    """
    total = len(costs.boundary) - 1
    face_min = max(1, rules.face_min)
    length_cost = _length_costs(rules)
    shot_end = np.full(total + 1, np.inf)
    open_end = np.full(total + 1, np.inf)
    from_shot = np.full(total + 1, -1, dtype=np.int64)
    from_open = np.full(total + 1, -1, dtype=np.int64)
    shot_end[0] = 0.0
    leave_shot = np.full(total + 1, np.inf)  # cost of standing at p after a shot, ready for open picture
    leave_any = np.full(total + 1, np.inf)  # the same, ready for another shot
    leave_shot[0] = leave_any[0] = costs.boundary[0]
    head = _short_heads(costs, face_min)
    before_change = (np.inf, -1)  # best start of open picture before the last change of picture
    since_change = (np.inf, -1)  # best start since, old enough not to be a flash
    change = 0
    changes = set(costs.changes.tolist())
    for q in range(1, total + 1):
        # a shot that ends at q
        low, high = max(0, q - rules.shot_span_max), q - rules.shot_min
        if high >= low:
            reach = (
                leave_any[low : high + 1]
                + length_cost[q - high : q - low + 1][::-1]
                + (costs.cover_sum[q] - costs.cover_sum[low : high + 1])
            )
            long = max(0, q - rules.shot_max - low)  # starts that make the shot longer than ordinary
            few = costs.cuts_before[q] - costs.cuts_before[low : low + long] < 2
            reach[:long][few] = np.inf
            best = int(np.argmin(reach))
            shot_end[q], from_shot[q] = reach[best], low + best
        # open picture that ends at q
        aged = q - face_min
        if aged >= change and leave_shot[aged] - costs.open_sum[aged] < since_change[0]:
            since_change = (leave_shot[aged] - costs.open_sum[aged], aged)
        # What the editor's own pictures begin and end is no flash of ours.
        whole = 0.0 if q == total else SHORT_VIEW
        flash = SHORT_FACE if costs.face[q - 1] else 0.0
        tail = 0.0 if q - change >= face_min else min(flash, whole) if q in changes else flash
        options = [since_change, (before_change[0] + tail, before_change[1])]
        young = max(change, aged + 1)
        if young < q:
            recent = leave_shot[young:q] - costs.open_sum[young:q] + flash
            if young == change and q in changes:
                recent[0] += min(flash, whole if young == 0 else SHORT_VIEW) - flash
            best = int(np.argmin(recent))
            options.append((float(recent[best]), young + best))
        value, start = min(options)
        if start >= 0 and value < np.inf:
            open_end[q], from_open[q] = value + costs.open_sum[q], start
        leave_shot[q] = shot_end[q] + costs.boundary[q]
        leave_any[q] = min(shot_end[q], open_end[q]) + costs.boundary[q]
        if q in changes:
            begun = leave_shot[change:q] - costs.open_sum[change:q] + head[change:q]
            best = int(np.argmin(begun))
            before_change = min(before_change, (float(begun[best]), change + best))
            since_change, change = (np.inf, -1), q
    return _trace(shot_end, open_end, from_shot, from_open)


def _short_heads(costs: _Costs, face_min: int) -> NDArray[np.float64]:
    """Cost of open picture that a shot begins so late in a view that its face would only flash."""
    head = np.zeros(len(costs.boundary))
    for start, end in zip(costs.changes, costs.changes[1:], strict=False):
        if costs.face[start]:
            late = max(int(start) + 1, int(end) - face_min + 1)
            head[late:end] = SHORT_FACE
            if start > 0 and end - start < face_min:
                head[start] = SHORT_VIEW
    return head


def _trace(
    shot_end: NDArray[np.float64],
    open_end: NDArray[np.float64],
    from_shot: NDArray[np.int64],
    from_open: NDArray[np.int64],
) -> list[Span]:
    q = len(shot_end) - 1
    in_shot = bool(shot_end[q] < open_end[q])
    spans: list[Span] = []
    while q > 0:
        if in_shot:
            p = int(from_shot[q])
            spans.append(Span(p, q))
            in_shot = p > 0 and not open_end[p] < shot_end[p]
        else:
            p, in_shot = int(from_open[q]), True
        if p < 0:
            break
        q = p
    return spans[::-1]
