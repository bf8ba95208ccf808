"""The page served on the loopback address until it is left: for one person, a secret in its address."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from fractions import Fraction
from logging import ERROR, getLogger
from pathlib import Path
from threading import Event, Thread
from typing import Any

from mltassist.errors import MltAssistError
from mltassist.page.desk import Desk
from mltassist.page.serving import HOST, MOST_BODY, Application
from mltassist.project import Project
from mltassist.recipe.rules import Recipe

END_S = 3
"""Longer than any answer takes but that to a first request."""
THREADS = 4
"""A browser asks for six things at a time; two cores make them no faster than four do."""


def review(
    project: Project,
    *,
    recipe: Recipe | None = None,
    pauses: Iterable[tuple[str, Fraction]] = (),
    separation: float | None = None,
    normalise: bool = False,
    keep_changed: bool = False,
    no_look: bool = False,
    no_words: bool = False,
    no_mend: bool = False,
    port: int = 0,
    leave: float = 15,
    target: Path | None = None,
    on_address: Callable[[str], None] | None = None,
) -> None:
    """Serve the page of a whole pass to this machine alone, until it was left for `leave` minutes.

    What is decided is kept in the project's file of choices at once; the new project is written when the page
    is told to, beside the original or to `target`. port: 0 takes any that is free. on_address: told where the
    page is. Raises MltAssistError without the extra `review`, or where the port is taken.
    """
    options = {
        "pauses": tuple(pauses),
        "separation": separation,
        "normalise": normalise,
        "keep_changed": keep_changed,
        "no_look": no_look,
        "no_words": no_words,
        "no_mend": no_mend,
    }
    sequence = project.document.sequence
    serving = Serving(Desk(project.path, recipe, sequence, options, target), port=port)
    if on_address is not None:
        on_address(serving.address)
    serving.run(leave * 60)


class Serving:
    """A served page. Its address holds the secret."""

    def __init__(self, desk: Desk, *, port: int = 0) -> None:
        """Raises MltAssistError without the library that serves, or where the port is taken."""
        try:
            from waitress.server import create_server  # noqa: PLC0415 - an extra that few commands want
            from waitress.wasyncore import close_all  # noqa: PLC0415
        except ImportError:
            raise MltAssistError(
                "serving the page needs the extra `review`: pip install 'mltassist[review]'"
            ) from None
        # It tells of requests that wait their turn, which is what browsers let them do.
        getLogger("waitress.queue").setLevel(ERROR)
        self._close_all = close_all
        self.desk = desk
        self.application = Application(desk)
        self.left = Event()
        options: dict[str, Any] = {
            "host": HOST,
            "port": port,
            "threads": THREADS,
            "ident": None,
            "max_request_body_size": MOST_BODY,
            "clear_untrusted_proxy_headers": True,
        }
        self._sockets: dict[int, Any] = {}
        try:
            self._server = create_server(self.application, map=self._sockets, **options)
        except OSError as error:
            raise MltAssistError(f"port {port} cannot be used ({error.strerror}); choose another") from None
        self.application.port = int(self._server.effective_port)

    @property
    def address(self) -> str:
        """Where the page is."""
        return self.application.address

    def run(self, leave_s: float) -> None:
        """Serve until nobody has asked for anything for so many seconds, or `left` is set."""
        self.desk.begin()
        loop = Thread(target=self._server.run, name="serving", daemon=True)
        loop.start()
        try:
            while not self.left.wait(min(1.0, leave_s / 4)):
                if time.monotonic() - self.application.asked > leave_s:
                    break
        finally:
            self.desk.end()
            self._server.task_dispatcher.shutdown(timeout=END_S)  # what was begun is answered
            # Sockets are closed by the thread that waits for them; with none left it ends.
            self._server.trigger.pull_trigger(lambda: self._close_all(self._sockets, ignore_all=True))
            loop.join(END_S)
