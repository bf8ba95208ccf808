"""The same film in every layout the host editors have written over the years, by name."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import NamedTuple

from mltassist.demofilm.documents_kdenlive import kdenlive_document
from mltassist.demofilm.documents_shotcut import shotcut_document
from mltassist.demofilm.film import Film
from tests.hosts.layouts import kdenlive_frames, kdenlive_tracks, shotcut_older
from tests.hosts.layouts.feature import Feature
from tests.hosts.layouts.features_frames import FRAMES_FEATURES
from tests.hosts.layouts.features_sequences import SEQUENCE_FEATURES
from tests.hosts.layouts.features_shotcut import SHOTCUT_FEATURES
from tests.hosts.layouts.features_tracks import TRACKS_FEATURES
from tests.hosts.layouts.oddities import ODDITIES, Oddity
from tests.hosts.layouts.parts import Half, picture_first, sound_first, split

__all__ = ["FEATURES", "GENERATIONS", "ODDITIES", "Feature", "Generation", "Oddity", "playable", "tracks"]


class Generation(NamedTuple):
    """A layout: the end of its files' names, and what writes a film in it."""

    suffix: str
    write: Callable[[Film], bytes]


GENERATIONS: dict[str, Generation] = {
    "kdenlive 0.91": Generation(".kdenlive", kdenlive_frames.kdenlive_091),
    "kdenlive 0.95": Generation(".kdenlive", kdenlive_frames.kdenlive_095),
    "kdenlive 0.96": Generation(".kdenlive", kdenlive_frames.kdenlive_096),
    "kdenlive 0.99": Generation(".kdenlive", kdenlive_tracks.kdenlive_099),
    "kdenlive 1": Generation(".kdenlive", kdenlive_tracks.kdenlive_1),
    "kdenlive 1.01": Generation(".kdenlive", kdenlive_tracks.kdenlive_101),
    "kdenlive 1.04": Generation(".kdenlive", kdenlive_tracks.kdenlive_104),
    "kdenlive 1.1": Generation(".kdenlive", kdenlive_document),
    "shotcut 18.06": Generation(".mlt", shotcut_older.shotcut_1806),
    "shotcut 20.09": Generation(".mlt", shotcut_older.shotcut_20),
    "shotcut 24.04": Generation(".mlt", shotcut_older.shotcut_24),
    "shotcut 25.12": Generation(".mlt", shotcut_document),
}

FEATURES: dict[str, Feature] = {
    **FRAMES_FEATURES,
    **TRACKS_FEATURES,
    **SEQUENCE_FEATURES,
    **SHOTCUT_FEATURES,
}

_JOINED = ("kdenlive 0.91", "kdenlive 0.95", "kdenlive 0.96")
_COMMAS = re.compile(rb"(\d\d:\d\d:\d\d),(?=\d{3})|(?<=>)(-?\d+),(?=\d+<)")


def tracks(generation: str, film: Film) -> list[Half]:
    """The film's tracks above the background in that layout, lowest first; the engine's number is place + 1.

    A track whose `joined` is true shows pictures and carries their sound; with neither `joined` nor
    `sound` it is silent.
    """
    if generation.startswith("shotcut"):
        return picture_first(film)
    return sound_first(film) if generation in _JOINED else split(film)


def depth(generation: str) -> int:
    """How many tractors lie around the one whose tracks are the user's."""
    return 1 if generation == "kdenlive 1.1" else 0


def playable(document: bytes) -> bytes:
    """The document without what a reader of namespaces refuses and what not every engine has installed.

    The attribute with an unbound prefix goes; times and values with a comma, which only an engine with
    that locale reads, get a point; the blend of an optional plug-in becomes the built-in one, which shows
    the same opaque pictures.
    """
    document = re.sub(rb' kdenlive:customeffects="[^"]*"', b"", document)
    document = document.replace(b"frei0r.cairoblend", b"qtblend").replace(b'"cs_CZ"', b'"C"')
    return _COMMAS.sub(lambda found: (found[1] or found[2]) + b".", document)
