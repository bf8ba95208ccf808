"""Where the parts of a recipe come from, files or names of ours, and all of it as plain data."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from mltassist.errors import RecipeError
from mltassist.files import read_text
from mltassist.recipe.reading import RecipeLayer, layer_of
from mltassist.recipe.shipped.listing import is_shipped, recipes

Named = str | os.PathLike[str]
"""A recipe by its file, or one that comes with this package by its name."""


def layer_named(named: Named) -> RecipeLayer:
    """One recipe as a table, in which paths are those from its own folder. Raises RecipeError."""
    path = Path(named)
    if not os.path.lexists(path) and is_shipped(os.fspath(named)):
        (ours,) = recipes(os.fspath(named))
        return layer_of(ours.text, ours.name)
    try:
        text = read_text(path)
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "not UTF-8 text"
        what = f"{path}: the recipe cannot be read ({reason})"
        raise RecipeError(f"{what}; give a file, or a name that `mltassist recipe` lists") from None
    layer, beside = layer_of(text, str(path)), path.absolute().parent
    sheets, speech = layer.table.get("log_sheets"), layer.table.get("speech")
    if isinstance(sheets, list):
        layer.table["log_sheets"] = [str(beside / one) if isinstance(one, str) else one for one in sheets]
    if isinstance(speech, dict) and isinstance(model := speech.get("model"), str) and model:
        speech["model"] = str(beside / model)
    return layer


def plain_rules(value: Any) -> Any:  # noqa: ANN401 - whatever a rule may be
    """A rule, or all of them, as plain data, as in TOML: seconds are numbers, elements are words."""
    if is_dataclass(value):
        return {item.name: plain_rules(getattr(value, item.name)) for item in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain_rules(one) for key, one in value.items()}
    if isinstance(value, tuple):
        return [plain_rules(one) for one in value]
    if isinstance(value, Fraction):
        return int(value) if value.denominator == 1 else float(value)
    return value
