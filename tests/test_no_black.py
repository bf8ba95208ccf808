"""Nothing of the example film is black after the pass: blackdetect looks at what melt renders."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import av
import pytest
from av.filter import Graph

import mltassist
from mltassist.rushes.find import begin, find
from mltassist.timeline.picture import showing
from mltassist.timeline.picturefaults import holes
from tests import referee
from tests.cli.films import DOCUMENTS
from tests.passes import Pass

AROUND = (-2, -1, 0, 1)
"""Frames about every change of picture, at which a flash of black would lie."""


def black(pictures: Iterable[referee.Picture]) -> list[float]:
    """Numbers of the pictures at which blackdetect finds that black begins."""
    graph, source, found = Graph(), None, []
    for number, picture in enumerate(pictures):
        frame = av.VideoFrame.from_ndarray(picture, format="rgb24").reformat(format="yuv420p")
        frame.pts, frame.time_base = number, 1
        if source is None:
            source = graph.add_buffer(
                width=frame.width, height=frame.height, format=frame.format, time_base=1
            )
            detect = graph.add("blackdetect", "d=0:pix_th=0.05")
            source.link_to(detect)
            detect.link_to(graph.add("buffersink"))
            graph.configure()
        graph.push(frame)
        seen = dict(graph.pull().metadata)
        found += [float(seen["lavfi.black_start"])] if "lavfi.black_start" in seen else []
    return found


@pytest.mark.usefixtures("requires_melt")
@pytest.mark.parametrize("name", DOCUMENTS)
def test_no_frame_is_black_between_the_first_picture_and_the_last(
    passed: Callable[[str], Pass], name: str
) -> None:
    done = passed(name)
    before, after = (mltassist.open(path).timeline for path in (done.original, done.output))
    elements = find(after, begin(after)).elements
    assert sum(span.length for span in holes(before, find(before, begin(before)).elements)) > 300
    assert holes(after, elements) == ()
    shown = showing(after, ours=True)
    end = (
        next(s.span.start for s in reversed(shown) if s.clip is None)
        if shown[-1].clip is None
        else after.length
    )
    places = sorted({s.span.start + by for s in shown for by in AROUND if 0 <= s.span.start + by < end})
    assert len(places) > 60
    assert black(referee.frames(done.output, places)) == []
    # The same eye sees it where it is: in the film as it was.
    assert black(referee.frames(done.original, [5])) == [0]
