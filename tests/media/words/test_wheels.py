"""Machines that can have the recogniser, and what those are told that cannot."""

from __future__ import annotations

import platform

import pytest

from mltassist.media.words.wheels import NO_WHEEL, WHAT_TO_INSTALL, advice, has_wheel


# The tags of the wheels on the package index: manylinux_2_34, macosx_15_0, win_amd64.
@pytest.mark.parametrize(
    ("system", "machine", "version", "there"),
    [
        ("Linux", "x86_64", "2.34", True),
        ("Linux", "aarch64", "2.41", True),
        ("Linux", "x86_64", "2.31", False),
        ("Linux", "x86_64", "", False),
        ("Linux", "riscv64", "2.41", False),
        ("Darwin", "arm64", "15.5", True),
        ("Darwin", "arm64", "14.7.1", False),
        ("Windows", "AMD64", "", True),
        ("Windows", "ARM64", "", False),
        ("FreeBSD", "amd64", "", False),
    ],
)
def test_a_machine_has_a_wheel_or_not(system: str, machine: str, version: str, *, there: bool) -> None:
    assert has_wheel(system, machine, version) is there


def test_a_machine_without_a_wheel_is_not_told_to_install_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(platform, "system", lambda: "Linux")
    monkeypatch.setattr(platform, "machine", lambda: "x86_64")
    monkeypatch.setattr(platform, "libc_ver", lambda: ("glibc", "2.36"))
    assert WHAT_TO_INSTALL in advice()
    monkeypatch.setattr(platform, "libc_ver", lambda: ("musl", "2.36"))
    assert advice() == f" ({NO_WHEEL})"
