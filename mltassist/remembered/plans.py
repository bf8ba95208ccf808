"""A second run takes the plan of the first, where nothing that it is made of has changed since.

Measuring is remembered file by file (`media.cache`); to plan anew what was planned already would give the
same, and take a third of the time of the first run.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable
from functools import cache
from hashlib import blake2b
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

import numpy as np

from mltassist.choices.kinds import Choices
from mltassist.errors import PlanError
from mltassist.files import maps_in_force
from mltassist.media.cache import Store, default_store
from mltassist.plans import Plan
from mltassist.project import Project
from mltassist.recipe.rules import Recipe
from mltassist.remembered.contents import contents_of

_LARGEST = 64 * 2**20
"""Bytes of the longest plan that is kept: an hour of film takes about four million."""


def planned(
    command: str,
    project: Project,
    *,
    recipe: Recipe,
    choices: Choices,
    on_progress: Callable[[str, float], None] | None = None,
    fresh: bool = False,
    **own: Any,  # noqa: ANN401 - the options of whatever command it is
) -> Plan:
    """The plan of a command of `api`, or that of an earlier run where all that it is made of is the same.

    fresh: it is planned in any case. Raises what the command raises.
    """
    store = default_store()
    key = _key(store, command, project, (own, choices), recipe)
    plan = None if fresh else _kept(store, key, project.path)
    if plan is not None:
        return plan
    from mltassist import api  # noqa: PLC0415 - all that measures and plans: a second run needs none of it

    made: Plan = getattr(api, command)(
        project, recipe=recipe, choices=choices, on_progress=on_progress, **own
    )
    # A recording may still be running, or an export: the plan then belongs to neither state.
    if key and _key(store, command, project, (own, choices), recipe) == key:
        _keep(store, key, made)
    return made


def known_plan(
    command: str,
    project: Project,
    *,
    recipe: Recipe,
    choices: Choices,
    **own: Any,  # noqa: ANN401 - as of `planned`
) -> Plan | None:
    """The plan that an earlier run made of the same; None where there is none."""
    store = default_store()
    return _kept(store, _key(store, command, project, (own, choices), recipe), project.path)


def _key(store: Store, command: str, project: Project, given: object, recipe: Recipe) -> str:
    """One line for all that a plan is made of; "" where nothing is remembered."""
    if store.folder is None:
        return ""
    all_of_it = (command, str(project.path), project.document.sequence, maps_in_force(), given, recipe)
    return f"plan {contents_of(project, all_of_it, recipe.log_sheets)} {project.state} {_code()}"


def _kept(store: Store, key: str, project: Path) -> Plan | None:
    arrays = store.read(key) if key else None
    if arrays is None or "plan" not in arrays:
        return None
    try:
        unpacking = zlib.decompressobj()
        text = unpacking.decompress(arrays["plan"].tobytes(), _LARGEST).decode("utf-8", "surrogatepass")
        return Plan.parse(text, str(project))
    except (zlib.error, UnicodeDecodeError, PlanError):
        return None


def _keep(store: Store, key: str, plan: Plan) -> None:
    """Keep a plan that can be read back as it is."""
    text = plan.to_json()
    try:
        same = Plan.parse(text, str(plan.project)).to_json() == text
    except PlanError:
        return
    packed = text.encode("utf-8", "surrogatepass")
    if same and len(packed) <= _LARGEST:
        store.write(key, {"plan": np.frombuffer(zlib.compress(packed, 1), np.uint8)})


@cache
def _code() -> str:
    """A digest of this package: another version plans otherwise."""
    digest = blake2b(digest_size=10)
    for name, file in sorted(_sources(files("mltassist"), "")):
        digest.update(f"{name}\n".encode() + file.read_bytes())
    return digest.hexdigest()


def _sources(folder: Traversable, above: str) -> list[tuple[str, Traversable]]:
    found = []
    for one in folder.iterdir():
        if one.is_dir():
            found += _sources(one, f"{above}{one.name}/") if one.name != "demofilm" else []
        elif one.name.endswith((".py", ".toml")):
            found.append((above + one.name, one))
    return found
