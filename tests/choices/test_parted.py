"""A pause asked for within a shot that was accepted: it opens, and the shot lies on both sides of it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

import mltassist
from mltassist.choices.kinds import Choices, PauseChoice, ShotChoice
from mltassist.choices.naming import Anchor, Name, read_name
from mltassist.choices.writing import choices_text
from mltassist.cli.main import main
from mltassist.cutaways.parted import parts_of
from mltassist.demofilm.scenario import CLIP_NUMBERS
from mltassist.frames import Span
from mltassist.page.gather import gather
from mltassist.plans import Plan
from mltassist.project import Project
from mltassist.timeline.edits import LayNatural, LayShot, OpenPause
from mltassist.timeline.picture import showing
from mltassist.timeline.picturefaults import FLASH
from tests import referee
from tests.cli.films import short, write
from tests.strips import read_strip

LONG = 75


@pytest.fixture(scope="module", autouse=True)
def soon() -> Iterator[None]:
    """Plans are not sought closely, which changes nothing of what is tested here."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("mltassist.cutaways.planner.closer.LARGEST", 0)
        yield


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Project:
    return mltassist.open(write(short(300), tmp_path_factory.mktemp("parted"), "host.kdenlive"))


@pytest.fixture(scope="module")
def nobodys(film: Project) -> Plan:
    return mltassist.rough(film, no_look=True)


@pytest.fixture(scope="module")
def paused(film: Project, nobodys: Plan) -> Plan:
    return mltassist.rough(film, no_look=True, choices=chosen(nobodys, 30)[0])


def laid(plan: Plan) -> list[LayShot]:
    return [edit for edit in plan.edits if isinstance(edit, LayShot) and edit.track == "cover"]


def chosen(plan: Plan, into: int) -> tuple[Choices, LayShot]:
    """Every shot of a plan accepted, and a pause so many frames into its second."""
    shots = laid(plan)
    accepted = [
        ShotChoice(s.decision, "accepted", Path(s.source).name, s.source_in) for s in shots if s.decision
    ]
    name = read_name(shots[1].decision)
    assert name is not None
    first = name.first
    place = Name("pause", Anchor(first.file, first.frame + into - 1, first.after, first.nth))
    return Choices().put(*accepted, PauseChoice(str(place), "open", Fraction(3))), shots[1]


def test_the_shot_lies_on_both_sides_of_the_pause_and_misses_no_frame(
    film: Project, nobodys: Plan, paused: Plan
) -> None:
    shot, plan = chosen(nobodys, 30)[1], paused
    (opened,) = [edit for edit in plan.edits if isinstance(edit, OpenPause)]
    assert (opened.at, opened.length) == (shot.at + 30, LONG)
    one, other = [edit for edit in laid(plan) if edit.decision == shot.decision]
    assert (one.at, one.length, one.source_in) == (shot.at, 30, shot.source_in)
    assert (other.at, other.length) == (opened.at + LONG, shot.length - 30)
    assert (other.source, other.source_in) == (shot.source, shot.source_in + 30)
    # All that nobody asked to be otherwise is as it was accepted, and the place is seen in the pause.
    others = {s.decision: (s.source, s.source_in, s.length) for s in laid(nobodys) if s is not shot}
    assert others == {
        s.decision: (s.source, s.source_in, s.length) for s in laid(plan) if s.decision != shot.decision
    }
    (natural,) = [edit for edit in plan.edits if isinstance(edit, LayNatural)]
    seen = [
        s for s in showing(plan.apply(film).timeline, ours=True) if s.span.overlaps(Span(opened.at, other.at))
    ]
    assert [(s.span.start, s.span.end, s.clip and s.clip.source.key) for s in seen] == [
        (opened.at, other.at, natural.source)
    ]
    told = [note.text for note in plan.notes if "parted by a pause" in note.text]
    assert told == [
        f"{shot.name!r} is parted by a pause: it is seen for 1.2 s, and behind it for "
        f"{(shot.length - 30) / 25:.3g} s"
    ]
    assert not [note for note in plan.notes if "the choice on" in note.text]
    assert not [note for note in plan.notes if "comes again" in note.text]


def test_the_page_shows_both_parts_as_one_decision(film: Project, nobodys: Plan, paused: Plan) -> None:
    (choices, shot), plan = chosen(nobodys, 30), paused
    rows = [
        row for row in gather(film, plan, choices=choices).data["covers"] if row["name_of"] == shot.decision
    ]
    assert [(row["part"], row["parts"], row["source_in"]) for row in rows] == [
        (1, 2, shot.source_in),
        (2, 2, shot.source_in),
    ]
    assert [one.choice for one in plan.decisions if one.name == shot.decision] == ["accepted"]
    assert [one.at for one in plan.decisions if one.name == shot.decision] == [shot.at]


def test_a_file_of_choices_is_obeyed_so_by_the_command(
    film: Project, nobodys: Plan, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    choices, shot = chosen(nobodys, FLASH - 5)
    file = tmp_path / "decided.toml"
    file.write_text(choices_text(choices), encoding="utf-8")
    arguments = [
        "rough",
        str(film.path),
        "--no-look",
        "--choices",
        str(file),
        "--json",
        "-o",
        tmp_path / "new.kdenlive",
    ]
    with pytest.raises(SystemExit) as ended:
        main([*map(str, arguments)])
    assert ended.value.code == 1  # a look is needed
    told: dict[str, Any] = json.loads(capsys.readouterr().out)
    parts = [edit for edit in told["edits"] if edit.get("decision") == shot.decision]
    # The shot before it was accepted too, so nothing else could be seen for those frames.
    assert [edit["length"] for edit in parts] == [FLASH - 5, shot.length - FLASH + 5]
    look = [note for note in told["notes"] if "parted by a pause" in note["text"]]
    assert [note["needs_editor"] for note in look] == [True]
    new = mltassist.open(tmp_path / "new.kdenlive").timeline.of_role("cover")
    assert new is not None
    assert [clip.length for clip in new.clips() if clip.source.key == shot.source] == [
        e["length"] for e in parts
    ]


@pytest.mark.parametrize(
    ("pauses", "beside", "parts"),
    [
        ([], [], [(100, 200)]),
        ([(130, 150)], [], [(100, 130), (150, 200)]),
        ([(105, 150)], [], [(150, 200)]),
        ([(105, 150)], [(60, 100)], [(100, 105), (150, 200)]),
        ([(105, 150), (180, 195)], [(200, 230)], [(150, 180), (195, 200)]),
        ([(90, 220)], [], []),
    ],
)
def test_what_is_too_short_to_be_seen_is_left_out_where_another_shot_may_lie(
    pauses: list[tuple[int, int]], beside: list[tuple[int, int]], parts: list[tuple[int, int]]
) -> None:
    found = parts_of(Span(100, 200), [Span(*one) for one in pauses], [Span(*one) for one in beside])
    assert found == tuple(Span(*one) for one in parts)


@pytest.mark.usefixtures("requires_melt")
def test_over_a_pause_without_natural_sound_the_shot_stays_in_sight(film: Project, nobodys: Plan) -> None:
    """The engine shows it in the middle of the pause, and the page says so."""
    choices, shot = chosen(nobodys, 30)
    natural = tuple(clip.name for clip in film.timeline.bin if "natural" in clip.source.key)
    choices = replace(choices, never=natural)
    plan = mltassist.rough(film, no_look=True, choices=choices)
    (opened,) = [edit for edit in plan.edits if isinstance(edit, OpenPause)]
    (one,) = [edit for edit in laid(plan) if edit.decision == shot.decision]
    assert (one.at, one.length) == (shot.at, shot.length + LONG)
    (row,) = gather(film, plan, choices=choices).data["pauses"]
    assert (row["name"], row["seen"]) == ("", shot.name)
    assert row["still"]
    left = plan.apply(film)
    folder = film.path.parent
    (code,) = map(read_strip, referee.frames(left.save(folder / "silent.kdenlive"), [opened.at + LONG // 2]))
    assert code is not None
    assert code[0] == CLIP_NUMBERS[f"media/cutaways/{Path(shot.source).name}"]
