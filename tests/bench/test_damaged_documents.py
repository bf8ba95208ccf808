"""Ten thousand damaged documents. Run by name only: pytest tests/bench/test_damaged_documents.py.

BENCH_SEED=7 before it damages them in other ways.

What is used has to pass `check` as far as the damaged document itself does, and one in fifty is played by the
engine: where it plays the damaged one it has to play ours.
"""

from __future__ import annotations

import random
import resource
import sys
import tempfile
import time
from pathlib import Path

import pytest

import mltassist
from mltassist.checking import check
from mltassist.project import Project
from tests import referee
from tests.bench.figures import SEED, noted
from tests.hosts.damage import damaged, use, whole_documents

COUNT, PARTS = 10_000, 20
PLAYED = 50
LONGEST_S = 10
MOST_MIB = 1_000


def plays(document: Path) -> bool:
    """Whether the engine loads a document and plays its first frames; one that hangs is asked again."""
    with tempfile.TemporaryDirectory() as folder:
        command = ["melt", "-silent", str(document), "in=0", "out=5", "-consumer", "null:", "real_time=-1"]
        for _ in range(3):
            status, _ = referee._run([*command, "terminate_on_pause=1"], Path(folder, "melt.log"))
            if status is not None:
                return status == 0
    return False


@pytest.mark.parametrize("part", range(PARTS))
def test_none_ends_in_a_traceback(tmp_path, part, requires_melt):
    dice = random.Random(20_000 + part + 1000 * SEED)
    documents = whole_documents()
    used, played, longest_s = 0, 0, 0.0
    worse: list[str] = []

    def look(project: Project, out: Path) -> None:
        nonlocal played
        # Faults of the damage move with the film, and there are two where a clip that has one is parted.
        had = {fault.kind for fault in check(project)}
        new = [fault for fault in check(mltassist.open(out)) if fault.kind not in had]
        worse.extend(f"{out.name}: {fault}" for fault in new)
        if number % PLAYED == 0 and plays(project.path):
            played += 1
            worse.extend([] if plays(out) else [f"{out.name}: the engine does not play it"])

    for number in range(COUNT // PARTS):
        suffix, data = dice.choice(documents)
        path = tmp_path / f"damaged-{number}{suffix}"
        path.write_bytes(damaged(data, dice))
        began = time.monotonic()
        used += use(path, look)
        longest_s = max(longest_s, time.monotonic() - began) if number % PLAYED else longest_s
        path.unlink()
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    sys.stdout.write(
        f"{used} of {COUNT // PARTS} used, the others refused; {played} played; the longest took"
        f" {longest_s:.2f} s; {most} MiB at the most\n"
    )
    of = f"of {COUNT // PARTS} damaged documents, part {part + 1}"
    noted(f"not as they have to be {of}", [len(worse)], "documents", "0", not worse)
    noted(f"the longest {of}", [longest_s], "s", f"< {LONGEST_S}", longest_s < LONGEST_S)
    noted(f"memory {of}", [most], "MiB", f"< {MOST_MIB}", most < MOST_MIB)
    assert worse == []
    assert 0 < used < COUNT // PARTS
    assert played > 0
    assert longest_s < LONGEST_S
    assert most < MOST_MIB
