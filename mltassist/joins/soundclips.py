"""A small sound file for every edit in speech, to be heard with eyes closed."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

import soundfile

from mltassist.errors import OutputError
from mltassist.findings import Findings, spoken_sound
from mltassist.frames import Span, format_timecode
from mltassist.joins.hear import Join
from mltassist.media.sound.decode import MIX_HZ
from mltassist.media.sound.mix import stem

AROUND_S = 2
_OURS = re.compile(r"\d{3,}_[\d-]+_(?:clean|check|heard)(?:_before|_after)?\.wav")
"""Names of files of ours."""


def make_sound_folder(folder: str | os.PathLike[str]) -> None:
    """Make a folder for sound files, if it is not there.

    Raises OutputError when it cannot be made, or holds such files already: none is ever replaced.
    """
    target = Path(folder)
    earlier: list[Path] = []
    with suppress(OSError):  # it is not there, which is best, or is no folder
        earlier = [path for path in target.iterdir() if _OURS.fullmatch(path.name)]
    if earlier:
        what = f"holds {len(earlier)} sound files of an earlier run"
        raise OutputError(target, what, "choose another folder, or take them away")
    try:
        target.mkdir(parents=True, exist_ok=True)
    except FileExistsError:
        raise OutputError(target, "is a file, not a folder", "choose another name") from None
    except OSError as error:
        raise OutputError(target, f"cannot be made ({error.strerror or error})", "choose another") from error


def save_clips(
    findings: Findings,
    joins: Iterable[Join],
    folder: str | os.PathLike[str],
    after: Findings | None = None,
) -> tuple[Path, ...]:
    """Write two seconds of speech either side of every edit, numbered, with timecode and verdict.

    after: the timeline on which joins were mended; those that were are written from both, as "before"
    and "after". 48 kHz stereo WAV of 24 bits, at the gains of the timeline and without any other sound.
    Raises OutputError when the folder cannot be written, or holds such files already.
    """
    target = Path(folder)
    written = []
    make_sound_folder(target)
    try:
        for number, join in enumerate(joins, start=1):
            if join.mended is None or after is None:
                written.append(_save(findings, join, target, number))
            else:
                written.append(_save(findings, join, target, number, "_before"))
                written.append(_save(after, join.mended, target, number, "_after"))
    except (OSError, soundfile.LibsndfileError) as error:
        why = error.strerror if isinstance(error, OSError) else error.error_string
        raise OutputError(target, f"cannot be written ({why or error})", "choose another folder") from error
    return tuple(written)


def _save(findings: Findings, join: Join, folder: Path, number: int, mark: str = "") -> Path:
    timeline = findings.timeline
    around = timeline.rate.frames(AROUND_S)
    span = Span(max(0, join.at - around), min(timeline.length, join.at + around))
    time = format_timecode(join.at, timeline.rate).replace(":", "-").replace(";", "-")
    path = folder / f"{number:03}_{time}_{join.judgement.verdict}{mark}.wav"
    partial = path.with_suffix(".part")
    sound = stem(spoken_sound(findings), span, timeline.rate)
    soundfile.write(partial, sound.T, MIX_HZ, "PCM_24", format="WAV")
    partial.replace(path)
    return path
