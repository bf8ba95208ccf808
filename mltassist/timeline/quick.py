"""Clips and gaps by the ten thousand.

A frozen class sets its fields one by one past its own guard, which costs more than reading a clip from its
document does. Here a twin that is not frozen is filled and then becomes one of the class, which the language
allows between classes of the same slots.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, make_dataclass
from typing import Any

from mltassist.timeline.model import Clip, Gap

_new: Callable[[Any], Any] = object.__new__


def _unfrozen(kind: type[Clip | Gap]) -> object:
    return make_dataclass(kind.__name__, [(one.name, Any) for one in fields(kind)], slots=True)


_CLIP, _GAP = _unfrozen(Clip), _unfrozen(Gap)


def gap(start: int, length: int) -> Gap:
    """A gap."""
    made = _new(_GAP)
    made.start, made.length = start, length
    made.__class__ = Gap
    return made  # type: ignore[no-any-return]


def clips_like(one: Clip) -> Callable[[int, int, int], Clip]:
    """Makes clips that differ from one in their place alone.

    Asked for by start, length, and how many frames later in the source than the one they begin.
    """
    source, source_in, name = one.source, one.source_in, one.name
    plays_picture, plays_sound, sound_stream = one.plays_picture, one.plays_sound, one.sound_stream
    speed, remap, keeps_pitch = one.speed, one.remap, one.keeps_pitch
    levels, reframed, zoom, veil, fills = one.levels, one.reframed, one.zoom, one.veil, one.fills

    def made(start: int, length: int, later: int) -> Clip:
        clip = _new(_CLIP)
        clip.start = start
        clip.length = length
        clip.source = source
        clip.source_in = source_in + later
        clip.name = name
        clip.plays_picture = plays_picture
        clip.plays_sound = plays_sound
        clip.speed = speed
        clip.levels = levels
        clip.remap = remap
        clip.sound_stream = sound_stream
        clip.reframed = reframed
        clip.zoom = zoom
        clip.keeps_pitch = keeps_pitch
        clip.veil = veil
        clip.fills = fills
        clip.__class__ = Clip
        return clip  # type: ignore[no-any-return]

    return made
