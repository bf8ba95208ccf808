"""Shots hide the whole frame: what pictures of another shape need for it, and which of them are left out."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from mltassist.cutaways.framed import framed
from mltassist.cutaways.task import unfit
from mltassist.document.load import load
from mltassist.frames import Rate
from mltassist.hosts.pushing import filling
from mltassist.media.picture.shape import shape_of
from mltassist.recipe.cover import CoverRules
from mltassist.rushes.find import begin, find
from mltassist.timeline.edits import LayShot
from mltassist.timeline.model import BinClip, Source, SourceKind
from tests.timeline.films import clip, row, timeline, track

TURNED = b"\xff\xe1\x00\x22Exif\0\0MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x06\0\0\0\0\0\0"
"""An Exif segment that says nothing but orientation 6, a quarter turn (CIPA DC-008, 4.6.4)."""


def photograph(path: Path, width: int, height: int, *, turned: bool = False) -> BinClip:
    """A JPEG of these pixels. turned: its camera was held upright."""
    with av.open(str(path), "w", format="image2") as out:
        stream = out.add_stream("mjpeg", rate=1)
        stream.width, stream.height, stream.pix_fmt = width, height, "yuvj420p"
        grey = av.VideoFrame.from_ndarray(np.full((height, width, 3), 90, np.uint8), "rgb24")
        out.mux(stream.encode(grey.reformat(format="yuvj420p")))
        out.mux(stream.encode(None))
    if turned:
        data = path.read_bytes()
        path.write_bytes(data[:2] + TURNED + data[2:])
    return BinClip(path.stem, path.stem, Source(str(path), SourceKind.IMAGE, path, 0, True, False))


@pytest.fixture
def photographs(tmp_path) -> list[BinClip]:
    return [
        photograph(tmp_path / "like the film.jpg", 320, 180),
        photograph(tmp_path / "as cameras do.jpg", 320, 240),
        photograph(tmp_path / "turned.jpg", 240, 320, turned=True),
        photograph(tmp_path / "upright.jpg", 240, 320),
        photograph(tmp_path / "a strip.jpg", 640, 240),
    ]


def test_the_shape_is_that_in_which_a_picture_is_shown(photographs):
    shapes = [shape_of(one.source.path) for one in photographs]
    assert shapes == [Fraction(16, 9), Fraction(4, 3), Fraction(4, 3), Fraction(3, 4), Fraction(8, 3)]


def test_pictures_of_another_shape_fill_the_frame_and_the_loss_is_told(photographs):
    film = replace(timeline(bin_clips=photographs), shape=Fraction(16, 9))
    findings = find(film, begin(film))
    laid = [LayShot(50 * n, 50, one.source.key, 0, "", name=one.name) for n, one in enumerate(photographs)]
    edits = framed(findings, laid)
    assert [edit.shape for edit in edits] == pytest.approx([0, 4 / 3, 4 / 3, 3 / 4, 8 / 3], abs=1e-6)
    (told,) = [note.text for note in findings.notes if "another shape" in note.text]
    assert "as cameras do, turned, upright ...; up to 58% of a picture is cut off" in told
    # The shape of the film is not known: nothing is done to it.
    assert {edit.shape for edit in framed(find(timeline(), begin(timeline())), laid)} == {0}


@pytest.mark.parametrize(
    ("aspect", "shape", "whole"),
    [
        ((16, 9), Fraction(16, 9), (720, 768)),  # PAL as it was sent widescreen (ITU-R BT.601: 720 by 576)
        ((4, 3), Fraction(4, 3), (720, 576)),
        ((1, 9999), Fraction(5, 4), (768, 576)),  # nonsense: its pixels are taken for squares
    ],
)
def test_pixels_of_a_film_need_be_no_squares(tmp_path, aspect, shape, whole):
    path = tmp_path / "film.mlt"
    told = f'display_aspect_num="{aspect[0]}" display_aspect_den="{aspect[1]}"'
    rate = 'frame_rate_num="25" frame_rate_den="1"'
    path.write_text(f'<mlt><profile width="720" height="576" {told} {rate}/><tractor id="t"/></mlt>')
    document = load(path)
    assert document.shape == shape
    assert filling((720, 576), document.shape, Fraction(4, 3)) == whole


def test_photographs_that_stand_upright_are_no_shots_of_a_wide_film(photographs):
    paths = [one.source.path for one in photographs]
    reasons = [unfit(path, CoverRules(), Rate(25)) for path in paths]
    assert [reason and reason[1] for reason in reasons] == [None, None, None, "portrait", None]
    reasons = [unfit(path, CoverRules(), Rate(25), upright=True) for path in paths]
    assert [reason and reason[1] for reason in reasons] == ["wide"] * 3 + [None, "wide"]


def test_a_shot_over_a_picture_of_the_editor_that_hides_a_part_is_told(photographs):
    film = replace(timeline(), shape=Fraction(16, 9), width=1920, height=1080)
    face = track(1, "Interview", row(("ines", 300, 0)))
    over = track(2, "V2", [replace(clip("as cameras do", 50, 100), source=photographs[1].source)])
    film = replace(film, tracks=(face, over))
    findings = find(film, begin(film))
    framed(findings, [LayShot(200, 50, "wheel", 0, "")])
    assert not [note for note in findings.notes if "laid over" in note.text]
    framed(findings, [LayShot(100, 100, "wheel", 0, ""), LayShot(60, 20, "wheel", 0, "")])
    (note,) = [note for note in findings.notes if "laid over 'as cameras do'" in note.text]
    assert (note.at, note.needs_editor) == (100, True)
    assert "does not fill the frame" in note.text
