"""The whole pass rendered in the layouts that the suite leaves out, pictures and sound.

python -m pytest tests/bench/test_every_layout.py
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.cli.films import DOCUMENTS
from tests.passes import Pass
from tests.test_no_black import test_no_frame_is_black_between_the_first_picture_and_the_last as no_black
from tests.test_rough_rendered import (
    Done,
)

__all__ = [name for name in globals() if name.startswith("test_")]

pytestmark = pytest.mark.usefixtures("requires_melt")


@pytest.fixture(scope="module")
def done(passed: Callable[[str], Pass]) -> Done:
    return Done(passed(DOCUMENTS[2]))


@pytest.fixture(scope="module", params=[DOCUMENTS[0], DOCUMENTS[2]])
def sounding(request: pytest.FixtureRequest, passed: Callable[[str], Pass]) -> Done:
    return Done(passed(request.param))


def test_no_frame_is_black(passed: Callable[[str], Pass]) -> None:
    no_black(passed, DOCUMENTS[2])
