"""Films of open recordings that nobody typed, as a new user has them: what is shown, told and found is said.

No rule of matching was set on these voices. Run with -s to see the figures:

    python -m pytest tests/bench/test_films_of_recordings.py -s
"""

from __future__ import annotations

import csv
import io
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pysubs2
import pytest
from click.testing import CliRunner

from mltassist.cli.main import command
from mltassist.cutaways.planner.words import word_stem
from tests import needs
from tests.bench.recorded_films import Recorded, by_telephone, films, made, words_in
from tests.media.words import voices

FILMS = ("cities", "sonnet", "austen")


@pytest.fixture(autouse=True, scope="module")
def _hearing(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    needs.recogniser()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("MLTASSIST_CACHE", str(tmp_path_factory.mktemp("cache")))
        patch.delenv("MLTASSIST_WORDS", raising=False)
        yield


@pytest.fixture(scope="module", params=FILMS)
def film(request: pytest.FixtureRequest) -> Recorded:
    return next(each for each in films() if each.name == request.param)


@pytest.fixture(scope="module")
def rough(film: Recorded, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What `rough` says of the film, as a person runs it."""
    return asked("rough", made(film, tmp_path_factory.mktemp(film.name)))


def asked(name: str, *arguments: object) -> Any:
    done = CliRunner().invoke(command, [name, *map(str, arguments), "--json"], standalone_mode=False)
    assert done.exception is None, done.exception
    return json.loads(done.stdout)


def stems(words: list[str]) -> set[str]:
    return {word_stem(word, "en") for word in words}


def test_shots_follow_words_that_are_said(film: Recorded, rough: dict[str, Any]) -> None:
    matched = [(row["clip"].split()[0], row["word"]) for row in rough["figures"]["matched"]]
    sys.stdout.write(f"\n{film.name}: {matched}")
    assert len(matched) >= min(2, rough["figures"]["jump_cuts"])
    assert {tag for tag, _ in matched} <= set(film.said)
    assert stems([word for _, word in matched]) <= stems(words_in(film.played))
    assert rough["figures"]["jump_cuts_left"] == 0


def test_what_is_said_and_what_was_taken_out_is_told(film: Recorded, rough: dict[str, Any]) -> None:
    told = asked("words", rough["output"], "--removed")
    wrong, said = voices.word_errors(film.played, " ".join(word["text"] for word in told["words"]))
    cut = " ".join(edit["text"].replace("[", "").replace("?]", "") for edit in told["removed"])
    sys.stdout.write(f"\n{film.name}: {wrong} of {said} words wrong; taken out: {cut}")
    assert wrong <= 0.1 * said
    left_out = set(words_in(film.text)) - set(words_in(film.played))
    assert len(set(words_in(cut)) & left_out) >= 0.6 * len(
        left_out
    )  # old words, which no recogniser writes so
    assert [edit["hidden"] for edit in told["removed"]] == [True] * len(told["removed"])
    looks = {look for edit in told["removed"] for look in edit["second_look"]}
    assert "name" not in looks  # no name is left out of any of the three


def test_the_list_of_hidden_edits_is_one_in_every_form(
    film: Recorded, rough: dict[str, Any], tmp_path: Path
) -> None:
    for ending in ("csv", "json", "srt"):
        told = asked("words", rough["output"], "--removed", "--list", tmp_path / f"cuts.{ending}")
    rows = list(csv.reader(io.StringIO((tmp_path / "cuts.csv").read_text(encoding="utf-8"))))
    laid = pysubs2.load(str(tmp_path / "cuts.srt"))
    assert json.loads((tmp_path / "cuts.json").read_text(encoding="utf-8")) == told["removed"]
    assert len(rows) - 2 == len(laid) == len(told["removed"]) >= 1
    for edit, row, line in zip(told["removed"], rows[1:], laid, strict=False):
        assert (edit["text"] or "(no words)") == row[3]
        assert row[3] in line.text
        assert line.start == edit["at"] * 40


def test_what_is_said_is_found_in_the_rushes(film: Recorded, rough: dict[str, Any]) -> None:
    found = {
        tag: asked("words", rough["output"], "--find", tag)["found"] for tag in (*film.said, *film.unsaid)
    }
    missed = [tag for tag in film.said if not found[tag]]
    written = {tag: [row for row in rows if not row["sounds_like"]] for tag, rows in found.items()}
    wrong = [
        tag for tag in film.unsaid if written[tag] and word_stem(tag, "en") not in stems(words_in(film.text))
    ]
    alike = {tag: rows[-1]["sounds_like"] for tag, rows in found.items() if rows and rows[-1]["sounds_like"]}
    sys.stdout.write(
        f"\n{film.name}: of {len(film.said)} words not found {missed}; found and not said: {wrong};"
        f" told as sounding alike: {alike}"
    )
    assert len(missed) <= 0.15 * len(film.said)
    assert len(wrong) <= 2  # words that only sound as others do: air for heir


def test_what_cannot_be_trusted_leads_no_shot(tmp_path: Path) -> None:
    document = made(by_telephone(), tmp_path)
    made_of_it = asked("rough", document)
    assert made_of_it["figures"]["matched"] == []
    assert any("not sure enough" in note["text"] for note in made_of_it["notes"])
    told = asked("words", document)
    assert told["words"]
    assert max(word["trust"] for word in told["words"]) < 0.5
