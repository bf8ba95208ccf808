"""Imports run downward only, and only the command line prints."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

import mltassist
from mltassist.hosts.registry import HOSTS

PACKAGE = Path(mltassist.__file__).parent
MODULES = sorted(PACKAGE.rglob("*.py"))
ABOVE = (
    *("mltassist.cli", "mltassist.page", "mltassist.api", "mltassist.batches", "mltassist.season"),
    *("mltassist.conforming", "mltassist.remembered", "rich", "click", "jinja2"),
)
ROOMS = tuple(f"mltassist.{room}" for room in ("rushes", "joins", "cutaways", "music", "pauses"))
"""The trade's jobs: what serves them all lies below, and they serve the commands."""
WHOLES = tuple(f"mltassist.{module}" for module in ("findings", "plans", "project", "checking"))
DOCUMENTS = ("lxml", "mltassist.document", "mltassist.hosts")
SOUND_AND_PICTURE = ("av", "mltassist.media")
JOBS = (*ABOVE, *ROOMS, *WHOLES)
PLANNERS = ("cutaways/planner", "joins/planner", "music/planner.py", "pauses/planner.py")
FORBIDDEN: dict[str, tuple[str, ...]] = {
    "timeline": (*JOBS, *DOCUMENTS, *SOUND_AND_PICTURE, "mltassist.recipe"),
    "document": (*JOBS, *SOUND_AND_PICTURE, "mltassist.hosts", "mltassist.timeline", "mltassist.recipe"),
    "media": (*JOBS, *DOCUMENTS, "mltassist.recipe"),
    "hosts": (*JOBS, *SOUND_AND_PICTURE, "mltassist.recipe"),
    "remembered": ("mltassist.cli", "mltassist.page", "mltassist.season", "lxml", "mltassist.hosts", "rich"),
    "passed": (*ABOVE, "lxml", "mltassist.hosts"),
    # Choices are plain data: what reads and writes their file knows how files are written, and no more.
    "choices": (*JOBS, "lxml", "mltassist.hosts", *SOUND_AND_PICTURE),
    "recipe": (*JOBS, *DOCUMENTS, *SOUND_AND_PICTURE),
    "demofilm": (*JOBS, "mltassist.hosts", "mltassist.timeline", "mltassist.media", "mltassist.recipe"),
    # The page looks at what commands have made: it stands beside the batches, above all rooms. It writes
    # HTML with a builder of lxml, and knows no documents.
    "page": (
        "mltassist.cli",
        "mltassist.batches",
        "mltassist.season",
        "lxml.etree",
        "mltassist.hosts",
        "rich",
        "click",
    ),
    # What all rooms share, and so none of them: it would be below and above at once.
    "findings.py": (*ABOVE, *ROOMS),
    **dict.fromkeys(PLANNERS, (*ABOVE, *WHOLES, *DOCUMENTS, *SOUND_AND_PICTURE)),
    **{room.partition(".")[2]: (*ABOVE, "lxml", "mltassist.hosts") for room in ROOMS},
}
LOOSE = {
    "api",
    "batches",
    "checking",
    "errors",
    "files",
    "findings",
    "frames",
    "plans",
    "project",
    "wholepass",
}
"""With `__init__` and `__main__` they are all that stands outside a room."""


def imported(module: Path) -> Iterator[str]:
    """Full names of all that a module imports, wherever in it the import stands."""
    package = ["mltassist", *module.relative_to(PACKAGE).parent.parts]
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(package[: len(package) - node.level + 1]) if node.level else ""
            source = ".".join(filter(None, (base, node.module)))
            yield source
            yield from (f"{source}.{name.name}" for name in node.names)


def within(name: str, wanted: str) -> bool:
    return name == wanted or name.startswith(wanted + ".")


@pytest.mark.parametrize("layer", FORBIDDEN)
def test_a_layer_imports_nothing_from_above(layer: str) -> None:
    modules = [module for module in MODULES if module.is_relative_to(PACKAGE / layer)]
    assert modules
    found = [
        f"{module.relative_to(PACKAGE)} imports {name}"
        for module in modules
        for name in imported(module)
        for wanted in FORBIDDEN[layer]
        if within(name, wanted)
    ]
    assert found == []


def test_no_two_rooms_import_each_other() -> None:
    def rooms_below(room: str) -> set[str]:
        modules = (PACKAGE / room.partition(".")[2]).rglob("*.py")
        names = {name for module in modules for name in imported(module)}
        return {other for other in ROOMS if other != room and any(within(name, other) for name in names)}

    below = {room: rooms_below(room) for room in ROOMS}
    assert below["mltassist.joins"] == {"mltassist.rushes"}
    TopologicalSorter(below).prepare()  # raises CycleError


@pytest.mark.parametrize("module", ["frames.py", "errors.py", "files.py"])
def test_the_lowest_layer_imports_only_itself_and_the_standard_library(module: str) -> None:
    tops = {name.split(".")[0] for name in imported(PACKAGE / module)}
    assert tops <= {"mltassist", "__future__", *sys.stdlib_module_names}
    own = {name for name in imported(PACKAGE / module) if within(name, "mltassist")}
    assert all(within(name, "mltassist.errors") for name in own)


def test_nothing_but_the_command_line_imports_the_command_line() -> None:
    others = [m for m in MODULES if not m.is_relative_to(PACKAGE / "cli") and m.name != "__main__.py"]
    assert [m for m in others if any(within(name, "mltassist.cli") for name in imported(m))] == []


def test_only_the_command_line_prints() -> None:
    found = [
        f"{module.relative_to(PACKAGE)}:{node.lineno}"
        for module in MODULES
        if not module.is_relative_to(PACKAGE / "cli")
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "print"
    ]
    assert found == []


def test_importing_the_package_loads_nothing_heavy() -> None:
    heavy = ("numpy", "scipy", "lxml", "av", "rich", "cattrs")
    code = f"import sys, mltassist; print(*(set({heavy}) & sys.modules.keys()))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == ""


def test_every_public_name_is_there() -> None:
    assert all(getattr(mltassist, name) is not None for name in mltassist.__all__)


def test_no_host_imports_another() -> None:
    """What hosts have in common lies in modules that belong to none of them."""
    modules = {type(host).__module__ for host in HOSTS}
    assert len(modules) == len(HOSTS)
    found = [
        f"{module} imports {name}"
        for module in modules
        for name in imported(PACKAGE / Path(*module.split(".")[1:]).with_suffix(".py"))
        for other in modules - {module}
        if within(name, other)
    ]
    assert found == []


def test_few_modules_stand_loose() -> None:
    assert {module.stem for module in PACKAGE.glob("[!_]*.py")} == LOOSE


def test_no_room_takes_the_name_of_a_command() -> None:
    """A package that is imported becomes a name of its parent, over a function of that name."""
    rooms = {path.name for path in PACKAGE.iterdir() if path.is_dir()}
    assert rooms.isdisjoint(mltassist.__all__)
