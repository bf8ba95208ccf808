"""Faults in the clock of a file: what plays here may drift or jump there."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from mltassist.errors import MediaError
from mltassist.media.cache import Analysis, remembered
from mltassist.media.opening import open_media
from mltassist.media.probe import probe
from mltassist.media.sound.streams import UNINDEXED

if TYPE_CHECKING:
    from av.container import InputContainer

TIMING = Analysis("timing", 3)
SCANNED_S = 60
"""Seconds of sound whose stamps are looked at for jumps: they are read without being decoded."""
JUMP_S = Fraction(1, 10)
"""Hole or overlap between two packets of sound that is no rounding (a block of any codec is shorter)."""
LATE_S = Fraction(1, 10)
"""Sound that begins so much away from its picture is out of step (ITU-R BT.1359: 0.125 s is seen)."""
_SHORT = Fraction(2, 100)
"""Part of the length in the header that may be missing."""


def timing_faults(path: Path) -> tuple[str, ...]:
    """What is wrong with a file's clock, a line each; none for a sound file, and for what cannot be read."""
    try:
        found = remembered(path, TIMING, lambda: {"faults": np.array(list(_faults(path)), dtype=np.str_)})
    except MediaError:
        return ()  # told where the file is used
    faults: NDArray[np.str_] = found["faults"]
    return tuple(str(fault) for fault in faults)


def _faults(path: Path) -> Iterator[str]:
    import av  # noqa: PLC0415 - heavy, and not wanted where results are remembered

    facts = probe(path)
    if facts.variable_rate:
        yield f"{path.name} has a variable frame rate: its cuts may drift, convert it to a constant one"
    try:
        with open_media(path) as container:
            yield from _stamps(path, container)
        with open_media(path) as container:  # anew: some readers lose count after the end of a file
            yield from _length(path, container)
    except av.error.FFmpegError as problem:
        raise MediaError(path, f"it cannot be read ({problem.strerror}); check that it plays") from problem


def _stamps(path: Path, container: InputContainer) -> Iterator[str]:
    if not container.streams.audio:
        return
    sound = container.streams.audio[0]
    unit = sound.time_base
    if unit is None:
        return
    if container.streams.video and sound.start_time is not None:
        picture = container.streams.video[0]
        if picture.start_time is not None and picture.time_base is not None:
            late = sound.start_time * unit - picture.start_time * picture.time_base
            if abs(late) > LATE_S:
                where = "after" if late > 0 else "before"
                yield f"the sound of {path.name} begins {float(abs(late)):.1f} s {where} its picture"
    expected: Fraction | None = None
    for packet in container.demux(sound):
        if packet.pts is None or packet.duration is None:
            continue
        stamp = packet.pts * unit
        if expected is not None and abs(stamp - expected) > JUMP_S:
            what = "stops" if stamp > expected else "overlaps"
            yield (
                f"the sound of {path.name} {what} for {float(abs(stamp - expected)):.1f} s"
                f" at {float(expected):.1f} s: its time stamps jump"
            )
            return
        expected = stamp + packet.duration * unit
        if expected > SCANNED_S:
            return


def _length(path: Path, container: InputContainer) -> Iterator[str]:
    """Whether anything lies where the header says that the file ends; its last part alone is read."""
    # Without an index nothing is stated: the length is a guess of the reader's.
    if container.duration is None or container.format.name in UNINDEXED:
        return
    stated = Fraction(container.duration, 1_000_000)
    begins = Fraction(container.start_time or 0, 1_000_000)
    least = stated - max(JUMP_S, _SHORT * stated)
    held = _end(container, begins + least, begins + least)
    if held is None:  # nothing to be had there: only the way from the start is sure
        held = _end(container, begins, begins + least)
    if held is not None and held - begins < least:
        yield f"{path.name} says that it lasts {float(stated):.1f} s, but holds {float(held - begins):.1f} s"


def _end(container: InputContainer, start: Fraction, enough: Fraction) -> Fraction | None:
    """The latest end of what is read from `start` on, no further than `enough`; None where nothing is."""
    import av  # noqa: PLC0415 - as above

    latest: Fraction | None = None
    try:
        container.seek(int(start * 1_000_000))
        for packet in container.demux((*container.streams.video, *container.streams.audio)):
            if packet.pts is None or packet.time_base is None:
                continue
            end = (packet.pts + (packet.duration or 0)) * packet.time_base
            latest = end if latest is None else max(latest, end)
            if latest >= enough:
                break
    except av.error.FFmpegError:
        return latest  # a file that was cut may fail there
    return latest
