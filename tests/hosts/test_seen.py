"""What is seen of random stacks of clips, against frames that the engine renders of the same documents.

The reference is melt. Every track has a channel of its own, so that a frame tells which are seen in it.
"""

from __future__ import annotations

import random
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

import mltassist
from mltassist.rushes.find import begin, find
from mltassist.timeline.model import NO_VEIL, Coverage, Timeline
from mltassist.timeline.picture import Showing, layers
from tests import referee
from tests.media.sound.test_mix_played import prop

W, H, LONG, STACKS, TRACKS = 64, 36, 6, 12, 3
PROFILE = (
    f'<profile description="p" width="{W}" height="{H}" progressive="1" sample_aspect_num="1"'
    ' sample_aspect_den="1" display_aspect_num="16" display_aspect_den="9" frame_rate_num="25"'
    ' frame_rate_den="1" colorspace="709"/>'
)
COLOURS = ((255, 0, 0), (0, 255, 0), (0, 0, 255))
"""Of the tracks from the lowest on: each is seen in a channel of its own."""
EDGE = 6
"""Columns at the edges of a picture through which the one beneath shines: they are rounded, or blurred."""
SOME, SURE = 12, 40
"""Of 255: three layers of a half are 32; colours run over edges by a little more than SOME."""


def pixels_of(colour: tuple[int, int, int], left: int, size: tuple[int, int]) -> np.ndarray:
    """Pixels of one colour whose left half has this opacity, shape (height, width, 4)."""
    width, height = size
    pixels = np.empty((height, width, 4), np.uint8)
    pixels[..., :3], pixels[..., 3] = colour, 255
    pixels[:, : width // 2, 3] = left
    return pixels


def still(
    folder: Path, name: str, colour: tuple[int, int, int], left: int, size: tuple[int, int] = (W, H)
) -> Path:
    """A picture of one colour whose left half has this opacity."""
    pixels = pixels_of(colour, left, size)
    path = folder / f"{name}.png"
    with av.open(str(path), "w", format="image2") as out:
        stream = out.add_stream("png", rate=1)
        stream.width, stream.height, stream.pix_fmt = *size, "rgba"
        out.mux(stream.encode(av.VideoFrame.from_ndarray(pixels, format="rgba")))
        out.mux(stream.encode(None))
    return path


def film(
    folder: Path,
    name: str,
    colour: tuple[int, int, int],
    left: int,
    size: tuple[int, int] = (W, H),
    *,
    kind: tuple[str, str] = ("qtrle", "argb"),
    aspect: Fraction | None = None,
) -> Path:
    """The same as a film, in a format that keeps opacity. kind: codec and pixels; aspect: of a pixel."""
    pixels = pixels_of(colour, left, size)
    path = folder / f"{name}.mov"
    codec, form = kind
    with av.open(str(path), "w") as out:
        stream = out.add_stream(codec, rate=25)
        stream.width, stream.height, stream.pix_fmt = *size, form
        if aspect is not None:
            stream.sample_aspect_ratio = aspect
        for _ in range(LONG):
            out.mux(stream.encode(av.VideoFrame.from_ndarray(pixels, format="rgba").reformat(format=form)))
        out.mux(stream.encode(None))
    return path


def effect(service: str, **values: object) -> str:
    return f"<filter>{prop('mlt_service', service)}{''.join(prop(k, v) for k, v in values.items())}</filter>"


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
    parts, rows = [], []
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
        for name, (service, resource) in sources.items():
            parts.append(
                f'<producer id="{name}{index}" in="0" out="{LONG - 1}">{prop("length", LONG)}'
                f"{prop('resource', resource)}{prop('mlt_service', service)}</producer>"
            )
        kinds = [None, "whole", *sources] if index else [*sources, "whole", "closed", None]
        items = []
        for kind in (rng.choice(kinds) for _ in range(STACKS)):
            if kind is None:
                items.append(f'<blank length="{LONG}"/>')
            else:
                hung = rng.choice(EFFECTS)
                items.append(f'<entry producer="{kind}{index}" in="0" out="{LONG - 1}">{hung}</entry>')
        rows.append(f'<playlist id="p{index}">{"".join(items)}<blank length="1"/></playlist>')
    long = STACKS * LONG
    black = f'<producer id="black" in="0" out="{long - 1}">{prop("length", long)}{prop("resource", 0)}'
    parts.append(black + prop("mlt_service", "color") + "</producer>")
    rows.insert(0, f'<playlist id="background"><entry producer="black" in="0" out="{long - 1}"/></playlist>')
    blends = []
    for track in range(1, TRACKS + 1):
        values = {"a_track": rng.choice([0, 0, 0, track - 1]), "b_track": track, "always_active": 1}
        if rng.random() < 0.9:
            chosen = rng.choice(BLENDS)
            blends.append("".join(prop(k, v) for k, v in {**chosen, **values}.items()))
    if rng.random() < 0.3:
        rng.shuffle(blends)
    hide = rng.choice([0, 0, *range(1, TRACKS + 1)])
    tracks = ['<track producer="background"/>'] + [
        f'<track producer="p{n}"{" hide=" + chr(34) + "video" + chr(34) if n + 1 == hide else ""}/>'
        for n in range(TRACKS)
    ]
    path = folder / "stacks.mlt"
    path.write_text(
        f'<mlt LC_NUMERIC="C">{PROFILE}{"".join(parts)}{"".join(rows)}<tractor id="film">{"".join(tracks)}'
        f"{''.join(f'<transition>{blend}</transition>' for blend in blends)}</tractor></mlt>",
        encoding="utf-8",
    )
    return path


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
    parts = "".join(
        f'<producer id="{name}" in="0" out="9">{prop("length", 10)}{prop("resource", colour)}'
        f"{prop('mlt_service', 'color')}</producer>"
        for name, colour in (("black", "0"), ("face", "0xff0000ff"), ("clear", "#00000000"))
    )
    written = effect(service, **LETTERS[service])
    rows = "".join(
        f'<playlist id="{name}s"><entry producer="{name}" in="0" out="9">{hung}</entry></playlist>'
        for name, hung in (("black", ""), ("face", ""), ("clear", written))
    )
    over = prop("mlt_service", "qtblend") + prop("a_track", 0)
    blends = "".join(f"<transition>{over}{prop('b_track', upper)}</transition>" for upper in (1, 2))
    path = tmp_path / "name.mlt"
    path.write_text(
        f'<mlt LC_NUMERIC="C">{PROFILE}{parts}{rows}<tractor id="film"><track producer="blacks"/>'
        f'<track producer="faces"/><track producer="clears"/>{blends}</tractor></mlt>',
        encoding="utf-8",
    )
    (picture,) = referee.frames(path, [4])
    red, green = (picture[..., channel].astype(int) for channel in (0, 1))
    assert (green > 2 * SURE).sum() > 20, "no letters were written"
    assert ((red > 200) & (green < SOME)).mean() > 0.4, "the face does not shine through"
    (shown,) = layers(mltassist.open(path).timeline)
    assert shown.clip is not None
    assert "ff0000" in shown.clip.source.key
    assert [clip.source.coverage for clip in shown.captions] == [Coverage.NONE]
