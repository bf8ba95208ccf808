"""A season worked on by the machines of a cluster (dask.distributed, the extra `cluster`)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager
from importlib import import_module
from typing import Any

from mltassist.errors import ClusterError
from mltassist.season.elsewhere import Elsewhere

PATIENCE_S = 10
"""A scheduler on the same network answers in milliseconds."""
_AGAIN = 2
"""A film whose worker was lost is given to another so often."""


@contextmanager
def on_cluster(address: str, maps: Sequence[tuple[str, str]] = ()) -> Iterator[Executor]:
    """An executor that does its work on a cluster whose scheduler has this address, as in tcp://10.0.0.5:8786.

    Every machine has to see all files, and to have the same version of this package. maps: under which other
    folders they lie there, as for `Elsewhere`.
    Work goes there and back as pickles: only a cluster of one's own is to be used. Raises ClusterError.
    """
    try:
        distributed: Any = import_module("distributed")
    except ImportError:
        raise ClusterError(
            address, "the package distributed is missing: install mltassist[cluster]"
        ) from None
    try:
        client = distributed.Client(address, timeout=PATIENCE_S, set_as_default=False)
    except (OSError, ValueError) as error:
        what = " ".join(str(error).split()) or type(error).__name__
        raise ClusterError(address, f"no scheduler answers there ({what})") from None
    try:
        executor: Executor = client.get_executor(pure=False, retries=_AGAIN)
        yield Elsewhere(executor, maps) if maps else executor
    finally:
        client.close()
