"""The figures of a cover plan, as plain data in the form of docs/formats.md."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from mltassist.cutaways.jumps import Jumps
from mltassist.cutaways.planner.film import CoverTask, Frames, Shot
from mltassist.cutaways.planner.laying import why
from mltassist.cutaways.planner.plan import Cover
from mltassist.cutaways.planner.stock import Unfilmed, pick_ups, stock_of
from mltassist.cutaways.task import views
from mltassist.findings import Findings
from mltassist.frames import Rate, format_timecode, without


def cover_figures(
    findings: Findings, task: CoverTask, jumps: Jumps, result: Cover, missed: Sequence[Unfilmed]
) -> dict[str, Any]:
    """Jump cuts, shots, faces, what the plan costs, the words it shows and what it lacks.

    Every jump that was found is counted once: covered by the editor, hidden by its size, covered now, where
    the face stays, or left.
    """
    laid = [shot.span for shot in (*result.shots, *task.fixed)]
    seen = {cut.at for cut in jumps.cuts if cut.seen}
    covered = {at for at in seen if any(at in span for span in laid)}
    left = {cut.at for cut in task.cuts if cut.seen} - covered
    faces = [view.span for view in views(findings) if view.who]
    rate = findings.timeline.rate
    return {
        "jump_cuts": len(jumps.seen | jumps.covered),
        "jump_cuts_covered_by_editor": len(jumps.covered - jumps.seen),
        "jump_cuts_hidden_by_size": len(jumps.hidden),
        "jump_cuts_covered": len(covered),
        "jump_cuts_stay": len(seen - covered - left),
        "jump_cuts_left": len(left),
        "narration_s": float(rate.seconds(sum(span.length for span in task.narration))),
        "shots": len(result.shots),
        "face_before_s": float(rate.seconds(sum(face.length for face in faces))),
        "face_after_s": float(rate.seconds(sum(face.length for face in without(faces, laid)))),
        "rules_not_kept": [{"rule": b.rule, "at": b.at, "what": b.what} for b in result.breaches],
        "cost": round(result.cost, 2),
        "gap": round(result.gap, 5),
        "shown": _shown(task, result, rate),
        "matched": [_matched(shot, rate) for shot in result.shots if shot.match],
        "others": [
            {
                "at": shot.span.start,
                "clips": [
                    {"name": o.moment.name, "source": o.moment.source, "source_in": o.source_in}
                    for o in others
                ],
            }
            for shot, others in zip(result.shots, result.others, strict=False)
            if others
        ],
        **_supply_figures(findings, task, result, missed),
    }


def _shown(task: CoverTask, result: Cover, rate: Rate) -> list[dict[str, Any]]:
    """Every shot that is laid, with what is said meanwhile."""
    shots = sorted((*result.shots, *task.fixed), key=lambda shot: shot.span)
    return [
        {
            "at": shot.span.start,
            "timecode": format_timecode(shot.span.start, rate),
            "seconds": round(float(rate.seconds(shot.span.length)), 2),
            "clip": shot.moment.name,
            "source_in": shot.source_in,
            "said": " ".join(word.text for word in task.words if word.at in shot.span),
            "why": why(task, shot),
        }
        for shot in shots
    ]


def _matched(shot: Shot, rate: Rate) -> dict[str, Any]:
    match = shot.match
    return {
        "at": shot.span.start,
        "timecode": format_timecode(shot.span.start, rate),
        "clip": shot.moment.name,
        "word": match.word if match else "",
        "tag": match.tag if match else "",
    }


def _supply_figures(
    findings: Findings, task: CoverTask, result: Cover, missed: Sequence[Unfilmed]
) -> dict[str, Any]:
    """What the bin has by subject, what the film lacks, and what is spoken of and was never filmed."""
    rate = findings.timeline.rate
    frames = Frames.of(findings.recipe.cover, rate, findings.recipe.weights)
    stock = stock_of(task, result.shots)
    return {
        "pick_ups": [
            {
                "at": missing.span.start,
                "timecode": format_timecode(missing.span.start, rate),
                "length": missing.span.length,
                "seconds": round(float(rate.seconds(missing.span.length)), 1),
                "cuts": list(missing.cuts),
                "words": " ".join(missing.words),
                "subjects": [{"subject": name, "sizes": list(sizes)} for name, sizes in missing.subjects],
            }
            for missing in pick_ups(task, frames, result.bare, stock, missed)
        ],
        "supply": [
            {
                "subject": row.subject,
                "usable_s": round(float(rate.seconds(row.usable)), 1),
                "used_s": round(float(rate.seconds(row.used)), 1),
                "sizes": list(row.sizes),
                "sizes_lacking": list(row.lacking),
            }
            for row in stock
        ],
        "unfilmed": [
            {"word": row.word, "times": len(row.at), "timecode": format_timecode(row.at[0], rate)}
            for row in missed
        ],
    }
