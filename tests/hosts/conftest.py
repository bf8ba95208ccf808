"""The small film in each layout, with and without its media."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from mltassist.frames import Rate
from tests.hosts.films import FILM, LAYOUTS, Case, write_case, write_media


@pytest.fixture(params=LAYOUTS)
def case(request: pytest.FixtureRequest, tmp_path: Path) -> Case:
    """The film at 25 frames per second; its media are not there."""
    return write_case(request.param, FILM, tmp_path)


@pytest.fixture(scope="session")
def media(tmp_path_factory: pytest.TempPathFactory) -> Callable[[Rate], Path]:
    """Gives a folder that holds the film's media at a rate, written once."""
    written: dict[Rate, Path] = {}

    def folder(rate: Rate) -> Path:
        if rate not in written:
            path = tmp_path_factory.mktemp("film")
            write_media(path, rate)
            written[rate] = path
        return written[rate]

    return folder


NTSC = Rate(30000, 1001)


@pytest.fixture(params=[Rate(25), NTSC], ids=["25", "29.97"])
def rate(request: pytest.FixtureRequest) -> Rate:
    """Frame rates of the film."""
    found: Rate = request.param
    return found


# At 25 all generations are played as well (test_generations_edited_played.py).
PLAYED = [(layout, NTSC) for layout in LAYOUTS] + [(next(iter(LAYOUTS)), Rate(25))]


@pytest.fixture(params=PLAYED, ids=lambda one: f"{one[0]}-{float(one[1].fraction):.2f}")
def played(request: pytest.FixtureRequest, media: Callable[[Rate], Path]) -> Case:
    """The film with its media, for the engine to play."""
    layout, rate = request.param
    return write_case(layout, replace(FILM, rate=rate), media(rate))
