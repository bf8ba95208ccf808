"""The lists of a page: hidden edits, faults of picture, the mix, levels, and notes."""

from __future__ import annotations

import re
from typing import Any

from mltassist.findings import speech_clips
from mltassist.frames import Span
from mltassist.page.stages import Stages
from mltassist.timeline.cuts import CutKind, never_played, speech_edits
from mltassist.timeline.picturefaults import picture_faults

_GAIN = re.compile(r"([+-]?\d+(?:\.\d+)?) dB")
"""As decisions on levels end in words."""


def hidden_rows(stages: Stages) -> list[dict[str, Any]]:
    """Every jump in speech under another picture: what the viewer cannot see was cut, what was left out."""
    rows = []
    findings = stages.after
    clips = [clip for _, clip in speech_clips(findings)]
    for edit in speech_edits(findings.timeline, findings.elements, ours=True):
        if edit.kind is not CutKind.JUMP or not edit.covered:
            continue
        between = Span(edit.before.source_in + edit.before.length, edit.after.source_in)
        shown = stages.showing_at(edit.at)
        rows.append(
            {
                "at": edit.at,
                "time": stages.time(edit.at),
                "who": edit.after.name,
                "turned": edit.removed < 0,
                "seconds": stages.seconds(sum(span.length for span in never_played(edit, clips))),
                "words": stages.words_cut(edit.before, between),
                "elsewhere": stages.plays_elsewhere(edit.before, between),
                "words_heard": stages.is_heard(edit.before),
                "under": "" if shown is None else shown.name,
            }
        )
    return rows


def fault_rows(stages: Stages) -> list[dict[str, Any]]:
    """What an editor would not let through in the picture as the plan leaves it."""
    findings = stages.after
    most = int(findings.recipe.cover.unseen_max_s * stages.rate.fraction)
    return [
        {"at": fault.at, "time": stages.time(fault.at), "what": fault.what}
        for fault in picture_faults(findings.timeline, findings.elements, most)
    ]


def mix_rows(stages: Stages) -> dict[str, Any]:
    """Speech against what lies beneath it, passage by passage, and the whole film against its delivery."""
    figures = stages.plan.figures
    return {
        "passages": [
            {
                "at": row["at"],
                "time": row["timecode"],
                "seconds": stages.seconds(row["length"]),
                "kind": row["kind"],
                "loudest": row["loudest"],
                "target_lu": row["target_lu"],
                "before_lu": row["separation_before_lu"],
                "after_lu": row["separation_after_lu"],
                "music_up": row["music_up"],
                "music_up_at": row["music_up_at"],
            }
            for row in figures.get("passages", ())
        ],
        "whole": figures.get("mix"),
    }


def level_rows(stages: Stages) -> list[dict[str, Any]]:
    """Every level that the plan decides, with its name: of what sounds beneath a passage, and of bites."""
    rows = []
    for one in sorted(stages.plan.decisions, key=lambda decision: decision.at):
        if one.kind in ("level", "match"):
            told = _GAIN.search(one.about)
            rows.append(
                {
                    "name_of": one.name,
                    "at": one.at,
                    "time": stages.time(one.at),
                    "what": _GAIN.sub("", one.about).strip(" ,:"),
                    "gain_db": None if told is None else float(told[1]),
                }
            )
    return rows


def note_rows(stages: Stages) -> list[dict[str, Any]]:
    """What the plan wants the editor to know, in the order of the film."""
    notes = sorted(stages.plan.notes, key=lambda note: (note.at is None, note.at or 0))
    return [
        {
            "at": note.at,
            "time": None if note.at is None else stages.time(note.at),
            "text": note.text,
            "needs_editor": note.needs_editor,
        }
        for note in notes
    ]
