"""Names of media are paths to files of known kinds, never addresses, lists of other files or devices."""

from __future__ import annotations

import os
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
import soundfile

from mltassist.errors import MediaError, SourceMissing
from mltassist.frames import Rate, Span
from mltassist.media.opening import open_media, path_of
from mltassist.media.picture.thumbnails import picture_at
from mltassist.media.probe import probe
from mltassist.media.sound.recordings import recording_of
from mltassist.media.timing import timing_faults
from mltassist.media.transcript import read_transcript
from tests.cli.films import EXAMPLE

FILM = EXAMPLE / "media/interview/ines.mp4"
RATE = Rate(25)
LISTS = {
    "live.m3u8": f"#EXTM3U\n#EXT-X-TARGETDURATION:5\n#EXTINF:5,\n{FILM}\n",
    "list.ffconcat": f"ffconcat version 1.0\nfile '{FILM}'\n",
    "radio.sdp": "v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 127.0.0.1\nt=0 0\n"
    "m=video 5004 RTP/AVP 96\na=rtpmap:96 H264/90000\n",
    "drawing.svg": '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9">'
    '<image href="/etc/hostname"/></svg>',
    "parts.mpd": '<?xml version="1.0"?><MPD xmlns="urn:mpeg:dash:schema:mpd:2011" type="static"'
    ' mediaPresentationDuration="PT5S"><Period><AdaptationSet mimeType="video/mp4">'
    '<Representation id="1" bandwidth="1"><BaseURL>ines.mp4</BaseURL></Representation>'
    "</AdaptationSet></Period></MPD>",
    "words.srt": "1\n00:00:01,000 --> 00:00:02,000\nno picture\n",
}


def picture(path: Path, codec: str, pixels: str, width: int = 64) -> Path:
    """A still picture. The name is made without a pattern, and given afterwards."""
    plain = path.with_name("plain" + path.suffix)
    with av.open(str(plain), "w", format="image2", options={"update": "1"}) as file:
        stream = file.add_stream(codec, rate=Fraction(1))
        assert isinstance(stream, av.VideoStream)
        stream.width, stream.height, stream.pix_fmt = width, 32, pixels
        frame = av.VideoFrame.from_ndarray(np.full((32, width, 3), 90, np.uint8), format="rgb24")
        file.mux([*stream.encode(frame.reformat(format=pixels)), *stream.encode(None)])
    return plain.rename(path)


USES = {
    "probe": probe,
    "sound": lambda path: recording_of(path, 0),
    "picture": lambda path: picture_at(path, 0, RATE),
    "container": open_media,
}


@pytest.mark.parametrize("use", USES)
@pytest.mark.parametrize("name", LISTS)
def test_lists_of_other_files_are_refused(tmp_path, name, use):
    path = tmp_path / name
    path.write_text(LISTS[name], encoding="utf-8")
    with pytest.raises((MediaError, av.error.InvalidDataError)):
        USES[use](path)


@pytest.mark.parametrize("use", USES)
def test_a_list_under_the_name_of_a_film_is_refused_too(tmp_path, use):
    for number, text in enumerate(LISTS.values()):
        path = tmp_path / f"film-{number}.mp4"
        path.write_text(text, encoding="utf-8")
        with pytest.raises((MediaError, av.error.InvalidDataError)):
            USES[use](path)


@pytest.mark.skipif(os.name != "posix", reason="pipes and devices of posix")
@pytest.mark.parametrize("use", [*USES, "transcript"])
def test_pipes_devices_folders_and_files_of_the_kernel_are_refused_without_waiting(tmp_path, use):
    os.mkfifo(tmp_path / "pipe.mp4")
    read = USES.get(use, read_transcript)
    for path in (tmp_path / "pipe.mp4", tmp_path, Path("/dev/zero"), Path("/proc/kmsg")):
        with pytest.raises(MediaError, match=r"ordinary file|of the system's"):
            read(path)
    assert timing_faults(tmp_path / "pipe.mp4") == ()


@pytest.mark.skipif(os.name != "posix", reason="Windows allows no colon in names")
@pytest.mark.parametrize(
    "name",
    ["http://127.0.0.1:9/x.mp4", "concat:a.mp4|b.mp4", "tcp://x", "data:x", "subfile,,start,0,end,9,,:x"],
)
def test_an_address_is_the_name_of_a_file_and_nothing_else(tmp_path, monkeypatch, name):
    monkeypatch.chdir(tmp_path)
    path = Path(name)
    with pytest.raises(SourceMissing):
        probe(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(FILM.read_bytes())
    assert probe(path).has_sound
    assert recording_of(path, 0).read(Span(0, 9)).shape[1] == 9
    assert picture_at(path, 30, RATE).size
    with open_media(path) as container:
        assert path_of(container) == path.absolute()


def test_a_sign_of_a_pattern_in_a_picture_s_name_is_part_of_it(tmp_path):
    picture(tmp_path / "a0.png", "png", "rgb24", width=128)
    pattern = picture(tmp_path / "a%d.png", "png", "rgb24")
    with open_media(pattern) as container:
        assert container.streams.video[0].width == 64


@pytest.mark.parametrize(
    ("name", "codec", "pixels"),
    [
        ("a.png", "png", "rgb24"),
        ("a.jpg", "mjpeg", "yuvj420p"),
        ("a.tif", "tiff", "rgb24"),
        ("a.bmp", "bmp", "bgr24"),
    ],
)
def test_pictures_of_common_kinds_open(tmp_path, name, codec, pixels):
    assert picture_at(picture(tmp_path / name, codec, pixels), 0, RATE).shape == (32, 64)


@pytest.mark.parametrize("suffix", ["wav", "flac", "ogg", "mp3", "aiff", "caf", "w64", "au"])
def test_sound_files_of_common_kinds_open(tmp_path, suffix):
    path = tmp_path / f"room.{suffix}"
    soundfile.write(path, np.full((48000, 1), 0.1), 48000)
    with open_media(path) as container:
        assert container.streams.audio


@pytest.mark.parametrize("suffix", ["mp4", "mov", "mkv", "webm", "avi", "mxf", "ts", "mpg", "flv", "gif"])
def test_films_of_common_kinds_open(tmp_path, suffix):
    path = tmp_path / f"film.{suffix}"
    codec = {"webm": "libvpx", "gif": "gif", "flv": "flv", "mpg": "mpeg2video"}.get(suffix, "mpeg2video")
    with av.open(str(path), "w") as file:
        stream = file.add_stream(codec, rate=25)
        assert isinstance(stream, av.VideoStream)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "rgb8" if suffix == "gif" else "yuv420p"
        for _ in range(50):
            frame = av.VideoFrame.from_ndarray(np.zeros((48, 64, 3), np.uint8), format="rgb24")
            file.mux(stream.encode(frame.reformat(format=stream.pix_fmt)))
        file.mux(stream.encode(None))
    with open_media(path) as container:
        assert container.streams.video
