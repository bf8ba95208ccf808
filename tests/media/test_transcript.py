"""Transcripts beside recordings."""

from __future__ import annotations

import time

import pytest

from mltassist.errors import MediaError
from mltassist.media.transcript import find_transcript, read_transcript

SRT = """1
00:00:05,250 --> 00:00:07,250
The wheel turns [splash] only

2
00:00:08,000 --> 00:00:09,000
INES: - Tobias keeps the gate.
"""


def words(path):
    return [(word.text, word.at_ms, word.opens) for word in read_transcript(path).words]


def test_an_srt_file_gives_words_with_their_times(tmp_path):
    path = tmp_path / "talk.srt"
    path.write_text(SRT, encoding="utf-8-sig")
    found = words(path)
    assert [text for text, *_ in found] == ["The", "wheel", "turns", "only", "Tobias", "keeps", "the", "gate"]
    assert found[0] == ("The", 5250, True)  # 00:00:05,250 is 5250 ms: SRT as it is in use
    assert [opens for *_, opens in found] == [True, False, False, False, True, False, False, False]
    times = [at for _, at, _ in found]
    assert times == sorted(times)
    assert 5250 <= times[3] < 7250
    assert 8000 <= times[4] < 9000


def test_web_subtitles_are_read_alike(tmp_path):
    path = tmp_path / "talk.en.vtt"
    # W3C WebVTT 1: hours may be left out, the fraction follows a full stop.
    path.write_text("WEBVTT\n\n00:05.250 --> 00:07.250\n<v Ines>The <i>wheel</i> turns\n", encoding="utf-8")
    assert words(path)[0][:2] == ("The", 5250)
    assert [text for text, *_ in words(path)] == ["The", "wheel", "turns"]
    assert read_transcript(path).language == "en"


def test_old_files_in_latin_1_are_read(tmp_path):
    path = tmp_path / "rede.de.srt"
    path.write_bytes("1\n00:00:01,000 --> 00:00:02,000\nDie Mühle steht\n".encode("latin-1"))
    assert [text for text, *_ in words(path)] == ["Die", "Mühle", "steht"]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_any_common_encoding_gives_the_same_words(tmp_path, encoding):
    path = tmp_path / "talk.srt"
    path.write_bytes("1\n00:00:01,000 --> 00:00:02,000\nThe wheel’s “café”\n".encode(encoding))
    assert [text for text, *_ in words(path)] == ["The", "wheel’s", "café"]


def test_a_damaged_cue_costs_only_itself(tmp_path):
    path = tmp_path / "talk.srt"
    path.write_text(
        "1\n00:00:01,000 --> 00:00:02,000\nThe wheel\n\n2\n00:00:xx,000 --> soon\nlost\n\n"
        "3\n00:00:05,000 --> 00:00:04,000\ngulls cry\n"
    )
    # The last cue ends before it begins: its words stay at its beginning.
    assert [(text, at) for text, at, _ in words(path)] == [
        ("The", 1000),
        ("wheel", 1444),  # letter 4 of 9
        ("gulls", 5000),
        ("cry", 5000),
    ]


def test_only_what_is_said_is_read(tmp_path):
    path = tmp_path / "talk.srt"
    path.write_text(
        "1\n00:00:01,000 --> 00:00:02,000\n"
        ">> INÉS CALDER: the {\\an8}<i>flour</i> &amp; [gulls]\n- (laughs) meal\n"
    )
    assert [text for text, *_ in words(path)] == ["the", "flour", "meal"]


def test_comments_and_drawings_of_ass_are_not_read(tmp_path):
    path = tmp_path / "talk.ass"
    event = "0:00:05.25,0:00:07.00,Default,,0,0,0,,"
    path.write_text(
        "[Script Info]\nScriptType: v4.00+\n\n[V4+ Styles]\nFormat: Name\n\n[Events]\n"
        "Format: Layer, Start, End, Style, Name, MarginL, MarginR, MarginV, Effect, Text\n"
        f"Comment: 0,{event}no\nDialogue: 0,{event}{{\\i1}}the{{\\i0}}\\Nwheel\n"
        f"Dialogue: 0,{event}{{\\p1}}m 0 0 l 100 0{{\\p0}}\n"
    )
    assert [text for text, *_ in words(path)] == ["the", "wheel"]
    assert words(path)[0][1] == 5250


@pytest.mark.parametrize(
    ("name", "language"),
    [("a.srt", ""), ("a.eng.srt", "eng"), ("a.en-GB.srt", "en-gb"), ("a.mov.srt", ""), ("a.v2.srt", "")],
)
def test_the_language_is_in_the_name(tmp_path, name, language):
    (tmp_path / name).write_text(SRT)
    assert read_transcript(tmp_path / name).language == language


def test_the_transcript_of_a_recording_has_its_name(tmp_path):
    source = tmp_path / "talk [1].mov"
    assert find_transcript(source) is None
    for name in ("talk [1].txt", "talk [1] more.srt", "other.srt"):
        (tmp_path / name).write_text(SRT)
    assert find_transcript(source) is None
    (tmp_path / "talk [1].en.vtt").write_text("WEBVTT\n")
    assert find_transcript(source) == tmp_path / "talk [1].en.vtt"
    (tmp_path / "talk [1].srt").write_text(SRT)
    assert find_transcript(source) == tmp_path / "talk [1].srt"
    assert find_transcript(tmp_path / "nowhere" / "talk.mov") is None


def test_what_is_no_transcript_is_named(tmp_path):
    path = tmp_path / "talk.srt"
    path.write_bytes(bytes(range(256)) * 4)
    with pytest.raises(MediaError, match=r"talk\.srt"):
        read_transcript(path)
    with pytest.raises(MediaError, match="cannot be read"):
        read_transcript(tmp_path / "gone.srt")


@pytest.mark.parametrize(
    "text", ["<i>" * 200_000, "a " * 3_000_000, "{\\i}" * 200_000], ids=lambda text: text[:4]
)
def test_a_line_that_nobody_could_say_is_none(tmp_path, text):
    path = tmp_path / "talk.srt"
    path.write_text(
        f"1\n00:00:01,000 --> 00:00:02,000\n{text}\n\n2\n00:00:03,000 --> 00:00:04,000\nSo it is.\n"
    )
    began = time.process_time()
    assert [word.text for word in read_transcript(path).words] == ["So", "it", "is"]
    assert time.process_time() - began < 5
