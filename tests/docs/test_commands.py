"""The page of commands says what the program says."""

from __future__ import annotations

import re

import pytest

from mltassist.cli.exits import Exit
from mltassist.cli.main import command
from tests.docs import pages

RENEW = "renew it with: python -m tests.docs.renew"


@pytest.mark.parametrize("name", ["", *command.commands])
def test_the_help_on_the_page_is_the_help_of_the_command(name: str) -> None:
    page = pages.part(pages.COMMANDS, "help")
    found = re.search(rf"^### {name or 'mltassist'}\n\n```text\n(.*?)\n```$", page, re.DOTALL | re.MULTILINE)
    assert found is not None, f"{name} is not documented; {RENEW}"
    assert found[1] == pages.help_of(name), RENEW


def test_the_page_documents_no_command_that_is_gone() -> None:
    headings = re.findall(r"^### (.+)$", pages.part(pages.COMMANDS, "help"), re.MULTILINE)
    assert headings == ["mltassist", *command.commands], RENEW


def test_no_help_line_is_longer_than_the_page_is_wide() -> None:
    assert max(map(len, pages.part(pages.COMMANDS, "help").splitlines())) <= pages.WIDTH


def test_every_exit_code_is_in_the_table() -> None:
    told = {
        int(code) for code in re.findall(r"^\| (\d+) \|", pages.COMMANDS.read_text("utf-8"), re.MULTILINE)
    }
    assert told == {*(int(code) for code in Exit), 130}
