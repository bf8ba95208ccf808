"""A project on which someone decides: planned, shown, and planned anew whenever something has changed."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from hashlib import blake2b
from pathlib import Path
from threading import Condition, Thread
from typing import Any

from mltassist import api
from mltassist.choices.kinds import Choices
from mltassist.choices.reading import choices_path, load_choices
from mltassist.choices.writing import update_choices
from mltassist.errors import MltAssistError
from mltassist.files import read_bytes
from mltassist.findings import Memory
from mltassist.page.changes import read_change
from mltassist.page.gallery import Gallery, Medium
from mltassist.page.gather import Gathered, choices_data, gather
from mltassist.page.sheet import page_html
from mltassist.pauses.opening import listen_ahead
from mltassist.plans import Plan
from mltassist.project import Project, open_project
from mltassist.recipe.rules import Recipe

QUIET_S = 0.6
"""Choices that follow each other faster are planned together."""
_LOOK_S = 1.0
"""So often it is looked whether the project was saved, or the choices were changed, elsewhere."""
_MOST_BYTES = 2**31
State = tuple[int, int, str] | None
"""Of a file: bytes, time of change, digest."""


@dataclass(frozen=True, slots=True)
class ShownPlan:
    """One plan as it is shown.

    serial: rises with every plan; left: the project with the plan carried out; of: states of the files it was
    made from.
    """

    serial: int
    project: Project
    plan: Plan
    left: Project
    gathered: Gathered
    of: tuple[State, State]


@dataclass
class Desk:
    """One project with its choices, plans and page.

    options: what `rough` is asked for besides. target: where the new project is written; None: beside the
    original, in place of what was written there from this desk if nobody has changed it since.
    """

    path: Path
    recipe: Recipe | None = None
    sequence: str = ""
    options: Mapping[str, Any] = field(default_factory=dict)
    target: Path | None = None
    choices_file: Path | None = None
    shown: ShownPlan | None = None
    planning: bool = False
    problem: str = ""
    written: str = ""
    writes: int = 0
    _to_write: bool = False
    _wanted_at: float | None = 0.0
    _ended: bool = False
    _ahead: Iterator[object] | None = None
    _ours: dict[Path, State] = field(default_factory=dict)
    _tried: tuple[State, State] | None = None
    _memory: Memory = field(default_factory=lambda: Memory(hurried=True))
    _news: Condition = field(default_factory=Condition)

    def __post_init__(self) -> None:
        self.choices_file = self.choices_file or choices_path(self.path)

    @property
    def _choices_file(self) -> Path:
        return self.choices_file or choices_path(self.path)

    # --- for who looks at it ---

    def begin(self) -> None:
        """Plan in a thread of its own, now and whenever something has changed, until `end`."""
        Thread(target=self._work, name="planning", daemon=True).start()

    def end(self) -> None:
        """Plan no more."""
        with self._news:
            self._ended = True
            self._news.notify_all()

    def wait(self, seconds: float) -> ShownPlan | None:
        """The plan that is shown, waited for so long if there is none yet."""
        with self._news:
            self._news.wait_for(lambda: self.shown is not None or self.problem or self._ended, seconds)
            return self.shown

    def state(self) -> dict[str, Any]:
        """How things stand, as plain data."""
        choices = self._choices()
        with self._news:
            return {
                "serial": 0 if self.shown is None else self.shown.serial,
                "planning": self.planning or self._wanted_at is not None,
                "problem": self.problem,
                "written": self.written,
                "writes": self.writes,
                "choices": None if choices is None else choices_data(choices),
            }

    def choose(self, data: object) -> dict[str, Any]:
        """Change the choices; once it returns, the change is on the disk. Gives all of them as plain data.

        Raises ChoicesError for a change that cannot be read, OutputError where it cannot be written.
        """
        now = update_choices(self._choices_file, read_change(data))
        self._want(QUIET_S)
        return choices_data(now)

    def write(self) -> None:
        """Write the new project as soon as all that was decided is planned."""
        with self._news:
            self._to_write = True
            self._news.notify_all()

    def html(self) -> str | None:
        """The page as it stands; None where nothing is planned yet."""
        data = self.data()
        return None if data is None else page_html(data, served=True)

    def data(self) -> dict[str, Any] | None:
        """Its data."""
        shown = self.shown
        if shown is None:
            return None
        choices = self._choices()
        standing = shown.gathered.data["choices"] if choices is None else choices_data(choices)
        return {**shown.gathered.data, "choices": standing, "served": {"serial": shown.serial}}

    def medium(self, name: str) -> Medium | None:
        """A still or a sound that the page names."""
        return None if self.shown is None else self.shown.gathered.gallery.get(name)

    def sound_at(self, frame: int) -> Medium | None:
        """What the film sounds like around a frame."""
        return None if self.shown is None else self.shown.gathered.sound_at(frame)

    def still_at(self, frame: int) -> Medium | None:
        """What is seen at a frame."""
        return None if self.shown is None else self.shown.gathered.still_at(frame)

    # --- planning ---

    def _choices(self) -> Choices | None:
        """What was decided; None while the file cannot be read."""
        try:
            return load_choices(self._choices_file if self._choices_file.exists() else None)
        except MltAssistError:
            return None

    def _want(self, in_s: float = 0.0) -> None:
        with self._news:
            self._wanted_at = time.monotonic() + in_s
            self._news.notify_all()

    def _work(self) -> None:
        while True:
            with self._news:
                if self._wanted_at is None and not self._to_write:
                    self._news.wait(_LOOK_S)
                if self._ended:
                    return
                due = self._wanted_at is not None and self._wanted_at <= time.monotonic()
                if self._wanted_at is not None and not due:
                    self._news.wait(max(0.0, self._wanted_at - time.monotonic()))
                    continue
                if due:
                    self._wanted_at, self.planning = None, True
            if due:
                self._told(self._plan)
            elif self._to_write:
                self._told(self._write)
            else:
                self._listen_ahead()
                self._look()

    def _told(self, act: Callable[[], None]) -> None:
        """Do something; what goes wrong is shown, and nobody is left without the page."""
        try:
            act()
            problem = ""
        except MltAssistError as error:
            problem = str(error)
        except Exception as error:  # a page that says nothing helps nobody
            problem = f"unexpected {type(error).__name__}: {error}"
        with self._news:
            self.planning, self.problem = False, problem
            if act == self._write:
                self._to_write = False
            self._news.notify_all()

    def _listen_ahead(self) -> None:
        """While nobody waits for a plan: one natural sound is heard, so that a first pause opens soon."""
        shown = self.shown
        if shown is not None and self._ahead is None:
            self._ahead = listen_ahead(shown.gathered.stages.after)
        if self._ahead is not None:
            with suppress(Exception):  # planning goes on, and tells of it when it is asked
                next(self._ahead, None)

    def _look(self) -> None:
        """Plan again where a file is no longer as it was when that was last tried."""
        tried = self._tried or (None, None)
        now = _state(self.path, tried[0]), _state(self._choices_file, tried[1])
        if now[0] is not None and now != tried:
            self._want()

    def _plan(self) -> None:
        self._tried = of = _state(self.path), _state(self._choices_file)
        project = open_project(self.path, sequence=self.sequence)
        choices = load_choices(self._choices_file if self._choices_file.exists() else None)
        plan = api.rough(project, recipe=self.recipe, choices=choices, known=self._memory, **self.options)
        left = self._memory.left or plan.apply(project)
        no_words = bool(self.options.get("no_words"))
        rules, gallery = self.recipe, Gallery(plan.rate)
        gathered = gather(
            project,
            plan,
            recipe=rules,
            choices=choices,
            gallery=gallery,
            memory=self._memory,
            applied=left,
            no_words=no_words,
        )
        with self._news:
            serial = 1 if self.shown is None else self.shown.serial + 1
            self.shown = ShownPlan(serial, project, plan, left, gathered, of)
            self._news.notify_all()

    def _write(self) -> None:
        shown = self.shown
        if shown is None:
            return
        target, force = self.target, False
        if target is None:
            target = shown.project.free_name("rough")
            mine = [path for path, state in self._ours.items() if _state(path) == state]
            target = mine[-1] if mine else target
        force = target in self._ours and _state(target) == self._ours[target]
        saved = shown.left.save(target, force=force)
        with self._news:
            self._ours[target] = _state(saved)
            self.written, self.writes = saved.name, self.writes + 1


def _state(path: Path, known: State = None) -> State:
    """The state of a file; None where there is none, or it cannot be read. `known` saves reading it again."""
    try:
        found = path.stat()
        if known is not None and known[:2] == (found.st_size, found.st_mtime_ns):
            return known
        digest = blake2b(read_bytes(path, _MOST_BYTES), digest_size=16).hexdigest()
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns, digest


def json_bytes(data: object) -> bytes:
    """Data as JSON in UTF-8."""
    return json.dumps(data, ensure_ascii=False).encode()
