"""Work done by machines that see the files under other folders than this one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

from mltassist.files import lying_elsewhere, named


class Elsewhere(Executor):
    """Another executor, whose workers find a folder of this machine under another name.

    maps: pairs of absolute paths, ours first: ("/mnt/a", "/media/a"); the longest that fits counts.
    Documents, plans and all that comes back name every file as this machine does.
    """

    def __init__(self, executor: Executor, maps: Sequence[tuple[str, str]]) -> None:
        self._executor, self._maps = executor, tuple(maps)

    def submit(self, work: Callable[..., Any], /, *given: object, **options: object) -> Future[Any]:
        """As of any executor."""
        return self._executor.submit(_done_there, self._maps, work, *given, **options)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """As of any executor."""
        self._executor.shutdown(wait, cancel_futures=cancel_futures)


def _done_there(
    maps: Sequence[tuple[str, str]], work: Callable[..., Any], *given: object, **options: object
) -> object:
    with lying_elsewhere(maps):
        return _as_named(work(*given, **options))


def _as_named(value: Any) -> Any:  # noqa: ANN401 - plain data, and dataclasses of it
    """A result in which every file is named as on the machine that asked for it."""
    if isinstance(value, str):
        return named(value)
    if isinstance(value, Path):
        return Path(named(str(value)))
    if isinstance(value, dict):
        return {_as_named(key): _as_named(one) for key, one in value.items()}
    if isinstance(value, list | tuple) and not hasattr(value, "_fields"):
        return type(value)(_as_named(one) for one in value)
    if is_dataclass(value) and not isinstance(value, type):
        return replace(
            value, **{one.name: _as_named(getattr(value, one.name)) for one in fields(value) if one.init}
        )
    return value
