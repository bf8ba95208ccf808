"""The page served to one person: who may ask, and what is answered. Nothing else of the machine is readable.

The address holds a secret; the name of the host, the origin and the peer have to be this machine's own. What
can be asked for are the page, its data, and stills and sounds that the page itself names.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from hmac import compare_digest
from http import HTTPStatus
from secrets import token_urlsafe
from typing import Any

from mltassist.errors import ChoicesError, MltAssistError
from mltassist.page.desk import Desk, json_bytes
from mltassist.page.gallery import Medium
from mltassist.page.sheet import waiting_page

HOST = "127.0.0.1"
MOST_BODY = 2**18
"""Bytes of a change of choices at most: one has some hundred."""
FIRST_S = 1
"""Seconds for which a request waits for the first plan before it is told that it is being made."""
Headers = list[tuple[str, str]]
Environ = dict[str, Any]
Start = Callable[[str, Headers], object]
_SAFE = [
    ("X-Content-Type-Options", "nosniff"),
    ("Referrer-Policy", "no-referrer"),
    ("Cross-Origin-Resource-Policy", "same-origin"),
    ("Cross-Origin-Opener-Policy", "same-origin"),
    ("X-Frame-Options", "DENY"),
]


class BadRequest(Exception):
    """A request that is not answered. status: what it is told."""

    def __init__(self, status: HTTPStatus, why: str) -> None:
        super().__init__(why)
        self.status, self.why = status, why


@dataclass(frozen=True, slots=True)
class Reply:
    """What is sent back. kept: it never changes, so it may be kept by the browser of this person."""

    content: bytes
    kind: str = "application/json"
    status: HTTPStatus = HTTPStatus.OK
    kept: bool = False


@dataclass
class Application:
    """Answers requests (WSGI, PEP 3333). port: the one it is served at; asked: when it was last asked."""

    desk: Desk
    port: int = 0
    secret: str = field(default_factory=lambda: token_urlsafe(32))
    asked: float = field(default_factory=time.monotonic)

    @property
    def host(self) -> str:
        """The host as requests name it."""
        return f"{HOST}:{self.port}"

    @property
    def address(self) -> str:
        """Where the page is."""
        return f"http://{self.host}/{self.secret}/"

    def __call__(self, environ: Environ, start: Start) -> Iterable[bytes]:
        """One request."""
        try:
            path = self._permitted(environ)
            self.asked = time.monotonic()
            answer = self._answer(environ["REQUEST_METHOD"], path, environ)
        except BadRequest as refused:
            answer = Reply(json_bytes({"problem": refused.why}), status=refused.status)
        headers = [
            ("Content-Type", answer.kind),
            ("Content-Length", str(len(answer.content))),
            ("Cache-Control", "private, max-age=86400, immutable" if answer.kept else "no-store"),
            *_SAFE,
        ]
        start(f"{answer.status.value} {answer.status.phrase}", headers)
        return [b"" if environ["REQUEST_METHOD"] == "HEAD" else answer.content]

    def _permitted(self, environ: Environ) -> list[str]:
        """The parts of the path after the secret; raises BadRequest for whoever may not ask."""
        if environ.get("REMOTE_ADDR") != HOST:
            raise BadRequest(HTTPStatus.FORBIDDEN, "this page is for its own machine alone")
        if environ.get("HTTP_HOST") != self.host:
            raise BadRequest(HTTPStatus.FORBIDDEN, "the host is another")
        origin = environ.get("HTTP_ORIGIN")
        writes = environ["REQUEST_METHOD"] not in ("GET", "HEAD")
        if (origin is not None or writes) and origin != f"http://{self.host}":
            raise BadRequest(HTTPStatus.FORBIDDEN, "the origin is another")
        if environ.get("HTTP_SEC_FETCH_SITE", "none") not in ("none", "same-origin"):
            raise BadRequest(HTTPStatus.FORBIDDEN, "another site asks")
        first, *path = str(environ.get("PATH_INFO", "")).removeprefix("/").split("/")
        if not compare_digest(first.encode("utf-8", "surrogatepass"), self.secret.encode()) or not path:
            raise BadRequest(HTTPStatus.NOT_FOUND, "there is nothing here")
        return path

    def _answer(self, method: str, path: list[str], environ: Environ) -> Reply:
        answer: Reply | None = None
        if method in ("GET", "HEAD"):
            answer = self._got(path)
        elif method == "POST" and path == ["choices"]:
            answer = self._choose(environ)
        elif method == "POST" and path == ["write"]:
            _body(environ)
            self.desk.write()
            answer = Reply(json_bytes(self.desk.state()), status=HTTPStatus.ACCEPTED)
        if answer is None:
            raise BadRequest(HTTPStatus.NOT_FOUND, "there is nothing here")
        return answer

    def _got(self, path: list[str]) -> Reply | None:
        match path:
            case [""]:
                return self._page()
            case ["data"]:
                return Reply(json_bytes(self.desk.data()))
            case ["state"]:
                return Reply(json_bytes(self.desk.state()))
            case ["media", name]:
                return _of(self.desk.medium(name), kept=True)
            case [("sound" | "still") as kind, frame] if frame.isdecimal() and len(frame) < 10:
                return _of((self.desk.sound_at if kind == "sound" else self.desk.still_at)(int(frame)))
            case _:
                return None

    def _page(self) -> Reply:
        self.desk.wait(FIRST_S)
        html = self.desk.html() or waiting_page(self.desk.path.stem, self.desk.problem)
        return Reply(html.encode(), "text/html; charset=utf-8")

    def _choose(self, environ: Environ) -> Reply:
        try:
            return Reply(json_bytes({"choices": self.desk.choose(_body(environ))}))
        except ChoicesError as error:
            raise BadRequest(HTTPStatus.BAD_REQUEST, str(error)) from None
        except MltAssistError as error:
            raise BadRequest(HTTPStatus.CONFLICT, str(error)) from None


def _of(medium: Medium | None, *, kept: bool = False) -> Reply:
    if medium is None:
        raise BadRequest(HTTPStatus.NOT_FOUND, "there is nothing here")
    return Reply(medium.content, medium.kind, kept=kept)


def _body(environ: Environ) -> object:
    """The JSON that was sent."""
    if environ.get("CONTENT_TYPE", "").partition(";")[0].strip() != "application/json":
        raise BadRequest(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "JSON is wanted")
    length = str(environ.get("CONTENT_LENGTH") or "0")
    if not length.isdecimal() or int(length) > MOST_BODY:
        raise BadRequest(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, "that is too much")
    try:
        return json.loads(environ["wsgi.input"].read(int(length)))
    except (ValueError, RecursionError):
        raise BadRequest(HTTPStatus.BAD_REQUEST, "that is no JSON") from None
