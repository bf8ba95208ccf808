"""Python examples on the pages do what they say."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from sybil import Sybil
from sybil.parsers.markdown import PythonCodeBlockParser

from tests import passes
from tests.docs import pages

WITH_EXAMPLES = [page for page in pages.written() if "```python" in page.read_text("utf-8")]


@pytest.mark.parametrize("page", WITH_EXAMPLES, ids=lambda page: page.name)
def test_the_examples_of_a_page_run(page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for folder in (tmp_path, tmp_path / "demo-film"):
        folder.mkdir(exist_ok=True)
        for document in pages.FILM.iterdir():
            if document.is_file():
                shutil.copy(document, folder)
        (folder / "media").symlink_to(pages.FILM / "media")
    monkeypatch.chdir(tmp_path)
    examples = list(Sybil(parsers=[PythonCodeBlockParser()]).parse(page).examples())
    assert examples
    shown = [n for n, one in enumerate(examples) if "mltassist.cover(" in getattr(one.parsed, "source", "")]
    for number, example in enumerate(examples):
        # Of one plan the page shows how it comes out where it is looked for as outside of tests.
        with passes.closely() if number in shown[:1] else passes.soon():
            example.evaluate()  # raises with the page, the line and the difference


def test_the_page_of_python_has_examples() -> None:
    assert pages.ROOT / "docs" / "python.md" in WITH_EXAMPLES
