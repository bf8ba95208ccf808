"""A project that names nothing: what is gathered of it, what it is taken for, and what is said of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import mltassist
from mltassist.findings import Findings
from mltassist.media.sound.speech import EnergyDetector
from mltassist.recipe.rules import parse_recipe
from mltassist.rushes import gathering
from mltassist.rushes.find import begin, find
from mltassist.rushes.gathering import neighbours
from mltassist.timeline.elements import Element
from mltassist.timeline.model import Source, SourceKind
from tests.cli.films import EXAMPLE, LAYOUTS
from tests.rushes.labelled.nameless import Nameless, nameless, write

MADE = nameless()


@pytest.fixture(scope="module", params=LAYOUTS)
def found(request, tmp_path_factory) -> tuple[Path, Findings]:
    folder = tmp_path_factory.mktemp("nameless")
    project = mltassist.open(write(MADE, folder, request.param))
    return folder, find(project.timeline, begin(project.timeline))


def test_every_clip_of_the_example_film_is_told_without_its_name(found) -> None:
    folder, findings = found
    taken = {
        str(Path(key).relative_to(folder)): one.element for key, one in findings.elements.sources.items()
    }
    assert {file: taken[file] for file in MADE.truth} == MADE.truth
    natural = {new for new, old in MADE.was.items() if "/natural/" in old}
    serving = {
        str(Path(key).relative_to(folder))
        for key in findings.elements.sources
        if findings.elements.serves(key, Element.NATURAL)
    }
    assert serving == natural  # the microphone's own noise in the other shots is no place


def test_every_track_is_told(found) -> None:
    _, findings = found
    elements = {findings.elements.tracks[track.index].element for track in findings.timeline.tracks}
    assert elements == set(Element)


def test_what_rests_on_evidence_is_said_once_with_a_reason_and_the_way_to_correct_it(found) -> None:
    _, findings = found
    told = [note.text for note in findings.notes]
    assert len(told) == 1
    for words in ("interviews C0001.mp4, C0002.mp4", "speech", "cutaways", "more", "--pins", "--recipe"):
        assert words in told[0]


def test_evidence_is_gathered_once_in_a_run(tmp_path, monkeypatch) -> None:
    project = mltassist.open(write(MADE, tmp_path, "plain.mlt"))
    run = begin(project.timeline)
    first = find(project.timeline, run)
    monkeypatch.setattr("mltassist.rushes.gathering.gather_evidence", None)  # a second call would fail
    again = find(project.timeline, run)
    assert again.elements == first.elements
    assert again.notes == first.notes


def test_a_guess_under_the_limit_of_the_recipe_is_not_used(tmp_path) -> None:
    project = mltassist.open(write(MADE, tmp_path, "plain.mlt"))
    rules = parse_recipe("[guesses]\nleast = 0.97\nsure = 0.99\n")
    findings = find(project.timeline, begin(project.timeline, rules))
    voice = next(one for key, one in findings.elements.sources.items() if key.endswith("C0003.m4a"))
    assert voice.element is None
    assert voice.seems is Element.NARRATION
    assert "unknown, perhaps narration" in voice.why
    assert any("unknown: C0003.m4a" in note.text for note in findings.notes)


def test_a_named_project_is_not_looked_at(monkeypatch) -> None:
    monkeypatch.setattr("mltassist.rushes.gathering.gather_evidence", None)
    timeline = mltassist.open(EXAMPLE / "saltreed.kdenlive").timeline
    findings = find(timeline, begin(timeline))
    assert not findings.run.guesses
    assert not findings.notes


def test_what_lies_on_a_named_track_is_what_the_track_says(tmp_path) -> None:
    lanes = tuple(
        replace(lane, name={"A3": "Narration", "V1": "Interview"}.get(lane.name, lane.name))
        for lane in MADE.film.lanes
    )
    made = Nameless(replace(MADE.film, lanes=lanes), MADE.was, MADE.truth)
    timeline = mltassist.open(write(made, tmp_path, "plain.mlt")).timeline
    findings = find(timeline, begin(timeline))
    told = {Path(key).name: one for key, one in findings.elements.sources.items()}
    assert told["C0003.m4a"].why == "it lies on track 'Narration'"
    assert told["C0003.m4a"].sure
    assert told["C0001.mp4"].why == "it lies on track 'Interview'"


def test_a_file_that_cannot_be_read_is_told_and_the_others_are_judged(tmp_path) -> None:
    path = write(MADE, tmp_path, "plain.mlt")
    broken = tmp_path / next(new for new in MADE.was if "C0005" in new)
    broken.unlink()
    broken.write_bytes(b"no film at all")
    gone = tmp_path / next(new for new in MADE.was if "C0006" in new)
    gone.unlink()
    timeline = mltassist.open(path).timeline
    findings = find(timeline, begin(timeline))
    told = " ".join(note.text for note in findings.notes)
    assert "C0005.mp4: it cannot be decoded" in told
    assert "C0006.mp4" not in told  # it is not laid: the survey tells that it is gone
    taken = {Path(key).name: one.element for key, one in findings.elements.sources.items()}
    assert taken["C0005.mp4"] is taken["C0006.mp4"] is None
    assert taken["C0007.mp4"] is Element.CUTAWAY


def test_neighbours_are_the_nearest_numbers_of_the_same_make_in_the_same_folder() -> None:
    def source(name: str, *, picture: bool = True) -> Source:
        return Source(name, SourceKind.FILE, Path(name), 100, picture)

    names = ("/a/C0007.mp4", "/a/C0003.mp4", "/a/C0008.mp4", "/a/C0011.mp4", "/a/C0012.mp4", "/a/D0009.mp4")
    sources = {name: source(name) for name in (*names, "/b/C0010.mp4", "/a/notes.mp4")}
    sources["/a/C0009.mp4"] = source("/a/C0009.mp4")
    sources["/a/C0010.mp4"] = source("/a/C0010.mp4", picture=False)
    found = neighbours(sources)
    assert found["/a/C0009.mp4"] == ("/a/C0007.mp4", "/a/C0008.mp4", "/a/C0011.mp4", "/a/C0012.mp4")
    assert found["/a/C0010.mp4"] == found["/a/D0009.mp4"] == ()
    assert "/a/notes.mp4" not in found


def test_sound_recorded_apart_belongs_to_the_picture_with_the_same_sound(tmp_path, monkeypatch) -> None:
    """The example's own interview once more as sound alone, begun two seconds later."""
    import soundfile

    from mltassist.media.sound.decode import read_sound
    from mltassist.timeline.model import BinClip
    from tests.timeline.films import timeline

    face = EXAMPLE / "media/interview/ines.mp4"
    recorded = tmp_path / "REC0001.wav"
    soundfile.write(recorded, 0.5 * read_sound(face, 96000, 60 * 48000)[0], 48000, subtype="PCM_16")
    other = EXAMPLE / "media/narration/narrator.m4a"
    clips = [
        BinClip(path.name, path.name, Source(str(path), SourceKind.FILE, path, length, path is face))
        for path, length in ((face, 1900), (recorded, 1500), (other, 950))
    ]
    film = timeline(bin_clips=clips)
    found = gathering.gather_evidence(film, [clip.source.key for clip in clips], begin(film).detector)
    assert found[str(recorded)].facts.partner == "ines.mp4"
    assert found[str(face)].facts.partner == "REC0001.wav"
    assert found[str(other)].facts.partner == ""
    assert found[str(recorded)].weighed.element is Element.INTERVIEW
    assert found[str(other)].weighed.element is Element.NARRATION


def test_without_the_speech_model_nothing_is_guessed_and_that_is_said(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr("mltassist.findings.default_detector", EnergyDetector)
    timeline = mltassist.open(write(MADE, tmp_path, "plain.mlt")).timeline
    findings = find(timeline, begin(timeline))
    assert all(one.element is None for one in findings.elements.sources.values())
    assert ["speech model" in note.text for note in findings.notes] == [True]
