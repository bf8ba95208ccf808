"""Threads of the library that multiplies matrices."""

from __future__ import annotations

ONE_THREAD = ("OPENBLAS_NUM_THREADS", "1")
"""What tells it, in the environment, to begin none of its own.

Those that multiply small matrices wait for each other at full speed: a tenth of all work, for nothing. It is
read when numpy is loaded, in a process and in those that it begins.
"""
