"""The example film with all its names taken away, proven on what the MLT engine renders of the pass.

Every picture carries its clip's number in a strip of cells, so a rendered frame tells which file is shown.
Loudness is measured with pyloudnorm (BS.1770), not with the package's own meter.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from functools import cache, cached_property
from itertools import pairwise
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest

import mltassist
from mltassist.demofilm import scenario
from mltassist.frames import Span
from mltassist.timeline.cuts import CutKind, speech_edits
from mltassist.timeline.edits import LayNatural, OpenPause, SetLevelCurve
from mltassist.timeline.elements import find_elements
from mltassist.timeline.model import Timeline
from tests import referee
from tests.cli.films import EXAMPLE, LAYOUTS
from tests.rushes.labelled.nameless import nameless, write
from tests.strips import read_strip

HEARD = 2100
"""Frames that sound is rendered of: past the pause and the words after it."""
HALF_SECOND = 13  # frames: 0.5 s at 25 frames a second, rounded up

pytestmark = pytest.mark.usefixtures("requires_melt")


class Pass:
    """One layout before and after the rough pass, and the same pass with all the names."""

    def __init__(self, folder: Path, layout: str) -> None:
        self.made = nameless()
        self.before = mltassist.open(write(self.made, folder, layout))
        pause_at = self.made.film.marks[0].at
        self.plan = mltassist.rough(self.before, pauses=[(f"f{pause_at}", Fraction(5))])
        self.output = self.plan.apply(self.before).save(folder / f"covered-{layout}")
        self.after = mltassist.open(self.output)

    def files(self, frames: list[int]) -> list[str]:
        """The files, by the names they had, that are seen at these frames of the result."""
        return [self._seen[frame] for frame in frames]

    @cached_property
    def _seen(self) -> dict[int, str]:
        """All pictures that any test asks for: the engine opens the film once for them."""
        places = sorted({*self.around_cuts, *self.in_narration})
        codes = [read_strip(picture) for picture in referee.frames(self.output, places)]
        assert all(code is not None for code in codes)
        known = {number: file for file, number in scenario.CLIP_NUMBERS.items()}
        return {place: known[code[0]] for place, code in zip(places, codes, strict=True) if code is not None}

    @cached_property
    def around_cuts(self) -> list[int]:
        """Frames about every jump cut."""
        names = mltassist.open(EXAMPLE / "saltreed.kdenlive").timeline
        pause = next(edit for edit in self.plan.edits if isinstance(edit, OpenPause))
        cuts = [at + (pause.length if at >= pause.at else 0) for at in jumps(self.before.timeline, names)]
        assert len(cuts) >= 12
        return sorted({cut + step for cut in cuts for step in (-HALF_SECOND, -1, 0, HALF_SECOND - 1)})

    @cached_property
    def in_narration(self) -> list[int]:
        """Every fortieth frame of the narration."""
        was = {Path(new).name: old for new, old in self.made.was.items()}
        clips = (clip for track in self.after.timeline.tracks for clip in track.clips())
        voice = [c.span for c in clips if was[Path(c.source.key).name].startswith("media/narration")]
        return sorted({frame for span in voice for frame in range(span.start, span.end, 40)})

    def stem(self, *folders: str) -> np.ndarray:
        """What is heard to HEARD of the tracks that play only files which were in these folders."""
        was = {Path(new).name: old.split("/")[1] for new, old in self.made.was.items()}
        tracks = {
            track.index
            for track in self.after.timeline.tracks
            if any(clip.plays_sound for clip in track.clips())
            and {was[Path(c.source.key).name] for c in track.clips()} <= set(folders)
        }
        assert tracks
        return referee.sound(self.output, last=HEARD - 1, only_tracks=tracks)


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Callable[[str], Pass]:
    return cache(lambda layout: Pass(tmp_path_factory.mktemp("nameless"), layout))


@pytest.fixture(scope="module", params=LAYOUTS)
def done(request, made) -> Pass:
    return made(request.param)


# How each layout plays what is laid is seen in the film that has its names.
@pytest.fixture(scope="module")
def played(made) -> Pass:
    return made("host.kdenlive")


@pytest.fixture(scope="module")
def named(passed) -> mltassist.Plan:
    return passed("saltreed.kdenlive").plan


def jumps(timeline: Timeline, layout_of_names: Timeline) -> list[int]:
    """Jump cuts of a timeline, told with the names of another that has the same edit."""
    elements = find_elements(layout_of_names, mltassist.Recipe().vocabulary())
    assert timeline.length == layout_of_names.length
    return [e.at for e in speech_edits(layout_of_names, elements) if e.kind is CutKind.JUMP]


def test_the_same_jump_cuts_are_found_and_all_are_covered(done, named):
    for figure in ("jump_cuts", "jump_cuts_covered_by_editor", "jump_cuts_covered", "jump_cuts_left"):
        assert done.plan.figures[figure] == named.figures[figure], figure
    assert done.plan.figures["jump_cuts"] >= 12
    assert done.plan.figures["jump_cuts_left"] == 0
    assert done.plan.figures["edits_in_speech"] == 18


def test_every_jump_cut_shows_a_cutaway_and_never_a_face(played):
    files = played.files(played.around_cuts)
    assert all(file.split("/")[1] in ("cutaways", "natural") for file in files)


def test_no_shot_that_was_laid_is_a_face(done):
    laid = [clip for track in done.after.timeline.tracks if track.ours == "cover" for clip in track.clips()]
    assert len(laid) >= 20
    was = {Path(new).name: old for new, old in done.made.was.items()}
    assert all(was[Path(c.source.key).name].split("/")[1] in ("cutaways", "natural") for c in laid)


def test_narration_is_covered(played):
    files = played.files(played.in_narration)
    assert files
    assert all(file.split("/")[1] in ("cutaways", "natural") for file in files)


def test_two_shots_that_look_alike_are_not_side_by_side(done):
    laid = [c for t in done.after.timeline.tracks if t.ours == "cover" for c in t.clips()]
    was = {Path(new).name: Path(old).stem.rsplit("-", 1)[0] for new, old in done.made.was.items()}
    subjects = [was[Path(clip.source.key).name] for clip in laid]
    pairs = [
        (before, after)
        for (before, after), (one, other) in zip(pairwise(subjects), pairwise(laid), strict=True)
        if one.span.end == other.start
    ]
    assert pairs
    assert sum(a == b for a, b in pairs) <= len(pairs) // 10


def test_what_is_heard_under_speech_goes_down_alike_in_all_layouts(made):
    """How each of them plays a curve is heard in the film that has its names."""
    curves = [
        [(e.at, e.keys) for e in made(layout).plan.edits if isinstance(e, SetLevelCurve)]
        for layout in LAYOUTS
    ]
    assert len(curves[0]) >= 3
    assert all(found == curves[0] for found in curves)


def test_music_is_down_under_all_speech(played):
    done = played
    speech, music = done.stem("interview", "narration"), done.stem("music")
    meter = pyloudnorm.Meter(48000)
    passages = [p for p in done.plan.figures["passages"] if p["kind"] == "speech"]
    assert passages
    with_music = [
        p
        for p in passages
        if p["at"] + p["length"] <= HEARD and any(row["sound"] == "music" for row in p["beneath"])
    ]
    assert len(with_music) >= 2
    for passage in with_music:
        first, last = passage["at"] * 1920, (passage["at"] + passage["length"]) * 1920
        under = meter.integrated_loudness(music[:, first:last].T)
        assert meter.integrated_loudness(speech[:, first:last].T) - under == pytest.approx(15.0, abs=1.0)
    words = [
        span
        for speaker, file in (*scenario.INTERVIEW_FILES.items(), ("narrator", scenario.NARRATION_FILE))
        for sentence in scenario.sentence_spans(speaker)
        for span in heard_at(done, file, sentence)
    ]
    whole = np.zeros(done.after.timeline.length, bool)
    for passage in passages:
        whole[passage["at"] : passage["at"] + passage["length"]] = True
    assert len(words) > 20
    assert all(whole[span.start : span.end].all() for span in words)


def heard_at(done: Pass, file: str, sentence: Span) -> list[Span]:
    """Where a sentence of a recording is heard in the result, without its first and last moments."""
    new = {old: Path(new).name for new, old in done.made.was.items()}[file]
    found = []
    for track in done.after.timeline.tracks:
        for clip in track.clips():
            if Path(clip.source.key).name == new and clip.plays_sound:
                inside = sentence.shared(clip.source_span)
                if inside.length > 10:
                    shift = clip.start - clip.source_in
                    found.append(Span(inside.start + shift + 4, inside.end + shift - 4))
    return found


def test_the_pause_is_filled_with_a_place(done):
    laid = next(edit for edit in done.plan.edits if isinstance(edit, LayNatural))
    was = {Path(new).name: old for new, old in done.made.was.items()}
    assert was[Path(laid.source).name].startswith("media/natural/")


def test_the_plan_says_once_what_rests_on_evidence_and_how_to_correct_it(done):
    told = [note.text for note in done.plan.notes if "no name tells" in note.text]
    assert len(told) == 1
    for words in (
        "interviews C0001.mp4, C0002.mp4",
        "narration C0003.m4a",
        "more",
        "music C0041.m4a",
        "--pins house.toml",
    ):
        assert words in told[0]
