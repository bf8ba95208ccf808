"""Links between pages lead somewhere."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.docs import pages


def anchors(page: Path) -> set[str]:
    """Names under which the headings of a page are reached, as code hosts make them."""
    headings = re.findall(r"^#+ (.+)$", page.read_text("utf-8"), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).strip().replace(" ", "-") for heading in headings}


def links(page: Path) -> list[str]:
    text = re.sub(r"^```.*?^```$", "", page.read_text("utf-8"), flags=re.DOTALL | re.MULTILINE)
    return [link for link in re.findall(r"\]\(([^)\s]+)\)", text) if "://" not in link]


@pytest.mark.parametrize("page", pages.written(), ids=lambda page: str(page.relative_to(pages.ROOT)))
def test_every_link_of_a_page_exists(page: Path) -> None:
    for link in links(page):
        name, _, anchor = link.partition("#")
        target = page.parent / name if name else page
        assert target.exists(), f"{link} leads nowhere"
        assert not anchor or anchor in anchors(target), f"{link}: no such heading"


def test_the_index_leads_to_every_page_of_docs() -> None:
    index = pages.ROOT / "docs" / "index.md"
    led_to = {(index.parent / link.partition("#")[0]).resolve() for link in links(index)}
    assert {page for page in pages.written() if page.is_relative_to(index.parent)} - led_to == {index}
