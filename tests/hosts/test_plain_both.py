"""A plain document in which a track that is not hidden carries picture and sound, in every operation."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from lxml import etree

import mltassist
from mltassist.rushes.balance import find_balance
from mltassist.rushes.faults import faults_of_picture
from mltassist.rushes.find import begin, find
from mltassist.timeline.edits import LayShot
from mltassist.timeline.model import TrackKind
from tests import referee
from tests.cli.films import short, write


def without_background(path: Path) -> Path:
    """The same film without its black track: the interview is track 0, and no mix names it as upper.

    Its first gap is a clip of black, so that the mixes have something to add to from the first frame on.
    Narration and music are not hidden: they hold sound alone.
    """
    tree = etree.parse(path)
    root = tree.getroot()
    black = root.find("producer[@id='black']")
    root.remove(black)
    root.insert(1, black)
    gap = root.find("playlist[@id='lane0']/blank")
    first = etree.Element("entry", {"producer": "black", "in": "0", "out": str(int(gap.get("length")) - 1)})
    gap.getparent().replace(gap, first)
    tractor = root.find("tractor[@id='main']")
    tractor.remove(tractor.find("track"))
    for track in tractor.iterfind("track"):
        if track.get("producer") in ("lane2", "lane4"):
            del track.attrib["hide"]
    for transition in tractor.findall("transition"):
        upper = transition.find("property[@name='b_track']")
        if upper.text == "1":
            tractor.remove(transition)
        else:
            upper.text = str(int(upper.text) - 1)
    tree.write(path, encoding="utf-8", xml_declaration=True)
    return path


@pytest.fixture
def both(tmp_path: Path) -> tuple[Path, Path]:
    """The film as it is, and with tracks that carry both."""
    one, other = tmp_path / "one", tmp_path / "other"
    one.mkdir()
    other.mkdir()
    return write(short(), one, "plain.mlt"), without_background(write(short(), other, "plain.mlt"))


def test_both_halves_are_read(both: tuple[Path, Path]) -> None:
    plain, carrying = map(mltassist.open, both)
    tracks = carrying.timeline.tracks
    kinds = [(track.index, track.kind) for track in tracks]
    picture, sound = TrackKind.PICTURE, TrackKind.SOUND
    assert kinds == [(0, picture), (1, picture), (2, sound), (3, sound), (4, sound)]
    assert [c.plays_sound and c.plays_picture for c in tracks[0].clips()] == [False] + [True] * 5
    cuts = [
        [(cut.at, cut.kind, cut.covered) for cut in mltassist.survey(one).cuts] for one in (plain, carrying)
    ]
    assert cuts[0] == cuts[1]
    assert len(cuts[0]) == 4
    # Neither is the clip of black on the interview's track a face, nor is anything wrong with the picture.
    balances = [find_balance(find(one.timeline, begin(one.timeline))) for one in (plain, carrying)]
    assert balances[0] == balances[1]
    assert faults_of_picture(plain) == faults_of_picture(carrying)


@pytest.mark.usefixtures("requires_melt")
def test_a_track_that_no_mix_names_is_heard(both: tuple[Path, Path]) -> None:
    path = both[0]
    tree = etree.parse(path)
    tractor = tree.getroot().find("tractor[@id='main']")
    tractor.remove(tractor.find("transition"))
    tree.write(path, encoding="utf-8", xml_declaration=True)
    assert len(mltassist.survey(mltassist.open(path)).cuts) == 4
    whole = referee.sound(path, first=300, last=340)
    others = referee.sound(path, only_tracks={3, 4, 5}, first=300, last=340)
    interview = referee.sound(path, only_tracks={1}, first=300, last=340)
    assert np.allclose(whole, others + interview, atol=1e-3)
    assert np.abs(interview).max() > 0.1


@pytest.mark.usefixtures("requires_melt")
def test_every_operation_sees_and_hears_both(both: tuple[Path, Path], tmp_path: Path) -> None:
    plain, carrying = map(mltassist.open, both)
    heard = [[join.edit.at for join in mltassist.listen(one).joins] for one in (plain, carrying)]
    assert heard[0] == heard[1]
    plans = [mltassist.rough(one, pauses=[("f786", Fraction(2))], no_look=True) for one in (plain, carrying)]
    shots = [
        [(e.at, e.length, Path(e.source).name) for e in plan.edits if isinstance(e, LayShot)]
        for plan in plans
    ]
    assert shots[0] == shots[1]
    assert shots[0]
    for name in ("jump_cuts", "jump_cuts_covered", "jump_cuts_left", "face_after_s", "rules_not_kept"):
        assert plans[0].figures[name] == plans[1].figures[name]
    sides = [plan.figures["mix"]["after"]["integrated_lufs"] for plan in plans]
    assert sides[0] == pytest.approx(sides[1], abs=0.1)
    outputs = []
    for number, (one, plan) in enumerate(zip((plain, carrying), plans, strict=True)):
        output = tmp_path / f"out{number}.mlt"
        plan.apply(one).save(output)
        outputs.append(output)
    one, other = (referee.sound(output) for output in outputs)
    assert one.shape == other.shape
    assert np.allclose(one, other, atol=2e-3)
    shown = [shots[0][0][0] + 10, shots[0][-1][0] + 10, 320]
    for left, right in zip(*(referee.frames(output, shown) for output in outputs), strict=True):
        assert np.abs(left.astype(int) - right).mean() < 2
