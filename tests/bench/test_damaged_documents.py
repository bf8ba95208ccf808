"""Ten thousand damaged documents. Run by name only: pytest tests/bench/test_damaged_documents.py."""

from __future__ import annotations

import random
import sys

import pytest

from tests.hosts.damage import damaged, use, whole_documents

COUNT, PARTS = 10_000, 20


@pytest.mark.parametrize("part", range(PARTS))
def test_none_ends_in_a_traceback(tmp_path, part):
    dice = random.Random(20_000 + part)
    documents = whole_documents()
    used = 0
    for number in range(COUNT // PARTS):
        suffix, data = dice.choice(documents)
        path = tmp_path / f"damaged-{number}{suffix}"
        path.write_bytes(damaged(data, dice))
        used += use(path)
        path.unlink()
    sys.stdout.write(f"{used} of {COUNT // PARTS} used, the others refused\n")
    assert 0 < used < COUNT // PARTS
