"""Ten hours of rushes as a camera writes them, for an hour's film: what it costs to understand them, once.

Five hours of interviews in takes of twenty minutes, five hours of cutaways of thirty seconds: H.264 in
1920 x 1080 with a key picture a second (what gathering costs depends on it) and AAC. Each is a labelled
recording enlarged, with grain; files that differ only in number are one recording to nobody, for what is
known of a file goes by its bytes. Needs 20 GB and a quarter of an hour; run by name:
python -m pytest tests/bench/test_ten_hours.py -s
"""

from __future__ import annotations

import resource
import sys
import time
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from mltassist.media.sound.speech import default_detector
from mltassist.rushes.gathering import gather_evidence
from mltassist.timeline.elements import Element
from mltassist.timeline.model import BinClip, Source, SourceKind
from tests.rushes.labelled import pool
from tests.timeline.films import timeline

FPS = 25
TAKES, TAKE_S = 15, 1200
CUTAWAYS, CUTAWAY_S = 600, 30
SIZE = (1920, 1080)


@pytest.fixture(scope="module")
def rushes(tmp_path_factory: pytest.TempPathFactory) -> list[BinClip]:
    folder = tmp_path_factory.mktemp("rushes")
    filmed = [r for r in pool.rushes() if r.picture is not None and r.sound is not None]
    masters = {}
    for element, wanted in ((Element.INTERVIEW, 3), (Element.CUTAWAY, 9)):
        of = [rush for rush in filmed if rush.element is element]
        masters[element] = [_enlarged(pool.write(rush), folder) for rush in of[:: len(of) // wanted][:wanted]]
    clips = []
    for element, count, length_s in (
        (Element.INTERVIEW, TAKES, TAKE_S),
        (Element.CUTAWAY, CUTAWAYS, CUTAWAY_S),
    ):
        for number in range(count):
            path = folder / f"C{len(clips):04}.mp4"
            master = masters[element][number % len(masters[element])]
            _repeated(master, path, length_s, number)
            source = Source(str(path), SourceKind.FILE, path, length_s * FPS, True, True)
            clips.append(BinClip(path.stem, path.stem, source))
    return clips


def _enlarged(small: Path, folder: Path) -> Path:
    """A recording of the pool as a large camera file: its first half minute, enlarged, with grain."""
    path = folder / f"master-{small.stem}.mp4"
    random = np.random.default_rng(1)
    grain = random.normal(0, 3, (SIZE[1] + 64, SIZE[0] + 64)).astype(np.int16)
    with av.open(str(small)) as source, av.open(str(path), "w") as target:
        picture = target.add_stream(
            "libx264", rate=FPS, options={"preset": "ultrafast", "g": str(FPS), "b": "5M"}
        )
        picture.width, picture.height = SIZE
        picture.pix_fmt, picture.bit_rate = "yuv420p", 5_000_000
        sound = target.add_stream("aac", rate=48000, layout="stereo")
        again = av.AudioResampler("fltp", "stereo", 48000, frame_size=1024)
        for frame in source.decode():
            if frame.time is not None and frame.time >= CUTAWAY_S:
                break
            if isinstance(frame, av.VideoFrame):
                large = frame.reformat(*SIZE, format="yuv420p").to_ndarray()
                top, left = random.integers(0, 64, 2)
                luma = large[: SIZE[1]] + grain[top : top + SIZE[1], left : left + SIZE[0]]
                large[: SIZE[1]] = luma.clip(16, 235)
                made = av.VideoFrame.from_ndarray(large, "yuv420p")
                made.pts, made.time_base = frame.pts, frame.time_base
                target.mux(picture.encode(made))
            elif isinstance(frame, av.AudioFrame):
                for part in again.resample(frame):
                    target.mux(sound.encode(part))
        target.mux(picture.encode(None))
        target.mux(sound.encode(None))
    return path


def _repeated(master: Path, path: Path, length_s: int, number: int) -> None:
    """The packets of a master again and again to the length asked for, in a file of its own bytes."""
    with av.open(str(path), "w") as target:
        target.metadata["comment"] = f"take {number}"
        with av.open(str(master)) as source:
            streams = {s.index: target.add_stream_from_template(s) for s in source.streams}
        begins = Fraction(0)
        while begins < length_s:
            reached = Fraction(0)
            with av.open(str(master)) as source:
                for packet in source.demux():
                    if packet.pts is None or packet.time_base is None:
                        continue
                    end = (packet.pts + (packet.duration or 0)) * packet.time_base
                    reached = max(reached, end)
                    moved = int(begins / packet.time_base)
                    packet.pts, packet.dts = packet.pts + moved, packet.dts + moved
                    packet.stream = streams[packet.stream.index]
                    target.mux(packet)
            begins += reached + Fraction(1, FPS)  # sound begins before 0, where its coder is filled


def test_ten_hours_are_understood_in_a_small_part_of_their_time(
    rushes: list[BinClip], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MLTASSIST_CACHE", "off")
    seconds = sum(clip.source.length for clip in rushes) / FPS
    assert seconds >= 36000
    detector = default_detector()
    half = len(rushes) // 2
    parts, peaks = [], []
    for some in (rushes[:half], rushes[half:]):
        began = time.process_time(), time.monotonic()
        found = gather_evidence(timeline(bin_clips=some), [clip.source.key for clip in some], detector)
        assert len(found) == len(some)
        parts.append((time.process_time() - began[0], time.monotonic() - began[1]))
        peaks.append(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
    cost = sum(busy for busy, _ in parts) / seconds
    passed = sum(waited for _, waited in parts) / seconds
    sys.stdout.write(
        f"{len(rushes)} files, {seconds / 3600:.1f} h: {cost:.2%} of their playing time in CPU,"
        f" {passed:.2%} by the clock; memory {peaks[0]:.0f} MB after half of them,"
        f" {peaks[1]:.0f} MB after all\n"
    )
    assert cost <= 0.03
    assert peaks[1] - peaks[0] < 100
