"""What is said on a timeline, from transcripts beside its recordings or from its own subtitles."""

from __future__ import annotations

import shutil
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from mltassist.cutaways.planner.words import Spoken
from mltassist.cutaways.said import contested, named_in_the_bin, spoken_words, twins_on_film
from mltassist.findings import Findings, Run
from mltassist.media.words.interface import SpokenLine, TimedWord
from mltassist.media.words.recording import Ears
from mltassist.project import open_project
from mltassist.recipe.rules import Recipe
from mltassist.rushes.find import begin, find
from mltassist.rushes.speech import Said, Speech, note_unheard
from mltassist.timeline.elements import find_elements
from mltassist.timeline.model import Clip, Source, SourceKind, Timeline
from tests.docs import pages
from tests.media.words.voices import librivox
from tests.timeline.films import timeline, track

SRT = """1
00:00:01,000 --> 00:00:02,000
The wheel

2
00:00:03,000 --> 00:00:04,000
Tobias Wren
"""


def findings(film: Timeline, *, listening: bool = True) -> Findings:
    recipe = Recipe()
    return Findings(film, find_elements(film, recipe.vocabulary()), Run(recipe, listening=listening))


def talk(folder: Path, start: int, length: int, source_in: int, **more: object) -> Clip:
    path = folder / "ines interview.mov"
    source = Source(str(path), SourceKind.FILE, path, 1000)
    return Clip(start, length, source, source_in, "interview", **more)  # type: ignore[arg-type]


def said(film: Timeline) -> list[tuple[str, int]]:
    return [(word.text, word.at) for word in spoken_words(findings(film))]


def test_words_stand_where_the_edit_plays_them(tmp_path):
    (tmp_path / "ines interview.en.srt").write_text(SRT)
    # At 25 frames a second "The" is in source frame 25, "wheel" (one syllable of two) in 37, "Tobias" in 75.
    film = timeline(
        track(1, "Interview", [talk(tmp_path, 100, 20, 70), talk(tmp_path, 120, 13, 25)]),
        track(2, "Interview 2", [talk(tmp_path, 300, 60, 20), talk(tmp_path, 500, 99, 0, speed=Fraction(2))]),
    )
    # "Wren" is the third syllable: 3667 ms, frame 91, just beyond the first clip and beyond the third.
    assert said(film) == [
        ("Tobias", 105),
        ("The", 120),
        ("wheel", 132),
        ("The", 305),
        ("wheel", 317),
        ("Tobias", 355),
    ]
    assert {word.language for word in spoken_words(findings(film))} == {"en"}


def test_a_film_without_transcripts_is_read_from_its_subtitles(tmp_path):
    (tmp_path / "film.srt").write_text(SRT)
    film = timeline(track(1, "Interview", [talk(tmp_path, 0, 80, 500)]))
    film = replace(film, subtitles=(tmp_path / "film.srt",))
    assert said(film) == [("The", 25), ("wheel", 36), ("Tobias", 75)]  # "Wren" falls after the last frame


def test_a_transcript_that_cannot_be_read_is_noted_once(tmp_path):
    (tmp_path / "ines interview.srt").write_bytes(b"\x00no subtitles")
    told = findings(timeline(track(1, "Interview", [talk(tmp_path, 0, 50, 0), talk(tmp_path, 50, 50, 90)])))
    assert spoken_words(told) == ()
    assert [note.text.count("ines interview.srt") for note in told.notes] == [1]


def test_a_muted_track_says_nothing(tmp_path):
    (tmp_path / "ines interview.srt").write_text(SRT)
    assert said(timeline(track(1, "Interview", [talk(tmp_path, 0, 99, 0)], muted=True))) == []


def test_words_of_a_proxy_lie_beside_the_original_or_beside_itself(tmp_path):
    rushes, proxies = tmp_path / "rushes", tmp_path / "proxies"
    rushes.mkdir()
    proxies.mkdir()
    original = talk(rushes, 0, 99, 0)
    small = replace(original.source, path=proxies / "5ac1.mkv", proxy=True)
    film = timeline(track(1, "Interview", [replace(original, source=small)]))
    assert said(film) == []
    (proxies / "5ac1.srt").write_text(SRT.replace("wheel", "sluice"))
    assert [word for word, _ in said(film)] == ["The", "sluice", "Tobias", "Wren"]
    (rushes / "ines interview.en.srt").write_text(SRT)
    assert [word for word, _ in said(film)] == ["The", "wheel", "Tobias", "Wren"]


def reading(folder: Path) -> Clip:
    """A read sentence without a transcript, whole, from frame 100 on."""
    spoken = next(iter(librivox()))
    path = folder / "austen interview.wav"
    shutil.copy(spoken.path, path)
    source = Source(str(path), SourceKind.FILE, path, 177)
    return Clip(100, 177, source, 0, "austen interview")


@pytest.mark.usefixtures("listening")
def test_where_nothing_is_written_down_what_is_heard_counts(tmp_path):
    found = said(timeline(track(1, "Interview", [reading(tmp_path)])))
    places = dict(found)
    # pocketsphinx's own published alignment of this sentence: "dashwood" at 0.98 s, "power" at 5.75 s.
    assert abs(places["Dashwood"] - (100 + 24)) <= 2
    assert abs(places["power"] - (100 + 143)) <= 2
    deaf = findings(timeline(track(1, "Interview", [reading(tmp_path)])), listening=False)
    assert spoken_words(deaf) == ()
    assert not deaf.notes


def test_what_would_be_gained_is_told_once_where_nobody_can_listen(tmp_path, monkeypatch):
    monkeypatch.setattr("mltassist.findings.ears_of", lambda model: Ears())
    told = findings(timeline(track(1, "Interview", [reading(tmp_path)])))
    assert spoken_words(told) == ()
    (note,) = told.notes
    assert "what is said in 1 recording is not known" in note.text
    assert "pip install " in note.text
    assert not note.needs_editor


def test_what_is_heard_and_not_sure_is_told_and_leads_no_shot(tmp_path):
    film = timeline(track(1, "Interview", [talk(tmp_path, 0, 100, 0)]))
    guessed = SpokenLine((TimedWord("haul", 100, 400),), trust=0.1, language="en")
    told = findings(film)
    note_unheard(told, Speech(film.rate, {("a.mov", 0): (guessed,), ("b.mov", 0): ()}, ()))
    (note,) = told.notes
    assert "what is heard in 1 recording is not sure enough" in note.text
    sure = findings(film)
    note_unheard(sure, Speech(film.rate, {("a.mov", 0): (guessed, replace(guessed, trust=0.9))}, ()))
    assert not sure.notes


def test_of_words_in_doubt_those_count_that_name_what_was_filmed():
    film = open_project(pages.FILM / "saltreed.kdenlive").timeline
    told = find(film, begin(film))
    doubtful = [Spoken("gull", 5, "en"), Spoken("lantern", 9, "en"), Spoken("sluices", 12, "en")]
    assert [word.text for word in named_in_the_bin(told, doubtful)] == ["gull", "sluices"]
    assert list(named_in_the_bin(told, [])) == []


def heard(text: str, at: int, *, agreed: bool = True, trusted: bool = True) -> Said:
    return Said(text, at, 5, "ines.mp4", at, "Ines", 0.9, "en", False, trusted, agreed=agreed)


def test_a_word_in_doubt_is_not_used_where_one_that_sounds_like_it_is_sure():
    mill, meal, wheel = heard("mill", 0), heard("meal", 40, agreed=False), heard("wheel", 80, agreed=False)
    assert contested([mill, meal, wheel]) == {meal}
    # "Will" only binds others, and what is in doubt itself is no rival.
    assert contested([heard("will", 0), wheel]) == set()
    assert contested([heard("mill", 0, agreed=False), meal]) == set()
    assert contested([mill, heard("meal", 40)]) == set()


def test_two_things_on_film_that_sound_alike_are_not_told_apart_by_hearing():
    film = open_project(pages.FILM / "saltreed.kdenlive").timeline
    film = replace(film, bin=tuple(replace(clip, tags=(*clip.tags, "mill", "meal")) for clip in film.bin))
    told = find(film, begin(film))
    words = [Spoken(word, at, "en") for at, word in enumerate(("mill", "meal", "sluices", "stove"))]
    assert {word.text for word in twins_on_film(told, words)} == {"mill", "meal"}
    assert twins_on_film(told, words[1:]) == set()
    german = [Spoken(word.text, word.at, "de") for word in words]
    assert twins_on_film(told, german) == set()
