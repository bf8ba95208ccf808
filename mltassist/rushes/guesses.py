"""What the evidence makes of recordings that no name explains, and how that is told to the editor."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from functools import partial
from pathlib import Path

from mltassist.findings import Findings
from mltassist.plans import Note
from mltassist.rushes.evidence import Weighed
from mltassist.rushes.evidence_weights import Outcome
from mltassist.timeline.elements import NOTHING_TELLS, Element, Identification
from mltassist.timeline.model import SourceKind

NAMED_AT_MOST = 3
"""Files of one element that are named in a note."""
PLURALS = {
    Element.INTERVIEW: "interviews",
    Element.NARRATION: "narrations",
    Element.CUTAWAY: "cutaways",
    Element.NATURAL: "natural sounds",
    Element.MUSIC: "pieces of music",
}


def guess(findings: Findings, keys: Sequence[str]) -> dict[str, Identification]:
    """What each of these sources is taken for by evidence; those that cannot be read stay unknown."""
    timeline, run = findings.timeline, findings.run
    laid = dict.fromkeys(keys, NOTHING_TELLS)
    laid |= _by_track(findings, keys)
    known: dict[str, Outcome] = {
        key: one.element for key, one in findings.elements.sources.items() if one.element is not None
    }
    known |= {key: one.element for key, one in laid.items() if one.element is not None}
    if run.voices is None:
        findings.note(
            "the speech model is not available here: what no name tells stays unknown; name or pin it",
            needs_editor=True,
        )
        return laid
    # What measures loads for long, and where names tell everything nothing is measured.
    from mltassist.rushes.gathering import gather_evidence  # noqa: PLC0415

    found = gather_evidence(
        timeline,
        [key for key in keys if key not in known],
        run.detector,
        known=known,
        on_missing=partial(_missing, findings),
        on_progress=lambda part: run.tell("looking and listening for what names do not tell", part),
    )
    rules = run.recipe.guesses
    return laid | {key: _identified(one.weighed, rules.least, rules.sure) for key, one in found.items()}


def _missing(findings: Findings, path: Path, why: str) -> None:
    """Note a file that cannot be read; that one lies in the bin alone and is gone the survey tells."""
    laid = any(c.source.path == path for track in findings.timeline.tracks for c in track.clips())
    if laid or path.exists():
        findings.missing(path, why)


def _by_track(findings: Findings, keys: Iterable[str]) -> dict[str, Identification]:
    """What lies on a track that is named is what the track says, where all of it lies on such."""
    wanted = set(keys)
    told: dict[str, dict[Element, str]] = {}
    for track in findings.timeline.tracks:
        taken = findings.elements.tracks[track.index]
        if taken.element is not None and taken.sure and not track.ours:
            for clip in track.clips():
                if clip.source.key in wanted and clip.source.kind is not SourceKind.COLOUR:
                    told.setdefault(clip.source.key, {})[taken.element] = track.name
    return {
        key: Identification(element, f"it lies on track {name!r}")
        for key, of in told.items()
        if len(of) == 1
        for element, name in of.items()
    }


def _identified(weighed: Weighed, least: float, sure: float) -> Identification:
    chance = round(weighed.chance, 3)
    reasons = tuple((reason.words, reason.weight) for reason in weighed.reasons)
    element = weighed.element
    what = f"{min(chance, 0.99):.0%}: {weighed.words}" if weighed.words else f"{min(chance, 0.99):.0%}"
    if chance < least:
        seems = f"perhaps {element or 'a screen or slide'}"
        return Identification(None, f"unknown, {seems} ({what})", False, chance, (), element, reasons, True)
    name = element or "a screen or slide, which is no element"
    why = f"{'by evidence' if chance >= sure else 'a guess'}, {name} ({what})"
    return Identification(element, why, chance >= sure, chance, weighed.also, element, reasons, True)


def told_guesses(findings: Findings) -> Note | None:
    """What of this project rests on evidence alone, in one note; None where nothing does."""
    names = {clip.source.key: clip.name for clip in findings.timeline.bin}
    by_element: dict[Element, list[tuple[float, str, str]]] = {}
    unknown = []
    for key, taken in findings.run.guesses.items():
        name = names.get(key, Path(key).name)
        if taken.judged and taken.element is not None:
            why = taken.reasons[0][0] if taken.reasons else ""
            by_element.setdefault(taken.element, []).append((taken.chance, name, why))
        elif taken.judged and taken.seems is not None:
            unknown.append(name)
    if not by_element and not unknown:
        return None
    parts = [
        _told(element, sorted(by_element[element], key=lambda one: (one[0], one[1])))
        for element in Element
        if element in by_element
    ]
    if unknown:
        parts.append(f"unknown: {_some(unknown)}")
    doubtful = any(chance < findings.recipe.guesses.sure for of in by_element.values() for chance, *_ in of)
    how = "survey --pins house.toml writes this as a recipe to correct, and --recipe house.toml uses it"
    return Note(f"no name tells what these are: {'; '.join(parts)}. {how}", None, doubtful or bool(unknown))


def _told(element: Element, rows: list[tuple[float, str, str]]) -> str:
    least, most = min(rows[0][0], 0.99), min(rows[-1][0], 0.99)
    sure = f"{least:.0%}" if round(least, 2) == round(most, 2) else f"{least:.0%} to {most:.0%}"
    what = PLURALS[element] if len(rows) > 1 else f"{element}"
    why = told_for_all([why for *_, why in rows])
    return f"{what} {_some([name for _, name, _ in rows])} ({sure} sure: {why})"


def told_for_all(reasons: Sequence[str]) -> str:
    """The two reasons that hold for most of several clips; where each has its own, that of the last."""
    several = [why for why, count in Counter(reasons).most_common(2) if count > 1]
    return ", or ".join(several) if several else reasons[-1]


def _some(names: Sequence[str]) -> str:
    few = ", ".join(names[:NAMED_AT_MOST])
    return few if len(names) <= NAMED_AT_MOST else f"{few} and {len(names) - NAMED_AT_MOST} more"
