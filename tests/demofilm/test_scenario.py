from __future__ import annotations

from collections import defaultdict
from importlib.resources import files
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from mltassist.demofilm.cards import CARDS
from mltassist.demofilm.film import Film, Placement
from mltassist.demofilm.pictures import SCENES, ZOOMS, numbered, scene
from mltassist.demofilm.scenario import (
    CLIP_NUMBERS,
    INTERVIEW_FILES,
    MUSIC_FILE,
    NATURAL,
    SUBJECTS,
    film,
    rushes,
    sentence_spans,
)
from mltassist.demofilm.script import INES, NARRATOR, TOBIAS
from mltassist.demofilm.sounds import FILM_HZ, ambience, music, natural, sung
from mltassist.frames import Span
from tests.strips import read_strip


@pytest.fixture(scope="module")
def edit() -> Film:
    return film()


def _neighbours(edit: Film) -> list[tuple[Placement, Placement]]:
    """Pairs of bites of one file that touch on the timeline."""
    return [
        (one, two)
        for one, two in pairwise(edit.lanes[0].placements)
        if one.file == two.file and one.start + one.length == two.start
    ]


def _jumps(edit: Film) -> list[int]:
    return [two.start for one, two in _neighbours(edit) if one.source_in + one.length != two.source_in]


def test_there_are_fifteen_jump_cuts_and_one_through_edit(edit: Film) -> None:
    assert len(_jumps(edit)) == 15
    assert len(_neighbours(edit)) - len(_jumps(edit)) == 1


def test_some_jumps_go_back_in_the_source(edit: Film) -> None:
    assert sum(two.source_in < one.source_in for one, two in _neighbours(edit)) >= 2


def test_the_film_lasts_about_two_minutes_and_a_half(edit: Film) -> None:
    assert 110 * 25 <= edit.length <= 150 * 25


def test_nothing_overlaps_within_a_lane(edit: Film) -> None:
    for lane in edit.lanes:
        for one, two in pairwise(lane.placements):
            assert one.start + one.length <= two.start, lane.name


def test_every_placement_lies_within_its_source(edit: Film) -> None:
    lengths = {rush.file: rush.length for rush in edit.rushes}
    for lane in edit.lanes:
        for spot in lane.placements:
            assert spot.length > 0
            assert 0 <= spot.source_in <= spot.source_in + spot.length <= lengths[spot.file]


def test_a_lane_plays_only_what_its_sources_have(edit: Film) -> None:
    sources = {rush.file: rush for rush in edit.rushes}
    for lane in edit.lanes:
        for spot in lane.placements:
            assert sources[spot.file].picture or not lane.picture
            assert sources[spot.file].sound or not lane.sound


def test_bites_and_narration_are_never_cut_inside_a_sentence(edit: Film) -> None:
    speakers = {file: name for name, file in INTERVIEW_FILES.items()}
    for lane in (edit.lanes[0], edit.lanes[2]):
        for spot in lane.placements:
            for place in (spot.source_in, spot.source_in + spot.length):
                spans = sentence_spans(speakers.get(spot.file, NARRATOR.speaker))
                assert not any(span.start < place < span.end for span in spans)
                assert min(abs(place - edge) for span in spans for edge in (span.start, span.end)) >= 4


def test_narration_plays_over_black(edit: Film) -> None:
    for spot in edit.lanes[2].placements:
        words = Span(spot.start, spot.start + spot.length)
        for lane in edit.lanes[:2]:
            assert not any(words.overlaps(Span(p.start, p.start + p.length)) for p in lane.placements)


def test_the_editor_covered_exactly_one_jump_cut_well(edit: Film) -> None:
    (shot,) = edit.lanes[1].placements
    within = [cut for cut in _jumps(edit) if shot.start <= cut <= shot.start + shot.length]
    assert len(within) == 1
    assert within[0] - shot.start >= 15
    assert shot.start + shot.length - within[0] >= 15


def test_each_speaker_is_heard_four_seconds_before_the_first_jump(edit: Film) -> None:
    for file in INTERVIEW_FILES.values():
        first = next(spot for spot in edit.lanes[0].placements if spot.file == file)
        assert first.length >= 100


def test_music_lies_under_most_of_the_film_and_has_length_to_spare(edit: Film) -> None:
    placed = edit.lanes[4].placements
    assert sum(spot.length for spot in placed) > 0.8 * edit.length
    source = next(rush for rush in edit.rushes if rush.file == MUSIC_FILE)
    assert source.length == edit.length + 500
    assert source.length - max(spot.source_in + spot.length for spot in placed) >= 200


def test_the_bin_holds_cutaways_of_many_subjects_and_sizes() -> None:
    sizes = defaultdict(set)
    for rush in rushes():
        if rush.folder.startswith("Cutaways/"):
            subject, _, size = rush.name.rpartition(" ")
            sizes[subject].add(size)
            assert rush.length == 225
    assert len(sizes) >= 10
    assert sum(map(len, sizes.values())) >= 28
    assert all(len(of_subject) >= 2 for of_subject in sizes.values())
    assert set().union(*sizes.values()) == {"WS", "MS", "CU", "ECU"}


def test_every_rush_has_its_own_number() -> None:
    assert set(CLIP_NUMBERS) == {rush.file for rush in rushes()}
    assert len(set(CLIP_NUMBERS.values())) == len(CLIP_NUMBERS)


def test_the_marks_stand_where_bites_meet_or_narration_starts(edit: Film) -> None:
    pause = next(mark for mark in edit.marks if mark.text == "let the wheel be heard")
    assert pause.at in {spot.start for spot in edit.lanes[0].placements}
    assert len(edit.marks) == 2


def test_the_timing_tells_of_the_script_as_it_is() -> None:
    voices = files("mltassist.demofilm").joinpath("voices")
    text = voices.joinpath("timing.json").read_text(encoding="utf-8")
    for talk in (INES, TOBIAS, NARRATOR, *CARDS):
        assert len(sentence_spans(talk.speaker)) == len(talk.sentences)
        assert all(sentence in text for sentence in talk.sentences)


def test_the_stored_voices_are_small() -> None:
    folder = Path(str(files("mltassist.demofilm").joinpath("voices")))
    assert sum(file.stat().st_size for file in folder.iterdir()) < 2_000_000


@pytest.mark.parametrize("subject", SCENES)
def test_every_scene_moves_and_carries_its_number(subject: str) -> None:
    painter = numbered(scene(subject, "MS"), subject, 9)
    early, late = painter(3), painter(30)
    assert read_strip(early) == (9, 3)
    assert read_strip(late) == (9, 30)
    assert np.abs(early[40:-12].astype(int) - late[40:-12]).max() > 30


@pytest.mark.parametrize("subject", [name for name, what in SCENES.items() if what.period])
def test_a_repeating_movement_joins_without_a_jerk(subject: str) -> None:
    what = SCENES[subject]
    painter = scene(subject, "WS")
    last, again, step = (painter(n).astype(int) for n in (what.period - 1, what.period, what.period - 2))
    assert np.abs(again - last).mean() < 2 * np.abs(last - step).mean() + 0.1


def test_all_sizes_asked_for_are_known() -> None:
    assert {size for subject in SUBJECTS for size in subject.sizes} <= set(ZOOMS)
    assert {subject for subject, _, _ in NATURAL.values()} <= set(SCENES)


def test_music_is_loud_enough_to_mask_speech() -> None:
    import pyloudnorm

    sound = music(30 * FILM_HZ)
    assert sound.shape == (2, 30 * FILM_HZ)
    assert sound.dtype == np.float32
    # Reference: pyloudnorm, an independent ITU-R BS.1770 meter.
    assert pyloudnorm.Meter(FILM_HZ).integrated_loudness(sound.T) == pytest.approx(-18, abs=1.5)
    assert np.abs(sound).max() < 0.8


def test_music_with_a_voice_in_it_is_as_loud_as_music_without() -> None:
    turn = 2 * np.pi * 220 * np.arange(2 * FILM_HZ) / FILM_HZ
    voice = np.asarray(0.1 * np.sin(turn), np.float32)[np.newaxis]
    with_voice, without = sung(voice, 6 * FILM_HZ), music(6 * FILM_HZ)
    assert with_voice.shape == without.shape
    levels = [
        20 * np.log10(np.sqrt(np.mean(sound[:, 2 * FILM_HZ :] ** 2))) for sound in (with_voice, without)
    ]
    assert levels[0] == pytest.approx(levels[1], abs=1)
    assert np.array_equal(with_voice, sung(voice, 6 * FILM_HZ))

    def share_at_220_hz(sound: np.ndarray) -> float:
        spectrum = np.abs(np.fft.rfft(sound[:, 2 * FILM_HZ : 4 * FILM_HZ].mean(axis=0))) ** 2
        return float(spectrum[435:446].sum() / spectrum.sum())

    assert share_at_220_hz(with_voice) > 0.4 > 5 * share_at_220_hz(without)


@pytest.mark.parametrize("name", NATURAL)
def test_each_natural_sound_has_one_moment_fuller_than_the_rest(name: str) -> None:
    sound = natural(name, 12 * FILM_HZ)
    level = np.sqrt((sound.reshape(2, 12, FILM_HZ) ** 2).mean(axis=(0, 2)))
    assert level.max() > 2 * np.median(level)
    assert 3 <= int(level.argmax()) <= 9
    assert np.abs(sound).max() < 0.8
    assert np.array_equal(sound, natural(name, 12 * FILM_HZ))


def test_ambience_is_quiet() -> None:
    rms_db = 20 * np.log10(np.sqrt(np.mean(ambience(3, FILM_HZ) ** 2)))
    assert rms_db == pytest.approx(-50, abs=0.5)
