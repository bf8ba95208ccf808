"""What a test needs and this machine may not have: told by a skip, and under CI by a failure."""

from __future__ import annotations

import os
from importlib.util import find_spec
from typing import NoReturn

import pytest


def under_ci() -> bool:
    """True where everything must be tested, with nothing left out."""
    return os.environ.get("CI", "").lower() == "true"


def missing(reason: str) -> NoReturn:
    """End a test that cannot be made here."""
    if under_ci():
        pytest.fail(reason)
    pytest.skip(reason)


def recogniser() -> None:
    """Leave a test aside where nobody can hear words; under CI it fails."""
    for package in ("moonshine_voice", "pocketsphinx"):
        if find_spec(package) is None:
            missing(f"{package} is not installed, so no words can be heard: pip install '.[words]'")
