"""What one film of a season uses and hides, and those lists over all of them, as plain data."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from mltassist.rushes.names import is_named
from mltassist.timeline.cuts import CutKind, never_played, speech_edits
from mltassist.timeline.elements import Element
from mltassist.timeline.model import SourceKind
from mltassist.timeline.picture import showing

if TYPE_CHECKING:
    from mltassist.findings import Findings  # the caller of a season needs none of what it loads


def film_sums(findings: Findings) -> dict[str, Any]:
    """What a film as it is shows and hides: `shots`, `hidden` and `spare`, in the form of docs/formats.md.

    shots: cutaways that are seen, by source; hidden: by speaker, edits in speech under another picture, and
    the seconds left out there that the film plays nowhere; spare: clips of its bin that the recipe keeps for
    later.
    """
    from mltassist.findings import speech_clips  # noqa: PLC0415 - whoever has findings has loaded it

    timeline = findings.timeline
    rate, shots, hidden = timeline.rate, dict[str, dict[str, Any]](), dict[str, dict[str, Any]]()
    for one in showing(timeline, ours=True):
        clip, track = one.clip, one.track
        if clip is None or track is None or clip.source.kind not in (SourceKind.FILE, SourceKind.IMAGE):
            continue
        if findings.elements.of_clip(track, clip) is Element.CUTAWAY:
            row = shots.setdefault(clip.source.key, {"name": clip.name, "times": 0, "seconds": 0.0})
            row["times"] += 1
            row["seconds"] = round(row["seconds"] + float(rate.seconds(one.span.length)), 2)
    clips = [clip for _, clip in speech_clips(findings)]
    for edit in speech_edits(timeline, findings.elements, ours=True):
        if edit.kind is CutKind.JUMP and edit.covered:
            row = hidden.setdefault(edit.after.name, {"edits": 0, "removed_s": 0.0, "turned": 0})
            row["edits"] += 1
            row["turned"] += edit.removed < 0
            gone = sum(span.length for span in never_played(edit, clips))
            row["removed_s"] = round(row["removed_s"] + float(rate.seconds(gone)), 2)
    spare = {
        clip.source.key: {"name": clip.name, "seconds": round(float(rate.seconds(clip.source.length)), 2)}
        for clip in timeline.bin
        if is_named(clip, findings.recipe.season.spare)
    }
    return {
        "shots": [{"source": key, **row} for key, row in sorted(shots.items())],
        "hidden": [{"speaker": name, **row} for name, row in sorted(hidden.items())],
        "spare": [{"source": key, **row} for key, row in sorted(spare.items())],
    }


@dataclass(frozen=True, slots=True)
class Episode:
    """One film of a season as the sums see it. name: what it is called among the others."""

    name: str
    sums: Mapping[str, Any]
    pick_ups: Sequence[Mapping[str, Any]] = ()


def shots_of_all(films: Iterable[Episode]) -> list[dict[str, Any]]:
    """Every cutaway that is used, the most used first: `name`, `source`, `times`, `seconds` and `films`."""
    found: dict[str, dict[str, Any]] = {}
    for film in films:
        for row in film.sums.get("shots", ()):
            one = found.setdefault(
                row["source"],
                {"name": row["name"], "source": row["source"], "times": 0, "seconds": 0.0, "films": {}},
            )
            one["times"] += row["times"]
            one["seconds"] = round(one["seconds"] + row["seconds"], 2)
            one["films"][film.name] = one["films"].get(film.name, 0) + row["times"]
    return sorted(found.values(), key=lambda row: (-len(row["films"]), -row["times"], row["source"]))


def spare_of_all(films: Sequence[Episode]) -> list[dict[str, Any]]:
    """Clips kept for later, each once: `name`, `source`, `seconds`, and `films` that show it all the same."""
    shown = {row["source"]: row["films"] for row in shots_of_all(films)}
    found = {row["source"]: row for film in films for row in film.sums.get("spare", ())}
    return [{**row, "films": shown.get(key, {})} for key, row in sorted(found.items())]


def hidden_of_all(films: Iterable[Episode]) -> list[dict[str, Any]]:
    """Hidden edits by speaker: `speaker`, `edits`, `turned`, `removed_s` and `films`; the most first."""
    found: dict[str, dict[str, Any]] = {}
    for film in films:
        for row in film.sums.get("hidden", ()):
            one = found.setdefault(
                row["speaker"],
                {"speaker": row["speaker"], "edits": 0, "turned": 0, "removed_s": 0.0, "films": {}},
            )
            one["edits"] += row["edits"]
            one["turned"] += row["turned"]
            one["removed_s"] = round(one["removed_s"] + row["removed_s"], 2)
            one["films"][film.name] = row["edits"]
    return sorted(found.values(), key=lambda row: (-row["edits"], row["speaker"]))
