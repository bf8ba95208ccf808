"""Mark the answers of a class to the questions on docs/lessons.md.

    python example_projects/mark.py ANSWERS.csv [--json]

ANSWERS.csv has a line for each student: a column `name`, and a column for each question that was asked,
headed by its number (`1`, `2`...). What is right is not written down here: mltassist is asked, about the
films in this folder. Without a file the right answers are printed. Exit code 1 where somebody has something
to look at again, 2 where the file cannot be marked.
"""

from __future__ import annotations

import argparse
import csv
import json
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

FILMS = Path(__file__).parent


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked, the command whose JSON answers it, where it is run, and where the answer stands."""

    text: str
    command: str
    folder: str
    find: Callable[[Any], int]

    def answer(self) -> int:
        """The right answer, as the command finds it now."""
        return self.find(asked(self.command, self.folder))


def _clips(found: Any, element: str) -> int:
    tracks = (track for track in found["tracks"] if track["element"] == element)
    return sum(item["kind"] == "clip" for track in tracks for item in track["items"])


def _jumps(found: Any) -> int:
    return sum(cut["kind"] == "jump" for cut in found["cuts"])


QUESTIONS = {
    1: Question(
        "In shorter-bite, how many jump cuts are there?", "survey shorter-bite.mlt", "shorter-bite", _jumps
    ),
    2: Question(
        "How many frames do they leave out together?",
        "survey shorter-bite.mlt",
        "shorter-bite",
        lambda found: sum(cut["removed"] for cut in found["cuts"]),
    ),
    3: Question(
        "At which frame is a cut heard?",
        "listen shorter-bite.mlt",
        "shorter-bite",
        lambda found: next(join["at"] for join in found["joins"] if join["verdict"] == "heard"),
    ),
    4: Question(
        "In narration, how many frames of narration are in the film?",
        "survey narration.mlt",
        "narration",
        lambda found: found["elements"]["narration"]["on_timeline"],
    ),
    5: Question(
        "How many clips of narration are there?",
        "survey narration.mlt",
        "narration",
        lambda found: _clips(found, "narration"),
    ),
    6: Question(
        "In breathing, at which frame is the marker?",
        "survey breathing.mlt",
        "breathing",
        lambda found: found["markers"][0]["at"],
    ),
    7: Question(
        "In music, how many pieces of music lie in the film?",
        "survey music.mlt",
        "music",
        lambda found: _clips(found, "music"),
    ),
    8: Question(
        "In not-enough, how many subjects were filmed?",
        "survey not-enough.mlt",
        "not-enough",
        lambda found: len({clip["folder"] for clip in found["bin"] if clip["element"] == "cutaway"}),
    ),
    9: Question("How many jump cuts are there?", "survey not-enough.mlt", "not-enough", _jumps),
    10: Question(
        "How often was the order turned round?",
        "survey not-enough.mlt",
        "not-enough",
        lambda found: sum(cut["removed"] < 0 for cut in found["cuts"]),
    ),
    11: Question(
        "In just-looking, how many edits are there in speech?",
        "survey just-looking.mlt",
        "just-looking",
        lambda found: len(found["cuts"]),
    ),
    12: Question(
        "In honest-cut b, how many hidden edits are there?",
        "survey honest-cut-b.mlt",
        "honest-cut",
        lambda found: sum(cut["covered"] for cut in found["cuts"]),
    ),
    13: Question(
        "How many frames does it leave out?",
        "survey honest-cut-b.mlt",
        "honest-cut",
        lambda found: found["cuts"][0]["removed"],
    ),
    14: Question(
        "How many words does it leave out?",
        "words honest-cut-b.mlt --removed",
        "honest-cut",
        lambda found: sum(len(edit["text"].split()) for edit in found["removed"]),
    ),
}
"""By the number that they have on docs/lessons.md."""


class Unmarkable(ValueError):
    """The file of answers cannot be marked; says why."""


@cache
def asked(command: str, folder: str) -> Any:
    """The JSON that a command prints, run in the folder of its lesson."""
    line = [sys.executable, "-m", "mltassist", *command.split(), "--json"]
    ran = subprocess.run(line, cwd=FILMS / folder, capture_output=True, text=True, check=False)  # noqa: S603
    if ran.returncode == 2:
        raise Unmarkable(ran.stderr.strip())
    return json.loads(ran.stdout)


def read_answers(path: Path) -> tuple[list[int], list[Mapping[str, str]]]:
    """The numbers of the questions that were asked, and a row for each student. Raises Unmarkable."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = csv.DictReader(file)
            heads = [head.strip() for head in rows.fieldnames or ()]
            rows.fieldnames = heads
            students = [{key: value or "" for key, value in row.items() if key in heads} for row in rows]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise Unmarkable(f"{path}: cannot be read ({error})") from error
    numbers = [int(head) for head in heads if head.isdecimal() and int(head) in QUESTIONS]
    if "name" not in heads or not numbers:
        raise Unmarkable(
            f"{path}: the first line must name the columns: name, and numbers of questions (1, 2...)"
        )
    return numbers, students


def marked(numbers: Sequence[int], students: Sequence[Mapping[str, str]]) -> Iterator[dict[str, Any]]:
    """For each student how many answers are right, and the numbers of those that are not."""
    right = {number: QUESTIONS[number].answer() for number in numbers}
    for student in students:
        wrong = [number for number in numbers if student[str(number)].strip() != str(right[number])]
        yield {
            "name": student["name"],
            "right": len(numbers) - len(wrong),
            "of": len(numbers),
            "again": wrong,
        }


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the marks of a class, or the right answers."""
    words = (__doc__ or "").split("\n\n")
    parser = argparse.ArgumentParser(description=words[0], epilog=words[2])
    parser.add_argument("answers", nargs="?", type=Path, metavar="ANSWERS.csv")
    parser.add_argument("--json", action="store_true", help="print JSON")
    given = parser.parse_args(arguments)
    try:
        if given.answers is None:
            solutions = {number: question.answer() for number, question in QUESTIONS.items()}
            lines = [
                f"{number:2}  {answer:5}  {QUESTIONS[number].text}" for number, answer in solutions.items()
            ]
            print(json.dumps(solutions) if given.json else "\n".join(lines))
            return 0
        rows = list(marked(*read_answers(given.answers)))
    except Unmarkable as error:
        print(f"mark.py: {error}", file=sys.stderr)
        return 2
    if given.json:
        print(json.dumps(rows, ensure_ascii=False))
    else:
        for row in rows:
            again = f"   look again: {', '.join(map(str, row['again']))}" if row["again"] else ""
            print(f"{row['right']:2} of {row['of']}  {row['name']}{again}")
    return int(any(row["again"] for row in rows))


if __name__ == "__main__":
    sys.exit(main())
