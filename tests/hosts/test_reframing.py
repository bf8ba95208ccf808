"""Pictures that an effect enlarges: how much, what is seen beneath, and that the engine shows it so."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from lxml import etree

import mltassist
from mltassist.hosts.parts import Parts
from mltassist.hosts.reading import main_timeline
from mltassist.project import Project
from mltassist.recipe.cover import CoverRules
from mltassist.recipe.rules import Recipe
from mltassist.timeline.cuts import CutKind, speech_edits
from mltassist.timeline.elements import find_elements
from mltassist.timeline.model import Clip
from mltassist.timeline.picture import showing
from mltassist.timeline.picturecuts import picture_cuts
from tests import referee
from tests.cli.films import LAYOUTS, short, write
from tests.hosts.written import saved
from tests.media.sound.test_mix_played import prop

W, H = 320, 180


def framed(folder: Path, *filters: str) -> Path:
    """A green picture with a red one above it on which these filters hang."""
    path = folder / "framed.mlt"
    path.write_text(
        f'<mlt LC_NUMERIC="C"><profile description="p" width="{W}" height="{H}" progressive="1"'
        f' sample_aspect_num="1" sample_aspect_den="1" display_aspect_num="16" display_aspect_den="9"'
        f' frame_rate_num="25" frame_rate_den="1" colorspace="709"/>'
        + "".join(
            f'<producer id="{name}" in="0" out="99">{prop("length", 100)}{prop("resource", colour)}'
            f"{prop('mlt_service', 'color')}</producer>"
            for name, colour in (("low", "0x00ff00ff"), ("high", "0xff0000ff"))
        )
        + '<playlist id="below"><entry producer="low" in="0" out="49"/></playlist>'
        f'<playlist id="above"><entry producer="high" in="0" out="49">{"".join(filters)}</entry></playlist>'
        '<tractor id="film"><track producer="below"/><track producer="above"/>'
        f"<transition>{prop('mlt_service', 'qtblend')}{prop('a_track', 0)}{prop('b_track', 1)}"
        f"{prop('always_active', 1)}</transition></tractor></mlt>",
        encoding="utf-8",
    )
    return path


def effect(service: str, **values: str) -> str:
    named = {name.replace("__", "."): value for name, value in values.items()}
    return f"<filter>{prop('mlt_service', service)}{''.join(prop(k, v) for k, v in named.items())}</filter>"


ENLARGED = [
    (effect("qtblend", rect="-80 -45 480 270 1"), Fraction(3, 2)),
    (effect("qtblend", rect="0=-40 -30 400 225 1"), Fraction(5, 4)),
    (effect("affine", transition__rect="-25% -25% 150% 150%"), Fraction(3, 2)),
    (effect("affine", transition__geometry="-32/-18:384x216:100"), Fraction(1)),  # an older name: not obeyed
]
OPEN = [
    effect("qtblend", rect="80 45 160 90 1"),
    effect("qtblend", rect="-80 -45 480 270 0.5"),
    effect("qtblend", rect="0 0 320 180 1", rotation="0=45"),
    effect("affine", transition__rect="40 0 320 180 1"),
]


@pytest.mark.usefixtures("requires_melt")
@pytest.mark.parametrize(("one", "zoom"), ENLARGED)
def test_an_enlarged_picture_fills_the_frame_and_its_size_is_known(
    tmp_path: Path, one: str, zoom: Fraction
) -> None:
    path = framed(tmp_path, one)
    timeline = mltassist.open(path).timeline
    (seen,) = showing(timeline)
    assert seen.clip is not None
    assert (seen.clip.reframed, seen.clip.zoom) == (False, (zoom, zoom))
    red = referee.frame(path, 10)
    assert red[..., 0].min() > 200
    assert red[..., 1].max() < 60


@pytest.mark.usefixtures("requires_melt")
@pytest.mark.parametrize("one", OPEN)
def test_a_picture_that_leaves_room_shows_what_lies_beneath(tmp_path: Path, one: str) -> None:
    path = framed(tmp_path, one)
    (seen,) = showing(mltassist.open(path).timeline)
    assert seen.clip is not None
    assert seen.clip.reframed or seen.clip.veil.thin
    assert referee.frame(path, 10)[..., 1].max() > 100


def test_what_cannot_be_read_is_taken_for_open_and_a_moving_size_is_that_of_both_ends(tmp_path: Path) -> None:
    def read(*filters: str) -> Clip:
        tracks = mltassist.open(framed(tmp_path, *filters)).timeline.tracks
        return next(next(track for track in tracks if track.index == 1).clips())

    for odd in ("", "none", "1 2 3", "0=1 2;x", "0 0 0 0 1"):
        assert read(effect("qtblend", rect=odd)).reframed
    assert read(effect("crop", left="10")).reframed
    slow = read(effect("qtblend", rect="0=0 0 320 180 1;49=-80 -45 480 270 1"))
    assert (slow.reframed, slow.zoom) == (False, (Fraction(1), Fraction(3, 2)))
    both = read(
        effect("qtblend", rect="-80 -45 480 270 1"), effect("affine", transition__rect="-25% -25% 150% 150%")
    )
    assert both.zoom[0] == Fraction(9, 4)


def resized(project: Project, track: int, at: int, size: str) -> Project:
    """The project with the picture of a clip put into a rectangle, as its host keeps such a filter."""
    parts = Parts(project.document)
    strips = project.host.strips(parts, main_timeline(project.host, parts))
    playlists = next(strip for strip in strips if strip.index == track).playlists
    spot = next(s for p in playlists for s in parts.spots(p) if s.start == at and not s.is_blank)
    home = project.host.filter_home(parts, spot.element)
    home.append(etree.fromstring(effect("qtblend", rect=size)))
    return saved(project)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_jump_hidden_by_a_punch_in_needs_no_cover(tmp_path: Path, layout: str) -> None:
    path = write(short(), tmp_path, layout)
    project = mltassist.open(path)
    timeline = project.timeline
    rules = Recipe()
    elements = find_elements(timeline, rules.vocabulary())
    jump = next(e for e in speech_edits(timeline, elements) if e.kind is CutKind.JUMP and not e.covered)
    before = mltassist.cover(project, recipe=rules, no_look=True)
    shown = next(s for s in showing(timeline) if s.span.start == jump.at)
    assert shown.track is not None
    sizes = [("-10% -10% 120% 120% 1", False), ("-15% -15% 130% 130% 1", True)]
    for size, hidden in sizes if layout == "plain.mlt" else sizes[1:]:
        zoomed = resized(mltassist.open(path), shown.track.index, jump.at, size)
        found = {cut.at: cut for cut in picture_cuts(zoomed.timeline, elements)}[jump.at]
        assert found.size_change == (Fraction(13, 10) if hidden else Fraction(6, 5))
        plan = mltassist.cover(zoomed, recipe=rules, no_look=True)
        assert plan.figures["jump_cuts_hidden_by_size"] == hidden
        assert plan.figures["jump_cuts_covered"] == before.figures["jump_cuts_covered"] - hidden
        assert plan.figures["jump_cuts"] == before.figures["jump_cuts"]
    lower = Recipe(cover=CoverRules(punch_in=1.5))
    assert mltassist.cover(zoomed, recipe=lower, no_look=True).figures["jump_cuts_hidden_by_size"] == 0
