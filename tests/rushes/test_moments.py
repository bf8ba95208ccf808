"""What ranges, markers and notes of a clip say of what can be used of it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import combinations
from pathlib import Path

import pytest

import mltassist
from mltassist.cutaways.looks import worth_of_each
from mltassist.cutaways.planner.film import Moment
from mltassist.cutaways.planner.plan import plan_cover
from mltassist.cutaways.planner.stock import stock_of
from mltassist.cutaways.planner.words import Spoken
from mltassist.cutaways.task import supply
from mltassist.frames import Rate, Span
from mltassist.rushes.find import begin, find
from mltassist.rushes.moments import MARKED, ORDINARY, usable
from mltassist.timeline.elements import subjects_of
from mltassist.timeline.log import Logged
from mltassist.timeline.model import BinClip, Marker, SourceKind
from tests.cli.films import short, write
from tests.cutaways.films import RULES, task_of
from tests.cutaways.test_task import moving
from tests.media.films import written
from tests.timeline.films import in_bin

WHOLE = Span(13, 987)
HALF = RULES.shot_ideal // 2


def marked(*marks: tuple[int, str], clip: BinClip | None = None) -> BinClip:
    return replace(clip or in_bin("gulls WS"), markers=tuple(Marker(at, text) for at, text in marks))


def of(
    clip: BinClip, *logged: Logged, whole: Span = WHOLE
) -> list[tuple[Span, str, tuple[str, ...], Fraction]]:
    found = usable(clip, logged, whole, ideal=RULES.shot_ideal, least=RULES.shot_min)
    return [(part.span, part.size, part.subjects, part.grade) for part in found]


def test_a_marker_is_a_moment_of_its_own_in_a_clip_that_stays_usable() -> None:
    clip = marked((400, "CU the beak, and the eye"), (100, ""), (2000, "beyond"))
    assert of(clip) == [
        (WHOLE, "WS", ("gulls",), ORDINARY),
        (Span(400 - HALF, 400 + HALF), "CU", ("gulls", "beak", "eye"), MARKED),
    ]
    assert of(replace(clip, markers=(Marker(400, "ours", ours=True),))) == [
        (WHOLE, "WS", ("gulls",), ORDINARY)
    ]


def test_markers_close_together_share_a_moment_and_those_near_the_ends_keep_off_the_handles() -> None:
    assert of(marked((400, "landing"), (450, "flight")))[1:] == [
        (Span(400 - HALF, 450 + HALF), "WS", ("gulls", "landing", "flight"), MARKED)
    ]
    spans = [span for span, *_ in of(marked((0, "landing"), (990, "flight")))[1:]]
    assert spans == [Span(13, 13 + RULES.shot_min), Span(987 - RULES.shot_min, 987)]
    assert of(marked((20, "landing")), whole=Span(13, 40)) == [(Span(13, 40), "WS", ("gulls",), ORDINARY)]


def test_ranges_come_before_markers_and_take_the_words_of_those_inside() -> None:
    clip = replace(marked((400, "CU beak"), (800, "feet")), zones=(Span(300, 500), Span(600, 700)))
    assert of(clip) == [
        (Span(300, 500), "CU", ("gulls", "beak"), ORDINARY),
        (Span(600, 700), "WS", ("gulls",), ORDINARY),
    ]


def test_rows_come_before_ranges_and_say_more_of_a_moment_than_its_clip() -> None:
    clip = replace(marked((400, "CU beak")), zones=(Span(300, 500),))
    rows = (
        Logged(Span(350, 450), "MS", ("tide",), Fraction(5)),
        Logged(Span(390, 500), "", (), None),
        Logged(Span(480, 490), "", (), Fraction(0)),
    )
    assert of(clip, *rows) == [
        (Span(350, 450), "MS", ("tide", "beak"), Fraction(1)),
        (Span(390, 480), "CU", ("gulls", "beak"), ORDINARY),
        (Span(490, 500), "WS", ("gulls",), ORDINARY),
    ]
    assert of(clip, rows[2]) == []


def test_a_still_is_seen_whole_whatever_its_row_says() -> None:
    clip = in_bin("map.png")
    still = replace(clip, source=replace(clip.source, kind=SourceKind.IMAGE))
    row = Logged(Span(0, 10), "WS", ("creek",), Fraction(4))
    assert of(still, row) == [(WHOLE, "WS", ("creek",), Fraction(4, 5))]
    assert of(still, replace(row, rating=Fraction(0))) == []


@pytest.mark.parametrize(
    ("tags", "subjects"),
    [
        ((), ("pond", "wheel", "turning", "tide")),
        (("CU",), ("pond", "wheel", "turning", "tide")),
        (("gate",), ("gate",)),
    ],
)
def test_notes_name_subjects_only_where_no_tag_does(tags: tuple[str, ...], subjects: tuple[str, ...]) -> None:
    clip = replace(in_bin("Pond 12", tags=tags), notes="The wheel is turning with the tide, CU 2")
    assert subjects_of(clip) == subjects


def test_frames_in_two_moments_of_a_clip_are_shown_once_and_counted_once() -> None:
    whole = Moment("/a.mov", Span(0, 500), "a", "WS", ("gulls",), 0.6)
    beak = Moment("/a.mov", Span(300, 420), "a", "CU", ("gulls", "beak"), 0.8)
    rules = replace(RULES, reuse_after=0)
    task = task_of(("ines", 3000), cuts=(400, 900, 1400, 1900, 2400), supply=(whole, beak))
    task = replace(task, words=(Spoken("beaks", 1420, "en"),))
    plan = plan_cover(task, rules, alternatives=3)
    assert len(plan.shots) >= 3
    assert {shot.moment for shot in plan.shots} == {whole, beak}
    spans = [Span(shot.source_in, shot.source_in + shot.span.length) for shot in plan.shots]
    assert not [pair for pair in combinations(spans, 2) if pair[0].overlaps(pair[1])]
    assert not [breach for breach in plan.breaches if breach.rule == "no frame twice"]
    for shot, others in zip(plan.shots, plan.others, strict=True):
        assert not [o for o in others if abs(o.source_in - shot.source_in) < shot.span.length]
    assert [(row.subject, row.usable) for row in stock_of(task, ())] == [("gulls", 500), ("beak", 120)]


def test_moments_that_overlap_are_looked_at_once_and_each_as_by_itself(tmp_path: Path) -> None:
    path = written(tmp_path / "clip.mkv", moving(140))
    spans = [Span(0, 140), Span(40, 110)]
    found = worth_of_each(path, spans, Rate(25), 50)
    assert set(found) == set(spans)
    for span in spans:
        ((alone, worth),) = worth_of_each(path, [span], Rate(25), 50)[span]
        ((together, same),) = found[span]
        assert (together, same) == (alone, pytest.approx(worth, abs=0.05))


def test_marks_of_a_project_lead_to_the_word_that_is_said(tmp_path: Path) -> None:
    timeline = mltassist.open(write(short(), tmp_path)).timeline
    clip = next(clip for clip in timeline.bin if clip.name == "gulls WS")
    bins = tuple(marked((100, "lantern"), clip=c) if c is clip else c for c in timeline.bin)
    film = replace(timeline, bin=bins)
    found = list(supply(find(film, begin(film)), look=False))
    gulls = [(m.span, m.subjects, m.worth) for m in found if m.name == "gulls WS"]
    assert gulls == [
        (Span(13, 212), ("gulls", "birds"), 0.6),
        (Span(100 - HALF, 100 + HALF), ("gulls", "birds", "lantern"), 0.8),
    ]
    assert {m.worth for m in found if m.name != "gulls WS"} == {0.6}
