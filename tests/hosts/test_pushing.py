"""A still grows slowly about its middle by as much as was told, and never shows an edge: rendered by melt."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import av
import numpy as np
import pytest
from lxml import etree
from numpy.typing import NDArray

from mltassist.document import properties
from mltassist.frames import Rate
from mltassist.timeline.edits import LayShot
from mltassist.timeline.model import SourceKind
from tests import referee
from tests.hosts.films import BOAT, FILM, LAYOUTS, Case, timeline_of, write_case

pytestmark = pytest.mark.usefixtures("requires_melt")
AT, LONG = 100, 40
SQUARE = 60
"""Edge of the white square in the middle of the still, in pixels of a frame of 160 by 90."""
BLUE = (20, 40, 220)


def write_still(path: Path) -> None:
    pixels = np.full((90, 160, 3), BLUE, np.uint8)
    pixels[(90 - SQUARE) // 2 : (90 + SQUARE) // 2, (160 - SQUARE) // 2 : (160 + SQUARE) // 2] = 255
    with av.open(str(path), "w", format="image2") as out:
        stream = out.add_stream("png", rate=1)
        stream.width, stream.height, stream.pix_fmt = 160, 90, "rgb24"
        out.mux(stream.encode(av.VideoFrame.from_ndarray(pixels, format="rgb24")))
        out.mux(stream.encode(None))


@pytest.fixture(params=LAYOUTS)
def with_still(request: pytest.FixtureRequest, media: Callable[[Rate], Path]) -> Case:
    """The film of the hosts' tests, whose boat is a photograph."""
    case = write_case(request.param, FILM, media(FILM.rate))
    root = etree.parse(str(case.path))
    for part in root.iter("producer", "chain"):
        if (properties.get(part, "resource") or "").endswith(BOAT.file):
            properties.put(part, "resource", (properties.get(part, "resource") or "").replace(".mkv", ".png"))
            properties.put(part, "mlt_service", "qimage")
    path = case.path.with_name(f"still-{case.path.name}")
    root.write(str(path))
    write_still(path.parent / "media" / "boat.png")
    return Case(case.layout, case.film, path)


def edge_of_square(picture: NDArray[np.uint8]) -> float:
    """Columns of the middle row that are white, those at its edges by their part."""
    red = picture[picture.shape[0] // 2, :, 0].astype(float)
    return float(((red - BLUE[0]) / (255 - BLUE[0])).sum())


def test_a_still_grows_by_what_was_told_and_shows_no_edge(with_still: Case) -> None:
    before = with_still.timeline()
    source = next(one.source for one in before.bin if one.source.kind is SourceKind.IMAGE)
    document = with_still.edited(LayShot(AT, LONG, source.key, 0, "a test", push_in=1.2))
    first, middle, last = referee.frames(document.path, [AT, AT + LONG // 2, AT + LONG - 1])
    assert edge_of_square(first) == pytest.approx(SQUARE, abs=1)
    assert edge_of_square(last) == pytest.approx(1.2 * SQUARE, abs=1.5)
    assert edge_of_square(middle) == pytest.approx(1.1 * SQUARE, abs=2)
    for picture in (first, middle, last):
        edges = (picture[0], picture[-1], picture[:, 0], picture[:, -1])
        assert max(np.abs(edge.astype(int) - BLUE).max() for edge in edges) < 40
    # It hides what lies beneath as before, and is known to be larger at its end.
    track = timeline_of(document).of_role("cover")
    assert track is not None
    (clip,) = track.clips()
    assert not clip.reframed
    assert [float(zoom) for zoom in clip.zoom] == pytest.approx([1.0, 1.2])
