"""The figures of a plan that listens to joins and mends them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from mltassist.joins.hear import Join
from mltassist.joins.planner.judge import Verdict
from mltassist.timeline.edits import Edit, FadeJoin, LayTone, MatchLevel


def listen_figures(joins: Sequence[Join], mends: Sequence[Edit] = ()) -> dict[str, Any]:
    """Edits listened to, mended, and what is left to hear; holes filled with the sound of a room."""
    now = [(join.mended or join).judgement.verdict for join in joins]
    return {
        "edits_in_speech": len(joins),
        "edits_mended": sum(join.mended is not None for join in joins),
        "joins_crossed_over": sum(isinstance(edit, FadeJoin) for edit in mends),
        "levels_matched": sum(isinstance(edit, MatchLevel) for edit in mends),
        "holes_filled": sum(isinstance(edit, LayTone) for edit in mends),
        "edits_heard": now.count(Verdict.HEARD),
        "edits_to_check": now.count(Verdict.CHECK),
    }
