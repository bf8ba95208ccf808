"""Many projects, each in a worker process; one that fails never stops the others."""

from __future__ import annotations

import multiprocessing
import os
import sys
from collections.abc import Callable, Iterable
from concurrent.futures import Executor, Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from mltassist.errors import MltAssistError, OutputError
from mltassist.recipe.rules import Recipe


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one project.

    output: the document written, None when it failed. problem: why it failed. check: how many notes
    need the editor, notes: what they say. figures: those of its plan.
    """

    project: Path
    output: Path | None = None
    problem: str = ""
    check: int = 0
    notes: tuple[str, ...] = ()
    figures: dict[str, Any] = field(default_factory=dict)

    def as_dict(self) -> dict[str, Any]:
        """The outcome as plain data, in the form of docs/formats.md."""
        return {
            "project": str(self.project),
            "output": None if self.output is None else str(self.output),
            "problem": self.problem,
            "check": self.check,
            "notes": list(self.notes),
            "figures": self.figures,
        }


@dataclass(frozen=True, slots=True)
class Call:
    """One project's work as it is sent to a worker. target: None when nothing is to be written."""

    project: Path
    target: Path | None
    recipe: Recipe
    force: bool


def batch(
    projects: str | os.PathLike[str] | Iterable[str | os.PathLike[str]],
    out: str | os.PathLike[str],
    *,
    recipe: Recipe | None = None,
    jobs: int | None = None,
    dry_run: bool = False,
    force: bool = False,
    executor: Executor | None = None,
    on_done: Callable[[Outcome], None] | None = None,
) -> tuple[Outcome, ...]:
    """Make the rough pass over many projects, each into the folder `out`; outcomes in the order given.

    projects: one, or several. jobs: worker processes, all processors by default. executor: any other to use
    instead.
    dry_run: plan every project and write none.
    Raises OutputError when the folder cannot be made.
    """
    folder = Path(out)
    try:
        if not dry_run:
            folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(folder, f"cannot be made ({error.strerror or error})", "choose another") from error
    paths = [Path(path) for path in ([projects] if isinstance(projects, str | os.PathLike) else projects)]
    rules = recipe or Recipe()
    calls = [
        Call(path, None if dry_run else target, rules, force)
        for path, target in zip(paths, _targets(paths, folder), strict=True)
    ]
    if executor is not None:
        return _run(executor, calls, on_done)
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers(jobs), mp_context=context) as pool:
        return _run(pool, calls, on_done)


def workers(jobs: int | None, platform: str = sys.platform) -> int:
    """How many worker processes there are to be: Windows cannot wait for more than 61."""
    wanted = jobs or os.cpu_count() or 1
    return min(61, wanted) if platform == "win32" else wanted


def _targets(projects: Iterable[Path], folder: Path) -> list[Path]:
    """A name in `folder` for each project; those of the same name are numbered."""
    taken: set[str] = set()
    found = []
    for project in projects:
        stem, number = f"{project.stem}-rough", 1
        name = stem + project.suffix
        while name.lower() in taken:
            number += 1
            name = f"{stem}-{number}{project.suffix}"
        taken.add(name.lower())
        found.append(folder / name)
    return found


def _run(
    executor: Executor, calls: list[Call], on_done: Callable[[Outcome], None] | None
) -> tuple[Outcome, ...]:
    futures: dict[Future[Outcome], int] = {
        executor.submit(one, call): number for number, call in enumerate(calls)
    }
    outcomes: dict[int, Outcome] = {}
    for future in as_completed(futures):
        number = futures[future]
        error = future.exception()  # a fault of ours in one project must not cost the others
        if error is None:
            outcome = future.result()
        else:
            outcome = Outcome(calls[number].project, problem=_unforeseen(error))
        outcomes[number] = outcome
        if on_done is not None:
            on_done(outcome)
    return tuple(outcomes[number] for number in range(len(calls)))


def _unforeseen(error: BaseException) -> str:
    if isinstance(error, BrokenProcessPool):
        return "its worker process died; run it alone to see why"
    what = " ".join(f"unexpected {type(error).__name__}: {error}".split())
    return f"{what}; run it alone with --debug"


def one(call: Call) -> Outcome:
    """The rough pass over one project. Never raises what a person can mend."""
    from mltassist.api import rough
    from mltassist.project import open_project

    try:
        opened = open_project(call.project)
        plan = rough(opened, recipe=call.recipe)
        output = None if call.target is None else plan.apply(opened).save(call.target, force=call.force)
    except MltAssistError as error:
        return Outcome(call.project, problem=str(error))
    notes = tuple(note.told(plan.rate) for note in plan.notes if note.needs_editor)
    return Outcome(call.project, output, "", len(notes), notes, dict(plan.figures))
