"""Clips at other speeds show the very source frames that were read (reference: the program melt)."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import av
import numpy as np
import pytest

from mltassist.frames import Rate
from mltassist.project import open_project
from tests import referee
from tests.hosts.films import BOAT, COLOURS, FILM
from tests.hosts.generations import FEATURES
from tests.hosts.written import saying, write_feature

pytestmark = pytest.mark.usefixtures("requires_melt")


@pytest.mark.parametrize("name", [n for n in saying("speeds", "nested", "paths") if FEATURES[n].plays])
def test_the_engine_shows_the_files_that_were_read(name: str, media: Callable[[Rate], Path]):
    """By their colours: the source behind a clip, whatever its speed."""
    folder = media(FILM.rate)
    timeline = open_project(write_feature(name, folder, plays=True)).timeline
    cutaways = next(track for track in timeline.tracks if track.name == "Cutaways")
    (clip,) = cutaways.clips()
    stated: dict[str, str] = FEATURES[name].says.get("paths", {})  # type: ignore[assignment]
    stand_ins = {original: stand_in for stand_in, original in stated.items()}
    file = str(Path(clip.source.key).relative_to(folder))
    for picture in referee.frames(timeline.path, [clip.start, clip.span.end - 1]):
        shown = picture[45, 80].astype(int)
        assert np.abs(shown - COLOURS[stand_ins.get(file, file)]).max() < 12


# --- numbered frames ------------------------------------------------------------------------------

BITS = 8


def write_numbered(path: Path, frames: int = 100) -> None:
    """A film whose pictures are stripes: its frame number in binary, the first stripe the lowest bit."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=25)
        stream.width, stream.height, stream.pix_fmt = 160, 90, "yuv420p"
        stream.options = {"preset": "ultrafast", "g": "1", "qp": "4", "threads": "1"}
        for number in range(frames):
            bits = np.array([number >> bit & 1 for bit in range(BITS)], np.uint8) * 255
            row = np.repeat(bits, 160 // BITS)[np.newaxis, :, np.newaxis]
            picture = np.ascontiguousarray(np.broadcast_to(row, (90, 160, 3)))
            container.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        container.mux(stream.encode(None))


def number_of(picture: referee.Picture) -> int:
    return sum(int(picture[45, bit * 20 + 10, 0] > 128) << bit for bit in range(BITS))


PART = """<producer id="part" in="0" out="{last}"><property name="length">{length}</property>
<property name="resource">{speed}:{file}</property><property name="mlt_service">timewarp</property>
<property name="warp_speed">{speed}</property><property name="warp_resource">{file}</property></producer>"""
MAPPED = """<chain id="part" out="99"><property name="length">100</property>
<property name="resource">{file}</property><property name="mlt_service">avformat-novalidate</property>
<link id="link"><property name="mlt_service">timeremap</property>
<property name="map">0=0;32=1.92;50=2.28</property><property name="image_mode">nearest</property></link>
</chain>"""
DOCUMENT = """<mlt LC_NUMERIC="C"><profile description="x" width="160" height="90" progressive="1"
sample_aspect_num="1" sample_aspect_den="1" display_aspect_num="16" display_aspect_den="9"
frame_rate_num="25" frame_rate_den="1"/>{part}<playlist id="playlist"><blank length="3"/>
<entry producer="part" in="5" out="30"/></playlist>
<tractor id="main"><track producer="playlist"/></tractor></mlt>"""


@pytest.mark.parametrize("speed", ["0.5", "0.7", "1.5", "2", "-1", "-0.6", "-2"])
def test_every_frame_of_a_clip_at_another_speed_is_the_one_that_was_read(speed: str, tmp_path: Path):
    length = int(100 / abs(float(speed)))
    part = PART.format(speed=speed, length=length, last=length - 1, file=Path(BOAT.file).name)
    assert_shown_as_read(part, tmp_path)


def test_every_frame_of_a_clip_whose_speed_changes_is_the_one_that_was_read(tmp_path: Path):
    """One and a half times as fast, then half as fast (in steps that binary fractions hold)."""
    assert_shown_as_read(MAPPED.format(file=Path(BOAT.file).name), tmp_path)


def assert_shown_as_read(part: str, folder: Path) -> None:
    write_numbered(folder / Path(BOAT.file).name)
    path = folder / "film.mlt"
    path.write_text(DOCUMENT.format(part=part), encoding="utf-8")
    timeline = open_project(path).timeline
    (clip,) = timeline.tracks[0].clips()
    frames = range(clip.start, clip.span.end)
    pictures = referee.frames(path, list(frames))
    # The engine reckons in binary fractions: where a line meets an edge exactly it may show the one before.
    shown = [number_of(picture) for picture in pictures]
    read = [clip.source_frame(frame) for frame in frames]
    differing = [(a, b) for a, b in zip(shown, read, strict=True) if a != b]
    assert len(differing) <= 2
    assert all(b - a == 1 for a, b in differing)
