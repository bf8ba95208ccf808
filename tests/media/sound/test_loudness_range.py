"""The loudness range of levels that are known."""

from __future__ import annotations

import numpy as np
import pytest

from mltassist.media.sound.loudness import range_lu


def test_the_loudness_range_lies_between_the_10th_and_the_95th_percentile() -> None:
    """The figures of EBU Tech 3342: of levels spread evenly over 10 LU these leave 8.5 LU."""
    levels_lufs = np.linspace(-30, -20, 1001)
    assert range_lu(10 ** ((levels_lufs + 0.691) / 10)) == pytest.approx(8.5, abs=0.001)
