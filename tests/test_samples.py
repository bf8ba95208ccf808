"""Recordings that cannot be fetched: a skip, and under CI a failure."""

from __future__ import annotations

import subprocess

import platformdirs
import pytest

from tests.samples import Package, debian_folder, sample

GONE = Package("no-such-package", "1.0", "no-such-package-1.0.tar.gz", "0" * 64)


@pytest.mark.parametrize(
    ("setting", "ending"), [("true", pytest.fail.Exception), ("", pytest.skip.Exception)], ids=["ci", "else"]
)
def test_a_recording_out_of_reach_is_a_skip_but_under_ci_a_failure(tmp_path, monkeypatch, setting, ending):
    def refused(*_, **__):
        raise OSError("no network")

    monkeypatch.setenv("CI", setting)
    monkeypatch.setattr(platformdirs, "user_cache_path", lambda _: tmp_path)
    monkeypatch.setattr(subprocess, "run", refused)
    with pytest.raises(ending, match="no network"):
        sample(GONE, "inside.wav")
    with pytest.raises(ending, match="no network"):
        debian_folder(GONE)
