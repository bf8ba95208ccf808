"""Who is served, and who is not; what is shown as saved is on the disk."""

from __future__ import annotations

import json
import random
import shutil
import socket
import subprocess
import sys
from collections.abc import Iterator
from http.client import HTTPConnection, HTTPResponse
from threading import Thread, Timer

import pytest

import mltassist
from mltassist.choices.reading import load_choices
from mltassist.page.desk import Desk, ShownPlan
from mltassist.page.review import Serving

HOST = "127.0.0.1"


class Still(Desk):
    """A desk on which nothing is planned again."""

    def begin(self) -> None:
        pass


@pytest.fixture
def desk(tmp_path, gathered, passed) -> Desk:
    done = passed("saltreed.kdenlive")
    path = tmp_path / "film.kdenlive"
    shutil.copy(done.original, path)
    made = Still(path)
    film = mltassist.open(done.original)
    made.shown = ShownPlan(1, film, done.plan, done.plan.apply(film), gathered, (None, None))
    made._wanted_at = None
    return made


@pytest.fixture
def serving(desk) -> Iterator[Serving]:
    made = Serving(desk)
    thread = Thread(target=made.run, args=(60,))
    thread.start()
    yield made
    made.left.set()
    thread.join()


def ask(
    serving: Serving,
    path: str,
    *,
    method: str = "GET",
    body: object = None,
    source: str | None = None,
    **headers: str,
) -> tuple[int, bytes]:
    port = serving.application.port
    given = {"Host": f"{HOST}:{port}"}
    if method == "POST":
        given |= {"Origin": f"http://{HOST}:{port}", "Content-Type": "application/json"}
    given |= {name.replace("_", "-"): value for name, value in headers.items()}
    origin = None if source is None else (source, 0)
    connection = HTTPConnection(HOST, port, timeout=10, source_address=origin)
    content = body if isinstance(body, bytes) or body is None else json.dumps(body).encode()
    connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
    for name, value in given.items():
        connection.putheader(name, value)
    if content is not None:
        connection.putheader("Content-Length", str(len(content)))
    connection.endheaders(content)
    answer: HTTPResponse = connection.getresponse()
    found = answer.status, answer.read()
    connection.close()
    return found


def at(serving: Serving, path: str = "") -> str:
    return f"/{serving.application.secret}/{path}"


def choice(number: int) -> dict:
    return {"name": f"shot {number} ines.mp4 > {number + 50} ines.mp4", "choice": "face stays"}


def test_the_page_its_data_and_what_it_names_are_served(serving, gathered):
    status, page = ask(serving, at(serving))
    assert status == 200
    assert b"<!doctype html>" in page
    assert json.loads(ask(serving, at(serving, "state"))[1])["serial"] == 1
    name = gathered.data["covers"][0]["stills"]["first"]
    status, still = ask(serving, at(serving, f"media/{name}"))
    assert (status, still[:2]) == (200, b"\xff\xd8")
    assert ask(serving, at(serving, "sound/500"))[0] == 200
    assert ask(serving, at(serving, "still/500"))[1][:2] == b"\xff\xd8"


def test_without_the_secret_there_is_nothing(serving):
    secret = serving.application.secret
    assert len(secret) >= 40
    near = (secret[:-1], f"{secret}x", secret.upper(), secret[::-1], "%C3%A9")
    for path in ("/", "/state", *(f"/{one}/" for one in near), f"/{secret}", "//"):
        assert ask(serving, path)[0] in (400, 404), path


def test_another_host_is_refused(serving):
    port = serving.application.port
    for host in (f"localhost:{port}", f"film.example:{port}", HOST, f"{HOST}:{port + 1}", ""):
        assert ask(serving, at(serving), Host=host)[0] in (400, 403), host


def test_another_origin_is_refused_and_none_may_write_without_one(serving, desk):
    port = serving.application.port
    change = {"put": {"shots": [choice(1)]}}
    for origin in ("http://film.example", "null", f"https://{HOST}:{port}", f"http://{HOST}:{port + 1}", ""):
        assert ask(serving, at(serving, "state"), Origin=origin)[0] == 403, origin
        assert ask(serving, at(serving, "choices"), method="POST", body=change, Origin=origin)[0] == 403
    assert ask(serving, at(serving, "state"), Sec_Fetch_Site="cross-site")[0] == 403
    assert ask(serving, at(serving, "state"), Sec_Fetch_Site="same-site")[0] == 403
    assert not desk.choices_file.exists()


def test_no_path_leads_out(serving, desk):
    desk.path.with_name("secret.txt").write_text("x", encoding="utf-8")
    ways = ("../secret.txt", "media/../../secret.txt", "media/%2e%2e%2fsecret.txt", "media/..%5csecret.txt")
    inside = (
        "media/",
        "media/x/y",
        f"media/{desk.path}",
        "sound/-1",
        "sound/1e9",
        "still/²",
        "data/",
        "media/..",
    )
    for path in (*ways, *inside):
        assert ask(serving, at(serving, path).replace("²", "%C2%B2"))[0] in (400, 404), path


def test_a_second_address_of_this_machine_is_refused(serving):
    with socket.socket() as other:
        try:
            other.bind(("127.0.0.2", 0))
        except OSError:
            pytest.skip("this system has one loopback address only")
    assert ask(serving, at(serving, "state"), source="127.0.0.2")[0] == 403
    with pytest.raises(OSError, match="refused"):
        socket.create_connection(("127.0.0.2", serving.application.port), timeout=5)


def test_what_is_no_choice_changes_nothing(serving, desk):
    rows = {"put": {"shots": [choice(1)]}}
    assert ask(serving, at(serving, "choices"), method="POST", body=rows)[0] == 200
    before = desk.choices_file.read_bytes()
    wrong = (
        b"",
        b"{",
        b"[" * 100_000,
        b"x" * 300_000,
        {},
        {"put": {"shots": [{"name": "no name", "choice": "accepted"}]}},
        {"put": {"shots": [{**choice(2), "choice": "perhaps"}]}},
        {"put": {"films": []}},
        {"drop": "all"},
        {"never": ["x"]},
        {"means": {"tag": "x"}},
        {"else": 1},
    )
    for body in wrong:
        status, told = ask(serving, at(serving, "choices"), method="POST", body=body)
        assert 400 <= status < 500, body
        assert b"Traceback" not in told
    status, _ = ask(serving, at(serving, "choices"), method="POST", body=rows, Content_Type="text/plain")
    assert status == 415
    assert desk.choices_file.read_bytes() == before


def test_two_windows_do_not_lose_each_others_choices(serving, desk):
    def window(first: int) -> None:
        for number in range(first, 40, 2):
            body = {"put": {"shots": [choice(number)]}}
            assert ask(serving, at(serving, "choices"), method="POST", body=body)[0] == 200

    both = [Thread(target=window, args=(first,)) for first in (0, 1)]
    for one in both:
        one.start()
    for one in both:
        one.join()
    assert {row.name for row in load_choices(desk.choices_file).shots} == {
        choice(n)["name"] for n in range(40)
    }


def test_it_ends_by_itself_when_it_is_left(desk):
    serving = Serving(desk)
    thread = Thread(target=serving.run, args=(0.4,))
    thread.start()
    thread.join(5)
    assert not thread.is_alive()
    with pytest.raises(OSError, match="refused"):
        socket.create_connection((HOST, serving.application.port), timeout=5)


SERVER = """
import sys
from pathlib import Path
from mltassist.page.desk import Desk
from mltassist.page.review import Serving
class Still(Desk):
    def begin(self): pass
serving = Serving(Still(Path(sys.argv[1])))
print(serving.application.port, serving.application.secret, flush=True)
serving.run(60)
"""


def test_whenever_it_is_killed_no_choice_is_lost_that_was_shown_as_saved(tmp_path):
    film = tmp_path / "film.kdenlive"
    film.touch()
    saved: set[str] = set()
    seed = random.Random(7)
    for killing in range(2):
        server = subprocess.Popen(
            [sys.executable, "-c", SERVER, str(film)], stdout=subprocess.PIPE, text=True
        )
        assert server.stdout is not None
        port, secret = server.stdout.readline().split()
        timer, enough = Timer(seed.random() / 4, server.kill), len(saved) + 6
        headers = {"Origin": f"http://{HOST}:{port}", "Content-Type": "application/json"}
        number = 0
        while server.poll() is None:
            number += 1
            row = choice(1000 * killing + number)
            try:
                connection = HTTPConnection(HOST, int(port), timeout=5)
                body = json.dumps({"put": {"shots": [row]}})
                connection.request("POST", f"/{secret}/choices", body, headers)
                if connection.getresponse().status == 200:
                    saved.add(row["name"])
                    if len(saved) == enough:
                        timer.start()
            except OSError:
                pass
            finally:
                connection.close()
        server.stdout.close()
        server.wait()
        assert saved <= {row.name for row in load_choices(tmp_path / "film.choices.toml").shots}
    assert len(saved) >= 12
