"""The file of choices beside a project, read: one line for every mistake, with the line it stands on."""

from __future__ import annotations

import os
import re
from pathlib import Path

from mltassist.choices.kinds import Choices
from mltassist.errors import ChoicesError
from mltassist.files import read_text
from mltassist.recipe.reading import structured

ENDING = ".choices.toml"
OF_A_PASS = re.compile(r"-(?:rough|cover|duck|pause|listen|apply|clear|remarks)(?:-\d+)?$")
"""How the names of projects end that our commands have written."""


def choices_path(project: str | os.PathLike[str]) -> Path:
    """The file of choices that belongs to a project; it may not exist.

    FILM.choices.toml beside FILM.kdenlive. Of a project that one of our commands has written, and that has no
    file of its own, that of the film it was made from, where that lies beside it.
    """
    path = Path(project)
    if not path.name:  # a folder, which whoever opens the project refuses
        return path / ENDING
    stem = path.stem
    own = path.with_name(stem + ENDING)
    while not os.path.lexists(path.with_name(stem + ENDING)) and OF_A_PASS.search(stem):
        stem = OF_A_PASS.sub("", stem)
        if os.path.lexists(path.with_name(stem + ENDING)) or os.path.lexists(
            path.with_name(stem + path.suffix)
        ):
            return path.with_name(stem + ENDING)
    return own


def original_of(project: str | os.PathLike[str]) -> Path | None:
    """The project that one of our commands has made another from, where it lies beside that."""
    path = Path(project)
    stem = path.stem
    while OF_A_PASS.search(stem):
        stem = OF_A_PASS.sub("", stem)
        if os.path.lexists(path.with_name(stem + path.suffix)):
            return path.with_name(stem + path.suffix)
    return None


def load_choices(path: str | os.PathLike[str] | None) -> Choices:
    """Read a file of choices; None gives none. Raises ChoicesError naming every mistake with its line."""
    if path is None:
        return Choices()
    try:
        text = read_text(Path(path))
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "not UTF-8 text"
        raise ChoicesError(f"{path}: the choices cannot be read ({reason})") from None
    return parse_choices(text, str(path))


def load_own_choices(project: str | os.PathLike[str]) -> Choices:
    """The choices that lie beside a project; none where there is no such file. Raises ChoicesError."""
    path = choices_path(project)
    return load_choices(path if os.path.lexists(path) else None)


def parse_choices(text: str, name: str = "choices") -> Choices:
    """Read choices from TOML text; `name` stands in the errors."""
    return structured(text, name, Choices, ChoicesError)
