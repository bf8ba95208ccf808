"""The MLT engine plays what we read, before and after the edits (reference: the program melt)."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from mltassist.document.load import Document
from mltassist.frames import Rate
from mltassist.timeline.edits import (
    Edit,
    FadeJoin,
    LayNatural,
    LayShot,
    LayTone,
    LayUnder,
    OpenPause,
    SetLevelCurve,
)
from mltassist.timeline.model import TrackKind
from tests import referee
from tests.hosts.films import (
    BOAT,
    COLOURS,
    FILM,
    LEVELS,
    MUSIC,
    TALK,
    WAVES,
    Case,
    timeline_of,
    write_case,
)
from tests.referee import RATE_HZ, Picture, Sound

pytestmark = pytest.mark.usefixtures("requires_melt")
WHY = "a test"
DUCK = ((40, 0.0), (50, -18.0), (100, -18.0), (110, 0.0))


def edits(case: Case) -> tuple[Edit, ...]:
    """Music ducked; a pause of 30 at 40; a shot over the jump at 110; natural sound in the pause."""
    music = case.track("Music", TrackKind.SOUND).index
    folder = case.path.parent
    return (
        SetLevelCurve(20, music, DUCK, WHY),
        LayShot(75, 20, str(folder / BOAT.file), 12, WHY),
        OpenPause(40, 30, WHY, run_on=(music,)),
        LayNatural(
            40,
            30,
            str(folder / WAVES.file),
            30,
            WHY,
            lead=6,
            trail=4,
            gain_db=-6.0,
            fade_in=2,
            fade_out=4,
        ),
    )


def assert_played_as_read(document: Document, path: Path) -> None:
    timeline = timeline_of(document)
    depth = 1 if timeline.host == "kdenlive" else 0  # the sequence is the one track of the project
    found = sorted(
        (row.track[depth], row.start, row.first, row.last, row.resource)
        for row in referee.entries(path)
        if row.track[depth] > 0
    )
    assert found
    assert found == sorted(
        (track.index, clip.start, clip.source_in, clip.source_in + clip.length - 1, clip.source.key)
        for track in timeline.tracks
        for clip in track.clips()
    )


def shows(picture: Picture) -> str:
    """The file whose colour fills the picture, "" for black."""
    middle = picture[picture.shape[0] // 2, picture.shape[1] // 2].astype(int)
    named = {**COLOURS, "": (0, 0, 0)}
    return min(named, key=lambda file: int(np.abs(middle - named[file]).sum()))


def at_frame(case: Case, sound: Sound, frame: int, *, share: float = 0.5) -> float:
    """The level of the left channel inside a frame; `share` 1 is its last sample."""
    rate = case.film.rate
    start, end = rate.samples(frame, RATE_HZ), rate.samples(frame + 1, RATE_HZ)
    return float(sound[0, min(end - 1, start + int((end - start) * share))])


def factor(gain_db: float) -> float:
    return float(10 ** (gain_db / 20))


def test_the_document_is_played_as_it_is_read(played: Case):
    assert_played_as_read(played.document(), played.path)


def test_the_edited_document_is_played_as_it_is_read(played: Case):
    document = played.edited(*edits(played))
    assert_played_as_read(document, document.path)
    timeline = timeline_of(document)
    assert timeline.length == 230
    heard = referee.sound(document.path)
    assert heard.shape == (2, played.film.rate.samples(230, RATE_HZ))


def test_pictures_are_those_of_the_edit(played: Case):
    document = played.edited(*edits(played))
    expected = {
        39: TALK.file,
        40: WAVES.file,
        69: WAVES.file,
        70: TALK.file,
        104: TALK.file,
        105: BOAT.file,
        124: BOAT.file,
        125: TALK.file,
        175: "",
        185: BOAT.file,
    }
    pictures = referee.frames(document.path, list(expected))
    assert [shows(picture) for picture in pictures] == list(expected.values())
    assert {picture.shape for picture in pictures} == {(90, 160, 3)}


def test_levels_of_the_ducked_music_are_those_of_the_curve(played: Case):
    # The pause at 40 moves the keys from there on by 30.
    document = played.edited(*edits(played))
    music = next(track for track in timeline_of(document).tracks if track.name == "Music")
    sound = referee.sound(document.path, only_tracks={music.index})
    level, down = LEVELS[MUSIC.file], factor(-18.0)
    assert at_frame(played, sound, 10) == 0
    assert at_frame(played, sound, 30) == pytest.approx(level, rel=1e-4)
    assert at_frame(played, sound, 70, share=1) == pytest.approx(level, rel=1e-3)  # the key's frame
    assert at_frame(played, sound, 75, share=1) == pytest.approx(level * factor(-9.0), rel=5e-3)
    assert at_frame(played, sound, 80, share=1) == pytest.approx(level * down, rel=5e-3)
    assert at_frame(played, sound, 80, share=0.1) > level * down * 1.1  # reached at the end of its frame
    assert at_frame(played, sound, 100) == pytest.approx(level * down, rel=1e-4)
    assert at_frame(played, sound, 130, share=1) == pytest.approx(level * down, rel=1e-3)
    assert at_frame(played, sound, 140, share=1) == pytest.approx(level, rel=5e-3)
    assert at_frame(played, sound, 220) == pytest.approx(level, rel=1e-4)


def test_cutaways_are_silent_and_natural_sound_is_heard_with_its_fades(played: Case):
    document = played.edited(*edits(played))
    timeline = timeline_of(document)
    cover, natural = timeline.of_role("cover"), timeline.of_role("natural")
    shown = timeline.of_role("natural picture")
    assert cover is not None
    assert natural is not None
    assert shown is not None
    silent = referee.sound(document.path, only_tracks={cover.index, shown.index})
    assert np.abs(silent).max() == 0
    sound = referee.sound(document.path, only_tracks={natural.index})
    level = LEVELS[WAVES.file] * factor(-6.0)  # from frame 34 to 73, both included
    assert at_frame(played, sound, 33) == 0
    assert at_frame(played, sound, 34, share=1) < level * factor(-50)
    assert at_frame(played, sound, 36, share=1) == pytest.approx(level, rel=5e-3)
    assert at_frame(played, sound, 50) == pytest.approx(level, rel=1e-4)
    assert at_frame(played, sound, 69, share=1) == pytest.approx(level, rel=5e-3)
    assert at_frame(played, sound, 71, share=1) == pytest.approx(level * factor(-27.0), rel=2e-2)
    assert at_frame(played, sound, 73, share=1) < level * factor(-50)
    assert at_frame(played, sound, 74) == 0
    # Together: the speech pauses, music and natural sound remain.
    together = at_frame(played, referee.sound(document.path, first=0, last=60), 50)
    assert together == pytest.approx(LEVELS[MUSIC.file] + level, rel=1e-4)


def test_a_gain_above_the_engines_limit_is_heard_as_planned(played: Case):
    quiet, gain = str(played.path.parent / BOAT.file), 27.0
    sounding = played.track("Interview", TrackKind.SOUND).index
    talk = str(played.path.parent / TALK.file)
    document = played.edited(
        LayTone(20, 10, quiet, 10, WHY, gain),
        LayUnder(40, 10, quiet, 10, WHY, gain),
        LayNatural(60, 10, quiet, 10, WHY, gain_db=gain),
        FadeJoin(80, sounding, talk, 120, WHY, gain),
    )
    timeline = timeline_of(document)
    ours = {role: track for role in ("joins", "under", "natural") if (track := timeline.of_role(role))}
    sound = referee.sound(document.path, only_tracks={track.index for track in ours.values()})
    for frame in (25, 45, 65):
        assert at_frame(played, sound, frame) == pytest.approx(LEVELS[BOAT.file] * factor(gain), rel=1e-3)
    assert at_frame(played, sound, 79, share=1) == pytest.approx(LEVELS[TALK.file] * factor(gain), rel=1e-3)
    for track in ours.values():
        for clip in track.clips():
            assert max(key.gain_db for curve in clip.levels for key in curve.keys) == gain


def test_faults_that_melt_passes_over_are_found(media: Callable[[Rate], Path]):
    played = write_case("kdenlive", FILM, media(FILM.rate))
    text = played.path.read_text(encoding="utf-8")
    faulty = played.path.with_name("faulty.mlt")
    faulty.write_text(text.replace("media/boat.mkv", "media/gone.mkv"), encoding="utf-8")
    with pytest.raises(referee.MeltFault, match=r"gone\.mkv"):
        referee.entries(faulty)
    faulty.write_text(text.replace('<entry producer="', '<entry producer="no', 1), encoding="utf-8")
    with pytest.raises(referee.MeltFault, match="too early"):
        referee.sound(faulty)
    faulty.write_text(text.replace(">qtblend<", ">nosuchblend<"), encoding="utf-8")
    with pytest.raises(referee.MeltFault, match="nosuchblend"):
        referee.frame(faulty, 0)
