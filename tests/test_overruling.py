"""Figures that a call gives instead of the recipe's keep the recipe's bounds."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

import mltassist
from mltassist.errors import FigureError
from mltassist.project import Project
from tests.cli.films import short, write


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Project:
    folder: Path = tmp_path_factory.mktemp("film")
    return mltassist.open(write(short(700), folder))


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"separation": 40.5}, "separation_lu: 40.5 should be 0 to 40"),
        ({"depth_limit": -5}, "depth_limit_db: -5 should be 0 to 100"),
        ({"hold": Fraction(3601)}, "bridge_s: 3601 should be 0 to 3600"),
        ({"ramp_in": float("nan")}, "ramp_in_s: nan is not a number"),
    ],
)
def test_figures_of_ducking(film: Project, given: dict[str, Any], told: str) -> None:
    with pytest.raises(FigureError, match=told):
        mltassist.duck(film, **given)


@pytest.mark.parametrize("length", [Fraction(0), Fraction(-1), Fraction(3601)])
def test_the_length_of_a_pause(film: Project, length: Fraction) -> None:
    with pytest.raises(FigureError, match=f"length_s: {length} should be above 0, up to 3600"):
        mltassist.pause(film, at="f10", length=length)
