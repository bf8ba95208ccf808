"""Many projects, each in a worker process; one that fails, dies or hangs never stops the others."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import cattrs

from mltassist.document.leftovers import clear_after
from mltassist.errors import MltAssistError
from mltassist.frames import Rate
from mltassist.plans import Note
from mltassist.recipe.rules import Recipe
from mltassist.season.crew import Lost
from mltassist.season.film import Asked, Call, Outcome, make_folder, one
from mltassist.season.overview import Line, permit_page, save_page
from mltassist.season.pause_places import refuse_unknown
from mltassist.season.projects import Found, called, find_projects, targets
from mltassist.season.record import NAME, Finished, append_line, read_finished
from mltassist.season.running import each_of
from mltassist.season.sums import Episode
from mltassist.timeline.structured import converter


def batch(
    projects: str | os.PathLike[str] | Iterable[str | os.PathLike[str]],
    out: str | os.PathLike[str],
    *,
    recipe: Recipe | None = None,
    pauses: Iterable[tuple[str, Fraction]] = (),
    separation: float | None = None,
    normalise: bool = False,
    keep_changed: bool = False,
    no_look: bool = False,
    no_words: bool = False,
    no_choices: bool = False,
    no_mend: bool = False,
    plans: str | os.PathLike[str] | None = None,
    page: str | os.PathLike[str] | None = None,
    jobs: int | None = None,
    limit: float | None = None,
    memory: int | None = None,
    dry_run: bool = False,
    force: bool = False,
    anew: bool = False,
    log: str | os.PathLike[str] | None = None,
    executor: Executor | None = None,
    on_done: Callable[[Outcome], None] | None = None,
    on_found: Callable[[int], None] | None = None,
) -> tuple[Outcome, ...]:
    """Make the rough pass over many projects, each into the folder `out`; outcomes in the order given.

    projects: files, folders and patterns, one or several; what lies in folders keeps its place below `out`.
    pauses to no_mend, no_words: as for `rough`, for every project alike; a film without the place of a pause
    goes without it, with a note, and so it is with pauses of the recipe. The choices beside each project are
    obeyed, unless no_choices. plans: a folder in which the plan of each is written as JSON, under the name of
    its new project and in the same place. page: a file that gets the page of the season (HTML), where an
    earlier one is replaced; each film gets its own beside its new project. jobs: worker processes, all
    processors by default. limit and memory: a project that takes longer, in minutes, or more, in MiB, is
    ended. executor: any other to use instead of worker processes.
    dry_run: plan every project and write none. What an earlier run finished is passed over as long as
    nothing that it is made of has changed, unless `anew`. log: a file that gets a line of JSON as each ends.
    on_found: told how many projects there are.

    When it is interrupted (KeyboardInterrupt) all workers are ended first, and what is finished stays.
    Raises OutputError when the folder or the log cannot be written, NoSuchPlace before the work where a pause
    is asked for at a place of no film.
    """
    folder = Path(out)
    named = [projects] if isinstance(projects, str | os.PathLike) else projects
    found = find_projects(map(Path, named), folder)
    if on_found is not None:
        on_found(len(found))
    pauses = tuple(pauses)
    refuse_unknown([one_found.project for one_found in found], pauses)
    if not dry_run:
        make_folder(folder)
    alike = Call(
        Path(),
        recipe=recipe or Recipe(),
        force=force or anew,
        asked=Asked(pauses, separation, normalise, keep_changed, no_look, no_words, no_mend),
        sums=page is not None,
        own_choices=not no_choices,
        anew=anew,
    )
    calls = _calls(found, alike, None if dry_run else folder, plans)
    if page is not None:
        permit_page((call.project for call in calls), Path(page), force=force)  # before the work

    def ended(number: int, outcome: Outcome) -> None:
        _write_down(calls[number], outcome, folder, log)
        if on_done is not None:
            on_done(outcome)

    outcomes = _carried_out(calls, ended, jobs=jobs, limit_minutes=limit, most_mib=memory, executor=executor)
    if page is not None:
        lines = [_line(*film) for film in zip(called(found), outcomes, calls, strict=True)]
        save_page(lines, Path(page), force=force)
    return outcomes


def _calls(
    found: Sequence[Found], alike: Call, folder: Path | None, plans: str | os.PathLike[str] | None
) -> tuple[Call, ...]:
    """What each film asks for; alike: what all do. folder: where results go, None where none is written."""
    none: Sequence[None] = [None] * len(found)
    made = none if folder is None else targets(found, folder)
    pages = none if folder is None or not alike.sums else targets(found, folder, ".html")
    plan_files = none if plans is None else targets(found, Path(plans), ".json")
    known = {} if folder is None or alike.anew else read_finished(folder)

    def call(one_found: Found, target: Path | None, plan_to: Path | None, page_to: Path | None) -> Call:
        earlier = None
        if folder is not None and target is not None:
            earlier = _earlier(one_found.project, target, known.get(_place(target, folder)))
        return replace(
            alike,
            project=one_found.project,
            target=target,
            plan_to=plan_to,
            page_to=page_to,
            finished=earlier,
        )

    return tuple(map(call, found, made, plan_files, pages))


def _carried_out(
    calls: Sequence[Call],
    on_end: Callable[[int, Outcome], None],
    *,
    jobs: int | None,
    limit_minutes: float | None,
    most_mib: int | None,
    executor: Executor | None,
) -> tuple[Outcome, ...]:
    """What came of each call, in order; on_end is told of each as it ends, with its number."""
    folders = {call.target.parent for call in calls if call.target is not None}

    def tidy(process: int) -> None:
        for folder in folders:
            clear_after(folder, process)

    outcomes: dict[int, Outcome] = {}
    for number, result in each_of(
        one,
        calls,
        jobs=jobs,
        limit_minutes=limit_minutes,
        most_mib=most_mib,
        executor=executor,
        costs=[_cost(call) for call in calls],
        on_end=tidy,
    ):
        lost = isinstance(result, Lost)
        outcomes[number] = Outcome(calls[number].project, problem=result.why) if lost else result
        on_end(number, outcomes[number])
    return tuple(outcomes[number] for number in range(len(calls)))


def _write_down(call: Call, outcome: Outcome, folder: Path, log: str | os.PathLike[str] | None) -> None:
    """What has ended, for a later run that takes it up, and in the log."""
    if outcome.contents and outcome != call.finished:
        row = {"place": _place(outcome.output, folder), "contents": outcome.contents}
        append_line(folder / NAME, {**row, "outcome": outcome.as_dict()})
    if log is not None:
        append_line(Path(log), outcome.as_dict())


def _cost(call: Call) -> int:
    """What a film is likely to cost: the longer its document, the longer it is; finished, nothing."""
    try:
        return 0 if call.finished is not None else call.project.stat().st_size
    except (OSError, ValueError):
        return 0


def _place(target: Path | None, folder: Path) -> str:
    return "" if target is None else target.relative_to(folder).as_posix()


def _earlier(project: Path, target: Path, finished: Finished | None) -> Outcome | None:
    """The outcome that an earlier run noted; None where it noted none, or its notes are no such thing."""
    if finished is None:
        return None
    told = finished.outcome
    check, figures, sums = (told.get(name) for name in ("check", "figures", "sums"))
    if not isinstance(check, int) or not isinstance(figures, dict) or not isinstance(sums, dict):
        return None
    try:
        notes = converter().structure(told.get("notes"), tuple[Note, ...])
        rate = Rate(*told.get("rate", ()))
    except (cattrs.BaseValidationError, MltAssistError, TypeError, ValueError):
        return None
    return Outcome(
        project, target, "", check, notes, figures, True, sums, rate=rate, contents=finished.contents
    )


def _line(name: str, outcome: Outcome, call: Call) -> Line:
    """An outcome as the page of the season tells it."""
    page = call.page_to
    film = Episode(name, outcome.sums, outcome.figures.get("pick_ups", ()))
    own = page if page is not None and outcome.output is not None and page.is_file() else None
    return Line(
        film, outcome.project, outcome.output, own, outcome.problem, outcome.check, dict(outcome.figures)
    )
