"""How long nobody is seen: cover that lies over an interview without a break, and places for a look."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from mltassist.cutaways.planner.costs import Stretch
from mltassist.cutaways.planner.film import CoverTask, Frames
from mltassist.frames import Span, joined, shared, without


def faces_of(task: CoverTask) -> tuple[Span, ...]:
    """Where a face is seen in an interview before any cover, narration and holes aside."""
    return without([view.span for view in task.views if view.who], [*task.narration, *task.holes])


def unseen_runs(task: CoverTask, cover: Sequence[Span]) -> tuple[Span, ...]:
    """Stretches of interview in which these spans hide every face, in order.

    A change of speaker does not end one, nor a picture that lies over an interview already; narration and a
    hole do. Where nothing but such pictures hides a face there is nothing to be told.
    """
    faces, shots = joined([*faces_of(task), *task.hidden]), joined([*cover, *task.hidden])
    runs = (both for face in faces for shot in shots if (both := face.shared(shot)).length > 0)
    return tuple(run for run in runs if any(run.overlaps(span) for span in cover))


def late_faces(task: CoverTask, rules: Frames, cover: Sequence[Span]) -> dict[str, tuple[Span, ...]]:
    """Speakers who are not seen in time after they begin: where each is heard and hidden until then.

    In time is before the limit has passed in which they are heard. Others are seen meanwhile: where nobody
    is, it is one run in which nobody is seen.
    """
    found: dict[str, tuple[Span, ...]] = {}
    over, bare, runs = joined(cover), [*task.narration, *task.holes], unseen_runs(task, cover)
    for who in dict.fromkeys(view.who for view in task.views if view.who):
        faces = without([view.span for view in task.views if view.who == who], bare)
        seen = next((span.start for span in without(faces, over)), task.length)
        hidden = shared(faces, [Span(0, seen)])
        apart = sum(any(run.overlaps(span) for span in hidden) for run in runs)
        if apart > 1 and sum(span.length for span in hidden) > rules.unseen_max:
            found[who] = hidden
    return found


def unseen_cost(task: CoverTask, rules: Frames, cover: Sequence[Span]) -> float:
    """What it costs that nobody is seen, or a speaker not yet, for longer than the rules allow.

    It is so many frames, and a flash more: the limit is broken by one frame too, and a look that keeps it is
    worth as much as any look.
    """
    over = [run.length - rules.unseen_max for run in unseen_runs(task, cover)]
    late = late_faces(task, rules, cover).values()
    over += [sum(span.length for span in hidden) - rules.unseen_max for hidden in late]
    return rules.weights.unseen * sum(frames + rules.flash for frames in over if frames > 0)


def with_looks(
    task: CoverTask, rules: Frames, stretches: Sequence[Stretch], cover: Sequence[Span]
) -> tuple[Stretch, ...]:
    """The stretches with a frame that is dear to cover in every run of this cover that is too long.

    It lies as far from jump cuts as can be, not far from where the run is divided evenly; and for a speaker
    who is seen too late in what is said in time.
    """
    cuts = np.array([cut.at for cut in task.cuts] or [-(10**9)])
    found = list(stretches)

    def look(frames: NDArray[np.int64], middle: int) -> None:
        frames = frames[[any(frame in stretch.span for stretch in found) for frame in frames.tolist()]]
        if not len(frames):
            return
        clear = np.abs(frames[:, None] - cuts[None, :]).min(axis=1)
        best = np.minimum(clear, rules.face_min + rules.margin) - 0.01 * np.abs(frames - middle)
        at = int(frames[int(best.argmax())])
        number = next(n for n, stretch in enumerate(found) if at in stretch.span)
        found[number] = _dear_to_cover(found[number], at, rules.weights.bare_cut)

    # A look lies where cuts let it: with room to spare the runs on both sides keep the limit all the same.
    aim = max(rules.unseen_max // 2, rules.unseen_max - 2 * rules.ideal_margin)
    for run in unseen_runs(task, cover):
        over = run.length > rules.unseen_max
        many = -(-(run.length - aim) // (aim + rules.face_min)) if over else 0
        for number in range(1, many + 1):
            middle = run.start + run.length * number // (many + 1)
            reach = max(1, min(run.length, rules.unseen_max) // 4)
            look(np.arange(max(run.start, middle - reach), min(run.end, middle + reach)), middle)
    for hidden in late_faces(task, rules, cover).values():
        said = np.concatenate([np.arange(span.start, span.end) for span in hidden])[: rules.unseen_max]
        look(said, int(said[0]))
    return tuple(found)


def _dear_to_cover(stretch: Stretch, at: int, price: float) -> Stretch:
    dearer = stretch.cover_sum.copy()
    dearer[at - stretch.span.start + 1 :] += price
    return replace(stretch, cover_sum=dearer)
