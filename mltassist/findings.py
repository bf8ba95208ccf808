"""What is known of a timeline before anything is planned: elements, speech, what its files lack."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from mltassist.errors import MediaError
from mltassist.frames import Span, joined
from mltassist.media.sound.atspeed import is_heard
from mltassist.media.sound.hearing import Progress, speech_on_timeline, speech_share
from mltassist.media.sound.speech import default_detector
from mltassist.media.timing import timing_faults
from mltassist.plans import Note
from mltassist.recipe.rules import Recipe
from mltassist.rushes.logs import Log, Problem, find_log
from mltassist.timeline.elements import (
    SPEECH,
    Element,
    Elements,
    clips_of,
    find_elements,
    unknown_sources,
)
from mltassist.timeline.model import BinClip, Clip, Timeline, Track

StageProgress = Callable[[str, float], None]
"""Told the stage's name and its finished part, 0 to 1."""


@dataclass
class Findings:
    """What is known of one timeline. Notes gather here, each said once."""

    timeline: Timeline
    elements: Elements
    recipe: Recipe
    notes: dict[Note, None] = field(default_factory=dict)
    log: Log = field(default_factory=Log)

    def note(self, text: str, at: int | None = None, *, needs_editor: bool = False) -> None:
        """Remember something the editor should know."""
        self.notes[Note(text, at, needs_editor)] = None

    def note_log(self, problems: Iterable[Problem]) -> None:
        """Remember what is wrong with log sheets."""
        for problem in problems:
            self.note(problem.text, needs_editor=problem.grave)

    def missing(self, path: Path, why: str) -> None:
        """A file that could not be read, with the place where it is first heard or seen."""
        first = min(
            (c.start for t in self.timeline.tracks for c in t.clips() if c.source.path == path), default=None
        )
        self.note(why, first, needs_editor=True)


def stage(progress: StageProgress | None, name: str) -> Progress | None:
    """The progress of one named stage."""
    if progress is None:
        return None

    def told(part: float) -> None:
        progress(name, part)

    return told


def find(
    timeline: Timeline, recipe: Recipe, progress: StageProgress | None = None, *, log: Log | None = None
) -> Findings:
    """Elements of the timeline; what no name explains is judged by its sound.

    log: what the log sheets say, where they have been read before in this run; no edit changes it.
    """
    vocabulary = recipe.vocabulary()
    log = find_log(timeline, recipe.log_sheets) if log is None else log
    logged = log.words()
    elements = find_elements(timeline, vocabulary, logged=logged)
    findings = Findings(timeline, elements, recipe, log=log)
    unknown = unknown_sources(timeline, elements)
    if unknown:
        shares = _shares(findings, unknown, stage(progress, "telling speech from other sound"))
        findings.elements = find_elements(timeline, vocabulary, shares, logged)
    for warning in timeline.warnings:
        findings.note(warning)
    return findings


def _shares(findings: Findings, keys: tuple[str, ...], progress: Progress | None) -> Mapping[str, float]:
    detector = default_detector()
    shares: dict[str, float] = {}
    clips = {c.source.key: c for t in findings.timeline.tracks for c in t.clips() if c.plays_sound}
    for number, key in enumerate(keys):
        if progress is not None:
            progress(number / len(keys))
        try:
            shares[key] = speech_share(clips[key], findings.timeline.rate, detector)
        except MediaError as error:
            findings.missing(Path(key), str(error))
    return shares


def speech_clips(findings: Findings) -> tuple[tuple[Track, Clip], ...]:
    """Clips of interview and narration that sound, in order."""
    return clips_of(findings.timeline, findings.elements, SPEECH)


def muted_help(findings: Findings, wanted: Iterable[Element]) -> str:
    """What to do where these elements lie on a track whose sound is switched off; empty where none does."""
    kinds = frozenset(wanted)
    for track in findings.timeline.tracks:
        sounding = (clip for clip in track.clips() if clip.source.has_sound)
        if track.muted and any(findings.elements.of_clip(track, clip) in kinds for clip in sounding):
            return f"the sound of track {track.name!r} is switched off: switch it on"
    return ""


def spoken_sound(findings: Findings) -> tuple[tuple[Track, Clip], ...]:
    """Speech with what we have laid to mend its joins: all that is heard where it is listened to alone."""
    track = findings.timeline.of_role("joins")
    laid = () if track is None or track.muted else tuple((track, clip) for clip in track.clips())
    return *speech_clips(findings), *laid


def speech_activity(findings: Findings, progress: StageProgress | None = None) -> tuple[Span, ...]:
    """Where someone speaks on the timeline, in frames; a clip at another speed counts whole."""
    note_timing(findings, speech_clips(findings))
    detector = default_detector()
    if detector.name == "energy":
        findings.note("speech is found by its level: the speech model is not available on this machine")
    whole = []
    for _, clip in speech_clips(findings):
        if clip.source.path is None or clip.plain_speed:
            continue
        # No words can be told apart in it: it counts as speech from end to end, where it can be measured.
        heard = is_heard(clip) and clip.source.path.exists()
        told = "music is set under the whole of it" if heard else "music is not set under it"
        findings.note(
            f"{clip.name!r} plays at another speed: no words are found in it, and {told}",
            clip.start,
            needs_editor=not heard,
        )
        whole += [clip.span] if heard else []
    found = speech_on_timeline(
        speech_clips(findings),
        findings.timeline.rate,
        detector,
        on_missing=findings.missing,
        on_progress=stage(progress, "finding speech"),
    )
    return joined([*found, *whole])


def cutaways(findings: Findings) -> tuple[BinClip, ...]:
    """Clips of the bin that are cutaways, each file once."""
    found = {
        clip.source.key: clip
        for clip in reversed(findings.timeline.bin)
        if findings.elements.of_source(clip.source.key) is Element.CUTAWAY and clip.source.has_picture
    }
    return tuple(sorted(found.values(), key=lambda clip: clip.source.key))


def note_timing(findings: Findings, clips: Iterable[tuple[Track, Clip]]) -> None:
    """Name every file of these clips whose clock is at fault, with the place where it is first used."""
    first: dict[Path, int] = {}
    for _, clip in clips:
        path = clip.source.path
        if path is not None and path.exists():
            first[path] = min(clip.start, first.get(path, clip.start))
    for path, at in sorted(first.items(), key=lambda item: item[1]):
        for fault in timing_faults(path):
            findings.note(fault, at)
