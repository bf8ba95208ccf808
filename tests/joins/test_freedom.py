"""How far the other tracks let a join move."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

from mltassist.demofilm.film import Lane, Placement
from mltassist.joins.freedom import FAR, freedom
from mltassist.joins.move import _chosen
from mltassist.joins.planner.choose import Move
from mltassist.joins.planner.judge import Verdict
from mltassist.project import Project
from mltassist.recipe.rules import Recipe
from mltassist.timeline.cuts import CutKind, SpeechEdit
from mltassist.timeline.elements import Element
from mltassist.timeline.model import Clip, Item, Timeline
from tests.hosts.films import FILM, TALK
from tests.hosts.test_any_join import joins
from tests.hosts.written import write_generation
from tests.timeline.films import row, timeline, track

AT = 100
BITES = row(("ines", AT, 400), ("ines", 200, 600))


def joined(items: tuple[Item, ...]) -> tuple[Timeline, SpeechEdit]:
    """A film with a jump at AT, beside another track."""
    made = timeline(track(1, "Interview", BITES), track(2, "Cutaways", items))
    before, after = (item for item in BITES if isinstance(item, Clip))
    return made, SpeechEdit(AT, 1, CutKind.JUMP, False, 100, before, after, Element.INTERVIEW)


@pytest.mark.parametrize(
    ("items", "least", "most"),
    [
        # The join comes to lie within the hole, of which a frame stays.
        (row(("wheel", 80), (None, 40), ("gate", 30)), -39, FAR),
        (row((None, AT), ("gate", 30)), -AT, FAR),  # the hole ends there: it may close
        (row(("wheel", AT), (None, 20), ("gate", 30)), -20, FAR),  # it begins there
        (row(("wheel", AT - 1), (None, 20), ("gate", 30)), -19, FAR),
        (
            row(("wheel", AT, 0), ("gate", 30)),
            -AT + 1,
            900,
        ),  # a clip ends there: longer or shorter
        (row(("wheel", AT + 10, 0), ("gate", 30)), -9, 890),  # one across it keeps a frame behind it
        (row(("wheel", AT)), -FAR, FAR),  # the track has ended
    ],
    ids=["across", "ends there", "begins there", "began before", "clip ends", "clip across", "ended"],
)
def test_a_join_moves_as_far_as_holes_and_clips_beside_it_give_way(
    items: tuple[Item, ...], least: int, most: int
) -> None:
    made, edit = joined(items)
    assert freedom(made, edit).shift == (least, most)


def heard(cut: SpeechEdit, *ways: tuple[int, int]) -> SimpleNamespace:
    """A join with these moves, as far as the choice between them looks at it."""
    judged = SimpleNamespace(score=0.9, verdict=Verdict.HEARD, reasons=())
    moves = tuple(Move(*way, judged, 0.0) for way in ways)
    return SimpleNamespace(
        at=cut.at, track=cut.track, edit=cut, chosen=None, crossed=None, judgement=judged, moves=moves
    )


@pytest.mark.parametrize(("middle", "asked"), [(40, 1), (4, 2)])
def test_the_document_is_asked_once_for_all_moves_that_are_not_in_each_others_way(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, middle: int, asked: int
) -> None:
    """Each of two moves takes three frames of the clip between them: one of four frames has not so many."""
    pieces = [(0, 0, 60), (60, 70, middle), (60 + middle, 120, 40)]
    row = tuple(Placement(TALK.file, at, first, length) for at, first, length in pieces)
    film = replace(FILM, lanes=(Lane("Interview", False, True, row),))
    project = write_generation("shotcut 25.12", tmp_path, film).project()
    cuts = joins(project.timeline)
    assert [cut.at for cut in cuts] == [60, 60 + middle]
    found = [heard(cuts[0], (0, 3)), heard(cuts[1], (-3, 0))]
    told: list[str] = []
    findings = SimpleNamespace(
        recipe=Recipe(),
        note=lambda what, at, **_: told.append(what),
        named=str,
        places=SimpleNamespace(join=lambda _: ""),
    )
    times: list[int] = []
    with_edits = Project.with_edits
    monkeypatch.setattr(Project, "with_edits", lambda *given: times.append(1) or with_edits(*given))
    edits, mended = _chosen(project, findings, found)
    assert len(times) == asked
    assert len(edits) == (2 if asked == 1 else 1)
    assert mended.timeline.length == project.timeline.length - 3 * len(edits)
    assert mended.timeline == with_edits(project, edits).timeline
    assert len(told) == 2 - len(edits)
