"""What judging a whole film's mix costs beside rendering its sound with the engine, and how much memory.

Run by name only: pytest tests/bench/test_mix_speed.py -s. The film is 60 minutes on eight tracks, from
uncompressed and FLAC files. The engine renders three minutes of it, to a file, with pictures switched off;
compared are the times for one minute of film. Both figures are taken in one run on one machine.
"""

from __future__ import annotations

import random
import resource
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests import referee
from tests.bench.figures import noted
from tests.media.sound.test_mix_played import prop, volume

RATE_HZ, FPS = 48000, 25
FILM_MIN, SLICE_MIN, TRACKS = 60, 3, 8
CHANNELS = (2, 1, 2, 1)
FILE_S = 300

JUDGE = """
import sys, time, resource
from mltassist import open as open_project
from mltassist.music.delivery import mix_meter
timeline = open_project(sys.argv[1]).timeline
begin, used = time.perf_counter(), time.process_time()
figures = mix_meter(timeline).read()
took = time.perf_counter() - begin
try:
    # Linux hands the peak of the parent on to the child's resource usage; this one is of the child alone.
    peak_kb = next(int(l.split()[1]) for l in open("/proc/self/status") if l.startswith("VmHWM"))
except OSError:
    peak_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // (1024 if sys.platform == "darwin" else 1)
print(took, time.process_time() - used, peak_kb / 1024, figures.integrated_lufs, figures.peak_dbtp)
"""


def recordings(folder: Path, kind: str) -> list[Path]:
    """Noise in the rhythm of speech, five minutes to a file."""
    paths = []
    for channels in CHANNELS:
        rng = np.random.default_rng(len(paths))
        n = np.arange(FILE_S * RATE_HZ)
        swell = (0.2 * np.maximum(0, np.sin(2 * np.pi * 1.3 * n / RATE_HZ)) ** 2).astype(np.float32)
        noise = rng.standard_normal((n.size, channels), np.float32)
        paths.append(folder / f"recording-{len(paths)}.{kind}")
        soundfile.write(paths[-1], 0.5 * noise * swell[:, None], RATE_HZ, subtype="PCM_16")
    return paths


def film(folder: Path, minutes: int, kind: str) -> Path:
    """A document with clips of five to forty seconds on every track, a third of them with level curves."""
    rng = random.Random(8)
    paths, held, total = recordings(folder, kind), FILE_S * FPS, minutes * 60 * FPS
    lines = [
        f'<mlt LC_NUMERIC="C"><profile description="p" width="64" height="36" progressive="1"'
        f' sample_aspect_num="1" sample_aspect_den="1" display_aspect_num="16" display_aspect_den="9"'
        f' frame_rate_num="{FPS}" frame_rate_den="1" colorspace="709"/>'
    ]
    for track in range(TRACKS):
        lines += [
            f'<producer id="s{i}t{track}" in="0" out="{held - 1}">{prop("length", held)}'
            f"{prop('resource', path)}{prop('mlt_service', 'avformat')}</producer>"
            for i, path in enumerate(paths)
        ]
        lines.append(f'<playlist id="t{track}">')
        at = 0
        while at < total:
            gap = rng.choice([0, 0, rng.randint(1, 100)])
            length = min(rng.randint(5 * FPS, 40 * FPS), total - at)
            first = rng.randint(0, held - length)
            last = first + length - 1
            curve = volume(
                prop("level", f"0=-6;{length // 3}=-6;{length // 2}=-15;{length - 1}=-6"),
                f' in="{first}" out="{last}"',
            )
            lines += [f'<blank length="{gap}"/>'] if gap else []
            lines.append(
                f'<entry producer="s{rng.randrange(len(paths))}t{track}" in="{first}" out="{last}">'
                f"{curve if rng.random() < 1 / 3 else ''}</entry>"
            )
            at += gap + length
        lines.append("</playlist>")
    lines.append('<playlist id="base"/><tractor id="film"><track producer="base"/>')
    lines += [f'<track producer="t{track}" hide="video"/>' for track in range(TRACKS)]
    lines += [
        f"<transition>{prop('mlt_service', 'mix')}{prop('a_track', 0)}{prop('b_track', track + 1)}"
        f"{prop('sum', 1)}{prop('always_active', 1)}</transition>"
        for track in range(TRACKS)
    ]
    path = folder / f"film-{minutes}-{kind}.mlt"
    path.write_text("\n".join([*lines, "</tractor></mlt>"]), encoding="utf-8")
    return path


def judged(document: Path) -> tuple[float, float, float, float, float]:
    """Seconds, processor seconds, peak memory in MB, loudness and true peak, from a process of its own."""
    run = subprocess.run(
        [sys.executable, "-c", JUDGE, str(document)], capture_output=True, text=True, check=True
    )
    took, used, peak_mb, lufs, peak_dbtp = map(float, run.stdout.split())
    return took, used, peak_mb, lufs, peak_dbtp


def rendered_s(document: Path) -> tuple[float, float]:
    """Seconds, and those of the processor, in which the engine renders the sound of its first minutes."""
    begin, before = time.perf_counter(), children_s()
    referee.sound(document, first=0, last=SLICE_MIN * 60 * FPS - 1)
    return time.perf_counter() - begin, children_s() - before


def children_s() -> float:
    """Processor seconds of all processes that were started from here and have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


@pytest.mark.usefixtures("requires_melt")
@pytest.mark.parametrize(("kind", "least"), [("wav", 10), ("flac", 10)])
def test_a_film_is_judged_faster_than_it_is_rendered(tmp_path: Path, kind: str, least: float) -> None:
    document = film(tmp_path, FILM_MIN, kind)
    took, used, peak_mb, lufs, peak_dbtp = judged(document)
    begin, before = time.perf_counter(), children_s()
    sound = referee.sound(document, first=0, last=SLICE_MIN * 60 * FPS - 1)
    rendered, worked = time.perf_counter() - begin, children_s() - before
    ratio, effort = ((a / SLICE_MIN) / (b / FILM_MIN) for a, b in ((rendered, took), (worked, used)))
    sys.stdout.write(
        f"\n  {FILM_MIN} minutes, {TRACKS} tracks of {kind}: {lufs:.1f} LUFS, {peak_dbtp:.1f} dBTP"
        f"\n  judged in {took:.1f} s ({used:.1f} s of processor), {peak_mb:.0f} MB"
        f"\n  {SLICE_MIN} minutes rendered in {rendered:.1f} s ({worked:.1f} s)"
        f"\n  {ratio:.1f} x as fast, {effort:.1f} x less work\n"
    )
    noted(f"judging a mix of {kind}", [ratio], "x as fast as rendering", f">= {least}", ratio >= least)
    assert sound.shape[1] == SLICE_MIN * 60 * RATE_HZ
    assert peak_mb < 300
    assert ratio >= least
