"""The file of choices: written, read back, mistakes told by line, and no writer loses another's choice."""

from __future__ import annotations

import threading
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mltassist.choices.kinds import Choices, JoinChoice, LevelChoice, PauseChoice, ShotChoice, merged
from mltassist.choices.naming import Anchor, Name, read_name
from mltassist.choices.reading import choices_path, load_choices, parse_choices
from mltassist.choices.writing import choices_text, update_choices
from mltassist.errors import ChoicesError, OutputError

WORDS = st.text(st.characters(codec="utf-8"), max_size=12)
FILES = st.text(st.characters(codec="utf-8"), min_size=1, max_size=12)
ANCHORS = st.builds(
    Anchor,
    FILES,
    st.integers(-100, 10**8),
    st.integers(-5000, 5000),
    st.integers(1, 99),
)
BY = st.integers(-500, 500)
FRAME = st.integers(-1, 10**8)
LENGTH = st.integers(1, 14_000).map(lambda quarters: Fraction(quarters, 4))


def names(*kinds: str, two: bool = False, what: str = "") -> st.SearchStrategy[str]:
    last = ANCHORS if two else st.none()
    return st.builds(Name, st.sampled_from(kinds), ANCHORS, last, st.just(what)).map(str)


SHOTS = st.builds(
    ShotChoice,
    names("shot", two=True),
    st.sampled_from(["accepted", "other clip", "refused", "face stays"]),
    WORDS.map(lambda text: text or "x"),
    FRAME,
    BY,
    BY,
    WORDS,
)
JOINS = st.builds(
    JoinChoice, names("join", two=True), st.sampled_from(["accepted", "moved", "left"]), BY, BY, WORDS
)
PAUSES = st.builds(
    PauseChoice, names("pause"), st.sampled_from(["accepted", "open", "refused"]), LENGTH, WORDS, FRAME, WORDS
)
LEVELS = st.builds(
    LevelChoice,
    names("level", what="natural-sound"),
    st.sampled_from(["accepted", "set", "left"]),
    st.floats(-60, 12).map(lambda gain: round(gain, 2)),
    WORDS,
)
CHOICES = st.builds(
    Choices,
    never=st.lists(WORDS, max_size=2).map(tuple),
    means=st.dictionaries(WORDS, st.lists(WORDS, min_size=1, max_size=2).map(tuple), max_size=2),
    shots=st.lists(SHOTS, max_size=2).map(tuple),
    joins=st.lists(JOINS, max_size=2).map(tuple),
    pauses=st.lists(PAUSES, max_size=2).map(tuple),
    levels=st.lists(LEVELS, max_size=2).map(tuple),
)
LEFT = JoinChoice("join 99 a.mp4 > 150 a.mp4", "left")


@settings(max_examples=100, deadline=None)
@given(ANCHORS, ANCHORS)
def test_a_name_is_read_back_whatever_files_are_called(first: Anchor, last: Anchor) -> None:
    for name in (Name("join", first, last), Name("pause", first), Name("level", first, None, "music")):
        assert read_name(str(name)) == name


@pytest.mark.parametrize(
    "text",
    ["", "shot", "shot 1 a.mp4", "join 1 a", "level 1 a", "pause 1 a > 2 b", "cut 1 a", "join x a > 2 b"],
)
def test_what_is_no_name_is_none(text: str) -> None:
    assert read_name(text) is None


@settings(max_examples=60, deadline=None)
@given(CHOICES)
def test_what_is_written_is_read_back(choices: Choices) -> None:
    assert parse_choices(choices_text(choices)) == choices


def test_every_mistake_is_told_with_its_line() -> None:
    text = (
        "version = 1\n"
        "\n"
        "[[shots]]\n"
        'name = "join 1 a.mp4 > 2 a.mp4"\n'
        'choice = "accepted"\n'
        "[[joins]]\n"
        'name = "join 1 a.mp4 > 2 a.mp4"\n'
        'choice = "perhaps"\n'
        "[[levels]]\n"
        'name = "level:music 5 a.mp4"\n'
        'choice = "set"\n'
        "gain_db = -400\n"
    )
    with pytest.raises(ChoicesError) as told:
        parse_choices(text, "film.choices.toml")
    said = str(told.value)
    assert said.startswith(
        "film.choices.toml: line 3: shots[0].clip: is missing: 'accepted' is of one; line 4: "
    )
    assert "is no name of a decision on shot" in said
    assert 'line 8: joins[0].choice: "perhaps" should be' in said
    assert "line 12: levels[0].gain_db: -400 should be -100 to 20" in said
    assert "\n" not in said


@pytest.mark.parametrize("text", ["version = 2\n", "x = 1\n", "version = [\n", 'never = "a"\n'])
def test_what_is_no_file_of_choices_is_refused(text: str) -> None:
    with pytest.raises(ChoicesError, match=r"^c\.toml: "):
        parse_choices(text, "c.toml")


def test_a_later_choice_takes_the_place_of_an_earlier_one() -> None:
    moved = JoinChoice(LEFT.name, "moved", 2, -1)
    choices = Choices().put(LEFT).put(moved)
    assert choices.joins == (moved,)
    assert choices.of(LEFT.name) == moved
    assert not choices.without(LEFT.name)


def test_writers_at_once_lose_nothing(tmp_path: Path) -> None:
    path = tmp_path / "film.choices.toml"

    def write(first: int) -> None:
        for number in range(first, first + 8):
            row = JoinChoice(f"join {number} a.mp4 > 900 a.mp4", "left")
            update_choices(path, lambda now, row=row: now.put(row))

    writers = [threading.Thread(target=write, args=(100 * n,)) for n in range(4)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert len(load_choices(path).joins) == 32
    assert [file.name for file in tmp_path.iterdir() if file.suffix == ".tmp"] == []


def test_a_file_with_mistakes_stays_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "film.choices.toml"
    path.write_text("oops", encoding="utf-8")
    with pytest.raises(ChoicesError):
        update_choices(path, lambda now: now.put(LEFT))
    assert path.read_text(encoding="utf-8") == "oops"


def test_nothing_is_written_where_nothing_was_chosen_or_can_be(tmp_path: Path) -> None:
    update_choices(tmp_path / "film.choices.toml", lambda now: now)
    assert not (tmp_path / "film.choices.toml").exists()
    with pytest.raises(OutputError):
        update_choices(tmp_path / "no" / "film.choices.toml", lambda now: now.put(LEFT))


@settings(max_examples=60, deadline=None)
@given(CHOICES, CHOICES)
def test_two_that_change_the_same_choices_both_count(base: Choices, changed: Choices) -> None:
    assert merged(base, base, changed).shots == merged(base, changed, base).shots
    one, other = base.put(LEFT), Choices(never=base.never, means=base.means)
    found = merged(base, one, other)
    assert found.joins == (LEFT,)
    assert found.shots == ()
    assert set(found.never) == set(base.never)


def test_the_file_of_a_project_lies_beside_it_and_serves_what_was_made_of_it(tmp_path: Path) -> None:
    film, own = tmp_path / "film.mlt", tmp_path / "film.choices.toml"
    assert choices_path(film) == own
    passed = tmp_path / "film-rough-2.mlt"
    assert choices_path(passed) == tmp_path / "film-rough-2.choices.toml"
    film.touch()
    assert choices_path(passed) == own
    assert choices_path(tmp_path / "film-rough-apply.mlt") == own
    (tmp_path / "film-rough-2.choices.toml").touch()
    assert choices_path(passed) == tmp_path / "film-rough-2.choices.toml"
