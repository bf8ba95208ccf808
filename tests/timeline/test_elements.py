"""What tells an element, in which order, and what does not."""

from __future__ import annotations

import pytest

from mltassist.recipe.rules import Recipe, parse_recipe
from mltassist.timeline.elements import (
    Element,
    clips_of,
    find_elements,
    size_of,
    subjects_of,
    unknown_sources,
)
from mltassist.timeline.model import BinClip
from tests.timeline.films import in_bin, row, timeline, track

WORDS = Recipe().vocabulary()


def told(clip: BinClip, recipe: str = "", shares: dict[str, float] | None = None) -> Element | None:
    vocabulary = parse_recipe(recipe).vocabulary()
    return find_elements(timeline(bin_clips=[clip]), vocabulary, shares).of_source(clip.source.key)


@pytest.mark.parametrize(
    ("text", "element"),
    [
        ("Interviews", Element.INTERVIEW),
        ("Ines - interview 2", Element.INTERVIEW),
        ("Narration", Element.NARRATION),
        ("VO", Element.NARRATION),
        ("VO2", Element.NARRATION),
        ("voice-over", Element.NARRATION),
        ("B-Roll", Element.CUTAWAY),
        ("Cutaways", Element.CUTAWAY),
        ("nat_gulls", Element.NATURAL),
        ("NAT 03", Element.NATURAL),
        ("03nat", Element.NATURAL),
        ("Natural sound", Element.NATURAL),
        ("Music (temp)", Element.MUSIC),
    ],
)
def test_words_of_the_trade_tell_the_element(text: str, element: Element) -> None:
    found = WORDS.spoken_of(text)
    assert found is not None
    assert found[0] is element


@pytest.mark.parametrize(
    "text", ["Native speakers", "alternate", "Volvo", "voices", "scored", "unsynced", "ivy", ""]
)
def test_a_word_inside_another_word_tells_nothing(text: str) -> None:
    assert WORDS.spoken_of(text) is None


def test_the_longest_word_wins() -> None:
    assert WORDS.spoken_of("natural sound of an interview room") == (Element.NATURAL, "natural sound*")
    assert WORDS.spoken_of("music for the interview") == (Element.INTERVIEW, "interview*")


@pytest.mark.parametrize(
    ("word", "name"),
    [
        ("musique*", "Musiques de fin"),
        ("Geräusch*", "geräusche 04"),
        ("Geräusch*", "Gera\u0308usche"),
        ("музыка", "Музыка-2"),
        ("音楽", "音楽"),
    ],
)
def test_the_recipe_brings_the_words_of_other_languages(word: str, name: str) -> None:
    recipe = f'[words]\n"natural sound" = ["{word}"]\n'
    assert told(in_bin(name)) is None
    assert told(in_bin(name), recipe) is Element.NATURAL


def test_the_recipes_words_do_not_replace_those_of_the_trade() -> None:
    assert told(in_bin("Score"), '[words]\nmusic = ["musique"]\n') is Element.MUSIC


def test_pins_come_first_then_folder_tag_name_path_size_and_sound() -> None:
    whole = in_bin("narration", "Interviews", ("music",), file="nats/x.mov")
    assert told(whole, '[pins]\n"narr*" = "cutaway"\n') is Element.CUTAWAY
    assert told(whole) is Element.INTERVIEW
    assert told(in_bin("narration", "Stuff", ("music",), file="nats/x.mov")) is Element.MUSIC
    assert told(in_bin("narration", file="nats/x.mov")) is Element.NARRATION
    assert told(in_bin("Mill CU", file="nats/x.mov")) is Element.NATURAL
    assert told(in_bin("Mill CU", file="x.mov"), "", {"/rushes/x.mov": 0.9}) is Element.CUTAWAY
    assert told(in_bin("Mill", file="x.mov"), "", {"/rushes/x.mov": 0.4}) is Element.INTERVIEW
    assert told(in_bin("Mill", file="x.mov"), "", {"/rushes/x.mov": 0.39}) is None


def test_only_the_files_own_folder_speaks_not_the_ones_above() -> None:
    assert told(in_bin("x", file="music/2024/x.wav")) is None
    assert told(in_bin("x", file="2024/music/x.wav")) is Element.MUSIC


def test_a_pin_matches_a_whole_name_in_any_case() -> None:
    assert told(in_bin("TOBIAS_01"), '[pins]\n"tobias*" = "interview"\n') is Element.INTERVIEW
    assert told(in_bin("old TOBIAS_01"), '[pins]\n"tobias*" = "interview"\n') is None


def test_a_guess_from_sound_says_that_it_is_one() -> None:
    found = find_elements(timeline(bin_clips=[in_bin("x")]), WORDS, {"/rushes/x": 0.8})
    verdict = found.sources["/rushes/x"]
    assert not verdict.sure
    assert "80%" in verdict.why


def test_every_verdict_has_its_reason() -> None:
    found = find_elements(timeline(track(1, "Music"), bin_clips=[in_bin("x", "B-Roll")]), WORDS)
    assert found.sources["/rushes/x"].why == "bin folder says 'b-roll'"
    assert found.tracks[1].why == "track name says 'music'"


def test_a_track_is_what_its_name_says_whatever_lies_on_it() -> None:
    music = track(1, "Music", row(("interview.mov", 50)))
    found = find_elements(timeline(music), WORDS)
    assert [found.of_clip(music, clip) for clip in music.clips()] == [Element.MUSIC]


def test_a_track_without_a_name_is_what_all_its_known_clips_are() -> None:
    plain = track(1, "V1", row(("interview.mov", 50), ("mystery.mov", 50)))
    found = find_elements(timeline(plain), WORDS)
    assert [found.of_clip(plain, clip) for clip in plain.clips()] == [Element.INTERVIEW] * 2


def test_on_a_mixed_track_each_clip_speaks_for_itself() -> None:
    mixed = track(1, "V1", row(("interview.mov", 50), ("cutaway.mov", 50), ("mystery.mov", 50)))
    found = find_elements(timeline(mixed), WORDS)
    kinds = [found.of_clip(mixed, clip) for clip in mixed.clips()]
    assert kinds == [Element.INTERVIEW, Element.CUTAWAY, None]
    assert unknown_sources(timeline(mixed), found) == ("/rushes/mystery.mov",)


def test_clips_of_an_element_come_in_order_of_time() -> None:
    film = timeline(
        track(1, "Music", row((None, 100), ("late.wav", 50)), sound=True),
        track(2, "Music", row(("early.wav", 50)), sound=True),
        track(3, "Music", row(("silent.wav", 50)), sound=True, muted=True),
    )
    found = clips_of(film, find_elements(film, WORDS), (Element.MUSIC,))
    assert [(t.index, c.start) for t, c in found] == [(2, 0), (1, 100)]


@pytest.mark.parametrize(
    ("name", "tags", "size"),
    [
        ("Wheel CU", (), "CU"),
        ("wheel_ECU2.mov", (), "ECU"),
        ("Wheel", ("WS",), "WS"),
        ("Wheel CU", ("WS",), "WS"),
        ("Cut wheel", (), ""),
        ("ms wheel", (), ""),
    ],
)
def test_the_picture_size_stands_in_tags_or_name_in_capitals(
    name: str, tags: tuple[str, ...], size: str
) -> None:
    assert size_of(in_bin(name, "", tags)) == size


def test_subjects_are_tags_else_folder_and_words() -> None:
    assert subjects_of(in_bin("A001", "Cutaways/Mill", ("Wheel", "CU", "wheel"))) == ("wheel",)
    assert subjects_of(in_bin("Big wheel_CU 03", "Cutaways/Mill")) == ("mill", "big", "wheel")
    assert subjects_of(in_bin("Big wheel", "Cutaways")) == ("big", "wheel")
