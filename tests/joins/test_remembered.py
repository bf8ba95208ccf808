"""What was heard at an edit is remembered: nothing is decoded again, and no bit differs."""

from __future__ import annotations

from pathlib import Path

import pytest

import mltassist
from mltassist.joins import sides
from tests.cli.films import write
from tests.joins.test_hear import late, with_interview


def test_a_second_run_listens_to_nothing_and_says_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write(with_interview(late), tmp_path)
    monkeypatch.setenv("MLTASSIST_CACHE", "off")
    without = mltassist.listen(mltassist.open(path), mend=True)
    assert any(join.moves for join in without.joins)
    monkeypatch.setenv("MLTASSIST_CACHE", str(tmp_path / "cache"))
    first = mltassist.listen(mltassist.open(path), mend=True)

    def decoded(*_: object, **__: object) -> None:
        raise AssertionError("something was decoded again")

    monkeypatch.setattr(sides, "read_sound", decoded)
    second = mltassist.listen(mltassist.open(path), mend=True)
    told = [[(join.as_dict(), join.moves) for join in run.joins] for run in (without, first, second)]
    assert told[0] == told[1] == told[2]
    # To the last bit, and what is not known (nan) as well.
    assert len({repr([join.measures for join in run.joins]) for run in (without, first, second)}) == 1
