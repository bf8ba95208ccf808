"""Any small film, for tests of what must hold for every film."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import strategies as st

from mltassist.demofilm.film import Film, Lane, Mark, Placement
from mltassist.frames import Rate
from tests.hosts.films import FILM, RUSHES, TALK


@st.composite
def lanes(draw: st.DrawFn, name: str, *, picture: bool, sound: bool) -> Lane:
    files = [rush for rush in RUSHES if rush.sound >= sound and rush.picture >= picture]
    at, placements = 0, []
    for _ in range(draw(st.integers(0, 4))):
        rush = draw(st.sampled_from(files))
        at += draw(st.sampled_from([0, 0, 1, 17]))
        length = draw(st.integers(1, rush.length))
        placements.append(Placement(rush.file, at, draw(st.integers(0, rush.length - length)), length))
        at += length
    return Lane(name, picture, sound, tuple(placements))


@st.composite
def films(draw: st.DrawFn) -> Film:
    return replace(
        FILM,
        rate=draw(st.sampled_from([Rate(25), Rate(30000, 1001), Rate(60)])),
        lanes=(
            Lane("Base", True, True, (Placement(TALK.file, 0, 0, draw(st.integers(1, 200))),)),
            draw(lanes("Second", picture=True, sound=True)),
            draw(lanes("Pictures", picture=True, sound=False)),
            draw(lanes("Music", picture=False, sound=True)),
        ),
        marks=tuple(Mark(at, f"mark {at}") for at in sorted(draw(st.sets(st.integers(0, 300), max_size=3)))),
    )
