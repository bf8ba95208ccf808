"""What was taken out between bites, the words of a film, and where the rushes say something."""

from __future__ import annotations

import csv
import io
import shutil
from dataclasses import replace
from pathlib import Path

import pysubs2
import pytest

from mltassist.cutaways import wordlist
from mltassist.cutaways.hidden import CAUTION, COLUMNS, as_csv, as_srt, frames_gone, left_out, removed_words
from mltassist.cutaways.wordlist import Place, Words, alike_in, position, words
from mltassist.frames import Rate, Span
from mltassist.media.words.interface import SpokenLine, TimedWord
from mltassist.media.words.recording import SpokenRecording as Recording
from mltassist.project import Project, open_project
from mltassist.rushes.balance import find_balance, speaker_of
from mltassist.rushes.find import begin, find
from mltassist.rushes.speech import find_speech, frame_said
from mltassist.timeline.elements import Element
from tests.docs import pages


@pytest.fixture(scope="module")
def film() -> Project:
    return open_project(pages.FILM / "saltreed.kdenlive")


@pytest.fixture(scope="module")
def told(film: Project) -> Words:
    return words(film, removed=True, no_words=True)


def test_what_was_taken_out_is_told_with_what_stands_around_it(told: Words) -> None:
    assert told.removed is not None
    by_text = {edit.text: edit for edit in told.removed}
    # From the script of the film: Ines says this, and the edit leaves it out under the editor's own cutaway.
    edit = by_text["It is hard to explain, but you get used to that."]
    assert edit.hidden
    assert edit.shot == "millstones MS"
    assert edit.before.endswith("under your boots.")
    assert edit.after.startswith("You put a hand")
    assert not edit.turned
    assert edit.frames > 0
    assert by_text["We have tried thermometers, and nobody ever reads them."].looks == ("negation",)


def test_what_the_film_plays_elsewhere_was_not_left_out(told: Words) -> None:
    assert told.removed is not None
    played = {(word.source, word.source_in) for word in told.said}
    assert len(played) == len(told.said)
    turned = [edit for edit in told.removed if edit.turned]
    assert turned
    assert all(edit.text == "" and edit.frames == 0 and left_out(edit) == "(order turned)" for edit in turned)
    assert not any("I lift the gate with the winch" in edit.text for edit in told.removed)
    moved = [edit for edit in told.removed if edit.moved]
    assert moved
    # What is left of it is breath: from the script, the film plays all sentences that are passed over there.
    assert all(edit.frames < 25 and left_out(edit) == "(played elsewhere)" for edit in moved)


def test_what_two_edits_pass_over_is_left_out_once(told: Words) -> None:
    assert told.removed is not None
    sums = [edit for edit in told.removed if "flood" in edit.text]
    assert len(sums) == 2
    assert frames_gone(sums) == max(edit.frames for edit in sums) < sum(edit.frames for edit in sums)
    assert frames_gone(told.removed) < sum(edit.frames for edit in told.removed)


def test_the_list_opens_in_a_spreadsheet_and_on_a_timeline(told: Words) -> None:
    assert told.removed is not None
    rows = list(csv.reader(io.StringIO(as_csv(told.removed, told.rate))))
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) == len(told.removed) + 2
    assert rows[-1] == [CAUTION]
    lines = pysubs2.SSAFile.from_string(as_srt(told.removed, told.rate))
    assert [line.start for line in lines] == [int(told.rate.seconds(e.at) * 1000) for e in told.removed]
    assert all(a.end <= b.start for a, b in zip(lines, list(lines)[1:], strict=False))


def test_words_nobody_understood_are_told_as_such_and_not_as_silence(film: Project) -> None:
    findings = find(film.timeline, begin(film.timeline, no_words=True))
    speech = find_speech(findings, between=True)
    unsure = {key: tuple(replace(line, trust=0.2) for line in lines) for key, lines in speech.lines.items()}
    texts = {left_out(edit) for edit in removed_words(findings, replace(speech, lines=unsure))}
    assert "[We have tried thermometers, and nobody ever reads them?]." in texts


def test_words_are_plain_data_in_frames(told: Words) -> None:
    data = told.as_dict()
    first = data["words"][0]
    assert set(first) == {"text", "at", "length", "source", "source_in", "speaker", "trust"}
    assert first["text"] == "Twice"
    assert set(data["removed"][0]) >= {"at", "text", "frames", "order"}
    assert all(word["length"] >= 1 for word in data["words"])
    starts = [word["at"] for word in data["words"]]
    assert starts == sorted(starts)


@pytest.mark.usefixtures("listening")
def test_something_is_found_in_all_rushes_in_any_of_its_forms(film: Project) -> None:
    found = words(film, find_text="tried thermometer").found
    assert found is not None
    assert [(place.clip, place.text.split()[0]) for place in found] == [("Ines Calder interview", "We")]
    # It is no part of the film: its place is one of the recording.
    assert found[0].source_in > 0
    assert words(film, find_text="never said at all").found == ()


def test_what_is_found_is_marked_on_its_clip_in_the_bin(
    film: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    there = Place("Tobias Wren interview", film.timeline.bin[1].source.key, 250, "The tide has turned. " * 9)
    monkeypatch.setattr(wordlist, "places", lambda findings, text: [there])
    plan = words(film, find_text="tide", mark=True, no_words=True).plan
    assert plan is not None
    marked = {clip.source.key: clip.markers for clip in plan.apply(film).timeline.bin if clip.markers}
    ((at, text),) = [(marker.at, marker.text) for marker in marked[there.source]]
    assert at == 250
    assert text.startswith("mltassist: said: The tide has turned. The tide")
    assert text.endswith("…")
    plain = open_project(pages.FILM / "saltreed.mlt")
    told = words(plain, find_text="tide", mark=True, no_words=True)
    assert told.plan is None
    assert any("take no markers" in note.text for note in told.notes)


def test_a_phrase_is_found_at_its_first_word() -> None:
    line = SpokenLine(
        tuple(
            TimedWord(text, 100 * n, 100 * n + 90) for n, text in enumerate(["The", "mill-wheels", "turned"])
        ),
        language="en",
    )
    assert position(line, "wheel turning") == 1
    assert position(line, "the mill") == 0
    assert position(line, "turned the") is None
    assert position(line, "…") is None


def test_words_that_sound_the_same_are_told_apart_from_what_was_looked_for() -> None:
    """CMUdict: air and heir EH R, tide and tied T AY D, read also R IY D."""
    pytest.importorskip("pocketsphinx")
    line = _spoken_line("The air had tied the reed-bed")
    assert alike_in(line, "Heir") == Span(1, 2)
    assert alike_in(line, "had tide") == Span(2, 4)
    assert alike_in(line, "read bed") == Span(5, 6)
    assert not alike_in(line, "hair").length
    assert not alike_in(replace(line, language="fr"), "heir").length


def test_what_only_sounds_so_comes_last_and_never_of_what_is_typed(
    film: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("pocketsphinx")
    findings = find(film.timeline, begin(film.timeline, no_words=True))
    texts = iter(["it is tied up", "the tide", "nothing"])
    lines: dict[Path, SpokenLine] = {}

    def said(source: Recording, *_: object) -> list[SpokenLine]:
        return [lines.setdefault(source.path, _spoken_line(next(texts, "-")))]

    monkeypatch.setattr(wordlist, "words_of_recording", said)
    monkeypatch.setattr(Recording, "transcript", lambda source: source.path)
    assert [place.alike for place in wordlist.places(findings, "tide")] == [""]
    monkeypatch.setattr(Recording, "transcript", lambda _: None)
    heard = list(wordlist.places(findings, "tide"))
    assert [(place.alike, place.text) for place in heard] == [("", "the tide"), ("tied", "it is tied up")]
    assert all(place.heard for place in heard)


def _spoken_line(text: str) -> SpokenLine:
    return SpokenLine(
        tuple(TimedWord(word, 100 * n, 100 * n + 90) for n, word in enumerate(text.split())), language="en"
    )


def test_the_balance_of_a_film_adds_up(film: Project) -> None:
    findings = find(film.timeline, begin(film.timeline))
    balance = find_balance(findings)
    rate: Rate = balance.rate
    # From the script: 148.96 s in all; no pause is open yet.
    assert balance.length == film.timeline.length
    assert sum(balance.words.values()) == sum(
        balance.elements[element] for element in (Element.INTERVIEW, Element.NARRATION)
    )
    assert 0.2 < balance.narration < 0.3
    assert balance.caution == ""
    assert balance.pauses == ()
    assert balance.unbroken.length == balance.length
    assert sum(balance.faces.values()) < balance.elements[Element.INTERVIEW] + rate.frames(5)


def test_a_recording_that_nobody_could_hear_says_so(film: Project, tmp_path: Path) -> None:
    folder = tmp_path / "film"
    shutil.copytree(film.path.parent, folder)
    for transcript in folder.rglob("*.srt"):
        transcript.unlink()
    project = open_project(folder / "saltreed.kdenlive")
    findings = find(project.timeline, begin(project.timeline, no_words=True))
    speech = find_speech(findings, between=True)
    assert speech.said == ()
    assert len(speech.unheard) == 3
    assert {left_out(edit) for edit in removed_words(findings, speech)} == {"(not known)", "(order turned)"}


def test_without_a_bin_the_recordings_of_the_film_are_looked_through(film: Project) -> None:
    bare = replace(film.timeline, bin=())
    (place,) = wordlist.places(find(bare, begin(bare, no_words=True)), "tried thermometers")
    assert place.text == "We have tried thermometers, and nobody ever reads them."
    assert place.clip == "Ines Calder interview"


def test_a_gap_in_what_was_left_out_is_shown(film: Project) -> None:
    findings = find(film.timeline, begin(film.timeline, no_words=True))
    speech = find_speech(findings, between=True)
    there = [edit for edit in removed_words(findings, speech) if "thermometers" in edit.text]
    ((source, frame),) = [
        (line_key[0], frame_said(word.at_ms, speech.rate))
        for line_key, lines in speech.lines.items()
        for line in lines
        for word in line.words
        if word.text == "tried"
    ]
    first = speech.said[0]
    moved = replace(speech, said=(*speech.said, replace(first, text="tried", source=source, source_in=frame)))
    (edit,) = [e for e in removed_words(findings, moved) if e.at == there[0].at]
    assert edit.text == "We have … thermometers, and nobody ever reads them."


@pytest.mark.parametrize(
    ("clip", "who"),
    [
        ("Ines Calder 2", "Ines Calder"),
        ("Tobias Wren_03", "Tobias Wren"),
        ("Ines Calder (2)", "Ines Calder"),
        ("Interview 2", "Interview 2"),
        ("Beach Interview 2", "Beach Interview 2"),
        ("Farmer 2", "Farmer 2"),
        ("old farmer 2", "old farmer 2"),
        ("Ines Calder", "Ines Calder"),
        ("A001", "A001"),
    ],
)
def test_one_person_may_speak_in_many_files(clip: str, who: str) -> None:
    assert speaker_of(clip) == who
