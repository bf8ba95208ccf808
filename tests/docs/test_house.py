"""What the pages say of where things live is so."""

from __future__ import annotations

import ast
import re

import pytest

from tests.docs.pages import ROOT, written

DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
STEPS = re.findall(r"`([\w/]+\.py): (\w+)(?:\.(\w+))?`", DEVELOPERS)


@pytest.mark.parametrize("page", written(), ids=lambda page: page.name)
def test_every_module_that_a_page_names_is_there(page) -> None:
    named = re.findall(
        r"`((?:mltassist|tests|example_projects)/[\w/]+\.py)`", page.read_text(encoding="utf-8")
    )
    assert [name for name in named if not (ROOT / name).is_file()] == []


def test_the_walks_through_the_house_name_what_is_there() -> None:
    assert len(STEPS) > 20
    package, lacking = ROOT / "mltassist", []
    for path, name, method in STEPS:
        places = (package / path, package / "cutaways" / "planner" / path)  # beside the one named before
        (found,) = [place for place in places if place.is_file()]
        tree = ast.parse(found.read_text(encoding="utf-8"))
        names = {node.name for node in ast.walk(tree) if isinstance(node, (ast.FunctionDef, ast.ClassDef))}
        lacking += [f"{path}: {one}" for one in (name, method) if one and one not in names]
    assert lacking == []


def test_the_drawing_names_every_room() -> None:
    drawing = DEVELOPERS.partition("```\n")[2].partition("```")[0]
    package = ROOT / "mltassist"
    rooms = {p.name + "/" for p in package.iterdir() if p.is_dir() and not p.name.startswith("_")}
    loose = {p.stem for p in package.glob("[!_]*.py")}
    assert {name for name in rooms | loose if name not in drawing} == set()
