"""Edits of a film judged by ear, from the project to the verdict."""

from __future__ import annotations

import io
from dataclasses import replace
from fractions import Fraction
from functools import partial

import av
import numpy as np
import pytest
import soundfile
from lxml import etree

import mltassist
from mltassist.document import properties
from mltassist.errors import OutputError
from mltassist.frames import format_timecode
from mltassist.joins.planner.judge import Verdict
from mltassist.media.sound.decode import read_sound
from mltassist.recipe.rules import MendRules, Recipe
from mltassist.timeline.edits import AddMarker
from tests.cli.films import EXAMPLE, LAYOUTS, resources, short, with_file, write

CUT = 786
"""A jump cut of the short film, made in a pause."""


def with_interview(change):
    """The short film with the interview's placements changed."""
    made = short()
    lanes = tuple(
        replace(lane, placements=tuple(map(change, lane.placements))) if lane.name == "Interview" else lane
        for lane in made.lanes
    )
    return replace(made, lanes=lanes)


def late(spot):
    """The clip after the cut begins half a second late in its source, inside a word, and ends as before."""
    if spot.start != CUT:
        return spot
    return replace(spot, source_in=spot.source_in + 13, length=spot.length - 13)


def at_cut(found):
    return next(join for join in found.joins if join.at == CUT)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_edits_in_pauses_are_clean_in_every_layout(tmp_path, layout):
    found = mltassist.listen(mltassist.open(write(short(), tmp_path, layout)))
    assert len(found.joins) >= 4
    assert {join.judgement.verdict for join in found.joins} == {Verdict.CLEAN}
    assert max(join.judgement.score for join in found.joins) < 0.8
    assert not any(note.needs_editor for note in found.notes)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_clip_that_begins_inside_a_word_is_heard(tmp_path, layout):
    project = mltassist.open(write(with_interview(late), tmp_path, layout))
    found = mltassist.listen(project)
    judgement = at_cut(found).judgement
    assert judgement.verdict is Verdict.HEARD
    assert judgement.reasons[0].words == "a word has lost its beginning"
    others = [join for join in found.joins if join.at != CUT and abs(join.at - CUT) > 1]
    assert {join.judgement.verdict for join in others} == {Verdict.CLEAN}
    assert [note.at for note in found.notes if note.needs_editor] == [CUT]


def test_a_louder_clip_is_heard_at_both_of_its_ends(tmp_path):
    path = write(short(), tmp_path, "plain.mlt")
    root = etree.parse(path).getroot()
    playlist = next(p for p in root.iter("playlist") if properties.get(p, "mltassist:name") == "Interview")
    at = 0
    for item in playlist.iterchildren("entry", "blank"):
        if at == CUT:
            louder = etree.SubElement(item, "filter")
            properties.put(louder, "mlt_service", "volume")
            properties.put(louder, "level", "9")
        first, last = item.get("in"), item.get("out")
        at += int(item.get("length")) if item.tag == "blank" else int(last) - int(first) + 1
    root.getroottree().write(str(path))
    found = mltassist.listen(mltassist.open(path))
    before, after = at_cut(found), next(join for join in found.joins if join.at > CUT)
    assert before.measures.speech_step_db == pytest.approx(9, abs=2)
    assert before.measures.background_step_db > 2  # what is not masked by the louder speech
    assert after.measures.speech_step_db == pytest.approx(-9, abs=2)
    assert before.judgement.verdict is Verdict.HEARD
    assert any("9 dB louder" in reason.words for reason in before.judgement.reasons)


@pytest.mark.parametrize(("level", "verdict"), [("6", Verdict.HEARD), ("0.2", Verdict.CLEAN)])
def test_where_a_source_runs_on_a_step_of_gain_is_heard(tmp_path, level, verdict):
    path, through = write(short(), tmp_path, "plain.mlt"), 901
    root = etree.parse(path).getroot()
    playlist = next(p for p in root.iter("playlist") if properties.get(p, "mltassist:name") == "Interview")
    louder = etree.SubElement(list(playlist.iterchildren("entry"))[-1], "filter")
    properties.put(louder, "mlt_service", "volume")
    properties.put(louder, "level", level)
    root.getroottree().write(str(path))
    judgement = next(j for j in mltassist.listen(mltassist.open(path)).joins if j.at == through).judgement
    assert judgement.verdict is verdict
    assert [r.words for r in judgement.reasons] == (
        ["everything is 6 dB louder after the join"] if verdict is Verdict.HEARD else []
    )


UNMENDED = Recipe(mend=MendRules(reach_frames=0))


def test_the_pass_marks_what_is_heard_and_covers_it_all_the_same(tmp_path):
    project = mltassist.open(write(with_interview(late), tmp_path))
    plan = mltassist.rough(project, no_mend=True)
    assert plan.figures["edits_heard"] == 1
    markers = [edit for edit in plan.edits if isinstance(edit, AddMarker)]
    assert [(marker.at, marker.text) for marker in markers] == [(CUT, "heard: a word has lost its beginning")]
    made = plan.apply(project).timeline
    assert any(marker.ours and marker.at == CUT for marker in made.markers)
    cover = made.of_role("cover")
    assert cover is not None
    assert any(CUT in clip.span for clip in cover.clips())


def test_what_is_heard_is_named_where_it_lies_after_the_pauses(tmp_path):
    project = mltassist.open(write(with_interview(late), tmp_path))
    plan = mltassist.rough(project, recipe=UNMENDED, pauses=[("f532", Fraction(1))])
    markers = [g.at for g in plan.apply(project).timeline.markers if g.text.startswith("mltassist: heard")]
    assert markers == [CUT + 25]
    assert [note.at for note in plan.notes if note.text.startswith("heard: a word")] == [CUT + 25]


def test_an_interview_that_is_not_there_is_named(tmp_path):
    path = write(short(), tmp_path)
    gone = next(file for file in resources(path) if file.name == "ines.mp4")
    text = path.read_text(encoding="utf-8").replace(gone.name, "lost.mp4")
    path.write_text(text, encoding="utf-8")
    found = mltassist.listen(mltassist.open(path))
    assert all(join.track != 0 for join in found.joins)
    assert any("lost.mp4" in note.text and note.needs_editor for note in found.notes)


def write_changing(path, sound, at):
    """A file whose one sound stream (mono, 48 kHz) goes over to two channels at a sample of it."""
    with av.open(str(path), "w", format="mpegts") as out:
        stream, place = None, 0
        for layout, part in (("mono", sound[:, :at]), ("stereo", np.repeat(sound[:, at:], 2, axis=0))):
            raw = io.BytesIO()
            with av.open(raw, "w", format="adts") as coded:
                encoder = coded.add_stream("aac", rate=48000, layout=layout)
                frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(part), format="fltp", layout=layout)
                frame.sample_rate = 48000
                coded.mux(encoder.encode(frame))
                coded.mux(encoder.encode(None))
            raw.seek(0)
            with av.open(raw, format="aac") as coded:
                stream = stream or out.add_stream_from_template(coded.streams.audio[0])
                for packet in filter(lambda packet: packet.size, coded.demux(audio=0)):
                    packet.stream, packet.time_base = stream, Fraction(1, 48000)
                    packet.pts = packet.dts = place
                    place += 1024
                    out.mux(packet)


@pytest.mark.parametrize("command", [mltassist.listen, partial(mltassist.rough, no_look=True)])
def test_a_recording_whose_channels_change_where_no_clip_plays_it_is_named(tmp_path, command):
    path = write(short(), tmp_path, "plain.mlt")
    sound = read_sound(EXAMPLE / "media/interview/ines.mp4", 0, 75 * 48000)
    write_changing(tmp_path / "changing.ts", sound, 50 * 48000)
    with_file(path, "media/interview/ines.mp4", "changing.ts")
    found = command(mltassist.open(path))
    (note,) = [note for note in found.notes if "channels change in the middle" in note.text]
    assert (note.text.startswith(str(tmp_path / "changing.ts")), note.needs_editor) == (True, True)
    if command is mltassist.listen:  # its edits are heard all the same
        assert [join.at for join in found.joins if join.edit.after.source.path.name == "changing.ts"] != []


def test_every_edit_can_be_heard_alone_from_a_file_of_its_own(tmp_path):
    project = mltassist.open(write(with_interview(late), tmp_path))
    found = mltassist.listen(project, clips=tmp_path / "edits")
    files = sorted((tmp_path / "edits").iterdir())
    assert [path.name for path in files] == [
        f"{n:03}_{format_timecode(j.at, project.timeline.rate).replace(':', '-')}_{j.judgement.verdict}.wav"
        for n, j in enumerate(found.joins, start=1)
    ]
    sound, rate_hz = soundfile.read(files[1], always_2d=True)
    assert (rate_hz, sound.shape) == (48000, (4 * 48000, 2))
    assert np.abs(sound[:96000]).max() > 0.05  # speech on both sides
    assert np.abs(sound[96000:]).max() > 0.05
    with pytest.raises(OutputError, match="is a file, not a folder; choose another"):
        mltassist.listen(project, clips=files[0])
