"""Built places with a known best moment: it is chosen, and what is wrong elsewhere is kept away from."""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from mltassist.errors import SourceMissing
from mltassist.media.sound.liveness import BLOCK, BLOCKS_PER_S, Liveness, liveness
from mltassist.media.sound.speech import ModelDetector
from mltassist.pauses import natural
from mltassist.pauses.natural import best_window, life, listen_natural
from tests.pauses.beds import COLOURS, HZ, WINDOW_S, bed, noise, reading, thump, wind

FEATURES = tuple(field.name for field in fields(Liveness))
NOISY = (0.01 * np.random.default_rng(1).standard_normal((2, 20 * HZ))).astype(np.float32)


def splash(sound: NDArray[np.float32], at_s: float, level: float = 0.2) -> None:
    """A burst of noise that dies away in half a second."""
    rng, start = np.random.default_rng(7), int(at_s * HZ)
    burst = level * rng.standard_normal(HZ // 2) * np.exp(-np.arange(HZ // 2) / (0.1 * HZ))
    sound[:, start : start + HZ // 2] += burst.astype(np.float32)


def heard(blocks: int = 100, **features: NDArray[np.float64]) -> Liveness:
    """A recording in which only the features given differ from nothing."""
    return Liveness(**{name: features.get(name, np.zeros(blocks)) for name in FEATURES})


def at(*places: int, blocks: int = 100, value: float = 1.0) -> NDArray[np.float64]:
    """Zeros but for some blocks."""
    found = np.zeros(blocks)
    found[list(places)] = value
    return found


def model() -> ModelDetector:
    """The trained model, or a skip."""
    try:
        return ModelDetector()
    except (ImportError, OSError, RuntimeError) as problem:
        pytest.skip(f"the speech model cannot be loaded here: {problem}")


@pytest.mark.parametrize("trap", ["clipped", "wind", "handling"])
def test_the_clean_moment_is_chosen_though_louder_ones_are_spoilt(trap: str) -> None:
    beds = [bed(seed, trap) for seed in range(12)]
    chosen = [best_window(liveness(b.sound), WINDOW_S * BLOCKS_PER_S) for b in beds]
    right = [b.held_by(window.start / BLOCKS_PER_S) for b, window in zip(beds, chosen, strict=True)]
    assert np.mean(right) >= 0.9
    assert np.mean([getattr(window, trap) for window in chosen]) < 0.01


def test_a_moment_in_which_nobody_speaks_is_chosen() -> None:
    detector = model()
    beds = [bed(seed, "speech") for seed in range(12)]
    chosen = [best_window(liveness(b.sound, detector), WINDOW_S * BLOCKS_PER_S) for b in beds]
    right = [b.held_by(window.start / BLOCKS_PER_S) for b, window in zip(beds, chosen, strict=True)]
    assert np.mean(right) >= 0.85
    starts_s = [window.start / BLOCKS_PER_S for window in chosen]
    spoken = [
        any(start_s < trap_s < start_s + WINDOW_S for trap_s in b.traps_s)
        for b, start_s in zip(beds, starts_s, strict=True)
    ]
    assert sum(spoken) <= 1


def test_where_someone_speaks_all_the_time_the_choice_says_so() -> None:
    voice = reading()[: 12 * HZ]
    sound = (0.05 * np.stack([voice, voice])).astype(np.float32)
    assert best_window(liveness(sound, model()), 40).speech > 0.9


@pytest.mark.parametrize("at_s", [2.0, 9.3, 16.5])
@pytest.mark.parametrize("seed", range(3))
def test_the_window_holds_the_planted_events(at_s: float, seed: int) -> None:
    sound = np.roll(NOISY, seed * 12345, axis=1)
    for later in (0.0, 0.8, 1.6):
        splash(sound, at_s + later)
    first = best_window(liveness(sound), 3 * BLOCKS_PER_S).start / BLOCKS_PER_S
    assert first <= at_s + 0.1
    assert at_s + 1.6 < first + 3


def test_the_block_of_an_event_is_the_most_alive_one() -> None:
    sound = NOISY.copy()
    splash(sound, 12.0)
    assert int(np.argmax(life(liveness(sound)))) == pytest.approx(120, abs=1)


def test_the_first_moment_of_a_steady_place_is_no_event() -> None:
    alive = life(liveness(NOISY))
    assert abs(alive[0]) < 1.0


def test_what_happens_matters_more_than_what_only_is_loud() -> None:
    drone = NOISY.copy()
    drone[:, 14 * HZ :] *= 1.5
    for later in range(6):
        splash(drone, 3.0 + later * 0.5, 0.1)
    assert 25 <= best_window(liveness(drone), 30).start <= 35


def test_a_moment_that_the_film_has_already_is_left_for_the_next_best() -> None:
    sound = NOISY.copy()
    for at_s, level in ((4.0, 0.2), (12.0, 0.1)):
        for later in (0.0, 0.8, 1.6):
            splash(sound, at_s + later, level)
    place = liveness(sound)
    assert 30 <= best_window(place, 30).start <= 41
    used = np.zeros(place.blocks)
    used[38:60] = 1.0
    assert 110 <= best_window(place, 30, used).start <= 121
    assert 30 <= best_window(place, 30, np.ones(place.blocks)).start <= 41


@pytest.mark.parametrize("side", [0, 1])
def test_clipping_on_either_channel_is_avoided(side: int) -> None:
    sound = NOISY.copy()
    splash(sound, 5.0, 0.1)
    splash(sound, 14.0, 0.1)
    for block in range(20):
        sound[side, 14 * HZ + block * BLOCK] = 1.0
    description = liveness(sound)
    assert list(np.flatnonzero(description.clipped)) == list(range(140, 160))
    assert best_window(description, 20).start < 55


@pytest.mark.parametrize("level", [1.0, 0.5])
def test_flat_tops_are_clipped_at_any_level_and_slow_or_low_waves_are_not(level: float) -> None:
    time_s = np.arange(HZ) / HZ
    tone = np.sin(2 * np.pi * 440 * time_s)
    flat = (level * np.clip(2 * tone, -1, 1))[None].astype(np.float32)
    assert liveness(flat).clipped.all()
    slow = np.round(0.9 * level * 32767 * np.sin(2 * np.pi * 40 * time_s)) / 32768
    assert not liveness(slow[None].astype(np.float32)).clipped.any()


@pytest.mark.parametrize("colour", COLOURS)
def test_steady_places_have_neither_wind_nor_handling(colour: str) -> None:
    sound = 0.01 * noise(np.random.default_rng(5), colour, 20 * HZ)
    description = liveness(sound[None].astype(np.float32))
    assert np.mean(description.wind > 0.5) < 0.05
    assert description.handling.max() < 0.5


def test_wind_is_told_from_the_place_it_blows_over() -> None:
    rng = np.random.default_rng(3)
    sound = 0.003 * noise(rng, "pink", 20 * HZ)
    sound[8 * HZ : 13 * HZ] += 0.1 * wind(rng, 5 * HZ)
    found = liveness(sound[None].astype(np.float32)).wind > 0.5
    assert found[85:125].mean() > 0.6
    assert not found[:70].any()
    assert not found[140:].any()


def test_a_knock_is_told_in_its_block() -> None:
    rng = np.random.default_rng(4)
    sound = 0.003 * noise(rng, "pink", 10 * HZ)
    sound[5 * HZ : 5 * HZ + HZ // 2] += 0.1 * thump(rng)
    found = np.flatnonzero(liveness(sound[None].astype(np.float32)).handling > 0.5)
    assert len(found) > 0
    assert set(found) <= {49, 50, 51}


def test_sound_out_of_phase_is_as_alive_as_in_phase() -> None:
    sound = NOISY[:, : 5 * HZ].copy()
    splash(sound, 2.0)
    turned = sound * np.array([[1], [-1]], np.float32)
    np.testing.assert_allclose(life(liveness(turned)), life(liveness(sound)))


def test_one_word_outweighs_the_most_alive_moment() -> None:
    busy = heard(onsets_db=at(*range(20, 60), value=20.0) + at(75, value=3.0), speech=at(30, 31, 50, 51))
    chosen = best_window(busy, 30)
    assert chosen.speech == 0.0
    assert chosen.start > 54


@pytest.mark.parametrize("fault", ["speech", "clipped", "wind", "handling"])
def test_where_all_is_spoilt_the_least_is_taken_and_its_share_told(fault: str) -> None:
    spoilt = at(*range(100))
    spoilt[60:75] = 0.0
    chosen = best_window(heard(**{fault: spoilt}), 30)
    told = {name: getattr(chosen, name) for name in ("speech", "clipped", "wind", "handling")}
    reach = natural.SPEECH_REACH if fault == "speech" else 0
    assert told.pop(fault) == pytest.approx((15 + 2 * reach) / 30)
    assert set(told.values()) == {0.0}
    assert chosen.alive < 0


def test_a_fault_at_the_edge_of_the_window_counts_and_one_beyond_does_not() -> None:
    for window in (4, 5):
        eventful = at(*range(50, 50 + window), value=10.0)
        for place, clean in ((49, True), (50, False), (49 + window, False), (50 + window, True)):
            chosen = best_window(heard(onsets_db=eventful, clipped=at(place)), window)
            assert (chosen.start == 50) == clean


@pytest.mark.parametrize("count", [0, 1, BLOCK - 1])
def test_less_than_a_block_has_no_moment(count: int) -> None:
    description = liveness(np.zeros((2, count), np.float32))
    assert description.blocks == 0
    assert life(description).size == 0
    assert best_window(description, 10).start == 0


def test_silence_is_nowhere_alive_and_nowhere_at_fault() -> None:
    description = liveness(np.zeros((1, HZ), np.float32))
    assert description.blocks == 10
    assert not life(description).any()
    assert not (description.clipped.any() or description.wind.any() or description.handling.any())


def test_where_the_window_is_the_whole_there_is_no_choice() -> None:
    two = heard(2, onsets_db=np.array([0.0, 5.0]))
    assert best_window(two, 2).start == 0
    assert best_window(two, 5).start == 0
    assert best_window(heard(3, onsets_db=np.array([0.0, 5.0, 1.0])), 1).start == 1


@pytest.mark.parametrize("seconds", [0.05, 7.25, 24.0])
def test_a_long_recording_is_heard_in_parts_as_it_is_in_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seconds: float
) -> None:
    path, first = tmp_path / "place.wav", 12345
    sound = bed(3, "wind", seconds=27).sound
    soundfile.write(path, sound.T, HZ, subtype="FLOAT")
    count = int(seconds * HZ)
    monkeypatch.setattr(natural, "_PART", 8 * BLOCK)
    parts = listen_natural(path, first, count)
    whole = liveness(sound[:, first : first + count])
    assert parts.blocks == count // BLOCK
    for name in FEATURES:
        np.testing.assert_allclose(getattr(parts, name), getattr(whole, name), atol=2e-3, err_msg=name)


def test_what_was_heard_is_remembered_and_the_rest_of_a_range_is_not_taken_for_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "place.wav"
    soundfile.write(path, NOISY.T, HZ)
    once = listen_natural(path, 0, 5 * HZ)
    monkeypatch.setattr(natural, "liveness", lambda sound, detector=None: heard(sound.shape[1] // BLOCK))
    again = listen_natural(path, 0, 5 * HZ)
    np.testing.assert_array_equal(again.level_db, once.level_db)
    assert not listen_natural(path, HZ, 5 * HZ).level_db.any()


def test_a_missing_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(SourceMissing):
        listen_natural(tmp_path / "gone.wav", 0, HZ)


def test_chances_that_events_have_cost_nothing() -> None:
    eventful = heard(onsets_db=at(20, 30, 40, value=10.0))
    doubtful = replace(eventful, speech=at(20, 30, 40, value=natural.SPEECH_CHANCE[0]))
    assert best_window(doubtful, 30) == best_window(eventful, 30)
