"""Damaged media are read as far as they go or refused with a reason. Many more: tests/bench."""

from __future__ import annotations

import random

from tests.media.damage import damaged, use, whole_media

COUNT = 60


def test_none_ends_in_a_traceback(tmp_path):
    dice = random.Random(1_000)
    media = whole_media(tmp_path)
    used = 0
    for number in range(COUNT):
        suffix, data = media[number % len(media)]
        path = tmp_path / f"damaged-{number}{suffix}"
        path.write_bytes(damaged(data, dice))
        used += use(path)
    assert 0 < used <= COUNT


def test_whole_media_are_used(tmp_path):
    for suffix, data in whole_media(tmp_path):
        path = tmp_path / f"whole{suffix}"
        path.write_bytes(data)
        assert use(path)
