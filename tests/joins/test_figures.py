"""What was done to a film is told place by place, where the places lie in the result."""

from __future__ import annotations

from mltassist.cli import screen
from mltassist.frames import Rate
from mltassist.joins.figures import listen_figures, moved_rows
from mltassist.plans import Plan
from mltassist.timeline.edits import FadeJoin, MatchLevel, NudgeJoin, OpenPause
from mltassist.timeline.moves import moves_of_all

RATE = Rate(25)
MENDS = (
    # The last join first, as they are planned; the first makes the film two frames longer.
    NudgeJoin(500, (1,), 3, 0, "a word is cut off"),
    NudgeJoin(100, (1,), 1, -1, "a word has lost its beginning"),
    MatchLevel(102, 1, -4.25, "it is louder", "a.wav"),
    FadeJoin(505, 1, "a.wav", 40, "a click"),
)
LATER = "the bite before ends 1 frame later"
TOLD = [
    (
        101,
        "00:00:04:01",
        "join moved: the bite before ends 1 frame later, the bite after begins 1 frame earlier",
    ),
    (102, "00:00:04:02", "level matched: -4.2 dB on the bite from here"),
    (505, "00:00:20:05", "join moved: the bite before ends 3 frames later"),
    (505, "00:00:20:05", "the sound of the join crosses over"),
]


def test_every_mend_is_told_where_it_lies_in_the_result():
    rows = listen_figures((), RATE, MENDS)["mends"]
    assert [(row["at"], row["timecode"], row["done"]) for row in rows] == TOLD


def test_pauses_that_are_opened_later_move_what_is_told():
    rows = listen_figures((), RATE, MENDS)["mends"]
    moved = moved_rows(rows, moves_of_all([OpenPause(300, 50, "")]), RATE)
    assert [row["at"] for row in moved] == [101, 102, 555, 555]
    assert moved[-1]["timecode"] == "00:00:22:05"


def test_the_screen_shows_the_list_and_the_new_length(tmp_path, capsys):
    figures = listen_figures((), RATE, MENDS)
    figures["length"] = {"before": 1000, "after": 1005, "timecode": "00:00:40:05"}
    screen.print_plan(Plan("listen", tmp_path / "film.mlt", RATE, MENDS, (), figures))
    shown = capsys.readouterr().out
    assert "00:00:40:05, 5 frames longer than before" in shown
    for _, timecode, done in TOLD:
        assert any(line.startswith(timecode) and done in line for line in shown.splitlines())
