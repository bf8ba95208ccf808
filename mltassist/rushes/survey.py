"""What is on the timeline and in the bin, which element each is, and where speech is edited."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

from mltassist.findings import Findings, StageProgress
from mltassist.frames import Span, joined
from mltassist.plans import Note
from mltassist.project import Project
from mltassist.recipe.rules import Recipe
from mltassist.rushes.faults import faults_in
from mltassist.rushes.find import begin, find
from mltassist.rushes.guesses import told_guesses
from mltassist.rushes.logs import logged_moments
from mltassist.rushes.pins import pins_recipe
from mltassist.timeline.cuts import SpeechEdit, speech_edits, stretches
from mltassist.timeline.elements import Element, Elements, persons_of, size_of, subjects_of
from mltassist.timeline.log import Logged
from mltassist.timeline.model import BinClip, Clip, Dissolve, Gap, Item, Timeline, Track


@dataclass(frozen=True, slots=True)
class Survey:
    """A timeline with its elements, its edits in speech, and frames of each element.

    on_timeline, in_bin: frames of each element in the film and in the rushes, each file once. logged: for
    each source that a log sheet names, its moments there that can be used.
    """

    timeline: Timeline
    elements: Elements
    cuts: tuple[SpeechEdit, ...]
    on_timeline: dict[Element, int]
    in_bin: dict[Element, int]
    notes: tuple[Note, ...]
    log_sheets: tuple[Path, ...] = ()
    logged: Mapping[str, tuple[Logged, ...]] = field(default_factory=dict)

    @property
    def shooting_ratio(self) -> Fraction | None:
        """Rushes to film: frames of the bin's interviews, cutaways and natural sound to the film's own."""
        shot = sum(self.in_bin[e] for e in (Element.INTERVIEW, Element.CUTAWAY, Element.NATURAL))
        return Fraction(shot, self.timeline.length) if self.timeline.length else None

    def pins(self, file: str = "house.toml") -> str:
        """What evidence tells, as the text of a recipe to correct, with the reasons; file: its own name."""
        return pins_recipe(self.timeline, self.elements, file)

    def as_dict(self) -> dict[str, Any]:
        """The survey as plain data, in the form of docs/formats.md; all times are frames."""
        timeline = self.timeline
        return {
            "version": 2,
            "project": str(timeline.path),
            "host": timeline.host,
            "rate": [timeline.rate.numerator, timeline.rate.denominator],
            "length": timeline.length,
            "tracks": [self._track(track) for track in timeline.tracks],
            "bin": [self._bin_clip(clip) for clip in timeline.bin],
            "cuts": [
                {
                    "at": cut.at,
                    "track": cut.track,
                    "kind": cut.kind.value,
                    "covered": cut.covered,
                    "removed": cut.removed,
                }
                for cut in self.cuts
            ],
            "markers": [{"at": marker.at, "text": marker.text} for marker in timeline.markers],
            "elements": {
                element.value: {"on_timeline": self.on_timeline[element], "in_bin": self.in_bin[element]}
                for element in Element
            },
            "log_sheets": [str(sheet) for sheet in self.log_sheets],
            "notes": [asdict(note) for note in self.notes],
        }

    def _track(self, track: Track) -> dict[str, Any]:
        taken = self.elements.tracks[track.index]
        return {
            "index": track.index,
            "name": track.name,
            "kind": track.kind.value,
            "element": taken.element.value if taken.element else None,
            "why": taken.why,
            "locked": track.locked,
            "hidden": track.hidden,
            "muted": track.muted,
            "ours": track.ours,
            "items": [_item(item) for item in track.items],
        }

    def _bin_clip(self, clip: BinClip) -> dict[str, Any]:
        taken = self.elements.sources[clip.source.key]
        return {
            "name": clip.name,
            "source": clip.source.key,
            "folder": clip.folder,
            "tags": list(clip.tags),
            "element": taken.element.value if taken.element else None,
            "why": taken.why,
            "chance": taken.chance if taken.element or taken.judged else None,
            "sure": taken.sure and (taken.element is not None or taken.judged),
            "seems": taken.seems.value if taken.seems else None,
            "also": [element.value for element in taken.also],
            "evidence": [{"fact": words, "weight": weight} for words, weight in taken.reasons],
            "size": size_of(clip),
            "subjects": list(subjects_of(clip)),
            "of": list(persons_of(clip)),
            "length": clip.source.length,
            "moments": [
                {
                    "start": moment.span.start,
                    "length": moment.span.length,
                    "size": moment.size,
                    "subjects": list(moment.subjects),
                    "of": list(moment.of),
                    "rating": None if moment.rating is None else float(moment.rating),
                }
                for moment in self.logged.get(clip.source.key, ())
            ],
        }


def _item(item: Item) -> dict[str, Any]:
    place = {"start": item.start, "length": item.length}
    match item:
        case Gap():
            return {"kind": "gap", **place, "source": None, "source_in": None, "name": ""}
        case Dissolve():
            halves = {name: _clip(half) for name, half in (("from", item.outgoing), ("to", item.incoming))}
            return {"kind": "dissolve", **place, "source": None, "source_in": None, "name": "", **halves}
        case Clip():
            return {"kind": "clip", **place, **_clip(item)}


def _clip(clip: Clip) -> dict[str, Any]:
    return {"source": clip.source.key, "source_in": clip.source_in, "name": clip.name}


def survey(
    project: Project, *, recipe: Recipe | None = None, on_progress: StageProgress | None = None
) -> Survey:
    """Find the elements of a project and the edits in its speech; missing media are noted by name."""
    findings = find(project.timeline, begin(project.timeline, recipe, on_progress))
    timeline, elements = findings.timeline, findings.elements
    for clip in timeline.bin:
        path = clip.source.path
        # What could not be heard or seen has been told already.
        told = any(note.text.startswith(f"{path}:") for note in findings.notes)
        if path is not None and not told and not path.exists():
            findings.missing(path, f"{path}: the file of {clip.name!r} is not there; relink it")
    logged = _logged(findings)
    for fault in faults_in(findings):
        findings.note(fault.what, fault.at)
    if guessed := told_guesses(findings):
        del findings.notes[guessed]  # the survey tells it clip by clip
    return Survey(
        timeline=timeline,
        elements=elements,
        cuts=speech_edits(timeline, elements, ours=True),
        on_timeline={e: sum(span.length for span in joined(_spans(findings, e))) for e in Element},
        in_bin={e: sum(_rushes(timeline, elements, e).values()) for e in Element},
        notes=tuple(findings.notes),
        log_sheets=findings.run.log.sheets,
        logged=logged,
    )


def _logged(findings: Findings) -> dict[str, tuple[Logged, ...]]:
    """The moments of log sheets by source key; what is wrong with others is noted."""
    findings.note_log(findings.run.log.problems)
    rate = findings.timeline.rate
    handle = findings.recipe.cover.handle(rate)
    found = {}
    for clip in findings.timeline.bin:
        if clip.source.key in findings.run.log.rows and clip.source.key not in found:
            moments, problems = logged_moments(findings.run.log, clip, rate, handle)
            findings.note_log(problems)
            found[clip.source.key] = tuple(moment for moment in moments if moment.rating != 0)
    return found


def _spans(findings: Findings, element: Element) -> Iterator[Span]:
    """Where an element is on the timeline: cutaways where they are seen, the others where they sound."""
    if element is not Element.CUTAWAY:
        yield from stretches(findings.timeline, findings.elements, element)
        return
    for track in findings.timeline.tracks:
        for clip in track.clips():
            if clip.plays_picture and not track.hidden and findings.elements.of_clip(track, clip) is element:
                yield clip.span


def _rushes(timeline: Timeline, elements: Elements, element: Element) -> dict[str, int]:
    return {
        clip.source.key: clip.source.length
        for clip in timeline.bin
        if elements.of_source(clip.source.key) is element
    }
