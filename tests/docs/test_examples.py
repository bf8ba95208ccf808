"""Python examples on the pages do what they say."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from sybil import Sybil
from sybil.parsers.markdown import PythonCodeBlockParser

from tests.docs import pages

pytestmark = pytest.mark.usefixtures("closely")
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
    for example in examples:
        example.evaluate()  # raises with the page, the line and the difference


def test_the_page_of_python_has_examples() -> None:
    assert pages.ROOT / "docs" / "python.md" in WITH_EXAMPLES
