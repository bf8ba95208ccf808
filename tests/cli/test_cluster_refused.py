"""A cluster that cannot be used is told in one line."""

from __future__ import annotations

import socket
import sys

import pytest

from mltassist.errors import ClusterError
from mltassist.season import cluster


def test_the_missing_extra_is_named(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(ClusterError, match=r"install mltassist\[cluster\]"), cluster.on_cluster("tcp://x:1"):
        pass


def test_nobody_there_is_one_line(monkeypatch, run, tmp_path):
    pytest.importorskip("distributed")
    monkeypatch.setattr(cluster, "PATIENCE_S", 0.3)
    with socket.socket() as taken:  # bound, and nobody listens
        taken.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{taken.getsockname()[1]}"
        ran = run("batch", tmp_path, "--out", tmp_path / "out", "--cluster", address)
    assert "no scheduler answers there" in ran.refused()
