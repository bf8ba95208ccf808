"""Every layout of the hosts plays as the film it was written from (reference: the program melt)."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from lxml import etree

from mltassist.demofilm.film import Film
from mltassist.frames import Rate
from tests import referee
from tests.hosts.films import BOAT, COLOURS, FILM, LEVELS, MUSIC, TALK
from tests.hosts.generations import FEATURES, GENERATIONS, ODDITIES, depth, playable, tracks
from tests.hosts.layouts.parts import entries, part, write_value

pytestmark = pytest.mark.usefixtures("requires_melt")
MediaOf = Callable[[Rate], Path]
Place = tuple[int, int, int, int, str]


def written(folder: Path, name: str, document: bytes) -> Path:
    path = folder / f"played-{name.replace(' ', '-').replace('/', '-')}.mlt"
    path.write_bytes(playable(document))
    return path


def played(path: Path, level: int) -> list[Place]:
    """Track, start, first and last source frame and file of all that melt plays above the background."""
    return sorted(
        (row.track[level], row.start, row.first, row.last, Path(row.resource).name)
        for row in referee.entries(path)
        if row.track[level] > 0
    )


def meant(name: str, film: Film) -> list[Place]:
    return sorted(
        (number, spot.start, spot.source_in, spot.source_in + spot.length - 1, Path(spot.file).name)
        for number, half in enumerate(tracks(name, film), start=1)
        for spot in half.spots
    )


@pytest.mark.parametrize("name", GENERATIONS)
def test_clips_lie_where_the_film_says(name: str, media: MediaOf) -> None:
    rate = Rate(30000, 1001)
    film = replace(FILM, rate=rate)
    path = written(media(rate), name, GENERATIONS[name].write(film))
    assert played(path, depth(name)) == meant(name, film)


@pytest.mark.parametrize("name", GENERATIONS)
def test_the_film_is_seen_and_heard(name: str, media: MediaOf) -> None:
    rate = FILM.rate
    path = written(media(rate), name, GENERATIONS[name].write(FILM))
    talk, boat, nothing = (picture[45, 80].astype(int) for picture in referee.frames(path, [10, 155, 145]))
    assert np.abs(talk - COLOURS[TALK.file]).max() < 12
    assert np.abs(boat - COLOURS[BOAT.file]).max() < 12
    assert nothing.max() < 12
    heard = referee.sound(path, first=0, last=199)
    level = {
        frame: float(heard[0, rate.samples(frame, referee.RATE_HZ) + 900]) for frame in (10, 50, 145, 155)
    }
    assert level[10] == pytest.approx(LEVELS[TALK.file], rel=1e-3)
    assert level[50] == pytest.approx(LEVELS[TALK.file] + LEVELS[MUSIC.file], rel=1e-3)
    assert level[145] == pytest.approx(LEVELS[MUSIC.file], rel=1e-3)
    # The cutaway is silent.
    assert level[155] == pytest.approx(LEVELS[MUSIC.file], rel=1e-3)


@pytest.mark.parametrize("name", [name for name, feature in FEATURES.items() if feature.plays])
def test_features_play_without_a_fault(name: str, media: MediaOf) -> None:
    feature = FEATURES[name]
    path = written(media(FILM.rate), name, feature.write(FILM))
    base = next(generation for generation in GENERATIONS if name.startswith(f"{generation} "))
    found = played(path, depth(base))
    assert {spot[0] for spot in found} == {1, 2, 3, 4}.intersection(range(1, len(tracks(base, FILM)) + 1))
    for number, start, length, file, source_in in feature.says.get("clips", ()):  # type: ignore[attr-defined]
        if "dissolve" not in name:
            assert (number, start, source_in, source_in + length - 1, Path(file).name) in [
                (*spot[:4], spot[4].rpartition(":")[2]) for spot in found
            ]


def with_topic(*topics: str) -> list[str]:
    return [n for n, feature in FEATURES.items() if feature.plays and any(t in feature.says for t in topics)]


def starting_at(name: str, track: int, start: int) -> float:
    """The level of the file that a track of the film plays at that start."""
    base = next(generation for generation in GENERATIONS if name.startswith(f"{generation} "))
    spots = tracks(base, FILM)[track - 1].spots
    return LEVELS[next(spot.file for spot in spots if spot.start == start)]


def heard_at_end_of(sound: referee.Sound, frame: int) -> float:
    return float(sound[0, FILM.rate.samples(frame + 1, referee.RATE_HZ) - 1])


@pytest.mark.parametrize("name", with_topic("gain_db", "levels"))
def test_gains_sound_as_the_feature_says(name: str, media: MediaOf) -> None:
    says = FEATURES[name].says
    path = written(media(FILM.rate), name, FEATURES[name].write(FILM))
    steady: dict[tuple[int, int], float] = says.get("gain_db", {})  # type: ignore[assignment]
    curves: dict[tuple[int, int], list[tuple[int, float]]] = says.get("levels", {})  # type: ignore[assignment]
    points = [(place, place[1] + 30, gain) for place, gain in steady.items()]
    points += [(place, frame, gain) for place, keys in curves.items() for frame, gain in keys]
    tracks_asked = {track for (track, _), *_ in points}
    heard = {track: referee.sound(path, first=0, last=199, only_tracks={0, track}) for track in tracks_asked}
    for (track, start), frame, gain in points:
        expected = starting_at(name, track, start) * 10 ** (gain / 20)
        assert heard_at_end_of(heard[track], frame) == pytest.approx(expected, rel=2e-3, abs=1e-7)


@pytest.mark.parametrize("name", with_topic("muted"))
def test_muted_and_hidden_tracks_are_not_played(name: str, media: MediaOf) -> None:
    path = written(media(FILM.rate), name, FEATURES[name].write(FILM))
    # In all of them no sound is left, except where the interview's is a track of its own.
    apart = name.startswith("kdenlive 1 ")
    assert bool(np.any(referee.sound(path, first=0, last=199))) is apart
    interview, cutaway = (int(picture[45, 80].max()) for picture in referee.frames(path, [10, 155]))
    assert (interview < 12, cutaway < 12) == (apart, not apart)


MIXED = [name for name in with_topic("dissolves") if FEATURES[name].says["dissolves"]]


@pytest.mark.parametrize("name", MIXED)
def test_dissolves_lie_where_the_feature_says(name: str, media: MediaOf) -> None:
    path = written(media(FILM.rate), name, FEATURES[name].write(FILM))
    base = next(generation for generation in GENERATIONS if name.startswith(f"{generation} "))
    found = played(path, depth(base))
    for track, start, length, _, _ in FEATURES[name].says["dissolves"]:  # type: ignore[attr-defined]
        spots = {spot[1:4] for spot in found if spot[0] == track}
        if base.startswith("shotcut"):  # the dissolve is an entry of its own
            assert spots == {(0, 10, 84), (start, 0, length - 1), (start + length, 125, 179), (160, 20, 59)}
        else:
            assert spots == {(0, 10, start + length + 9), (start, 115, 179), (160, 20, 59)}


@pytest.mark.parametrize("name", [name for name in MIXED if "other copies" not in name])
def test_dissolves_show_both_of_their_clips(name: str, media: MediaOf) -> None:
    """Here the incoming clip is made a plain blue, since both come from the same red file."""
    root = etree.fromstring(playable(FEATURES[name].write(FILM)))
    if name.startswith("shotcut"):
        incoming = part(root, "chain0_1" if "24" in name else "producer0_1")
    else:
        original = part(root, "chain2_0")
        incoming = deepcopy(original)
        incoming.set("id", "incoming")
        original.addnext(incoming)
        entries(root, "playlist5")[0].set("producer", "incoming")
    write_value(incoming, "mlt_service", "color")
    write_value(incoming, "resource", "#ff0000ff")
    path = written(media(FILM.rate), name, etree.tostring(root))
    before, within, after = (picture[45, 80] for picture in referee.frames(path, [74, 80, 85]))
    assert before[0] > 180 and before[2] < 50
    assert 60 < within[0] < 140 and 90 < within[2] < 190
    assert after[0] < 20 and after[2] > 220


@pytest.mark.parametrize("name", [name for name, oddity in ODDITIES.items() if oddity.plays])
def test_oddities_play_without_a_fault(name: str, media: MediaOf) -> None:
    oddity = ODDITIES[name]
    path = written(media(FILM.rate), name, oddity.write(FILM))
    level = 1 if b"projectTractor" in path.read_bytes() else 0
    found = played(path, level)
    assert found
    layouts = {".mlt": ["shotcut 24.04"], ".kdenlive": ["kdenlive 1"]}[oddity.suffix]
    if oddity.same:
        assert found == meant(layouts[0], FILM)
