"""What a page shows of a plan is what the film holds: words, frames of pictures, sounds."""

from __future__ import annotations

import io
import json

import av
import numpy as np
import pytest

import mltassist
from mltassist.frames import Span
from mltassist.media.sound.listening import TYPE, webm
from mltassist.media.sound.mix import stem
from mltassist.page.gather import gather
from mltassist.plans import Plan
from tests.strips import read_strip


def decoded(content: bytes) -> np.ndarray:
    """The picture of a JPEG file, RGB."""
    with av.open(io.BytesIO(content)) as file:
        return next(file.decode(video=0)).to_ndarray(format="rgb24")


def heard(content: bytes) -> np.ndarray:
    with av.open(io.BytesIO(content)) as file:
        return np.concatenate([frame.to_ndarray() for frame in file.decode(audio=0)], axis=1)[0]


def test_every_join_and_shot_and_pause_is_there_once_in_film_order(gathered, passed):
    figures = passed("saltreed.kdenlive").told["figures"]
    data = gathered.data
    assert len(data["covers"]) == figures["shots"]
    assert len(data["joins"]) == figures["edits_in_speech"] - 1  # one is a clip cut in two
    assert len(data["pauses"]) == 1
    for rows in (data["joins"], data["covers"], data["pauses"]):
        assert [row["at"] for row in rows] == sorted(row["at"] for row in rows)
        assert all(row["name_of"] for row in rows)
    names = [row["name_of"] for rows in (data["joins"], data["covers"], data["pauses"]) for row in rows]
    assert len(set(names)) == len(names)


def test_the_words_left_out_are_told(gathered):
    join = next(row for row in gathered.data["joins"] if row["time"] == "00:00:21:08")
    assert join["words_before"].endswith("to the moon and the rising tide.")
    assert join["words_removed"] == "I used to be a teacher, before the trust asked me to come down here."
    assert join["words_after"].startswith("When the wheel begins to turn")


def test_what_is_played_elsewhere_is_not_told_as_left_out(gathered):
    """As the list of words removed tells it: the winch is heard one bite later, the motor never."""
    hidden = {row["time"]: row for row in gathered.data["lists"]["hidden"]}
    joins = {row["time"]: row for row in gathered.data["joins"]}
    for rows, words in ((hidden, "words"), (joins, "words_removed")):
        assert rows["00:01:06:19"]["elsewhere"] and rows["00:01:06:19"][words] == ""
        assert rows["00:01:17:14"][words] == "Somebody offered us an electric motor once, and I said no."
        assert not rows["00:01:17:14"]["elsewhere"] and not rows["00:01:12:07"]["elsewhere"]


def test_a_word_that_names_the_shot_is_among_those_said_near_it(gathered):
    matched = [row for row in gathered.data["covers"] if row["word"]]
    assert len(matched) >= 10
    for row in matched:
        said = f"{row['said_before']} {row['said']} {row['said_after']}".lower()
        assert row["word"].lower() in said


def test_stills_show_the_frames_that_they_are_said_to_show(gathered):
    row = next(row for row in gathered.data["covers"] if row["others"])
    last = row["source_in"] + row["length"] - 1
    wanted = {"first": row["source_in"], "middle": (row["source_in"] + last) // 2, "last": last}
    for which, frame in wanted.items():
        medium = gathered.gallery.get(row["stills"][which])
        assert medium is not None
        code = read_strip(decoded(medium.content))
        assert code is not None
        assert code[1] == frame
    other = row["others"][0]
    code = read_strip(decoded(gathered.gallery.get(other["still"]).content))
    assert code[1] == other["source_in"] + row["length"] // 2


def test_a_join_sounds_as_the_timeline_does(gathered, passed):
    done = passed("saltreed.kdenlive")
    row = gathered.data["joins"][3]
    medium = gathered.gallery.get(row["sound_after"])
    assert medium.kind == TYPE
    sound = heard(medium.content)
    assert abs(sound.size - 4 * 48000) <= 960
    timeline = mltassist.open(done.output).timeline
    speech = [
        (t, c) for t in timeline.tracks for c in t.clips() if c.plays_sound and "interview" in c.source.key
    ]
    true = stem(speech, Span(row["at"] - 50, row["at"] + 50), timeline.rate).mean(axis=0)
    both = min(sound.size, true.size)
    assert np.corrcoef(sound[:both], true[:both])[0, 1] > 0.98  # Opus keeps the wave of speech nearly


def test_small_sound_tells_its_duration():
    sound = np.sin(np.arange(72000) * 0.05)[None].astype(np.float32)
    with av.open(io.BytesIO(webm(sound))) as file:
        assert file.duration == pytest.approx(1_500_000, abs=15_000)


def test_who_comments_is_shown_no_figures(passed):
    done = passed("saltreed.kdenlive")
    data = gather(mltassist.open(done.original), done.plan, for_comments=True).data
    text = json.dumps(data)
    assert data["joins"]
    assert data["lists"] == {}
    assert [word for word in ("score", "verdict", "loudness", "lufs") if word in text] == []


def test_a_plan_of_nothing_has_a_page(passed):
    done = passed("saltreed.kdenlive")
    project = mltassist.open(done.original)
    data = gather(project, Plan("duck", project.path, project.timeline.rate)).data
    assert data["joins"] == data["covers"] == data["pauses"] == []
    assert data["strip"]["before"]["seen"] == data["strip"]["after"]["seen"]
