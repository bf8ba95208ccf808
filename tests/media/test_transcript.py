"""Transcripts beside recordings."""

from __future__ import annotations

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
