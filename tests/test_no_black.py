"""Nothing of the example film is black after the pass: blackdetect looks at what melt renders."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

import mltassist
from mltassist.rushes.find import begin, find
from mltassist.timeline.edits import LayShot
from mltassist.timeline.picture import showing
from mltassist.timeline.picturefaults import holes
from tests import referee
from tests.cli.films import DOCUMENTS, short, with_file, write
from tests.media.films import written
from tests.passes import Pass

AROUND = {DOCUMENTS[0]: (-2, -1, 0, 1), DOCUMENTS[1]: (-1, 0), DOCUMENTS[2]: (-1, 0)}
"""Frames about every change of picture, at which a flash of black would lie; in one layout one further."""


@pytest.mark.usefixtures("requires_melt")
@pytest.mark.parametrize("name", DOCUMENTS[:2])
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
    around = AROUND[name]
    places = sorted({s.span.start + by for s in shown for by in around if 0 <= s.span.start + by < end})
    assert len(places) > 15 * len(around)
    assert referee.black(referee.frames(done.output, places)) == []
    # The same eye sees it where it is: in the film as it was.
    assert referee.black(referee.frames(done.original, [5, 6, 400, 5])) == [0, 1, 3]


@pytest.mark.usefixtures("requires_melt")
def test_the_referee_fails_where_what_we_have_laid_is_black(tmp_path: Path) -> None:
    """Every test that has a frame rendered is told so."""
    project = mltassist.open(write(short(), tmp_path, "plain.mlt"))
    wheel = next(clip for clip in project.timeline.bin if clip.name == "wheel WS")
    output = tmp_path / "covered.mlt"
    project.with_edits([LayShot(500, 50, wheel.source.key, 20, "for this test")]).save(output)
    assert referee.black(referee.frames(output, [5, 510])) == [0]  # there is nothing of ours at the first
    written(tmp_path / "dark.mkv", np.zeros((225, 36, 64), np.float32))
    with_file(output, "media/cutaways/wheel-ws.mp4", "dark.mkv")
    with pytest.raises(AssertionError, match="frame 510 is black"):
        referee.frames(output, [5, 510])
