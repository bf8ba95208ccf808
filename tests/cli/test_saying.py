"""Names reach no terminal as commands, forge no line, and a result that cannot be shown is no failed work."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from mltassist.cli.saying import as_json, on_one_line
from tests.cli.films import short, with_file, write

posix = pytest.mark.skipif(os.name != "posix", reason="/dev/full and closed streams of posix")
EVIL = "a\x1b[31m\x9b1m\x9d0;t\x07\u202egnp\u2028check: 00:00:00:00  forged\ud800"


def shown_only(text: str) -> bool:
    """True where all of it is lines of letters."""
    return all(char == "\n" or (char.isprintable() and not 0xD800 <= ord(char) < 0xE000) for char in text)


def test_what_a_terminal_obeys_is_shown_as_a_code():
    assert on_one_line(EVIL) == (
        "a\\x1b[31m\\x9b1m\\x9d0;t\\x07\\u202egnp\\u2028check: 00:00:00:00  forged\\ud800"
    )
    assert on_one_line("two\nlines\tand\r\nmore") == "two lines and more"
    assert on_one_line("Fähre 東京 👍🏽 é") == "Fähre 東京 👍🏽 é"


def test_json_holds_the_same_and_obeys_nothing():
    text = as_json({EVIL: [EVIL, "Fähre"]})
    assert shown_only(text)
    assert json.loads(text) == {EVIL: [EVIL, "Fähre"]}


@pytest.fixture
def evil(tmp_path) -> Path:
    """A film with such names of clips, tracks, files and markers, as far as XML can hold them."""
    path = write(short(700), tmp_path, "host.kdenlive")
    name = "wheel&#x9b;31m&#x9d;0;t&#x202e;&#10;check: 00:00:00:00  forged"
    text = path.read_text(encoding="utf-8")
    for old in ("wheel WS", "Interview", "millstones WS"):
        text = text.replace(old, name)
    path.write_text(text, encoding="utf-8")
    return with_file(path, "cutaways/wheel-ws.mp4", name)


@pytest.mark.parametrize("command", ["survey", "cover", "check", "rough"])
@pytest.mark.parametrize("more", [(), ("--json",)])
def test_names_of_a_document_reach_the_terminal_as_text(run, evil, command, more):
    quick = ("--dry-run", "--no-look") if command in ("cover", "rough") else ()
    ran = run(command, evil, *quick, *more)
    assert ran.status in (0, 1, 2)
    assert "unexpected" not in ran.err
    assert shown_only(ran.out)
    assert shown_only(ran.err)
    assert not [line for line in (ran.out + ran.err).splitlines() if line.startswith("check: 00:00:00:00")]


def test_a_name_that_is_refused_is_told_on_one_line(run, tmp_path):
    told = run("survey", tmp_path / "a\x1b[2J\x9b\ncheck: forged.mlt").refused()
    assert shown_only(told)
    assert "\\x1b[2J\\x9b check: forged.mlt: no such file" in told


def ran(*arguments: object, **options: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "mltassist", *map(str, arguments)]
    return subprocess.run(command, check=False, text=True, stderr=subprocess.PIPE, **options)


@posix
def test_a_file_that_was_written_is_no_failure_where_its_result_cannot_be_shown(tmp_path):
    path = write(short(700), tmp_path, "plain.mlt")
    pause = ("pause", path, "--at", "f0", "--length", "1", "--force")
    with Path("/dev/full").open("w") as full:
        told = ran(*pause, "-o", tmp_path / "one.mlt", stdout=full)
        assert "Traceback" not in told.stderr
        assert told.stderr.splitlines()[-1] == (
            "mltassist: the result could not be shown (No space left on device)"
        )
        assert told.returncode in (0, 1)
        assert (tmp_path / "one.mlt").exists()
        nothing = ran("survey", path, stdout=full)
        assert nothing.returncode == 2
    shell = f"exec {sys.executable} -m mltassist pause {path} --at f0 --length 1 -o {tmp_path}/two.mlt >&-"
    closed = subprocess.run(["sh", "-c", shell], check=False, capture_output=True, text=True)
    assert closed.returncode in (0, 1), closed.stderr
    assert "Traceback" not in closed.stderr
    assert (tmp_path / "two.mlt").exists()


@posix
def test_letters_that_a_terminal_does_not_have_are_shown_as_codes(tmp_path):
    path = write(short(700), tmp_path, "plain.mlt").rename(tmp_path / "Fähre.mlt")
    narrow = {**os.environ, "PYTHONIOENCODING": "ascii"}
    told = ran("survey", path, stdout=subprocess.PIPE, env=narrow)
    assert "F\\xe4hre.mlt" in told.stdout
    data = ran("survey", path, "--json", stdout=subprocess.PIPE, env=narrow)
    assert json.loads(data.stdout)["project"].endswith("Fähre.mlt")
    missing = ran("survey", tmp_path / "Fäh.mlt", stdout=subprocess.PIPE, env=narrow)
    assert missing.returncode == 2
    assert "F\\xe4h.mlt: no such file" in missing.stderr
