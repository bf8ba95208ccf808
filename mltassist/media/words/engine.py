"""What all engines share: a model is loaded when it is first asked, once for each thread."""

from __future__ import annotations

import os
from collections.abc import Callable
from threading import local
from typing import Generic, TypeVar

from mltassist.errors import MltAssistError

_Model = TypeVar("_Model")


class NoEngine(MltAssistError, OSError):
    """An engine for words is not there, or its model cannot be loaded."""


class PerThread(Generic[_Model]):
    """A model that each thread loads for itself when it first needs it.

    load: makes it; ImportError, OSError, RuntimeError and ValueError of it become NoEngine. Models are not
    made for several callers at a time, nor do they live on in a process that was forked.
    """

    def __init__(self, load: Callable[[], _Model]) -> None:
        self._load = load
        self._own = local()

    def __call__(self) -> _Model:
        """This thread's model."""
        if getattr(self._own, "process", None) != os.getpid():
            try:
                self._own.model = self._load()
            except NoEngine:
                raise
            except (ImportError, OSError, RuntimeError, ValueError) as problem:
                raise NoEngine(f"words cannot be recognised: {problem}") from problem
            self._own.process = os.getpid()
        model: _Model = self._own.model
        return model


def primary(language: str) -> str:
    """The language of a tag without its region, in lower case: "en" of "en-GB"; "" for unknown ones.

    "und", "mul", "mis" and "zxx" of ISO 639 name no language.
    """
    code = language.strip().lower().replace("_", "-").split("-")[0]
    return "" if code in ("und", "mul", "mis", "zxx") else code


def is_english(language: str) -> bool:
    """English of any region, or a language that is not known: what the English models may be asked about."""
    return primary(language) in ("", "en", "eng")
