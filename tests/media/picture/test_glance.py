"""Long rushes are glanced at by their key pictures, and looked at only where these are good."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from mltassist.cutaways import looks as looking
from mltassist.cutaways.looks import worth_of_each
from mltassist.frames import Rate, Span
from mltassist.media.picture import glance
from mltassist.media.picture.glance import worth_a_look
from mltassist.media.picture.thumbnails import each_picture
from mltassist.media.picture.usable import still_worth
from tests.media.films import written

PAL = Rate(25)
GOOD = (Span(300, 700), Span(1800, 2300))


@pytest.fixture(scope="module")
def rushes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A hundred seconds, all but dark, with two stretches in which something is to be seen."""
    blocks = np.random.default_rng(5).uniform(0.25, 0.75, (12, 20))
    scene = np.kron(blocks, np.ones((6, 6))).astype(np.float32)
    film = np.full((2500, *scene.shape), 0.03, np.float32)
    for span in GOOD:
        film[span.start : span.end] = scene
    return written(tmp_path_factory.mktemp("rushes") / "long.mkv", film)


def test_of_each_minute_the_best_part_is_looked_at(rushes: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    decoded: list[int] = []

    def counting(*args: Any, **options: Any) -> Iterator[Any]:
        for shown in each_picture(*args, **options):
            decoded.append(shown.frames.start)
            yield shown

    monkeypatch.setattr(glance, "each_picture", counting)
    parts = worth_a_look(rushes, Span(13, 2487), PAL)
    assert [part.length for part in parts] == [300, 300]
    assert all(good.covers(part) for good, part in zip(GOOD, parts, strict=True))
    assert 100 <= len(decoded) <= 200  # two a second, though every picture of this file is a key picture
    decoded.clear()
    assert worth_a_look(rushes, Span(13, 2487), PAL) == parts
    assert decoded == []


def test_only_these_parts_are_looked_at_picture_by_picture(
    rushes: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked: list[Span] = []
    real = looking.look

    def counting(path: Path, span: Span, *args: Any, **options: Any) -> Any:
        looked.append(span)
        return real(path, span, *args, **options)

    monkeypatch.setattr(looking, "look", counting)
    span = Span(13, 2487)
    found = worth_of_each(rushes, [span], PAL, 50)[span]
    assert sum(span.length for span in looked) == 600
    assert len(found) == 2
    assert all(good.covers(span) and value > 0.5 for good, (span, value) in zip(GOOD, found, strict=True))


def test_short_stretches_and_dark_minutes(rushes: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert worth_a_look(rushes, Span(0, 90 * 25), PAL) == (Span(0, 90 * 25),)
    monkeypatch.setattr(glance, "LONG_S", 30)
    (part,) = worth_a_look(rushes, Span(720, 720 + 1501), PAL)
    assert GOOD[1].covers(part)
    assert worth_a_look(rushes, Span(720, 720 + 800), PAL) == ()


def test_a_still_is_worth_nothing_where_a_film_would_be_spoiled() -> None:
    assert still_worth(0.45, 0.5, 0.0, black=False) == 1.0
    assert still_worth(0.2, 0.5, 0.0, black=False) < still_worth(0.3, 0.5, 0.0, black=False) < 1
    for spoiled in (
        (0.1, 0.5, 0.0, False),
        (0.4, 0.05, 0.0, False),
        (0.4, 0.5, 0.6, False),
        (0.4, 0.5, 0.0, True),
    ):
        assert still_worth(*spoiled) == 0
