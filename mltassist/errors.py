"""Every failure a person can meet, named by the situation.

One root (`MltAssistError`); each error also inherits the builtin it resembles, so a script may
catch either. `str(error)` is one line: what, where, what to do. Errors carry their facts as
attributes.
"""

from __future__ import annotations

import os
from collections.abc import Sequence


class MltAssistError(Exception):
    """Root of all errors raised on purpose by this package."""

    def __init__(self, message: str) -> None:
        super().__init__(" ".join(message.split()))


class ProjectError(MltAssistError, ValueError):
    """The project document cannot be used. `path` is the document."""

    def __init__(self, path: str | os.PathLike[str], what: str, advice: str = "") -> None:
        self.path = os.fspath(path)
        super().__init__(f"{self.path}: {what}{'; ' + advice if advice else ''}")


class NotAProject(ProjectError):
    """The file is not an MLT XML project, or not XML at all."""


class HostileDocument(ProjectError):
    """The file declares a DTD or entities, or is deeper or larger than any real project."""


class PlanError(ProjectError):
    """A saved plan, or a list of remarks, cannot be used. `mistakes`: all that is wrong, a line each."""

    def __init__(
        self,
        path: str | os.PathLike[str],
        mistakes: Sequence[str],
        advice: str = "mend it, or make it again with --plan",
    ) -> None:
        self.mistakes = tuple(mistakes)
        super().__init__(path, "; ".join(mistakes), advice)


class TrackLocked(ProjectError):
    """An edit would have to move or change something on a locked track."""


class NoSuchPlace(ProjectError):
    """A place was asked for that the project does not have (timecode, marker text, track)."""


class NothingToDo(ProjectError):
    """The material that a command needs is not in the project (no speech, no cutaways)."""


class OutputError(MltAssistError, OSError):
    """The result cannot be written where it was asked for. `path` is that place."""

    def __init__(self, path: str | os.PathLike[str], what: str, advice: str = "") -> None:
        self.path = os.fspath(path)
        super().__init__(f"{self.path}: {what}{'; ' + advice if advice else ''}")


class MediaError(MltAssistError, OSError):
    """A media file cannot be read. `path` is the file."""

    def __init__(self, path: str | os.PathLike[str], what: str) -> None:
        self.path = os.fspath(path)
        super().__init__(f"{self.path}: {what}")


class SourceMissing(MediaError):
    """A media file that a clip plays is not where the project says."""


class TimeError(MltAssistError, ValueError):
    """A time, timecode or frame rate cannot be read."""


class RecipeError(MltAssistError, ValueError):
    """The recipe has mistakes; all of them are named, each with its file and key."""


class ChoicesError(MltAssistError, ValueError):
    """The file of choices has mistakes; all of them are named, each with its line."""


class FigureError(MltAssistError, ValueError):
    """Figures of a rule or an edit are beyond their bounds, or do not go together.

    `flaws` are the names of the fields with what is wrong.
    """

    def __init__(self, owner: str, flaws: Sequence[tuple[tuple[str, ...], str]]) -> None:
        self.flaws = tuple(flaws)
        told = (f"{names[0]}: {what}" if len(names) == 1 else what for names, what in flaws)
        super().__init__(f"{owner}: {'; '.join(told)}")


class ClusterError(MltAssistError, OSError):
    """A cluster of machines cannot be used. `address` is that of its scheduler."""

    def __init__(self, address: str, what: str) -> None:
        self.address = address
        super().__init__(f"{address}: {what}")
