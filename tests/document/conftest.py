from collections.abc import Callable
from pathlib import Path

import pytest

from mltassist.document.load import Document, load

PROFILE = (
    '<profile description="HD" width="1280" height="720" progressive="1" '
    'frame_rate_num="25" frame_rate_den="1"/>'
)


@pytest.fixture
def project(tmp_path: Path) -> Callable[..., Document]:
    """A maker of projects: writes one with the given body and root attributes, and reads it."""

    def make(body: str = "", name: str = "proj/film.mlt", **attributes: str) -> Document:
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        given = "".join(f' {key}="{value}"' for key, value in attributes.items())
        text = f'<?xml version="1.0" encoding="utf-8"?>\n<mlt{given}>\n {PROFILE}\n {body}\n</mlt>\n'
        path.write_text(text, encoding="utf-8")
        return load(path)

    return make
