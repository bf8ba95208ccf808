"""One film as it is, judged by every rule of a recipe that a viewer or a broadcaster would hold it to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from math import inf, isfinite
from pathlib import Path
from typing import Any

from mltassist.checking import Fault, check
from mltassist.cutaways.jumps import find_jumps
from mltassist.cutaways.sight import captions_over_faces
from mltassist.cutaways.task import left_alone, views
from mltassist.findings import Findings, StageProgress, speech_activity
from mltassist.frames import Rate, Span, format_timecode, joined, without
from mltassist.media.sound.meter import together
from mltassist.music.delivery import normalising_gain_db, whole_film
from mltassist.music.duck import measured_mix
from mltassist.music.layers import OUT
from mltassist.music.planner import PLAIN_DB
from mltassist.plans import Note
from mltassist.project import Project
from mltassist.recipe.rules import Recipe
from mltassist.rushes.find import begin, find
from mltassist.timeline.cuts import stretches
from mltassist.timeline.elements import Element
from mltassist.timeline.picturefaults import PictureFault, PictureRule, picture_faults

SEPARATION_LU = 1.0
"""A level that is steady over a passage is right to so much in each part of it (`music.duck.STEADY_LU`)."""


@dataclass(frozen=True, slots=True)
class BreachPlace:
    """A place where a rule is not kept. at: frame of the timeline, None for the whole; what: in words."""

    what: str
    at: int | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """One rule, and where it is not kept. asked: what it asks for; found: what was measured, or ""."""

    rule: str
    asked: str
    found: str = ""
    breaches: tuple[BreachPlace, ...] = ()

    @property
    def kept(self) -> bool:
        """True where the film keeps it everywhere."""
        return not self.breaches


@dataclass(frozen=True, slots=True)
class Conformity:
    """What became of one film under every rule, in their order. notes: what could not be seen or heard."""

    project: Path
    rate: Rate
    answers: tuple[Answer, ...]
    notes: tuple[Note, ...] = ()

    @property
    def conforms(self) -> bool:
        """True where every rule is kept."""
        return all(answer.kept for answer in self.answers)

    def as_dict(self) -> dict[str, Any]:
        """Plain data, in the form of docs/formats.md."""
        return {
            "project": str(self.project),
            "rate": [self.rate.numerator, self.rate.denominator],
            "conforms": self.conforms,
            "rules": [
                {
                    "rule": answer.rule,
                    "kept": answer.kept,
                    "asked": answer.asked,
                    "found": answer.found,
                    "breaches": [self._row(breach) for breach in answer.breaches],
                }
                for answer in self.answers
            ],
            "notes": [asdict(note) for note in self.notes],
        }

    def told(self, breach: BreachPlace) -> str:
        """A breach in words, with its timecode."""
        return breach.what if breach.at is None else f"{format_timecode(breach.at, self.rate)}  {breach.what}"

    def _row(self, breach: BreachPlace) -> dict[str, Any]:
        timecode = None if breach.at is None else format_timecode(breach.at, self.rate)
        return {"at": breach.at, "timecode": timecode, "what": breach.what}


def conform(
    project: Project,
    *,
    recipe: Recipe | None = None,
    no_look: bool = False,
    on_progress: StageProgress | None = None,
) -> Conformity:
    """Judge a film as it is by every rule of the recipe; nothing is planned or written.

    no_look: pictures are not looked at, so that jumps between two files of one set-up are not known.
    """
    findings = find(project.timeline, begin(project.timeline, recipe, on_progress))
    faults = check(project)
    answers = [
        Answer("structure", "no faults", "", _told(fault for fault in faults if fault.kind != "media")),
        *_picture(findings, look=not no_look),
        _separation(findings),
    ]
    loudness, unheard = _loudness(findings)
    absent = {fault.where for fault in faults if fault.kind == "media"}
    gone = [BreachPlace(f"{path}: the file is not there") for path in sorted(absent)]
    silent = sorted({str(path) for path in unheard} - absent)
    gone += [BreachPlace(f"{path}: its sound cannot be heard") for path in silent]
    answers += [*loudness, Answer("media", "every file is there and can be read", "", tuple(gone))]
    notes = tuple(note for note in findings.notes if note.needs_editor)
    return Conformity(project.path, findings.timeline.rate, tuple(answers), notes)


def _told(faults: Iterable[Fault]) -> tuple[BreachPlace, ...]:
    return tuple(BreachPlace(f"{fault.where}: {fault.what}") for fault in faults)


def _picture(findings: Findings, *, look: bool) -> Iterator[Answer]:
    """Jump cuts, narration, black and flashes, and faces, but for where the recipe leaves a face."""
    timeline, rules = findings.timeline, findings.recipe.cover
    captions = captions_over_faces(findings) if rules.captions == "stay" else ()
    left = joined([*left_alone(findings), *(span for span, _ in captions)])
    jumps = [cut.at for cut in find_jumps(findings, look=look).cuts if cut.seen]
    open_jumps = tuple(
        BreachPlace("a jump cut is seen", at) for at in jumps if not any(at in span for span in left)
    )
    yield Answer("jump cuts covered", "none is seen", f"{len(open_jumps)} seen", open_jumps)
    if rules.narration:
        bare = _bare_narration(findings, left)
        seconds = float(timeline.rate.seconds(sum(breach_span.length for breach_span in bare)))
        told = tuple(
            BreachPlace(f"{span.length} frames of narration have no picture of their own", span.start)
            for span in bare
        )
        yield Answer("narration covered", "from end to end", f"{seconds:.1f} s without", told)
    faults = picture_faults(timeline, findings.elements, timeline.rate.frames(rules.unseen_max_s))
    asked = {
        PictureRule.BLACK: "something is seen throughout",
        PictureRule.FLASH: "no picture under 12 frames",
        PictureRule.TWICE: "no frames of a cutaway again",
        PictureRule.SEEN: f"at least every {float(rules.unseen_max_s):g} s of an interview",
        PictureRule.FRAME: "nothing is seen beside a picture of another shape",
    }
    for rule, wanted in asked.items():
        if rule is not PictureRule.BLACK or rules.holes == "cover":
            yield Answer(rule.value, wanted, "", tuple(_breaches(faults, rule)))


def _bare_narration(findings: Findings, left: tuple[Span, ...]) -> tuple[Span, ...]:
    spoken = joined(stretches(findings.timeline, findings.elements, Element.NARRATION))
    pictures = [view.span for view in views(findings) if view.who is None]
    return without(spoken, [*pictures, *left])


def _breaches(faults: Iterable[PictureFault], rule: PictureRule) -> Iterator[BreachPlace]:
    return (BreachPlace(fault.what, fault.at) for fault in faults if fault.rule is rule)


def _separation(findings: Findings) -> Answer:
    """How far speech lies above each thing that sounds beneath it, in every passage as the film is now."""
    rules, least, breaches = findings.recipe.duck, inf, list[BreachPlace]()
    mix = measured_mix(findings, speech_activity(findings), rules)
    for section in mix.sections:
        for stretch in section.stretches:
            reading = mix.readings[stretch]
            over, over_db = together([reading.over])
            for number, meter in reading.beneath.items():
                layer = mix.layers[number]
                wanted = layer.in_pause_lu if section.natural else layer.separation_lu
                under, under_db = together([meter])
                if wanted is None or not isfinite(over) or not isfinite(under):
                    continue
                apart = over - under
                if not section.natural:
                    least = min(least, apart)
                plain = wanted >= PLAIN_DB and not section.natural and over_db - under_db < PLAIN_DB
                if apart < wanted - SEPARATION_LU or plain:
                    heard = "natural sound" if section.natural else "speech"
                    asked = "out" if wanted >= OUT else f"{wanted:g} LU"
                    what = f"{heard} lies {apart:.1f} LU above {layer.name}, not {asked}"
                    breaches.append(BreachPlace(what, stretch.span.start))
    targets = (rules.separation_lu, rules.natural_separation_lu, rules.cutaway_separation_lu)
    asked = "{:g} LU above music, {:g} above natural sound, {:g} above cutaways".format(*targets)
    found = f"{least:.1f} LU at the least" if isfinite(least) else "nothing sounds under speech"
    return Answer("separation", asked, found, tuple(breaches))


def _loudness(findings: Findings) -> tuple[list[Answer], set[Path]]:
    """The figures of the whole mix against those of delivery, and the files that could not be heard."""
    rules, film = findings.recipe.delivery, whole_film(findings)
    read = film.meter.read()
    lufs, wide, peak, loudest = read.integrated_lufs, read.range_lu, read.peak_dbtp, read.short_term_max_lufs
    target, reach = rules.target_lufs, rules.tolerance_lu
    # One gain for the whole film is hinted at where it would do: not where its peaks allow too little of it,
    # nor where files are missing, which gets none.
    gain_db = 0.0 if film.missing else normalising_gain_db(read, rules)
    mends = abs(lufs + gain_db - target) <= reach + ROUNDED
    answers = [
        _figure(
            "integrated loudness",
            f"{target:g} LUFS, give or take {reach:g} LU",
            f"{lufs:.1f} LUFS" if isfinite(lufs) else "silent",
            kept=abs(lufs - target) <= reach + ROUNDED,
            hint=NORMALISE if mends else "",
        ),
        _figure(
            "loudness range",
            f"{rules.range_max_lu:g} LU at most",
            f"{wide:.1f} LU" if isfinite(wide) else "too short to tell",
            kept=not wide > rules.range_max_lu + ROUNDED,
        ),
        _figure(
            "true peak",
            f"{rules.ceiling_dbtp:g} dBTP at most",
            f"{peak:.1f} dBTP" if isfinite(peak) else "silent",
            kept=not peak > rules.ceiling_dbtp + ROUNDED,
            hint=NORMALISE if gain_db < 0 else "",
        ),
    ]
    if rules.short_term_max_lufs < 0:
        answers.append(
            _figure(
                "short-term loudness",
                f"{rules.short_term_max_lufs:g} LUFS at most",
                f"{loudest:.1f} LUFS" if isfinite(loudest) else "too short to tell",
                kept=not loudest > rules.short_term_max_lufs + ROUNDED,
            )
        )
    return answers, film.missing


ROUNDED = 0.05
"""Figures are told, and held to, with one decimal: what rounds to the limit keeps it."""


NORMALISE = "; rough or duck with --normalise brings it there"


def _figure(rule: str, asked: str, found: str, *, kept: bool, hint: str = "") -> Answer:
    return Answer(rule, asked, found, () if kept else (BreachPlace(f"{found}, asked: {asked}{hint}"),))
