"""The page and the reel by their options: written where they may be, refused before the work where not."""

from __future__ import annotations

import json

import av

from tests.cli.films import short, write


def data_in(page) -> dict:
    text = page.read_text(encoding="utf-8")
    return json.loads(
        text.partition('<script type="application/json" id="data">')[2].partition("</script>")[0]
    )


def test_listening_alone_writes_a_page_of_joins_and_a_reel(tmp_path, run):
    path = write(short(650), tmp_path, "plain.mlt")
    page, reel = tmp_path / "page.html", tmp_path / "joins.ogg"
    ran = run("listen", path, "--page", page, "--reel", reel, "--for-comments", "--json")
    assert ran.status in (0, 1)
    told, data = json.loads(ran.out), data_in(page)
    assert [row["at"] for row in data["joins"]] == [
        row["at"] for row in told["joins"] if row["kind"] != "through"
    ]
    assert data["covers"] == []
    assert data["for_comments"]
    with av.open(str(reel)) as file:
        assert len(file.chapters()) == len(told["joins"])
    assert "exists already" in run("listen", path, "--page", page).refused()
    lines = run("listen", path, "--page", page, "--force", "--clips", tmp_path / "edits").out.splitlines()
    assert lines[-2:] == [f"written: {tmp_path / 'edits'}", f"page: {page}"]
    assert "exists already" in run("listen", path, "--reel", reel).refused()


def test_what_cannot_be_is_refused_before_the_work(tmp_path, run):
    path = write(short(650), tmp_path, "plain.mlt")
    pause = ("pause", path, "--at", "f100", "--length", "2")
    assert "--page" in run("cover", path, "--for-comments").refused()
    assert "is the project" in run("cover", path, "--page", path).refused()
    same = tmp_path / "same"
    assert "choose another for the page" in run(*pause, "-o", same, "--page", same).refused()
    assert "choose another for the page" in run(*pause, "--plan", same, "--page", same).refused()
    assert (
        "its folder does not exist" in run("duck", path, "--page", tmp_path / "none" / "page.html").refused()
    )
    assert "with chapters" in run("listen", path, "--reel", tmp_path / "joins.wav").refused()
    assert {one.name for one in tmp_path.iterdir()} == {"media", path.name}
