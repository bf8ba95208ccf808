"""The whole pass on the example film, proven on what the MLT engine renders of it.

Every picture of the film carries its clip's number and its own frame number in a strip of cells, so a
rendered frame tells which source frame is shown. Loudness is measured here with pyloudnorm
(BS.1770), not with the package's own meter.
"""

from __future__ import annotations

from functools import cached_property
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest

import mltassist
from mltassist.demofilm import scenario
from mltassist.frames import Span
from mltassist.plans import Plan
from mltassist.project import Project
from mltassist.timeline.cuts import CutKind, speech_edits
from mltassist.timeline.edits import LayNatural, LayShot, OpenPause
from mltassist.timeline.elements import Element, find_elements
from mltassist.timeline.model import Timeline
from tests import referee
from tests.cli.films import DOCUMENTS, EXAMPLE
from tests.passes import PAUSE_S, Pass
from tests.strips import read_strip

SPEECH = (Element.INTERVIEW, Element.NARRATION)
HALF_SECOND = 13  # frames: 0.5 s at 25 frames a second, rounded up

pytestmark = pytest.mark.usefixtures("requires_melt")


class Done:
    """One document before and after the rough pass."""

    def __init__(self, made: Pass) -> None:
        self.original, self.output = made.original, made.output
        self.before: Project = mltassist.open(self.original)
        self.plan: Plan = made.plan
        self.after: Project = mltassist.open(self.output)

        self.heard = Span(0, self.after.timeline.length)
        self._stems: dict[tuple[Element, ...], np.ndarray] = {}

    def stem(self, *elements: Element) -> np.ndarray:
        """What is heard of these elements together in the output, rendered by the engine."""
        if elements not in self._stems:
            tracks = tracks_of(self.after.timeline, *elements)
            self._stems[elements] = referee.sound(self.output, last=self.heard.end - 1, only_tracks=tracks)
        return self._stems[elements]

    def codes(self, places: list[int]) -> list[tuple[int, int] | None]:
        """Number of the clip and of its frame that are shown at these frames of the output."""
        return [self._shown[place] for place in places]

    @cached_property
    def _shown(self) -> dict[int, tuple[int, int] | None]:
        """All pictures that any test asks for: the engine opens the film once for them."""
        places = sorted({*self.around_cuts, *self.first_of_shots, *self.in_narration, *self.ends_of_pause})
        pictures = referee.frames(self.output, places)
        return dict(zip(places, map(read_strip, pictures), strict=True))

    @cached_property
    def around_cuts(self) -> list[int]:
        """Frames about every jump cut."""
        cuts = jump_cuts(self.after.timeline)
        assert len(cuts) >= 12
        return sorted({cut + step for cut in cuts for step in (-HALF_SECOND, -1, 0, HALF_SECOND - 1)})

    @property
    def shots(self) -> list[LayShot]:
        """The shots that were planned."""
        return [edit for edit in self.plan.edits if isinstance(edit, LayShot)]

    @property
    def first_of_shots(self) -> list[int]:
        """The first frame of each."""
        return [shot.at for shot in self.shots]

    @cached_property
    def in_narration(self) -> list[int]:
        """Every fortieth frame of the narration."""
        narrated = tracks_of(self.after.timeline, Element.NARRATION)
        tracks = (track for track in self.after.timeline.tracks if track.index in narrated)
        spans = [clip.span for track in tracks for clip in track.clips()]
        return [frame for span in spans for frame in range(span.start, span.end, 40)]

    @property
    def ends_of_pause(self) -> list[int]:
        """The first and the last frame of the pause."""
        return [self.pause.at, self.pause.at + self.pause.length - 1]

    @property
    def pause(self) -> OpenPause:
        """The pause that was opened."""
        return next(edit for edit in self.plan.edits if isinstance(edit, OpenPause))


# Each takes half a minute: the third is rendered in `tests/bench/test_every_layout.py`.
@pytest.fixture(scope="module", params=DOCUMENTS[:2])
def done(request, passed) -> Done:
    return Done(passed(request.param))


# Sound is rendered in one layout: short films are heard in all of them (`tests/music/test_beneath.py`).
@pytest.fixture(scope="module")
def sounding(passed) -> Done:
    return Done(passed(DOCUMENTS[1]))


def is_as_it_was(original: Path) -> bool:
    return original.read_bytes() == (EXAMPLE / original.name).read_bytes()


def clip_file(number: int) -> str:
    return next(file for file, known in scenario.CLIP_NUMBERS.items() if known == number)


def elements_of(timeline: Timeline):
    return find_elements(timeline, mltassist.Recipe().vocabulary())


def jump_cuts(timeline: Timeline) -> list[int]:
    edits = speech_edits(timeline, elements_of(timeline))
    return [edit.at for edit in edits if edit.kind is CutKind.JUMP]


def tracks_of(timeline: Timeline, *elements: Element) -> set[int]:
    found = elements_of(timeline)
    return {
        track.index
        for track in timeline.tracks
        if any(clip.plays_sound and found.of_clip(track, clip) in elements for clip in track.clips())
    }


def lufs(sound: np.ndarray, span: Span) -> float:
    first, last = (frame * 1920 for frame in (span.start, span.end))  # 48000 / 25
    return float(pyloudnorm.Meter(48000).integrated_loudness(sound[:, first:last].T))


def test_every_jump_cut_shows_a_cutaway_never_the_face(done):
    for place, code in zip(done.around_cuts, done.codes(done.around_cuts), strict=True):
        assert code is not None, f"no code can be read at frame {place}"
        assert clip_file(code[0]).startswith("media/cutaways/"), f"frame {place} shows {clip_file(code[0])}"


def test_each_shot_shows_the_source_frames_that_were_planned(done):
    assert len(done.shots) >= 20
    for shot, code in zip(done.shots, done.codes(done.first_of_shots), strict=True):
        assert code is not None
        number, frame = code
        assert shot.source.endswith(clip_file(number))
        assert abs(frame - shot.source_in) <= 1  # a lossy codec's picture may belong to its neighbour


def test_narration_is_never_over_black(done):
    codes = done.codes(done.in_narration)
    assert codes
    assert all(code is not None and clip_file(code[0]).startswith("media/cutaways/") for code in codes)


def test_music_is_under_speech_by_the_target_in_every_passage(sounding):
    done = sounding
    speech = done.stem(*SPEECH)
    music = done.stem(Element.MUSIC)
    first = Span(200, 1000)  # before the pause, so at the same frames in both
    raw = referee.sound(
        done.original, first=0, last=first.end, only_tracks=tracks_of(done.before.timeline, Element.MUSIC)
    )
    passages = [
        (Span(p["at"], p["at"] + p["length"]), row)
        for p in done.plan.figures["passages"]
        for row in p["beneath"]
        if p["kind"] == "speech" and row["sound"] == "music" and p["at"] + p["length"] <= done.heard.end
    ]
    assert len(passages) >= 3
    for span, row in passages:
        separation = lufs(speech, span) - lufs(music, span)
        assert separation == pytest.approx(15.0, abs=1.0)
        assert separation == pytest.approx(row["separation_after_lu"], abs=0.3)
    assert lufs(raw, first) - lufs(music, first) > 10  # it was far too loud before
    deepest = min(row["depth_db"] for _, row in passages)
    for span, row in passages:  # no pumping, and all the way down from the first word's first frame on
        held = span.shared(first)
        if held.length > 0:
            gain = levels_db(music, held) - levels_db(raw, held)
            assert gain.max() < row["depth_db"] + 0.25
            assert gain.min() > deepest - 0.25
    assert not any("a voice is heard" in note.text for note in done.plan.notes)


def levels_db(sound: np.ndarray, span: Span) -> np.ndarray:
    """RMS level of every frame, dBFS."""
    frames = sound[:, span.start * 1920 : span.end * 1920].reshape(2, -1, 1920)
    return 10 * np.log10(np.square(frames, dtype=np.float64).mean(axis=(0, 2)) + 1e-15)


def test_natural_sound_is_heard_in_the_pause_over_the_music(sounding):
    done = sounding
    pause = Span(done.pause.at, done.pause.at + done.pause.length)
    places = tracks_of(done.after.timeline, Element.NATURAL)
    natural = referee.sound(done.output, first=pause.start, last=pause.end - 1, only_tracks=places)
    music = done.stem(Element.MUSIC)
    speech = done.stem(*SPEECH)
    laid = next(edit for edit in done.plan.edits if isinstance(edit, LayNatural))
    # Set 4 LU under the speech around it by the recipe.
    around = Span(pause.start - 375, pause.end + 375)
    assert lufs(natural, pause.shifted(-pause.start)) == pytest.approx(lufs(speech, around) - 4, abs=1.5)
    inner = Span(pause.start + laid.fade_in, pause.end - laid.fade_out)
    separation = lufs(natural, inner.shifted(-pause.start)) - lufs(music, inner)
    assert separation == pytest.approx(8.0, abs=1.0)
    assert not speech[:, pause.start * 1920 : pause.end * 1920].any()


def test_the_place_is_seen_in_the_pause(done):
    codes = done.codes(done.ends_of_pause)
    assert all(code is not None and clip_file(code[0]).startswith("media/natural/wheel") for code in codes)


def test_the_pause_is_exact_on_every_track_and_music_runs_on(done):
    at, length = done.pause.at, done.pause.length
    assert length == PAUSE_S * 25
    before, after = done.before.timeline, done.after.timeline
    assert after.length == before.length + length
    old = {track.name + track.kind: track for track in before.tracks}
    for track in after.tracks:
        if track.ours:
            continue
        was = [(c.start, c.length, c.source.key, c.source_in) for c in old[track.name + track.kind].clips()]
        now = [(c.start, c.length, c.source.key, c.source_in) for c in track.clips()]
        expected = []
        for start, frames, source, first in was:
            across = start < at < start + frames
            expected.append(
                (start + length if start >= at else start, frames + length * across, source, first)
            )
        assert now == expected


def test_music_has_no_hole_at_the_ends_of_the_pause(sounding):
    at, length = sounding.pause.at, sounding.pause.length
    music = sounding.stem(Element.MUSIC)
    for edge in (at, at + length):
        around = music[:, (edge - 2) * 1920 : (edge + 2) * 1920]
        assert np.abs(around).max(axis=0).reshape(-1, 480).max(axis=1).min() > 1e-4  # no hole


def test_clips_are_where_the_engine_plays_them(done):
    rows = {
        (row.start, row.first, row.last - row.first + 1, row.resource)
        for row in referee.entries(done.output)
        if Path(row.resource).suffix in (".mp4", ".m4a")
    }
    ours = {
        (clip.start, clip.source_in, clip.length, str(clip.source.path))
        for track in done.after.timeline.tracks
        for clip in track.clips()
    }
    assert ours
    assert {(*row[:3], Path(row[3]).name) for row in rows} == {(*row[:3], Path(row[3]).name) for row in ours}


def test_the_original_is_untouched(done):
    assert is_as_it_was(done.original)


def test_a_second_pass_replaces_the_first(passed):
    """In one layout: that of cover and of music does in all of them (`tests/cli/test_again.py`)."""
    done = Done(passed(DOCUMENTS[0]))
    again = mltassist.rough(done.after)
    twice = again.apply(done.after).timeline
    laid = [clip for track in twice.tracks if track.ours == "cover" for clip in track.clips()]
    shots = [edit for edit in again.edits if isinstance(edit, LayShot)]
    assert len(laid) == len(shots)
    assert [(c.start, c.length, c.source.key, c.source_in) for c in laid] == [
        (s.at, s.length, s.source, s.source_in) for s in shots
    ]
    assert [track.ours for track in twice.tracks].count("cover") == 1
    assert is_as_it_was(done.original)
