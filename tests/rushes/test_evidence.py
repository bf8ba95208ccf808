"""What the facts of a recording speak for, and that the reasons are those that decided."""

from __future__ import annotations

from dataclasses import replace
from math import exp

import pytest

from mltassist.rushes.evidence import MEASURES, Facts, ramp, weigh
from mltassist.rushes.evidence_weights import NONE, PICTURED, SOUND_ALONE
from mltassist.rushes.gathering import neighbours
from mltassist.rushes.use import Use
from mltassist.timeline.elements import Element
from mltassist.timeline.model import Source, SourceKind

FACE = Facts(picture=True, sound=True, length_s=300, speech=0.8, runs_s=1.5, fixed=0.95)
SHOT = Facts(picture=True, sound=True, length_s=9, noise=0.95, level_db=-30, fixed=0.5)
VOICE = Facts(picture=False, sound=True, length_s=40, speech=0.9, runs_s=1.5)
TUNE = Facts(picture=False, sound=True, length_s=180, music=0.97, noise=0.02)
PLACE = Facts(picture=False, sound=True, length_s=60, noise=0.97)
SCREEN = Facts(picture=True, sound=False, length_s=20, drawn=0.8, fixed=0.7)
PHOTOGRAPH = Facts(picture=True, sound=False, still=True)


@pytest.mark.parametrize(
    ("facts", "outcome"),
    [
        (FACE, Element.INTERVIEW),
        (SHOT, Element.CUTAWAY),
        (replace(SHOT, sound=False, noise=0.0), Element.CUTAWAY),
        (PHOTOGRAPH, Element.CUTAWAY),
        (SCREEN, NONE),
        (VOICE, Element.NARRATION),
        (replace(VOICE, partner="C0001.mp4"), Element.INTERVIEW),
        (TUNE, Element.MUSIC),
        (PLACE, Element.NATURAL),
    ],
)
def test_plain_cases(facts: Facts, outcome: str) -> None:
    found = weigh(facts)
    assert found.outcome == outcome
    assert found.chance > 0.8
    assert sum(found.chances.values()) == pytest.approx(1)


def test_a_song_under_the_whole_film_is_music_though_somebody_sings() -> None:
    song = replace(TUNE, speech=0.4, music=0.75, use=Use(pieces=1, beneath=0.6, throughout=0.9))
    assert weigh(song).outcome is Element.MUSIC


def test_a_shot_over_speech_is_a_cutaway_though_a_few_words_are_heard_in_it() -> None:
    found = weigh(replace(SHOT, speech=0.15, runs_s=0.4, use=Use(pieces=1, over=1.0)))
    assert found.outcome is Element.CUTAWAY


def test_a_conversation_in_sound_alone_is_an_interview_and_one_voice_narration() -> None:
    assert weigh(replace(VOICE, voices=0.1)).outcome is Element.NARRATION
    found = weigh(replace(VOICE, voices=1.2))
    assert found.outcome is Element.INTERVIEW
    assert "several voices speak in it" in found.words


def test_files_without_numbers_have_those_of_their_device_and_length_beside_them() -> None:
    names = {"a/wheel.mp4": 8, "a/gate.mp4": 9, "a/ines talks.mp4": 300, "a/drone.mp4": 8, "b/stones.mp4": 8}
    facts = {
        name: replace(SHOT, length_s=length, made_by="drone" if "drone" in name else "camera")
        for name, length in names.items()
    }
    sources = {name: Source(name, SourceKind.FILE, None, 200) for name in names}
    beside = neighbours(sources, facts)
    assert beside == {
        **dict.fromkeys(("a/ines talks.mp4", "a/drone.mp4", "b/stones.mp4"), ()),
        "a/wheel.mp4": ("a/gate.mp4",),
        "a/gate.mp4": ("a/wheel.mp4",),
    }


def test_what_neighbours_are_moves_the_chance_and_no_more() -> None:
    doubtful = replace(SHOT, speech=0.25, runs_s=0.8, length_s=30)
    alone = weigh(doubtful).chances[Element.INTERVIEW]
    among = weigh(replace(doubtful, near={Element.INTERVIEW: 1.0})).chances[Element.INTERVIEW]
    assert alone < among < 0.95
    assert weigh(replace(SHOT, near={Element.INTERVIEW: 1.0})).outcome is Element.CUTAWAY


def test_reasons_are_what_moved_the_decision_most_in_order_and_in_words() -> None:
    found = weigh(FACE)
    assert [reason.weight for reason in found.reasons] == sorted(
        (reason.weight for reason in found.reasons), reverse=True
    )
    assert found.reasons[0].words == "80% of its sound is speech"
    assert all(reason.weight > 0 for reason in found.reasons)
    assert weigh(replace(VOICE, partner="C7.mp4")).reasons[0].words == "it has the same sound as C7.mp4"


def test_chances_follow_from_the_weights() -> None:
    weights = {Element.CUTAWAY: {"": 1.0, "no sound": 2.0}, NONE: {"": 0.0}}
    found = weigh(replace(SCREEN, drawn=0), weights)
    assert found.chances[Element.CUTAWAY] == pytest.approx(1 / (1 + exp(-3)))


@pytest.mark.parametrize("table", [PICTURED, SOUND_ALONE])
def test_every_weight_is_of_a_measure(table: dict) -> None:
    assert all(set(row) <= {"", *MEASURES} for row in table.values())


def test_only_a_place_without_words_serves_as_natural_sound() -> None:
    assert weigh(SHOT).also == (Element.NATURAL,)
    for other in (
        replace(SHOT, level_db=-50),
        replace(SHOT, speech=0.08),
        replace(SHOT, noise=0.2, music=0.8),
        replace(SHOT, sound=False),
    ):
        assert weigh(other).also == ()
    assert weigh(FACE).also == weigh(PLACE).also == ()


def test_a_ramp_rises_from_0_to_1() -> None:
    assert [ramp(value, 1, 3) for value in (0, 1, 2, 3, 4)] == [0, 0, 0.5, 1, 1]
