"""The films written to a folder: media, and three documents of the same edit."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from mltassist.demofilm.documents import write_documents
from mltassist.demofilm.lessons import LESSONS, Lesson
from mltassist.demofilm.media import write_media
from mltassist.demofilm.scenario import film, rushes
from mltassist.errors import MltAssistError, OutputError


class NoSuchLesson(MltAssistError, LookupError):
    """A lesson was asked for by a name that none has."""


def demo(
    folder: str | os.PathLike[str],
    *,
    lesson: str = "",
    force: bool = False,
    on_progress: Callable[[str, float], None] | None = None,
) -> tuple[Path, ...]:
    """Write the demonstration film; gives its documents: plain MLT XML, and one in each host's layout.

    With the name of a `lesson` that is written instead, into a folder of its name inside `folder`: its
    documents, page, recipe and log sheet. Its media come to lie beside that folder, so that lessons share
    them: those that are there already are kept, unless `force`.

    Raises OutputError when the folder cannot be written, or holds something already (unless `force`),
    NoSuchLesson for a name that no lesson has.
    """
    if lesson and lesson not in LESSONS:
        raise NoSuchLesson(f"there is no lesson {lesson!r}; there are {', '.join(LESSONS)}")
    target = Path(folder, lesson)
    try:
        target.mkdir(parents=True, exist_ok=True)
        if any(target.iterdir()) and not force:
            raise OutputError(target, "the folder is not empty", "choose a new one, or use --force")
        if lesson:
            return _lesson(LESSONS[lesson], target, force=force, on_progress=on_progress)
        write_media(target, rushes(), on_progress=on_progress)
        return write_documents(film(), target)
    except OutputError:
        raise
    except OSError as error:
        raise OutputError(target, f"cannot be written ({error.strerror or error})") from error


def _lesson(
    lesson: Lesson, target: Path, *, force: bool, on_progress: Callable[[str, float], None] | None
) -> tuple[Path, ...]:
    films = lesson.films()
    media = {rush.file: rush for film in films.values() for rush in film.rushes}
    write_media(target, tuple(media.values()), keep=not force, on_progress=on_progress)
    for name, text in lesson.papers().items():
        (target / name).write_text(text, encoding="utf-8", newline="\n")
    return tuple(path for name, film in films.items() for path in write_documents(film, target, name))
