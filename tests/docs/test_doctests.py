"""Examples in docstrings do what they say."""

from __future__ import annotations

import doctest
from importlib import import_module

import pytest

from tests.docs import pages

MODULES = sorted(
    ".".join(path.relative_to(pages.ROOT).with_suffix("").parts)
    for path in (pages.ROOT / "mltassist").rglob("*.py")
    if ">>>" in path.read_text("utf-8")
)


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_of_a_module_hold(name: str) -> None:
    result = doctest.testmod(import_module(name.removesuffix(".__init__")))
    assert result.attempted > 0
    assert result.failed == 0


def test_modules_with_examples_are_found() -> None:
    assert "mltassist.frames" in MODULES
