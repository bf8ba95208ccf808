"""How often the clean moment of a built place is chosen, on hundreds of places.

Run by name only: pytest tests/bench/test_natural_choice.py -s. The figures in the package were tuned with
other seeds and other things struck. Prints the share of right choices for each kind of trap and bed.
"""

from __future__ import annotations

import sys
from collections import defaultdict

import numpy as np

from mltassist.media.sound.liveness import BLOCKS_PER_S, liveness
from mltassist.media.sound.speech import ModelDetector
from mltassist.pauses.natural import best_window
from tests.pauses.beds import KINDS, WINDOW_S, bed

EACH = 125
FIRST_SEED = 20_000


def test_the_planted_moment_is_chosen():
    detector = ModelDetector()
    right: dict[str, list[bool]] = defaultdict(list)
    for trap in KINDS:
        for seed in range(FIRST_SEED, FIRST_SEED + EACH):
            place = bed(seed, trap)
            heard = liveness(place.sound, detector if trap == "speech" else None)
            chosen = best_window(heard, WINDOW_S * BLOCKS_PER_S)
            found = place.held_by(chosen.start / BLOCKS_PER_S)
            right[trap].append(found)
            right[f"over {place.colour}"].append(found)
    for name, results in right.items():
        sys.stdout.write(f"{name}: {np.mean(results):.3f} of {len(results)}\n")
    assert np.mean([result for trap in KINDS for result in right[trap]]) >= 0.95
