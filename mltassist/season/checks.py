"""Many films judged side by side: each by every rule of the recipe, nothing written."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from pathlib import Path

from mltassist.conforming.judge import conform
from mltassist.conforming.junit import Judged, permit_junit, save_junit
from mltassist.errors import MltAssistError
from mltassist.project import open_project
from mltassist.recipe.rules import Recipe
from mltassist.season.crew import Lost
from mltassist.season.projects import called, find_projects
from mltassist.season.running import each_of


@dataclass(frozen=True, slots=True)
class _Call:
    """One film as it is sent to a worker."""

    project: Path
    recipe: Recipe
    no_look: bool


def check_all(
    projects: str | os.PathLike[str] | Iterable[str | os.PathLike[str]],
    *,
    recipe: Recipe | None = None,
    no_look: bool = False,
    jobs: int | None = None,
    limit: float | None = None,
    memory: int | None = None,
    junit: str | os.PathLike[str] | None = None,
    force: bool = False,
    executor: Executor | None = None,
    on_done: Callable[[Judged], None] | None = None,
    on_found: Callable[[int], None] | None = None,
) -> tuple[Judged, ...]:
    """Judge many films, given as for `batch`, by every rule of a recipe; in the order given.

    junit: a file that gets the answers as JUnit XML; force: it may take the place of another. on_found: told
    how many films there are; on_done: told of each as it ends. The others as for `batch`. Raises OutputError.
    """
    named = [projects] if isinstance(projects, str | os.PathLike) else projects
    found = find_projects(map(Path, named))
    calls = [_Call(one.project, recipe or Recipe(), no_look) for one in found]
    if junit is not None:
        permit_junit((call.project for call in calls), Path(junit), force=force)  # before the work
    if on_found is not None:
        on_found(len(calls))
    judged: dict[int, Judged] = {}
    for number, result in each_of(
        judge_film, calls, jobs=jobs, limit_minutes=limit, most_mib=memory, executor=executor
    ):
        lost = isinstance(result, Lost)
        judged[number] = Judged(calls[number].project, problem=result.why) if lost else result
        if on_done is not None:
            on_done(judged[number])
    names = enumerate(called(found))
    in_order = tuple(replace(judged[number], name=name) for number, name in names)
    if junit is not None:
        save_junit(in_order, Path(junit), force=force)
    return in_order


def judge_film(call: _Call) -> Judged:
    """One film judged. Never raises what a person can mend."""
    began = time.monotonic()
    try:
        found = conform(open_project(call.project), recipe=call.recipe, no_look=call.no_look)
    except MltAssistError as error:
        return Judged(call.project, problem=str(error), seconds=time.monotonic() - began)
    return Judged(call.project, found, seconds=time.monotonic() - began)
