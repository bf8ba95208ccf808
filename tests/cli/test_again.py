"""A command on a project that it has been run on before: its work is replaced, never stacked."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import pytest
from lxml import etree

import mltassist
from tests.cli.films import LAYOUTS, short, write


def parts(path: Path) -> Counter[str]:
    return Counter(
        element.tag
        for element in etree.parse(path).getroot()
        if element.tag in ("producer", "chain", "tractor", "playlist")
    )


def unused(path: Path) -> set[str]:
    """Ids of producers that nothing names."""
    root = etree.parse(path).getroot()
    named = {element.get("producer") for element in root.iter("entry", "track")}
    return {element.get("id", "") for element in root.iter("producer", "chain")} - named


def shots(path: Path, name: str) -> list[tuple[int, int, str, int]]:
    return [
        (clip.start, clip.length, clip.source.key, clip.source_in)
        for track in mltassist.open(path).timeline.tracks
        if track.ours == name
        for clip in track.clips()
    ]


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("name", ["cover", "duck"])
def test_a_second_and_a_third_run_change_nothing(tmp_path, run, layout, name):
    paths = [write(short(700), tmp_path, layout)]
    plans = []
    for number in (1, 2, 3):
        target = tmp_path / f"run{number}{paths[0].suffix}"
        ran = run(name, paths[-1], "-o", target, "--json")
        assert ran.status == 0
        plans.append(json.loads(ran.out)["edits"])
        paths.append(target)
    original, *made = paths
    assert plans[0] == plans[1] == plans[2]
    assert len({tuple(shots(path, "cover")) for path in made}) == 1
    assert bool(shots(made[0], "cover")) == (name == "cover")
    assert parts(made[0]) == parts(made[1]) == parts(made[2])
    assert all(unused(path) <= unused(original) for path in made)
    filters = [len(list(etree.parse(path).iter("filter"))) for path in made]
    assert filters[0] == filters[1] == filters[2]
    tracks = [track.ours for track in mltassist.open(made[2]).timeline.tracks]
    assert tracks.count("cover") == (1 if name == "cover" else 0)
