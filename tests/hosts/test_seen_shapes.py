"""Pictures that do not fill the frame: what is seen beside them, against frames that the engine renders.

The reference is melt: a red face lies beneath everything that is tried.
"""

from __future__ import annotations

import struct
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

import mltassist
from mltassist.rushes.faults import faults_in
from mltassist.rushes.find import begin, find
from mltassist.timeline.picture import layers
from tests import referee
from tests.hosts.stacks import H, W, document, effect, entry, film, producer, transition
from tests.hosts.stacks import still as picture
from tests.media.sound.test_mix_played import prop

GREEN = (0, 255, 0)
EACH = 4
OPAQUE = ("png", "rgb24")
"""Codec and pixel format of a film without opacity."""


def held_upright(path: Path) -> Path:
    """The same file, which says that it is to be turned by a quarter (the matrix of ISO/IEC 14496-12)."""
    data = bytearray(path.read_bytes())
    at = data.index(b"tkhd") + 44
    data[at : at + 36] = struct.pack(">9i", 0, 1 << 16, 0, -(1 << 16), 0, 0, H << 16, 0, 1 << 30)
    path.write_bytes(data)
    return path


def covering(folder: Path) -> list[tuple[dict[str, object], str, bool]]:
    """Producers with an effect, and whether they hide all beneath them."""
    old = film(folder, "old", GREEN, 255, (48, 36), kind=OPAQUE)
    full = film(folder, "full", GREEN, 255, (W, H), kind=OPAQUE)
    held = held_upright(film(folder, "held", GREEN, 255, (H, W), kind=OPAQUE))
    upright = picture(folder, "upright", GREEN, 255, (20, H))
    squeezed = film(folder, "squeezed", GREEN, 255, (48, H), kind=OPAQUE, aspect=Fraction(4, 3))
    played, still = {"mlt_service": "avformat"}, {"mlt_service": "qimage"}
    larger, turned = "-11 -6 86 48 1", "transition.fix_rotate_x"
    affine = "transition.rect"
    return [
        ({**played, "resource": full}, "", True),
        ({**played, "resource": old}, "", False),
        ({**still, "resource": upright}, "", False),
        ({**played, "resource": squeezed}, "", True),
        ({**played, "resource": full, "force_aspect_ratio": "0.75"}, "", False),
        ({**played, "resource": old, "force_aspect_ratio": "1.333333"}, "", True),
        ({**played, "resource": full, "rotate": 90}, "", False),
        ({**played, "resource": held}, "", True),
        ({**played, "resource": held, "rotate": 0}, "", False),
        ({**played, "resource": held, "autorotate": 0}, "", False),
        ({**played, "resource": old}, effect("qtblend", rect=larger), True),
        ({**played, "resource": old}, effect("qtblend", rect="0 0 86 48 1"), False),
        ({**played, "resource": old}, effect("qtblend", rect=f"0 0 {W} {H} 1", distort=1), True),
        ({**played, "resource": old}, effect("affine", **{affine: larger}), True),
        (
            {**played, "resource": old},
            effect("affine", **{affine: larger, "transition.halign": "left"}),
            False,
        ),
        ({**played, "resource": full}, effect("affine", **{affine: f"0 0 {W} {H} 1", turned: 20}), False),
        (
            {**played, "resource": full},
            effect("affine", **{affine: f"0 0 {W} {H} 1", "transition.ox": 9}),
            False,
        ),
        (
            {**played, "resource": full},
            effect("affine", **{affine: f"0 0 {W} {H} 1", "transition.scale_x": 2}),
            False,
        ),
        ({**played, "resource": full}, effect("qtblend", rect=f"0 0 {W} {H}"), False),
    ]


def written(
    folder: Path, tried: list[tuple[dict[str, object], str, bool]], over: dict[str, object] | None
) -> Path:
    long = EACH * len(tried)
    colours = {"black": "0", "face": "0xff0000ff"}
    parts = [producer(name, "color", colour, long) for name, colour in colours.items()]
    entries = []
    for number, (values, hung, _) in enumerate(tried):
        parts.append(producer(f"c{number}", long=EACH, **values))
        entries.append(entry(f"c{number}", EACH, hung))
    rows = {f"{name}s": [entry(name, long)] for name in colours}
    laid = [] if over is None else [(1, {"mlt_service": "qtblend"}), (2, over)]
    blends = [transition({**how, "a_track": 0, "b_track": track, "always_active": 1}) for track, how in laid]
    return document(folder / "shapes.mlt", parts, {**rows, "overs": entries}, blends)


def told_and_seen(path: Path, count: int) -> tuple[list[bool], list[bool]]:
    """For each thing tried whether the face is told, and whether it is rendered, to be hidden."""
    project = mltassist.open(path)
    timeline = find(project.timeline, begin(project.timeline)).timeline
    found, places = list(layers(timeline)), [EACH * number + 1 for number in range(count)]
    shown = [next(one for one in found if at in one.span) for at in places]
    told = [one.track is not None and one.track.index == 2 for one in shown]
    red = [(frame[..., 0] > 100).mean() for frame in referee.frames(path, places)]
    return told, [share < 0.03 for share in red]


@pytest.mark.usefixtures("requires_melt")
def test_a_picture_hides_a_face_only_where_it_fills_the_frame(tmp_path: Path) -> None:
    tried = covering(tmp_path)
    wanted = [hides for *_, hides in tried]
    assert told_and_seen(written(tmp_path, tried, {"mlt_service": "qtblend"}), len(tried)) == (wanted, wanted)
    # Where no transition lays it over the face, what it leaves free is black.
    first = tried[:7]
    assert told_and_seen(written(tmp_path, first, None), 7) == ([True] * 7, [True] * 7)


@pytest.mark.usefixtures("requires_melt")
def test_one_kind_of_transition_leaves_small_pictures_small(tmp_path: Path) -> None:
    small = picture(tmp_path, "small", GREEN, 255, (W // 2, H // 2))
    old = picture(tmp_path, "old", GREEN, 255, (48, H))
    tried = [({"mlt_service": "qimage", "resource": path}, "", False) for path in (small, old)]
    for how, hides in (({}, [False, False]), ({"fill": 1}, [True, False]), ({"distort": 1}, [True, True])):
        path = written(tmp_path, tried, {"mlt_service": "composite", **how})
        assert told_and_seen(path, 2) == (hides, hides)


def test_a_picture_of_the_shape_of_the_one_beneath_hides_it_and_another_is_told(tmp_path: Path) -> None:
    old, wider = (
        film(tmp_path, "old", GREEN, 255, (48, H), kind=OPAQUE),
        film(tmp_path, "wide", GREEN, 255, (96, H), kind=OPAQUE),
    )
    tried: list[tuple[dict[str, object], str, bool]] = [
        ({"mlt_service": "avformat", "resource": path}, "", True) for path in (old, wider)
    ]
    path = written(tmp_path, tried, {"mlt_service": "qtblend"})
    text = path.read_text(encoding="utf-8")
    face = prop("resource", "0xff0000ff") + prop("mlt_service", "color")
    assert face in text
    path.write_text(
        text.replace(face, prop("resource", old) + prop("mlt_service", "avformat")), encoding="utf-8"
    )
    project = mltassist.open(path)
    findings = find(project.timeline, begin(project.timeline))
    assert [one.track.index if one.track else None for one in layers(findings.timeline)] == [2, 1]
    faults = [fault.what for fault in faults_in(findings) if "fill the frame" in fault.what]
    assert faults == ["'wide' does not fill the frame: 'old' is seen beside it"]
    assert np.isclose(float(next(layers(findings.timeline)).clip.source.shape or 0), 0.75)  # type: ignore[union-attr]
