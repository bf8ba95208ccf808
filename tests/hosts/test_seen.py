"""What is seen of random stacks of clips, against frames that the engine renders of the same documents.

The reference is melt. Every track has a channel of its own, so that a frame tells which are seen in it.
"""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest

import mltassist
from mltassist.rushes.find import begin, find
from mltassist.timeline.model import NO_VEIL, Coverage, Timeline
from mltassist.timeline.picture import Showing, layers
from tests import referee
from tests.hosts.stacks import (
    LONG,
    H,
    W,
    blank,
    document,
    effect,
    entry,
    film,
    producer,
    still,
    transition,
)

STACKS, TRACKS = 12, 3
COLOURS = ((255, 0, 0), (0, 255, 0), (0, 0, 255))
"""Of the tracks from the lowest on: each is seen in a channel of its own."""
EDGE = 6
"""Columns at the edges of a picture through which the one beneath shines: they are rounded, or blurred."""
SOME, SURE = 12, 40
"""Of 255: three layers of a half are 32; colours run over edges by a little more than SOME."""


EFFECTS = (
    "",
    "",
    effect("brightness", level=1, alpha="0.5"),
    effect("brightness", level=1, alpha="0=0;4=1"),
    effect("qtblend", rect=f"0 0 {W // 2} {H} 1"),
    effect("qtblend", rect=f"0 0 {W} {H} 0.5"),
    effect("qtblend", rect=f"-{W} -{H} {3 * W} {3 * H} 1"),
    effect("boxblur", hori=1),
)
BLENDS = (
    {"mlt_service": "qtblend"},
    {"mlt_service": "qtblend"},
    {"mlt_service": "affine"},
    {"mlt_service": "composite"},
    {"mlt_service": "qtblend", "rect": f"0 0 {W // 2} {H} 1"},
    {"mlt_service": "qtblend", "disable": 1},
)


def stacked(folder: Path, rng: random.Random) -> Path:
    """A document of some stacks, one after the other, whose tracks are laid over each other somehow."""
    long = STACKS * LONG
    parts, rows = [], {"background": [entry("black", long)]}
    for index, colour in enumerate(COLOURS):
        hex6 = "".join(f"{value:02x}" for value in colour)
        sources = {
            "whole": ("color", f"0x{hex6}ff"),
            "half": ("color", f"#80{hex6}"),
            "nothing": ("color", f"0x{hex6}00"),
            "still": ("qimage", still(folder, f"still{index}", colour, 0)),
            "closed": ("qimage", still(folder, f"closed{index}", colour, 255)),
            "film": ("avformat", film(folder, f"film{index}", colour, 0)),
            "shut": ("avformat", film(folder, f"shut{index}", colour, 255)),
        }
        parts += [producer(f"{name}{index}", *played) for name, played in sources.items()]
        kinds = [None, "whole", *sources] if index else [*sources, "whole", "closed", None]
        items = [
            blank(LONG) if kind is None else entry(f"{kind}{index}", hung=rng.choice(EFFECTS))
            for kind in (rng.choice(kinds) for _ in range(STACKS))
        ]
        rows[f"p{index}"] = [*items, blank(1)]
    parts.append(producer("black", "color", 0, long))
    blends = []
    for track in range(1, TRACKS + 1):
        values = {"a_track": rng.choice([0, 0, 0, track - 1]), "b_track": track, "always_active": 1}
        if rng.random() < 0.9:
            blends.append(transition({**rng.choice(BLENDS), **values}))
    if rng.random() < 0.3:
        rng.shuffle(blends)
    hide = rng.choice([0, 0, *range(1, TRACKS + 1)])
    return document(folder / "stacks.mlt", parts, rows, blends, hide=f"p{hide - 1}")


def channels(shown: Showing) -> list[int]:
    """The channels of all that is seen, lowest first."""
    own = [] if shown.track is None else [shown.track.index - 1]
    return own + [layer.track.index - 1 for layer in shown.over]


def is_whole(timeline: Timeline, shown: Showing) -> bool:
    """True where the lowest that is seen fills the frame."""
    clip, track = shown.clip, shown.track
    if clip is None or track is None or clip.reframed or clip.veil != NO_VEIL:
        return False
    blends = [blend for blend in timeline.blends or () if blend.upper == track.index]
    opaque = any(word in clip.source.key for word in ("colour:0x", "closed", "shut"))
    return opaque and not any(blend.thin for blend in blends)


@pytest.mark.usefixtures("requires_melt")
def test_random_stacks_show_what_the_engine_shows(tmp_path: Path) -> None:
    through = 0
    for seed in (1, 3, 8):
        path = stacked(tmp_path, random.Random(seed))
        project = mltassist.open(path)
        timeline = find(project.timeline, begin(project.timeline)).timeline
        found = list(layers(timeline))
        places = [LONG * stack + frame for stack in range(STACKS) for frame in (0, 2, LONG - 1)]
        places = [at for at in places if at < timeline.length]
        for at, picture in zip(places, referee.frames(path, places), strict=True):
            most = np.sort(picture[H // 2, :, :], axis=0)[-EDGE]
            seen, surely = ({n for n in range(TRACKS) if most[n] > least} for least in (SOME, SURE))
            shown = next(shown for shown in found if at in shown.span)
            said = channels(shown)
            assert surely <= set(said), (seed, at, surely, said)
            nothing = shown.clip is not None and shown.clip.source.coverage is Coverage.NONE
            if said and not nothing and (len(said) == 1 or is_whole(timeline, shown)):
                assert said[-1] in seen, (seed, at, seen, said)
            if len(said) == 2 and is_whole(timeline, shown):  # two may hide the lowest, each in part
                assert set(said) <= seen, (seed, at, seen, said)
                through += 1
    assert through >= 10


LETTERS = {
    "dynamictext": {"argument": "WWW", "geometry": "20%/20%:60%x60%:100", "fgcolour": "0x00ff00ff"},
    "qtext": {"argument": "WWW", "geometry": "20%/20%:60%x60%:100", "fgcolour": "0x00ff00ff"},
}


@pytest.mark.usefixtures("requires_melt")
@pytest.mark.parametrize("service", LETTERS)
def test_letters_on_a_transparent_colour_hide_nothing_but_what_they_are_written_on(
    tmp_path: Path, service: str
) -> None:
    """A name over a face: the face is seen around the letters, so that a jump under it counts as bare."""
    colours = {"black": "0", "face": "0xff0000ff", "clear": "#00000000"}
    written = effect(service, **LETTERS[service])
    rows = {f"{name}s": [entry(name, 10, written if name == "clear" else "")] for name in colours}
    over = {"mlt_service": "qtblend", "a_track": 0}
    path = document(
        tmp_path / "name.mlt",
        [producer(name, "color", colour, 10) for name, colour in colours.items()],
        rows,
        [transition({**over, "b_track": upper}) for upper in (1, 2)],
    )
    (picture,) = referee.frames(path, [4])
    red, green = (picture[..., channel].astype(int) for channel in (0, 1))
    assert (green > 2 * SURE).sum() > 20, "no letters were written"
    assert ((red > 200) & (green < SOME)).mean() > 0.4, "the face does not shine through"
    (shown,) = layers(mltassist.open(path).timeline)
    assert shown.clip is not None
    assert "ff0000" in shown.clip.source.key
    assert [clip.source.coverage for clip in shown.captions] == [Coverage.NONE]
