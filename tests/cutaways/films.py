"""Films as a cover planner sees them, for the tests: small builders and hypothesis strategies."""

from __future__ import annotations

from itertools import accumulate, pairwise

from hypothesis import strategies as st

from mltassist.cutaways.planner.film import CoverTask, Frames, JumpCut, Moment, View
from mltassist.frames import Rate, Span, joined, without
from mltassist.recipe.cover import CoverRules

RULES = Frames.of(CoverRules(), Rate(25))
TINY = Frames(
    margin=1,
    ideal_margin=2,
    shot_min=3,
    shot_ideal=4,
    shot_max=5,
    shot_span_max=6,
    edge=2,
    face_first=4,
    face_min=2,
    reuse_after=10,
    unseen_max=7,
    flash=1,
)


def views_of(*parts: tuple[str | None, int]) -> tuple[View, ...]:
    """Views one after the other, given as (who, frames)."""
    edges = [0, *accumulate(length for _, length in parts)]
    return tuple(View(Span(a, b), who) for (who, _), (a, b) in zip(parts, pairwise(edges), strict=True))


def task_of(
    *parts: tuple[str | None, int],
    cuts: tuple[int, ...] = (),
    narration: tuple[tuple[int, int], ...] = (),
    sound_edits: tuple[int, ...] | None = None,
    supply: tuple[Moment, ...] = (),
    pauses: tuple[tuple[int, int], ...] = (),
) -> CoverTask:
    """A task; sound edits are the jump cuts and the ends of narration unless they are given."""
    heard = {*cuts, *(frame for span in narration for frame in span)}
    return CoverTask(
        views=views_of(*parts),
        cuts=tuple(JumpCut(at) for at in cuts),
        narration=tuple(Span(*span) for span in narration),
        sound_edits=tuple(sorted(heard)) if sound_edits is None else sound_edits,
        pauses=tuple(Span(*span) for span in pauses),
        supply=supply,
    )


def clips(count: int, length: int = 500) -> tuple[Moment, ...]:
    """Cutaways that all differ in subject, each from its own file."""
    sizes = ("WS", "MS", "CU")
    return tuple(
        Moment(f"/rushes/{n:03}.mov", Span(12, 12 + length), f"clip {n}", sizes[n % 3], (f"subject {n}",))
        for n in range(count)
    )


def merged(parts: list[tuple[str | None, int]]) -> list[tuple[str | None, int]]:
    """The same parts, with neighbours that show the same made one."""
    found: list[tuple[str | None, int]] = []
    for who, length in parts:
        if found and found[-1][0] == who:
            found[-1] = (who, found[-1][1] + length)
        else:
            found.append((who, length))
    return found


@st.composite
def films(draw: st.DrawFn, *, supply: int, scale: int = 1, longest: int = 8) -> CoverTask:
    """Random bites, jump cuts, narration over black, pictures of the editor's, two speakers."""
    kinds = draw(
        st.lists(st.sampled_from(["bite", "bite", "narration", "editor"]), min_size=1, max_size=longest)
    )
    parts: list[tuple[str | None, int]] = []
    cuts: list[int] = []
    narration: list[Span] = []
    edits: list[int] = []
    at = 0
    for kind in kinds:
        if kind == "bite":
            pieces = draw(st.lists(st.integers(10 * scale, 200 * scale), min_size=1, max_size=4))
            parts.append((draw(st.sampled_from(["ines", "tobias"])), sum(pieces)))
            cuts += [at + place for place in accumulate(pieces[:-1])]
            edits += [at + place for place in accumulate([0, *pieces])]
        elif kind == "narration":
            length = draw(st.integers(20 * scale, 400 * scale))
            parts.append(("", length))
            narration.append(Span(at, at + length))
            edits += [at, at + length]
        else:
            parts.append((None, draw(st.integers(10 * scale, 150 * scale))))
        at += parts[-1][1]
    speech = joined([Span(*pair) for pair in pairwise(sorted({*edits})) if pair[1] - pair[0] > 12], -6)
    return CoverTask(
        views=views_of(*merged(parts)),
        cuts=tuple(JumpCut(cut, draw(st.sampled_from([1.0, 0.5]))) for cut in cuts),
        narration=joined(narration),
        sound_edits=tuple(sorted({*edits})),
        pauses=without([Span(0, at)], [s.grown(-5, -5) for s in speech if s.length > 12]),
        supply=clips(supply),
    )
