"""Benchmarks that are files of tests, by name: they hold figures to what is asked, and tell some as data."""

from __future__ import annotations

from tests.bench.measures import BY_LENGTH, ONCE

TESTS = {
    "analysis": ("tests/bench/test_analysis_speed.py",),
    "mix-speed": ("tests/bench/test_mix_speed.py",),
    "clips": ("tests/bench/test_long_film_speed.py",),
    "cache": ("tests/bench/test_cache_speed.py",),
    "plans": ("tests/bench/test_cover_plans.py", "tests/bench/test_plan_exact_many.py"),
    "again": ("tests/bench/test_second_runs.py",),
    "rendered": (
        "tests/test_rough_rendered.py",
        "tests/rushes/test_nameless_rendered.py",
        "tests/hosts/test_host_played.py",
        "tests/pauses/test_opening.py",
    ),
    "joins": ("tests/bench/test_join_audit.py",),
    "mending": ("tests/bench/test_join_mending.py",),
    "elements": ("tests/bench/test_evidence.py",),
    "words": ("tests/bench/test_words.py",),
    "documents": ("tests/bench/test_damaged_documents.py",),
    "media": ("tests/bench/test_damaged_media.py",),
    "kills": ("tests/bench/test_kills.py",),
    "attacks": ("tests/bench/test_attacks.py",),
    "trust": ("tests/bench/test_trust_of_all.py",),
    "twelve": ("tests/bench/test_season_of_twelve.py",),
    "scale": ("tests/bench/test_season_scale.py",),
    "cluster": ("tests/bench/test_cluster.py",),
}
ALL = (*ONCE, *BY_LENGTH, *TESTS)
