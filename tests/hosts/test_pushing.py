"""A still of another shape fills the frame, grows about its middle, and never shows an edge: by melt."""

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
WIDE, HIGH = 400, 300
"""Pixels of the still, which is less wide than the frame of 160 by 90: it fills the frame at 160 by 120."""
SQUARE = 60
"""Edge of the white square in the middle of the still, in pixels of the frame that it fills."""
BLUE = (20, 40, 220)


def write_still(path: Path) -> None:
    pixels = np.full((HIGH, WIDE, 3), BLUE, np.uint8)
    half = SQUARE * WIDE // 160 // 2
    pixels[HIGH // 2 - half : HIGH // 2 + half, WIDE // 2 - half : WIDE // 2 + half] = 255
    with av.open(str(path), "w", format="image2") as out:
        stream = out.add_stream("png", rate=1)
        stream.width, stream.height, stream.pix_fmt = WIDE, HIGH, "rgb24"
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
    grows = LayShot(AT, LONG, source.key, 0, "a test", push_in=1.2, shape=4 / 3)
    rests = LayShot(AT + LONG, LONG, source.key, 0, "a test", shape=4 / 3)
    document = with_still.edited(grows, rests)
    places = [AT, AT + LONG // 2, AT + LONG - 1, AT + LONG + 9]
    first, middle, last, at_rest = referee.frames(document.path, places)
    assert edge_of_square(first) == pytest.approx(SQUARE, abs=1)
    assert edge_of_square(last) == pytest.approx(1.2 * SQUARE, abs=1.5)
    assert edge_of_square(middle) == pytest.approx(1.1 * SQUARE, abs=2)
    assert edge_of_square(at_rest) == pytest.approx(SQUARE, abs=1)
    for picture in (first, middle, last, at_rest):
        edges = (picture[0], picture[-1], picture[:, 0], picture[:, -1])
        assert max(np.abs(edge.astype(int) - BLUE).max() for edge in edges) < 40
    # It hides what lies beneath as before, and is known to be larger at its end.
    track = timeline_of(document).of_role("cover")
    assert track is not None
    clip, resting = track.clips()
    assert not clip.reframed
    assert not resting.reframed
    assert [float(zoom) for zoom in clip.zoom] == pytest.approx([1.0, 1.2])
