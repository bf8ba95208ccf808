"""What the analysis of sound costs beside bare decoding, and how much memory it takes.

Run by name only: pytest tests/bench/test_analysis_speed.py -s. All figures are ratios within one run: to
decoding the same file once to mono at 48 kHz with the same library, plus the speech model's own time.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import av
import numpy as np
import pytest

from tests.bench.figures import noted
from tests.joins.voices import mono
from tests.samples import LIBRIVOX, debian_folder

RATE_HZ = 48000

ANALYSE = """
import sys, time, resource
from pathlib import Path
from mltassist.frames import Rate, Span
from mltassist.media.sound.hearing import passage_level, speech_on_timeline
from mltassist.media.sound.speech import default_detector
from mltassist.timeline.model import Clip, Source, SourceKind, Track, TrackKind
path, seconds = Path(sys.argv[1]), int(sys.argv[2])
source = Source(str(path), SourceKind.FILE, path, seconds * 25)
clips = [(Track(1, TrackKind.SOUND, "Interview"), Clip(0, seconds * 25, source, 0))]
begin, t = time.perf_counter(), time.process_time()
found = speech_on_timeline(clips, Rate(25), default_detector())
if sys.argv[3] == "loudness":
    passage_level(clips, Span(0, seconds * 25), Rate(25))
took, used = time.perf_counter() - begin, time.process_time() - t
try:
    # Linux hands the peak of the parent on to the child's resource usage; this one is of the child alone.
    peak_kb = next(int(l.split()[1]) for l in open("/proc/self/status") if l.startswith("VmHWM"))
except OSError:
    peak_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // (1024 if sys.platform == "darwin" else 1)
print(took, used, len(found), peak_kb / 1024)
"""


def recording(path: Path, seconds: int) -> Path:
    """A reading repeated for so long, as AAC in a film file without picture."""
    folder = debian_folder(LIBRIVOX) / "usr/share/pocketsphinx/test/data/librivox"
    speech = np.concatenate([mono(p) for p in sorted(folder.glob("*.wav"))])
    voice = np.repeat(speech, 3)  # 16 to 48 kHz, roughly: only its length and its words matter here
    blocks = voice[: voice.size // 1024 * 1024].reshape(-1, 1024).astype(np.float32)
    with av.open(str(path), "w") as container:
        stream = container.add_stream("aac", rate=RATE_HZ, layout="mono")
        for at in range(0, seconds * RATE_HZ, 1024):
            block = blocks[at // 1024 % len(blocks)][None]
            frame = av.AudioFrame.from_ndarray(block, format="fltp", layout="mono")
            frame.sample_rate, frame.pts = RATE_HZ, at
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
    return path


def decoding(path: Path) -> tuple[float, float]:
    """Seconds, and those of the processor, for decoding a file once to mono at 48 kHz."""
    begin, before = time.perf_counter(), time.process_time()
    with av.open(str(path)) as container:
        resampler = av.AudioResampler("flt", "mono", RATE_HZ)
        for frame in container.decode(audio=0):
            for part in resampler.resample(frame):
                part.to_ndarray()
    return time.perf_counter() - begin, time.process_time() - before


def model(seconds: int) -> tuple[float, float]:
    """Seconds, and those of the processor, for the speech model alone."""
    from mltassist.media.sound.speech import RATE_HZ as MODEL_HZ
    from mltassist.media.sound.speech import default_detector

    sound = np.random.default_rng(1).uniform(-0.1, 0.1, seconds * MODEL_HZ).astype(np.float32)
    begin, before = time.perf_counter(), time.process_time()
    default_detector().probability(sound)
    return time.perf_counter() - begin, time.process_time() - before


def repeated(path: Path, target: Path, seconds: int) -> Path:
    """A recording over and over for so long, its packets as they are."""
    with av.open(str(path)) as read, av.open(str(target), "w") as written:
        stream = read.streams.audio[0]
        packets = [packet for packet in read.demux(stream) if packet.dts is not None]
        length = packets[-1].pts + packets[-1].duration - packets[0].pts
        copied = written.add_stream_from_template(stream)
        for number in range(int(-(-seconds // (length * stream.time_base)))):
            for packet in packets:
                one = av.Packet(bytes(packet))
                one.stream, one.time_base, one.duration = copied, packet.time_base, packet.duration
                one.pts = one.dts = packet.pts + number * length
                written.mux(one)
    return target


def analysed(path: Path, seconds: int, what: str, cache: str) -> tuple[float, float, int, float]:
    """Seconds, those of the processor, stretches of speech and peak memory in MB, by a process of its own."""
    command = [sys.executable, "-c", ANALYSE, str(path), str(seconds), what]
    told = subprocess.run(
        command, check=True, capture_output=True, text=True, env={**os.environ, "MLTASSIST_CACHE": cache}
    ).stdout
    took, used, found, peak_mb = told.split()
    return float(took), float(used), int(found), float(peak_mb)


@pytest.mark.parametrize("seconds", [1200])
def test_analysis_costs_little_more_than_decoding(tmp_path, seconds):
    path = recording(tmp_path / "long.m4a", seconds)
    floor, own = decoding(path)[0], model(seconds)[0]
    first, _, found, _ = analysed(path, seconds, "loudness", "off")
    cache = str(tmp_path / "cache")
    analysed(path, seconds, "speech", cache)
    again, _, found_again, _ = analysed(path, seconds, "speech", cache)
    alone, _, _, _ = analysed(path, seconds, "speech", "off")
    sys.stdout.write(
        f"\n  analysis less the model's time: {(first - own) / floor:.2f} x decoding"
        f"\n  second run: {again / alone:.4f} of the first\n"
    )
    over = (first - own) / floor
    noted("analysis of a recording less the speech model", [over], "x decoding it", "<= 3", over <= 3)
    assert found == found_again > 100
    assert first - own <= 3 * floor
    assert again <= 0.05 * alone


def test_two_hours_fit_in_little_memory(tmp_path):
    seconds = 7200
    path = recording(tmp_path / "long.m4a", seconds)
    _, _, found, peak_mb = analysed(path, seconds, "loudness", "off")
    sys.stdout.write(f"\n  two hours: {peak_mb:.0f} MB at most\n")
    assert found > 1000
    assert peak_mb < 300
