"""Every command on a hostile film, watched by Python's own audit. Run by name only.

The suite watches two of them (tests/cli/test_trust.py); here are the others, with the options that read or
write files, one after the other as a person would give them.
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.cli.test_trust import NEVER_READ, hostile, watched

__all__ = ["hostile"]  # the fixture
RECIPE = 'log_sheets = ["log.csv"]\n[season]\nspare = ["gulls*"]\n'


def test_no_command_asks_anybody_or_writes_elsewhere(hostile: Path, tmp_path: Path) -> None:
    made, films = tmp_path / "made", hostile.parent
    made.mkdir()
    (made / "house.toml").write_text(RECIPE)
    (made / "remarks.json").write_text('[{"at": "f100", "text": "look"}]')
    new, plan, recipe = made / "new.mlt", made / "plan.json", ("--recipe", made / "house.toml")
    commands = {
        "survey": (hostile, "--pins", made / "pins.toml", *recipe),
        "listen": (hostile, *recipe),
        "words": (hostile, "--removed", "--list", made / "removed.csv"),
        "check": (hostile, "--rules", "--junit", made / "answers.xml", *recipe),
        "cover": (hostile, "-o", made / "cover.mlt", *recipe),
        "duck": (hostile, "-o", made / "duck.mlt"),
        "pause": (hostile, "--at", "f100", "--length", "3", "-o", made / "pause.mlt"),
        "rough": (hostile, "-o", new, "--plan", plan, "--page", made / "page.html", *recipe),
        "apply": (plan, hostile, "-o", made / "applied.mlt"),
        "adopt": (new,),
        "remarks": (made / "remarks.json", hostile, "-o", made / "remarked.mlt"),
        "clear": (new, "-o", made / "cleared.mlt"),
        "recipe": (),
        "batch": (films, "--out", made / "out", "--page", made / "season.html", "--log", made / "log.jsonl"),
    }
    unlike: dict[str, object] = {}
    for name, given in commands.items():
        seen = watched(tmp_path, name, *given, within=films)
        written = set(map(Path, seen.of("write")))
        elsewhere = {one for one in written if not one.is_relative_to(seen.home)}
        elsewhere = {one for one in elsewhere if not one.is_relative_to(made)}
        begun = [what[:2] for what in seen.of("subprocess.Popen") if what != [sys.executable, "-P", "-c"]]
        own = {"pickle.find_class", "os.posix_spawn"} if name == "batch" else set()  # between its processes
        kinds = seen.kinds - {"read", "write", "subprocess.Popen", *own}
        never = {what for what in seen.of("read") if what.endswith(NEVER_READ)}
        sys.stdout.write(f"{name}: {seen.done.returncode}, {len(seen.processes)} processes\n")
        if seen.done.returncode not in (0, 1) or elsewhere or begun or kinds or never:
            unlike[name] = (seen.done.returncode, seen.done.stderr[-400:], elsewhere, begun, kinds, never)
    assert not unlike
    assert not list(films.rglob("*.tmp"))
