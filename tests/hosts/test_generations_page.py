"""The page of generations says what the tests do."""

from __future__ import annotations

from importlib import import_module

import pytest

from tests.hosts import generations_page
from tests.hosts.generations import FEATURES


def test_the_page_is_the_one_the_fixtures_make():
    assert generations_page.PAGE.read_text(encoding="utf-8") == generations_page.page()


@pytest.mark.parametrize(("module", "name"), generations_page.tests())
def test_every_test_on_the_page_is_there(module: str, name: str):
    assert callable(getattr(import_module(f"tests.hosts.{module}"), name))


def test_every_topic_of_a_fixture_is_on_the_page():
    # Said by the same fixtures under another topic, or by every fixture.
    beside = {"clips", "hidden", "locked", "side", "length"}
    said = {topic for feature in FEATURES.values() for topic in feature.says}
    assert said - beside == set(generations_page.TOPICS) == set(generations_page.CALLED)
