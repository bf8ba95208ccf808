"""The figures of a plan that listens to joins and mends them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from mltassist.findings import Findings
from mltassist.frames import Rate, format_timecode
from mltassist.joins.hear import Join
from mltassist.joins.planner.judge import Verdict
from mltassist.timeline.edits import Edit, FadeJoin, LayTone, MatchLevel, NudgeJoin
from mltassist.timeline.moves import Moves, moves_of_all


def listen_figures(joins: Sequence[Join], rate: Rate, mends: Sequence[Edit] = ()) -> dict[str, Any]:
    """Edits listened to, mended (place by place in the result), and what is left to hear."""
    now = [(join.mended or join).judgement.verdict for join in joins]
    return {
        "edits_in_speech": len(joins),
        "edits_mended": sum(join.mended is not None for join in joins),
        "joins_crossed_over": sum(isinstance(edit, FadeJoin) for edit in mends),
        "levels_matched": sum(isinstance(edit, MatchLevel) for edit in mends),
        "holes_filled": sum(isinstance(edit, LayTone) for edit in mends),
        "mends": _rows(mends, rate),
        "edits_heard": now.count(Verdict.HEARD),
        "edits_to_check": now.count(Verdict.CHECK),
    }


def moved_rows(rows: Sequence[dict[str, Any]], moves: Moves, rate: Rate) -> list[dict[str, Any]]:
    """The rows of `mends` where their places lie after later edits."""
    places = [(row, moves.mark(row["at"])) for row in rows]
    return [{**row, "at": at, "timecode": format_timecode(at, rate)} for row, at in places if at is not None]


def _rows(mends: Sequence[Edit], rate: Rate) -> list[dict[str, Any]]:
    """What was done at each place, in the order of the film."""
    rows: list[dict[str, Any]] = []
    for edit in mends:
        rows = moved_rows(rows, moves_of_all([edit]), rate)
        at = edit.joined_at if isinstance(edit, NudgeJoin) else getattr(edit, "at", 0)
        rows.append({"at": at, "timecode": format_timecode(at, rate), "done": _done(edit)})
    return sorted(rows, key=lambda row: (row["at"], row["done"]))


def decide_joins(findings: Findings, joins: Iterable[Join], mends: Sequence[Edit]) -> None:
    """Every join as a decision, mended or not, and every bite that was matched, where it now lies."""
    moves = moves_of_all(mends)
    done: dict[str, list[str]] = {}
    for number, edit in enumerate(mends):
        if name := getattr(edit, "decision", ""):
            done.setdefault(name, []).append(_done(edit))
            at = moves_of_all(mends[number + 1 :]).frame(getattr(edit, "at", 0))
            findings.decide(name, at, _done(edit))
    for join in joins:
        name, verdict = (
            findings.named(findings.places.join(join.edit)),
            (join.mended or join).judgement.verdict,
        )
        told = "; ".join(done.get(name, ["left as it is"]))
        findings.decide(name, moves.clip(join.track, join.at)[1], f"{told}; {_VERDICTS[verdict]}")


_VERDICTS = {Verdict.CLEAN: "not heard", Verdict.CHECK: "perhaps heard", Verdict.HEARD: "heard"}


def _done(edit: Edit) -> str:
    """A mend in words."""
    match edit:
        case NudgeJoin():
            sides = (
                ("the bite before ends", edit.before_by),
                ("the bite after begins", edit.after_by),
            )
            told = [f"{what} {_by(frames)}" for what, frames in sides if frames]
            return f"join moved: {', '.join(told)}"
        case MatchLevel():
            return f"level matched: {edit.gain_db:+.1f} dB on the bite from here"
        case FadeJoin():
            return "the sound of the join crosses over"
        case _:
            return "a hole filled with the sound of its room"


def _by(frames: int) -> str:
    return f"{abs(frames)} frame{'s' if abs(frames) > 1 else ''} {'later' if frames > 0 else 'earlier'}"
