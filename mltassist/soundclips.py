"""A small sound file for every edit in speech, to be heard with eyes closed."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

import soundfile

from mltassist.errors import OutputError
from mltassist.facts import Findings, speech_clips
from mltassist.frames import Span, format_timecode
from mltassist.listening import Join
from mltassist.media.mix import MIX_HZ, stem

AROUND_S = 2


def save_clips(findings: Findings, joins: Iterable[Join], folder: str | os.PathLike[str]) -> tuple[Path, ...]:
    """Write two seconds of speech either side of every edit, numbered, with timecode and verdict.

    48 kHz stereo WAV of 24 bits, at the gains of the timeline and without any other sound. Files of the
    same name are replaced. Raises OutputError when the folder cannot be written.
    """
    target, timeline = Path(folder), findings.timeline
    clips = speech_clips(findings)
    around = timeline.rate.frames(AROUND_S)
    written = []
    try:
        target.mkdir(parents=True, exist_ok=True)
        for number, join in enumerate(joins, start=1):
            span = Span(max(0, join.at - around), min(timeline.length, join.at + around))
            time = format_timecode(join.at, timeline.rate).replace(":", "-").replace(";", "-")
            path = target / f"{number:03}_{time}_{join.judgement.verdict}.wav"
            partial = path.with_suffix(".part")
            soundfile.write(partial, stem(clips, span, timeline.rate).T, MIX_HZ, "PCM_24", format="WAV")
            partial.replace(path)
            written.append(path)
    except (OSError, soundfile.LibsndfileError) as error:
        raise OutputError(target, f"cannot be written ({error})", "choose another folder") from error
    return tuple(written)
