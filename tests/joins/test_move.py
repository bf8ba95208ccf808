"""Joins that are heard are mended, in the document, as the engine plays it."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner

import mltassist
from mltassist.checking import check
from mltassist.cli.main import command
from mltassist.findings import speech_clips
from mltassist.frames import Span
from mltassist.joins.mend import note_heard
from mltassist.joins.planner.judge import Verdict
from mltassist.media.sound.mix import stem
from mltassist.recipe.rules import MendRules, Recipe
from mltassist.rushes.find import begin, find
from mltassist.timeline.edits import NudgeJoin
from mltassist.timeline.elements import SPEECH
from mltassist.timeline.model import TrackKind
from tests import referee
from tests.cli.films import LAYOUTS, short, write
from tests.joins.test_hear import CUT, at_cut, late, with_interview

GONE = "media/interview/gone.mp4"


def mends(plan):
    return [edit for edit in plan.edits if isinstance(edit, NudgeJoin)]


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_word_that_lost_its_beginning_gets_it_back(tmp_path, layout):
    project = mltassist.open(write(with_interview(late), tmp_path, layout))
    before = project.timeline
    found = mltassist.listen(project, mend=True)
    assert found.plan is not None
    edit = mends(found.plan)[0]
    assert len(mends(found.plan)) == 1
    assert (edit.at, edit.verdict_before, edit.verdict_after) == (CUT, "heard", "clean")
    assert edit.reason == "a word has lost its beginning"
    assert edit.score_before > 2
    assert edit.score_after < 1
    assert edit.after_by < 0  # what was lost lies before the clip
    made = found.plan.apply(project)
    assert check(made, original=project) == ()
    again = mltassist.listen(made)
    assert {join.judgement.verdict for join in again.joins} == {Verdict.CLEAN}
    assert made.timeline.length == before.length + edit.shift
    # Music and narration run on; what follows the join lies where it did, but for the shift.
    for old, new in zip(before.tracks, made.timeline.tracks, strict=True):
        later = [clip.start + edit.shift for clip in old.clips() if clip.start > CUT]
        assert [clip.start for clip in new.clips()][-len(later) :] == later or not later
        gaps = [a.span.end == b.start for a, b in pairwise(new.clips())]
        assert gaps == [a.span.end == b.start for a, b in pairwise(old.clips())]


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_mended_edit_sounds_in_the_engine_as_it_was_predicted(tmp_path, layout):
    path = write(with_interview(late), tmp_path, layout)
    project = mltassist.open(path)
    plan = mltassist.listen(project, mend=True).plan
    assert plan is not None
    output = plan.apply(project).save(tmp_path / f"mended-{layout}")
    film = mltassist.open(output).timeline
    made = find(film, begin(film))
    edit = mends(plan)[0]
    span = Span(edit.joined_at - 50, edit.joined_at + 50)
    tracks = {
        track.index
        for track in made.timeline.tracks
        if any(made.elements.of_clip(track, clip) in SPEECH for clip in track.clips()) and track.has_sound
    }
    heard = referee.sound(output, first=span.start, last=span.end - 1, only_tracks=tracks)
    predicted = stem(speech_clips(made), span, made.timeline.rate)[:, : heard.shape[1]]
    assert np.abs(predicted).max() > 0.05
    correlation = np.corrcoef(heard[0], predicted[0])[0, 1]
    assert correlation > 0.9999
    level = 10 * np.log10(np.mean(heard**2) / np.mean(predicted**2))
    assert abs(level) < 0.05
    lag = np.argmax(np.correlate(heard[0], predicted[0][480:-480], "valid")) - 480
    assert lag == 0


def test_a_film_that_keeps_its_length_keeps_it(tmp_path):
    project = mltassist.open(write(with_interview(late), tmp_path))
    plan = mltassist.listen(project, recipe=Recipe(mend=MendRules(length="kept")), mend=True).plan
    assert plan is not None
    for edit in mends(plan):
        assert edit.shift == 0
    assert plan.apply(project).timeline.length == project.timeline.length


def test_a_picture_that_stays_is_cut_where_it_was(tmp_path):
    project = mltassist.open(write(with_interview(late), tmp_path))
    stays = Recipe(mend=MendRules(picture="stays"))
    found = mltassist.listen(project, recipe=stays, mend=True)
    assert found.plan is not None
    edits = mends(found.plan)
    made = found.plan.apply(project).timeline
    pictures = [t for t in made.tracks if t.kind is TrackKind.PICTURE]
    for old, new in zip(
        (t for t in project.timeline.tracks if t.kind is TrackKind.PICTURE), pictures, strict=True
    ):
        assert [clip.span for clip in old.clips()] == [clip.span for clip in new.clips()]
    for edit in edits:
        assert edit.shift == 0
        assert all(made.track(index).kind is TrackKind.SOUND for index in edit.tracks)


def test_the_pass_mends_first_and_covers_where_the_cut_then_lies(tmp_path):
    project = mltassist.open(write(with_interview(late), tmp_path))
    plan = mltassist.rough(project)
    edit = mends(plan)[0]
    assert (plan.figures["edits_mended"], plan.figures["edits_heard"]) == (1, 0)
    assert plan.figures["jump_cuts_left"] == 0
    made = plan.apply(project).timeline
    cover = made.of_role("cover")
    assert cover is not None
    assert any(edit.joined_at in clip.span for clip in cover.clips())
    again = mltassist.rough(plan.apply(project))
    assert mends(again) == []


def test_a_missing_file_behind_a_mend_is_named_once_where_it_lies(tmp_path):
    def changed(spot):
        return replace(spot, file=GONE, start=888) if spot.start == 901 else late(spot)

    made = with_interview(changed)
    gone = replace(next(rush for rush in made.rushes if rush.file.endswith("ines.mp4")), file=GONE)
    plan = mltassist.rough(mltassist.open(write(replace(made, rushes=(*made.rushes, gone)), tmp_path)))
    (edit,) = mends(plan)
    assert edit.shift != 0
    assert [note.at for note in plan.notes if GONE in note.text] == [888 + edit.shift]


def test_a_plan_without_its_mend_puts_the_rest_where_it_belongs(tmp_path):
    project = mltassist.open(write(with_interview(late), tmp_path))
    plan = mltassist.rough(project)
    bare = plan.keep(lambda edit: not isinstance(edit, NudgeJoin))
    assert not mends(bare)
    made = bare.apply(project).timeline
    cover = made.of_role("cover")
    assert cover is not None
    assert any(CUT in clip.span for clip in cover.clips())


def test_what_cannot_follow_keeps_a_join_from_being_mended(tmp_path):
    project = mltassist.open(write(with_interview(late), tmp_path, "shotcut.mlt"))
    timeline = project.timeline
    index = next(track.index for track in timeline.tracks if track.name.startswith("Interview"))
    path = project.path
    text = path.read_text(encoding="utf-8")
    at = text.index('<property name="shotcut:name">Interview')
    path.write_text(text[:at] + '<property name="shotcut:lock">1</property>' + text[at:], encoding="utf-8")
    locked = mltassist.open(path)
    assert locked.timeline.track(index).locked
    found = mltassist.listen(locked, mend=True)
    assert found.plan is not None
    assert not mends(found.plan)
    name = timeline.track(index).name
    assert any(f"could be mended, but track {name!r} is locked" in note.text for note in found.notes)
    assert at_cut(found).judgement.verdict is Verdict.HEARD


def test_both_states_of_a_mended_join_are_written_to_be_heard(tmp_path):
    project = mltassist.open(write(with_interview(late), tmp_path))
    mltassist.listen(project, mend=True, clips=tmp_path / "edits")
    files = {
        path.name.split("_", 2)[2]: path for path in (tmp_path / "edits").iterdir() if "003" in path.name
    }
    assert set(files) == {"heard_before.wav", "clean_after.wav"}
    before, after = (soundfile.read(path)[0] for path in files.values())
    assert not np.array_equal(before, after)


def test_the_command_writes_a_new_project_only_when_asked_to_mend(tmp_path):
    path = write(with_interview(late), tmp_path)
    run = CliRunner().invoke
    refused = run(command, ["listen", str(path), "--dry-run"], standalone_mode=False)
    assert isinstance(refused.exception, Exception)
    assert "--mend" in str(refused.exception)
    dry = run(command, ["listen", str(path), "--mend", "--dry-run"], standalone_mode=False)
    assert "nothing written: dry run" in dry.output
    assert "join moved" in dry.output
    done = run(command, ["listen", str(path), "--mend"], standalone_mode=False)
    assert f"written: {path.with_name('host-listen.kdenlive')}" in done.output
    assert "1 mended, 0 heard" in done.output


def test_edits_of_the_untouched_film_need_no_mend(tmp_path):
    project = mltassist.open(write(replace(short()), tmp_path))
    found = mltassist.listen(project, mend=True)
    assert found.plan is not None
    assert mends(found.plan) == []


def test_what_is_not_surely_heard_is_told_so(tmp_path):
    path = write(with_interview(late), tmp_path)
    film = mltassist.open(path).timeline
    findings = find(film, begin(film))
    join = at_cut(mltassist.listen(mltassist.open(path)))
    unsure = replace(join, judgement=replace(join.judgement, verdict=Verdict.CHECK))
    note_heard(findings, [unsure])
    (note,) = findings.notes
    assert (note.text, note.needs_editor) == ("perhaps heard: a word has lost its beginning", False)
