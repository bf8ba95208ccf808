"""Small documents whose tracks lie over each other, and the pictures that lie on them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from pathlib import Path

import av
import numpy as np

from tests.media.sound.test_mix_played import prop

W, H, LONG = 64, 36, 6
PROFILE = (
    f'<profile description="p" width="{W}" height="{H}" progressive="1" sample_aspect_num="1"'
    ' sample_aspect_den="1" display_aspect_num="16" display_aspect_den="9" frame_rate_num="25"'
    ' frame_rate_den="1" colorspace="709"/>'
)


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


def producer(name: str, mlt_service: object, resource: object, long: int = LONG, **more: object) -> str:
    """What a clip plays. long: in frames; more: its other properties."""
    values = {"length": long, "resource": resource, "mlt_service": mlt_service, **more}
    inside = "".join(prop(key, value) for key, value in values.items())
    return f'<producer id="{name}" in="0" out="{long - 1}">{inside}</producer>'


def entry(name: str, long: int = LONG, hung: str = "") -> str:
    """A clip that plays so many frames. hung: its effects."""
    return f'<entry producer="{name}" in="0" out="{long - 1}">{hung}</entry>'


def blank(long: int) -> str:
    return f'<blank length="{long}"/>'


def transition(values: dict[str, object], where: str = "") -> str:
    return f"<transition{where}>{''.join(prop(key, value) for key, value in values.items())}</transition>"


def document(
    path: Path, parts: Iterable[str], rows: Mapping[str, Iterable[str]], blends: Iterable[str], hide: str = ""
) -> Path:
    """Write a document. rows: what lies on each track, lowest first; hide: the one not to be seen."""
    playlists = "".join(f'<playlist id="{name}">{"".join(items)}</playlist>' for name, items in rows.items())
    hidden = {hide: ' hide="video"'}
    tracks = "".join(f'<track producer="{name}"{hidden.get(name, "")}/>' for name in rows)
    path.write_text(
        f'<mlt LC_NUMERIC="C">{PROFILE}{"".join(parts)}{playlists}'
        f'<tractor id="film">{tracks}{"".join(blends)}</tractor></mlt>',
        encoding="utf-8",
    )
    return path
