"""Write the films' media files: H.264 and AAC in MP4, as cameras and recorders write them.

The MLT engine finds the very sample it seeks in AAC in MP4; in Opus it comes some samples late.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from functools import partial
from importlib.resources import files
from pathlib import Path

import av
import numpy as np
import soundfile

from mltassist.demofilm import sounds
from mltassist.demofilm.drawing import Floats
from mltassist.demofilm.film import Rush
from mltassist.demofilm.pictures import Painter, numbered, scene, talking_head
from mltassist.demofilm.scenario import RATE, sentence_spans
from mltassist.demofilm.sounds import FILM_HZ, Samples
from mltassist.demofilm.sources import MadeFile, made_file, transcribed
from mltassist.demofilm.strip import HEIGHT, WIDTH

_BATCH = 50  # frames of picture written before the sound beside them
# Flat drawn colours: the encoder's tricks for film grain and texture only spend bits on them.
_FLAT = "psy=0:aq-mode=0"
_PICTURE: dict[str, object] = {
    "crf": "37",
    "preset": "veryfast",
    "g": "25",
    "threads": "1",
    "x264-params": _FLAT,
}
# No random serials or dates: same input, same bytes.
_MP4 = {"fflags": "+bitexact", "movflags": "+faststart"}


def write_media(
    folder: Path,
    rushes: Sequence[Rush],
    *,
    keep: bool = False,
    on_progress: Callable[[str, float], None] | None = None,
) -> None:
    """Write rushes and the transcripts beside them at their paths from `folder`.

    What is there is replaced, or with `keep` left as it is: only whole files are ever there.
    `on_progress` is told each file when it is finished and the share of all work done, 0 to 1. Two
    files are written at a time; the bytes do not depend on that.
    """
    places = {rush.file: Path(os.path.normpath(folder / rush.file)) for rush in rushes}
    made = [rush for rush in rushes if not (keep and places[rush.file].is_file())]
    weights = {rush.file: rush.length * (1 if rush.picture else 0.1) for rush in made}
    done, total = 0.0, sum(weights.values())
    with ThreadPoolExecutor(2) as pool:
        started = {pool.submit(partial(_write, places[rush.file], rush)): rush.file for rush in made}
        for finished in as_completed(started):
            finished.result()
            file = started[finished]
            done += weights[file]
            if on_progress:
                on_progress(file, min(1.0, done / total))
    write_transcripts(folder, rushes)


def write_transcripts(folder: Path, rushes: Sequence[Rush]) -> None:
    """Write what each voice says beside its recording, one subtitle for each sentence."""
    for rush in rushes:
        source = made_file(rush.file)
        if source.talk is None or source.music:
            continue
        spans = sentence_spans(source.talk.speaker)
        cues = [
            f"{number}\n{_clock(span.start)} --> {_clock(span.end)}\n{sentence}\n"
            for number, (sentence, span) in enumerate(zip(source.talk.sentences, spans, strict=True), start=1)
        ]
        path = Path(os.path.normpath(folder / transcribed(rush.file)))
        path.write_text("\n".join(cues), encoding="utf-8", newline="\n")


def _clock(frame: int) -> str:
    whole_ms = frame * 40
    minutes, rest = divmod(whole_ms, 60_000)
    return f"00:{minutes:02}:{rest // 1000:02},{rest % 1000:03}"


def _write(path: Path, rush: Rush) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_name(f"{path.name}.part")
    source = made_file(rush.file)
    sound = _sound_of(source, rush)
    if rush.picture:
        painter = numbered(_painter(source, rush, sound), rush.name, source.number)
        _write_film(unfinished, painter, rush.length, sound, source.sound_bits)
    else:
        _write_sound(unfinished, sound, bit_rate=source.sound_bits)
    unfinished.replace(path)


def _sound_of(source: MadeFile, rush: Rush) -> Samples:
    samples = RATE.samples(rush.length, FILM_HZ)
    if source.talk and source.music:
        return sounds.sung(_voice(source.talk.speaker, samples), samples)
    if source.talk:
        return _voice(source.talk.speaker, samples)
    if source.music:
        return sounds.music(samples)
    if source.natural:
        return sounds.natural(source.natural, samples)
    return sounds.ambience(source.number, samples)


def _painter(source: MadeFile, rush: Rush, sound: Samples) -> Painter:
    if source.sitter:
        return talking_head(source.sitter, _loudness(sound, rush.length))
    return scene(source.subject, source.size)


def _voice(speaker: str, samples: int) -> Samples:
    """A stored voice, mono, shape (1, samples)."""
    with files("mltassist.demofilm").joinpath(f"voices/{speaker}.ogg").open("rb") as stored:
        sound, _ = soundfile.read(stored, dtype="float32", always_2d=True)
    return np.ascontiguousarray(sound.T[:1, :samples])


def _loudness(voice: Samples, length: int) -> Floats:
    """How wide the mouth is at each frame, 0 to 1, from the level of the voice there."""
    per_frame = voice.shape[1] // length
    rms = np.sqrt(np.mean(voice[0, : per_frame * length].reshape(length, per_frame) ** 2, axis=1))
    return np.asarray(np.clip(rms / 0.13, 0, 1), np.float32)


def _write_sound(path: Path, samples: Samples, *, bit_rate: int) -> None:
    """Write float32 (channels, samples) at 48 kHz, mono or stereo, as AAC in MP4 at `bit_rate` bit/s."""
    with av.open(str(path), "w", format="mp4", options=_MP4) as container:
        stream = _sound_stream(container, samples, bit_rate)
        for first in range(0, samples.shape[1], FILM_HZ):
            _encode_sound(container, stream, samples[:, first : first + FILM_HZ], first)
        container.mux(stream.encode(None))


def _sound_stream(container: av.container.OutputContainer, samples: Samples, bit_rate: int) -> av.AudioStream:
    layout = "mono" if samples.shape[0] == 1 else "stereo"
    return container.add_stream("aac", rate=FILM_HZ, layout=layout, bit_rate=bit_rate)


def _encode_sound(
    container: av.container.OutputContainer, stream: av.AudioStream, samples: Samples, at_sample: int
) -> None:
    channels = samples.shape[0]
    packed = np.ascontiguousarray(samples.T.reshape(1, -1))
    frame = av.AudioFrame.from_ndarray(packed, format="flt", layout="mono" if channels == 1 else "stereo")
    frame.sample_rate = FILM_HZ
    frame.pts = at_sample
    container.mux(stream.encode(frame))


def _write_film(path: Path, painter: Painter, length: int, sound: Samples, bit_rate: int) -> None:
    """H.264 picture and AAC sound in MP4."""
    with av.open(str(path), "w", format="mp4", options=_MP4) as container:
        picture = container.add_stream("libx264", rate=RATE.fraction)
        picture.width, picture.height, picture.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        picture.options = _PICTURE
        heard = _sound_stream(container, sound, bit_rate)
        for first in range(0, length, _BATCH):
            past = min(length, first + _BATCH)
            for number in range(first, past):
                container.mux(picture.encode(av.VideoFrame.from_ndarray(painter(number), format="rgb24")))
            start, end = RATE.samples(first, FILM_HZ), RATE.samples(past, FILM_HZ)
            _encode_sound(container, heard, sound[:, start:end], start)
        container.mux(picture.encode(None))
        container.mux(heard.encode(None))
