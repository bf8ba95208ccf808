"""For which machines there are wheels of the recogniser, and what to tell those for which there are none."""

from __future__ import annotations

import platform
import re

WHAT_TO_INSTALL = 'pip install "moonshine-voice>=0.0.44,<0.1" pocketsphinx'
"""The extra `words` by its packages: so it can be had beside an installation of any kind."""
NO_WHEEL = (
    "the recogniser has no wheel for this machine, only for Linux with glibc 2.34 on x86-64 and ARM64, "
    "macOS 15 and Windows on x86-64"
)
"""As the package index has them in 2026, of moonshine-voice 0.0.44 to 0.0.73."""
_GLIBC, _MACOS = (2, 34), (15, 0)


def has_wheel(system: str, machine: str, version: str) -> bool:
    """Whether a machine can have the recogniser.

    system, machine: as `platform` tells them. version: of glibc ("" with another C library), or of macOS.
    """
    numbers = [int(part) for part in re.findall(r"\d+", version)[:2]]
    known = tuple((*numbers, 0, 0)[:2])
    match system:
        case "Linux":
            return machine in ("x86_64", "aarch64") and known >= _GLIBC
        case "Darwin":
            return known >= _MACOS
        case "Windows":
            return machine == "AMD64"
    return False


def advice() -> str:
    """What to do here so that words are heard, as the end of a sentence about transcripts."""
    system = platform.system()
    library, number = platform.libc_ver() if system == "Linux" else ("", platform.mac_ver()[0])
    version = number if library in ("", "glibc") else ""
    if has_wheel(system, platform.machine(), version):
        return f", or after: {WHAT_TO_INSTALL}"
    return f" ({NO_WHEEL})"
