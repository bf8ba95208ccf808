"""Damaged documents are read as far as they go or refused in one line; nothing is half written."""

from __future__ import annotations

import hashlib
import random
import time

from lxml import etree

from mltassist.hosts.sources import stream_of
from tests.hosts.damage import damaged, use, whole_documents

COUNT = 250


def test_damage_of_any_kind_ends_in_a_result_or_a_reason(tmp_path):
    dice = random.Random(2)
    documents = whole_documents()
    used = 0
    for number in range(COUNT):
        suffix, data = dice.choice(documents)
        path = tmp_path / f"damaged-{number}{suffix}"
        path.write_bytes(damaged(data, dice))
        before = hashlib.sha256(path.read_bytes()).digest()
        began = time.monotonic()
        used += use(path)
        assert time.monotonic() - began < 20
        assert hashlib.sha256(path.read_bytes()).digest() == before
        path.unlink()
    assert COUNT // 2 < used < COUNT  # most damage is borne, and some must be refused
    assert list(tmp_path.iterdir()) == []


def test_an_absurd_stream_number_costs_nothing():
    part = etree.fromstring(
        '<producer><property name="audio_index">99999999999</property>'
        '<property name="meta.media.0.stream.type">video</property>'
        '<property name="meta.media.1.stream.type">audio</property></producer>'
    )
    began = time.monotonic()
    assert stream_of(part) == 1
    assert time.monotonic() - began < 1
