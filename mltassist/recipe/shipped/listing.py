"""The recipes that come with this package: by name, with what they are for."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from importlib.resources import files
from typing import Any

from mltassist.errors import RecipeError

_ENDING = ".toml"


@dataclass(frozen=True, slots=True)
class Shipped:
    """A recipe that comes with this package. title: its first line; text: TOML with its comments."""

    name: str
    title: str
    text: str

    def as_dict(self) -> dict[str, Any]:
        """Plain data, in the form of docs/formats.md."""
        return asdict(self)


def recipes(name: str = "") -> tuple[Shipped, ...]:
    """The recipes that come with this package, or the one of this name. Raises RecipeError for another."""
    folder = files("mltassist.recipe.shipped")
    found = sorted(file.name for file in folder.iterdir() if file.name.endswith(_ENDING))
    known = tuple(_read(file, (folder / file).read_text(encoding="utf-8")) for file in found)
    wanted = tuple(one for one in known if not name or one.name == name.lower())
    if not wanted:
        raise RecipeError(f"there is no recipe {name!r} here, only {', '.join(one.name for one in known)}")
    return wanted


def is_shipped(name: str) -> bool:
    """True for the name of one of them, whatever its letter case."""
    return any(one.name == name.lower() for one in recipes())


def _read(file: str, text: str) -> Shipped:
    return Shipped(file.removesuffix(_ENDING), text.partition("\n")[0].lstrip("# "), text)
