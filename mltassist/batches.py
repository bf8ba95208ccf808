"""Many projects, each in a worker process; one that fails, dies or hangs never stops the others."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from mltassist.choices.kinds import Choices
from mltassist.document.leftovers import clear
from mltassist.errors import MltAssistError, OutputError
from mltassist.plans import Plan
from mltassist.project import Project
from mltassist.recipe.rules import Recipe
from mltassist.season.crew import Lost
from mltassist.season.overview import Line, permit_page, save_page
from mltassist.season.projects import Found, find_projects, targets
from mltassist.season.record import NAME, append_line, contents_of, read_record
from mltassist.season.running import each_of
from mltassist.season.sums import Film


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one project.

    output: the document written, None when it failed. problem: why it failed. check: how many notes
    need the editor, notes: what they say. figures: those of its plan. before: an earlier run finished it, and
    nothing that it is made of has changed since.
    """

    project: Path
    output: Path | None = None
    problem: str = ""
    check: int = 0
    notes: tuple[str, ...] = ()
    figures: dict[str, Any] = field(default_factory=dict)
    before: bool = False
    sums: dict[str, Any] = field(default_factory=dict)
    """What the film shows and hides, for the page of the season: see `season.sums.film_sums`."""
    contents: str = ""
    """Digest of all that the result is made of; "" where none was written."""

    def as_dict(self) -> dict[str, Any]:
        """The outcome as plain data, in the form of docs/formats.md."""
        return {
            "project": str(self.project),
            "output": None if self.output is None else str(self.output),
            "problem": self.problem,
            "check": self.check,
            "notes": list(self.notes),
            "figures": self.figures,
            "sums": self.sums,
            "before": self.before,
        }


@dataclass(frozen=True, slots=True)
class Asked:
    """What `rough` is asked for besides the recipe, for every project alike."""

    pauses: tuple[tuple[str, Fraction], ...] = ()
    separation: float | None = None
    normalise: bool = False
    keep_changed: bool = False
    no_look: bool = False
    no_words: bool = False
    no_mend: bool = False


@dataclass(frozen=True, slots=True)
class Call:
    """One project's work as it is sent to a worker. target: None when nothing is to be written.

    plan_to: where its plan is written as JSON, if anywhere. sums: they are wanted, and so is its page.
    finished: the outcome of an earlier run with this target, which holds while the contents are the same.
    """

    project: Path
    target: Path | None
    plan_to: Path | None
    recipe: Recipe
    force: bool
    asked: Asked = Asked()
    sums: bool = False
    finished: Outcome | None = None
    own_choices: bool = True
    """What was decided on the project, in a file beside it, is obeyed."""


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
    pauses to no_mend, no_words: as for `rough`, for every project alike. The choices beside each project are
    obeyed, unless no_choices. plans: a folder in which the plan of each is written as JSON, under the name of
    its new project and in the same place. page: a file that gets the page of the season (HTML), where an
    earlier one is replaced; each film gets its own beside its new project. jobs: worker processes, all
    processors by default. limit and memory: a project that takes longer, in minutes, or more, in MiB, is
    ended. executor: any other to use instead of worker processes; it knows no such limits.
    dry_run: plan every project and write none. What an earlier run finished is passed over as long as
    nothing that it is made of has changed, unless `anew`. log: a file that gets a line of JSON as each ends.
    on_found: told how many projects there are.

    When it is interrupted (KeyboardInterrupt) all workers are ended first, and what is finished stays.
    Raises OutputError when the folder or the log cannot be written.
    """
    folder = Path(out)
    if not dry_run:
        _make_folder(folder)
    named = [projects] if isinstance(projects, str | os.PathLike) else projects
    found = find_projects(map(Path, named), folder)
    if on_found is not None:
        on_found(len(found))
    asked = Asked(tuple(pauses), separation, normalise, keep_changed, no_look, no_words, no_mend)
    known = {} if anew or dry_run else read_record(folder)
    calls = []
    plan_files = [None] * len(found) if plans is None else targets(found, Path(plans), ".json")
    for one_found, target, plan_to in zip(found, targets(found, folder), plan_files, strict=True):
        finished = known.get(_place(target, folder))
        earlier = None if finished is None else _outcome(one_found.project, target, finished.outcome)
        if earlier is not None and finished is not None:
            earlier = replace(earlier, contents=finished.contents)
        write_to, again = None if dry_run else target, force or anew
        rules, sums, own = recipe or Recipe(), page is not None, not no_choices
        calls.append(Call(one_found.project, write_to, plan_to, rules, again, asked, sums, earlier, own))
    if page is not None:
        permit_page((call.project for call in calls), Path(page), force=force)  # before the work
    outcomes: dict[int, Outcome] = {}
    folders = {call.target.parent for call in calls if call.target is not None}

    def tidy(process: int) -> None:
        for folder_of_some in folders:
            clear(folder_of_some, process)

    for number, result in each_of(
        one, calls, jobs=jobs, limit_minutes=limit, most_mib=memory, executor=executor, on_end=tidy
    ):
        lost = isinstance(result, Lost)
        outcomes[number] = outcome = Outcome(calls[number].project, problem=result.why) if lost else result
        if outcome.contents and not outcome.before:
            row = {"place": _place(outcome.output, folder), "contents": outcome.contents}
            append_line(folder / NAME, {**row, "outcome": outcome.as_dict()})
        if log is not None:
            append_line(Path(log), outcome.as_dict())
        if on_done is not None:
            on_done(outcome)
    in_order = tuple(outcomes[number] for number in range(len(calls)))
    if page is not None:
        lines = [_line(one_found, done) for one_found, done in zip(found, in_order, strict=True)]
        save_page(lines, Path(page), force=force)
    return in_order


def _place(target: Path | None, folder: Path) -> str:
    return "" if target is None else target.relative_to(folder).as_posix()


def _outcome(project: Path, target: Path, told: dict[str, Any]) -> Outcome | None:
    """The outcome that an earlier run noted; None where its notes are no such thing."""
    check, notes, figures = (told.get(name) for name in ("check", "notes", "figures"))
    if not isinstance(check, int) or not isinstance(notes, list) or not isinstance(figures, dict):
        return None
    sums = told.get("sums")
    known = sums if isinstance(sums, dict) else {}
    return Outcome(project, target, "", check, tuple(map(str, notes)), figures, True, known)


def _line(found: Found, outcome: Outcome) -> Line:
    """An outcome as the page of the season tells it; a film is called by its place among them."""
    film = Film(str(found.place.with_suffix("")), outcome.sums, outcome.figures.get("pick_ups", ()))
    page = None if outcome.output is None else outcome.output.with_suffix(".html")
    own = page if page is not None and page.is_file() else None
    return Line(
        film, found.project, outcome.output, own, outcome.problem, outcome.check, dict(outcome.figures)
    )


def one(call: Call) -> Outcome:
    """The rough pass over one project. Never raises what a person can mend."""
    from mltassist.api import rough
    from mltassist.choices.reading import load_own_choices
    from mltassist.document.save import permit, save_text
    from mltassist.project import open_project

    try:
        chosen = load_own_choices(call.project) if call.own_choices else Choices()
        opened = open_project(call.project)
        contents = ""
        if call.target is not None:
            contents = contents_of(opened, (call.recipe, call.asked, chosen), call.recipe.log_sheets)
            if call.finished is not None and call.finished.contents == contents and _is_there(call):
                return _with_sums(call.finished, call)
        page_to = call.target.with_suffix(".html") if call.sums and call.target is not None else None
        for file in filter(None, (call.target, call.plan_to, page_to)):
            _make_folder(file.parent)
            permit(opened.path, file, force=call.force)
        plan = rough(opened, recipe=call.recipe, choices=chosen, **asdict(call.asked))
        output = None if call.target is None else plan.apply(opened).save(call.target, force=call.force)
        if call.plan_to is not None:
            save_text(plan.to_json(), call.plan_to, original=opened.path, force=call.force)
        if page_to is not None:
            text = _page(opened, plan, call.recipe, chosen)
            save_text(text, page_to, original=opened.path, force=call.force)
    except MltAssistError as error:
        return Outcome(call.project, problem=str(error))
    notes = tuple(note.told(plan.rate) for note in plan.notes if note.needs_editor)
    sums = _sums(plan.apply(opened), call.recipe) if call.sums else {}
    return Outcome(
        call.project, output, "", len(notes), notes, dict(plan.figures), sums=sums, contents=contents
    )


def _page(project: Project, plan: Plan, recipe: Recipe, choices: Choices) -> str:
    """The page of one film, on which its plan is heard, seen and decided on."""
    from mltassist.page.gather import gather
    from mltassist.page.sheet import whole_page

    return whole_page(gather(project, plan, recipe=recipe, choices=choices))


def _with_sums(finished: Outcome, call: Call) -> Outcome:
    """The outcome of an earlier run, which may not have been asked for sums."""
    from mltassist.project import open_project

    if finished.sums or not call.sums or call.target is None:
        return finished
    return replace(finished, sums=_sums(open_project(call.target), call.recipe))


def _sums(project: Project, recipe: Recipe) -> dict[str, Any]:
    from mltassist.rushes.find import begin, find
    from mltassist.season.sums import film_sums

    return film_sums(find(project.timeline, begin(project.timeline, recipe, None)))


def _is_there(call: Call) -> bool:
    """True where all that a call is to write is there."""
    return all(file.is_file() for file in (call.target, call.plan_to) if file is not None)


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(folder, f"cannot be made ({error.strerror or error})", "choose another") from error
