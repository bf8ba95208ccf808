"""What the command line says of itself, and how soon."""

from __future__ import annotations

import inspect
import subprocess
import sys
import time
from pathlib import Path

import pytest

import mltassist
from mltassist.cli.main import command

ROOT = Path(__file__).parents[2]
COMMANDS = sorted(command.commands)
SCREEN = {"as_json", "debug", "quiet", "verbose"}  # about the terminal only, so no function has them
AROUND = {
    *("sequence", "output", "plan_file", "dry_run", "force", "pins", "save", "list_file", "no_choices"),
    *("page", "for_comments"),
}
"""In the API: open, apply, save, to_json, Survey.pins, Words.as_srt and removed, choices=None."""
API_ONLY = {"on_found", "on_progress", "on_done", "on_address", "executor", "target", "known"}
RENAMED = {"document": "project", "against": "original"}  # a file here, an opened project there
OTHER = {"batch": {"check", "junit", "cluster", "maps"}, "check": {"rules", "recipe", "no_look", "junit"}}
"""Of other functions of the package: conform and check_all."""
NEEDED = {("batch", "out"), ("demo", "folder")}
"""But for --check, which is another function's, and where lessons are only listed."""
LEAST = {
    "apply": ["x", "y"],
    "batch": ["x", "--out", "o"],
    "recipe": [],
    "pause": ["x", "--length", "2"],
    "remarks": ["x", "y"],
}


def function_of(name: str) -> str:
    """The function of the package that does what this command does."""
    return "recipes" if name == "recipe" else name  # mltassist.recipe is the room that reads them


def python(*code: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", "\n".join(code)], cwd=ROOT, capture_output=True, text=True, check=False
    )


def test_the_package_runs_as_a_module():
    said = subprocess.run(
        [sys.executable, "-m", "mltassist", "--version"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert mltassist.__version__ in said.stdout


def test_the_commands_are_the_functions_of_the_package():
    assert [
        *("adopt", "apply", "batch", "check", "clear", "cover", "demo", "duck"),
        *("listen", "pause", "recipe", "remarks", "review", "rough", "survey", "words"),
    ] == COMMANDS
    assert {function_of(name) for name in COMMANDS} <= set(mltassist.__all__)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_help_has_an_example_that_names_its_own_command(run, name):
    ran = run(name, "--help")
    assert ran.status == 0
    assert ran.err == ""
    lines = [line.strip() for line in ran.out.splitlines()]
    assert lines[lines.index("Example:") + 1].startswith(f"mltassist {name} ")


def test_the_help_of_the_program_has_an_example_and_comes_without_any_argument_too(run):
    asked, bare = run("--help"), run()
    assert asked.status == bare.status == 0
    assert asked.out == bare.out
    assert "Example:\n" in asked.out
    assert all(f"  {name} " in asked.out for name in COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_options_and_parameters_have_the_same_names_and_defaults(name):
    made = command.commands[name]
    given = made.make_context(name, LEAST.get(name, ["x"])).params
    own = SCREEN if name in ("batch", "demo") else SCREEN | AROUND
    own |= OTHER.get(name, set())
    options = {
        RENAMED.get(param.name, param.name): "required"
        if param.required or (name, param.name) in NEEDED
        else given[param.name] or None
        for param in made.params
        if param.name not in own
    }
    parameters = {
        param.name: "required" if param.default is inspect.Parameter.empty else param.default or None
        for param in inspect.signature(getattr(mltassist, function_of(name))).parameters.values()
        if param.name not in API_ONLY
    }
    assert options == parameters


@pytest.mark.parametrize(
    "code", ["import mltassist", "from mltassist.cli.main import main\nmain(['--help'])"]
)
def test_starting_is_quick_and_loads_no_analysis(code):
    loaded = "import atexit, sys"
    heavy = "{'numpy', 'lxml', 'scipy', 'av'} & sys.modules.keys()"
    say = f"atexit.register(lambda: print(*{heavy}, file=sys.stderr))"
    times = []
    for _ in range(3):  # the quickest counts: another process may be busy
        start = time.perf_counter()
        ran = python(loaded, say, code)
        times.append(time.perf_counter() - start)
        assert ran.returncode == 0
        assert ran.stderr.strip() == ""
    assert min(times) < 0.5


def test_an_unforeseen_failure_is_one_line_and_never_looks_like_success():
    ran = python(
        "import mltassist.project",
        "def fail(path, **_): raise KeyError('a\\nb')",
        "mltassist.project.open_project = fail",
        "from mltassist.cli.main import main",
        "main(['survey', 'film.mlt'])",
    )
    assert ran.returncode == 2
    assert ran.stdout == ""
    assert len(ran.stderr.splitlines()) == 1
    assert ran.stderr.startswith("mltassist: unexpected KeyError: ")
    assert "--debug" in ran.stderr


def test_debug_shows_the_traceback(run, tmp_path):
    plain, debug = run("survey", tmp_path / "none.mlt"), run("survey", tmp_path / "none.mlt", "--debug")
    assert plain.status == debug.status == 2
    assert "Traceback" not in plain.err
    assert "Traceback" in debug.err
    assert debug.err.splitlines()[-1] == plain.err.strip()


def test_the_program_has_a_version(run):
    ran = run("--version")
    assert ran.status == 0
    assert ran.out.split()[-1] == mltassist.__version__


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (("foo",), "foo"),
        (("cover",), "PROJECT"),
        (("pause", "x.mlt", "--at", "f1"), "--length"),
        (("pause", "x.mlt", "--at", "f1", "--length", "0"), "0 should be above 0, up to 3600"),
        (("pause", "x.mlt", "--at", "f1", "--length", "1e999999999"), "1e999999999"),
        (("pause", "x.mlt", "--at", "f1", "--length", "-2"), "-2"),
        (("rough", "x.mlt", "--pause", "00:00:10:00"), "T=SECONDS"),
        (("rough", "x.mlt", "--pause", "=4"), "T=SECONDS"),
        (("duck", "x.mlt", "--separation", "nan"), "nan"),
        (("duck", "x.mlt", "--separation", "41"), "41"),
        (("batch", "--out", "o"), "PROJECTS"),
        (("batch", "x.mlt"), "--out"),
        (("batch", "x.mlt", "--out", "o", "--junit", "a.xml"), "--check"),
        (("batch", "x.mlt", "--out", "o", "--check"), "judged as they are"),
        (("check", "x.mlt", "--junit", "a.xml"), "--rules"),
        (("check", "x.mlt", "--rules", "--against", "y.mlt"), "--against"),
        (("batch", "x.mlt", "--out", "o", "--jobs", "0"), "--jobs"),
    ],
)
def test_wrong_use_is_one_line(run, arguments, named):
    assert named in run(*arguments).refused()
