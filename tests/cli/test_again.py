"""A command on a project that it has been run on before: its work is replaced, never stacked."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from lxml import etree

import mltassist
from tests.cli.films import LAYOUTS, short, write


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
def test_a_second_run_changes_nothing_and_so_no_later_one(tmp_path, run, layout, name):
    paths = [write(short(700), tmp_path, layout)]
    plans = []
    for number in (1, 2):
        target = tmp_path / f"run{number}{paths[0].suffix}"
        ran = run(name, paths[-1], "-o", target, "--json")
        assert ran.status == 0
        plans.append(json.loads(ran.out)["edits"])
        paths.append(target)
    original, first, second = paths
    assert plans[0] == plans[1]
    assert bool(shots(first, "cover")) == (name == "cover")
    assert unused(first) <= unused(original)
    tracks = [track.ours for track in mltassist.open(second).timeline.tracks]
    # Whatever a third run would begin with is what the second began with.
    assert second.read_bytes() == first.read_bytes()
    assert tracks.count("cover") == (1 if name == "cover" else 0)
