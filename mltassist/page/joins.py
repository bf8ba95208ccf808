"""The joins on a page: what is said on both sides, what was left out, how each was judged, how it sounds."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from mltassist.findings import Findings, spoken_sound
from mltassist.frames import Span
from mltassist.joins.figures import listen_figures
from mltassist.joins.hear import Join, hear_joins
from mltassist.page.gallery import Gallery
from mltassist.page.stages import Stages
from mltassist.timeline.cuts import CutKind, SpeechEdit
from mltassist.timeline.edits import FadeJoin, LayTone, MatchLevel, NudgeJoin
from mltassist.timeline.moves import moves_of_all

_AROUND_S = 2
"""Seconds that are heard on both sides of a join."""
WORDS_S = 6
"""Seconds of what is said on both sides of it that are shown in words: about two lines."""


def join_rows(stages: Stages, gallery: Gallery) -> list[dict[str, Any]]:
    """Every edit in speech that is more than a clip cut in two, in the order of the film."""
    moves = moves_of_all(stages.plan.edits)
    later = {(j.at, *_sources(j.edit)): j for j in hear_joins(stages.after)}
    sounds = spoken_sound(stages.before), spoken_sound(stages.after)
    rows = []
    for join in hear_joins(stages.before):
        if join.edit.kind is CutKind.THROUGH:
            continue
        at = moves.clip(join.track, join.at)[1]
        after = later.get((at, *_sources(join.edit)), join)
        was = gallery.sound(sounds[0], _around(stages.before, join.at))
        now = gallery.sound(sounds[1], _around(stages.after, at))
        rows.append({**_row(stages, join, after, at), "sound_before": was, "sound_after": now})
    return sorted(rows, key=lambda row: int(row["at"]))


def _sources(edit: SpeechEdit) -> tuple[str, str]:
    return edit.before.source.key, edit.after.source.key


def _row(stages: Stages, join: Join, after: Join, at: int) -> dict[str, Any]:
    edit = join.edit
    name = stages.before.places.join(edit)
    return {
        "name_of": name,
        "pause_name": stages.before.places.pause(join.at),
        "moved": _moved(stages, name),
        "at": at,
        "time": stages.time(at),
        "kind": edit.kind.value,
        "who": edit.after.name,
        "from": edit.before.name,
        **_words(stages, edit),
        "removed_s": stages.seconds(edit.removed),
        "before": _judged(join),
        "after": _judged(after),
        "mends": list(_mends(stages, at)),
        "sound_at_s": stages.seconds(min(at, stages.rate.frames(_AROUND_S))),
    }


def _moved(stages: Stages, name: str) -> dict[str, int]:
    """By how many frames the plan moves a join, as a choice on it says."""
    for edit in stages.plan.edits:
        if isinstance(edit, NudgeJoin) and edit.decision == name:
            return {"before_by": edit.before_by, "after_by": edit.after_by}
    return {}


def _around(findings: Findings, at: int) -> Span:
    around = findings.timeline.rate.frames(_AROUND_S)
    return Span(max(0, at - around), min(findings.timeline.length, at + around))


def _judged(join: Join) -> dict[str, Any]:
    judgement = join.judgement
    return {
        "verdict": judgement.verdict.value,
        "score": round(judgement.score, 2),
        "reasons": [reason.words for reason in judgement.reasons],
    }


def _words(stages: Stages, edit: SpeechEdit) -> dict[str, Any]:
    """What is said before and after an edit, and what was left out where nothing was turned round."""
    around = stages.rate.frames(WORDS_S)
    end, start = edit.before.source_in + edit.before.length, edit.after.source_in
    before = Span(max(edit.before.source_in, end - around), end)
    after = Span(start, min(start + edit.after.length, start + around))
    left_out = Span(end, start) if edit.kind is CutKind.JUMP and edit.removed > 0 else Span(0, 0)
    return {
        "words_before": stages.words_of(edit.before, before),
        "words_removed": stages.words_cut(edit.before, left_out),
        "elsewhere": stages.plays_elsewhere(edit.before, left_out),
        "words_heard": stages.is_heard(edit.before),
        "words_after": stages.words_of(edit.after, after),
    }


def _mends(stages: Stages, at: int) -> Iterator[str]:
    """What the plan does to the join at a frame of the result, in words."""
    for edit, place in stages.placed():
        match edit:
            case NudgeJoin() if abs(place + edit.before_by - at) <= 1:
                pass
            case FadeJoin() | MatchLevel() if place == at:
                pass
            case LayTone() if place <= at <= place + edit.length:
                pass
            case _:
                continue
        yield from (row["done"] for row in listen_figures((), stages.rate, [edit])["mends"])
