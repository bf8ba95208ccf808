"""How well edits with a known answer are told apart, with thousands of them.

Run by name only: pytest tests/bench/test_join_audit.py -s. Prints, for the half of the recordings that set
the limits and for the half that did not, the area under the curve, false alarms, the share of each fault
that is found and by which reasons, and the share of level steps found by their size.
"""

from __future__ import annotations

import sys
from collections import Counter

import numpy as np
import pytest

from tests.joins.test_measures import area_under_curve, judged, scores
from tests.joins.truth import KINDS, STEPS_DB, edits, recordings

EACH = 100


@pytest.mark.parametrize("half", ["tuning", "held out"])
def test_faults_are_found(half):
    rng = np.random.default_rng(11)
    by_recording = {r.name: [(e, judged(r, e)) for e in edits(r, rng, EACH)] for r in recordings(half, 11)}
    found = [pair for pairs in by_recording.values() for pair in pairs]
    clean, faulty = scores(found, "clean"), scores(found, *KINDS[1:])
    area = area_under_curve(clean, faulty)
    say = sys.stdout.write
    say(f"\n{half}: {len(found)} edits, area under the curve {area:.3f}\n")
    for name, pairs in by_recording.items():
        say(f"  false alarms in {name}: {np.mean(scores(pairs, 'clean') >= 1):.3f}\n")
    for kind in KINDS[1:]:
        of_kind = scores(found, kind)
        reasons = Counter(r.kind for e, j in found if e.kind == kind for r in j.reasons[:1])
        told = ", ".join(f"{name} {count}" for name, count in reasons.most_common(4))
        share, own_area = np.mean(of_kind >= 1), area_under_curve(clean, of_kind)
        say(f"  {kind}: found {share:.3f}, area {own_area:.3f} ({told})\n")
    for step in STEPS_DB:
        of_step = [j.score >= 1 for e, j in found if e.kind == "level" and abs(e.amount) == step]
        say(f"  level step of {step} dB: found {np.mean(of_step):.2f} of {len(of_step)}\n")
    assert area >= 0.95
