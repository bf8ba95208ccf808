"""What all rooms share: the run of one command, and what it knows of a timeline before it plans."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property, partial
from math import isfinite
from pathlib import Path
from typing import Any, TypeVar

from mltassist.choices.decisions import Decision
from mltassist.choices.kinds import Choice, Choices
from mltassist.choices.naming import Name, read_name
from mltassist.choices.places import Places
from mltassist.errors import NothingToDo
from mltassist.frames import Span, joined
from mltassist.media.sound.atspeed import is_heard
from mltassist.media.sound.hearing import Level, passage_level, speech_on_timeline
from mltassist.media.sound.speech import EnergyDetector, SpeechDetector, default_detector
from mltassist.media.timing import timing_faults
from mltassist.media.words.recording import DEAF, Ears, ears_of
from mltassist.plans import Note, Plan
from mltassist.project import Project
from mltassist.recipe.layers import plain_rules
from mltassist.recipe.rules import Recipe
from mltassist.timeline.edits import Edit
from mltassist.timeline.elements import SPEECH, Element, Elements, Identification, clips_of, matches
from mltassist.timeline.log import Log, Problem
from mltassist.timeline.model import BinClip, Clip, Timeline, Track
from mltassist.timeline.picture import Showing, layers

StageProgress = Callable[[str, float], None]
"""Told the stage's name and its finished part, 0 to 1."""
Clips = Iterable[tuple[Track, Clip]]
Missing = Callable[[Path, str], None]
"""Told of a file that cannot be read, and why."""
_Item = TypeVar("_Item")
_Made = TypeVar("_Made")


class Memory:
    """What runs on one film have worked out, for those after them: each part under all that it is made of.

    What no run has asked for while `KEPT_RUNS` ended is forgotten. left: the film as the last one leaves it.
    hurried: somebody waits for each plan, so that none is proven to be near the best.
    """

    KEPT_RUNS = 4
    """A choice that is taken back costs nothing; parts are kept while a whole serves that they are in."""

    def __init__(self, *, hurried: bool = False) -> None:
        self.hurried = hurried
        self._made: dict[object, tuple[Any, list[int]]] = {}
        self._runs = 0
        self.left: Project | None = None

    def get(self, key: object, make: Callable[[], _Made]) -> _Made:
        """What was made under this key, or is made now."""
        found = self._made.get(key)
        if found is None:
            found = self._made[key] = (make(), [self._runs])
        found[1][0] = self._runs
        made: _Made = found[0]
        return made

    def drop(self, key: object) -> None:
        """Make it again when it is next asked for."""
        self._made.pop(key, None)

    def done(self, left: Project) -> None:
        """A run has ended, and leaves the film so."""
        self._runs, self.left = self._runs + 1, left
        for key in [key for key, (_, last) in self._made.items() if last[0] < self._runs - self.KEPT_RUNS]:
            del self._made[key]


@dataclass(frozen=True)
class Run:
    """What one call of a command carries through all it does: its recipe, the log sheets, who is told.

    choices: what was decided on the film; what they say of all clips stands in the recipe by then.
    """

    recipe: Recipe
    log: Log = field(default_factory=Log)
    on_progress: StageProgress | None = None
    choices: Choices = field(default_factory=Choices)
    guesses: dict[str, Identification] = field(default_factory=dict)
    """What evidence says of sources that no name explains, by key: gathered once, before anything is laid."""
    listening: bool = True
    """Words are sought in the sound, and not only where they are written down."""
    memory: Memory = field(default_factory=Memory)

    @cached_property
    def detector(self) -> SpeechDetector:
        """What finds speech: loaded only where something is to be heard."""
        return default_detector()

    @property
    def voices(self) -> SpeechDetector | None:
        """The same where it knows a voice from other sound that comes and goes: by its level none does."""
        return None if isinstance(self.detector, EnergyDetector) else self.detector

    @cached_property
    def ears(self) -> Ears:
        """Who hears what is said, with what is installed here; nothing is loaded before it is asked."""
        if not self.listening:
            return DEAF
        model = self.recipe.speech.model
        return ears_of(Path(model) if model else None)

    def tell(self, stage: str, part: float = 0.0) -> None:
        """Tell how far a stage is, 0 to 1."""
        if self.on_progress is not None:
            self.on_progress(stage, part)

    def each(self, stage: str, items: Collection[_Item]) -> Iterator[_Item]:
        """These items, one after the other; before each it is told how far the stage is."""
        for number, item in enumerate(items):
            self.tell(stage, number / len(items))
            yield item


@dataclass
class Findings:
    """What is known of one timeline. Notes and decisions gather here, each said once."""

    timeline: Timeline
    elements: Elements
    run: Run
    notes: dict[Note, None] = field(default_factory=dict)
    decisions: dict[str, Decision] = field(default_factory=dict)
    """By name; their places are those of the result of what is planned on this timeline."""
    known_as: dict[str, str] = field(default_factory=dict)
    """Names under which somebody chose, by those that the same decisions would have here."""
    looked_at: dict[str, list[tuple[Path, tuple[Span, ...]]]] = field(default_factory=dict)
    """Stretches of cutaways that were looked at, by source: once for each clip of the bin."""

    @cached_property
    def layers(self) -> tuple[Showing, ...]:
        """What is seen of all tracks, ours among them, with all that lies above each picture."""
        return tuple(layers(self.timeline, ours=True))

    @cached_property
    def places(self) -> Places:
        """The places of the timeline by what is played there."""
        return Places(self.timeline, self.elements)

    @property
    def recipe(self) -> Recipe:
        """The house style of the run."""
        return self.run.recipe

    def note(self, text: str, at: int | None = None, *, needs_editor: bool = False) -> None:
        """Remember something the editor should know."""
        self.notes[Note(text, at, needs_editor)] = None

    def decide(self, name: str, at: int, about: str) -> None:
        """Remember what is decided, and what was chosen for it."""
        name = self.named(name)
        choice = self.run.choices.of(name)
        kind = name.partition(" ")[0].partition(":")[0]
        self.decisions[name] = Decision(name, kind, at, about, "" if choice is None else choice.choice)

    def named(self, name: str) -> str:
        """The name that a decision keeps: that under which somebody chose, where somebody did."""
        return self.known_as.get(name, name)

    def clip_called(self, wanted: str) -> BinClip | None:
        """The clip of the bin with this name, file, folder or end of a path; a cutaway before any other."""
        kinds = {Element.CUTAWAY: 0, Element.NATURAL: 1}
        clips = sorted(
            (clip for clip in self.timeline.bin if is_called(clip, wanted)),
            key=lambda clip: kinds.get(self.elements.of_source(clip.source.key) or Element.MUSIC, 2),
        )
        return clips[0] if clips else None

    def note_lost(self, choice: Choice) -> None:
        """Tell of a choice that no longer applies, where one side of what it is about still lies."""
        name = chosen_name(choice)
        at = self.places.frame(name.first)
        if at is None and name.last is not None:
            at = self.places.frame(name.last)
        what = "what it is about is not in the film any more"
        self.note(f"the choice on {_called(choice)} no longer applies: {what}", at)

    def note_unfit(self, choice: Choice, at: int, why: str) -> None:
        """Tell of a choice that cannot be obeyed here, and why."""
        self.note(f"the choice on {_called(choice)} is not obeyed: {why}", at, needs_editor=True)

    def note_overruled(self, choice: Choice, at: int) -> None:
        """Tell of a choice in place of which a later one counts."""
        self.note_unfit(choice, at, "a later choice is for the same place")

    def parts_of(self, missing: Missing) -> Callable[[object, Callable[[Missing], Any]], Any]:
        """`measured` for the parts of what is measured as a whole: of its files `missing` is told as well."""

        def told(make: Callable[[Missing], Any], own: Missing) -> Any:  # noqa: ANN401 - whatever is measured
            def both(path: Path, why: str) -> None:
                missing(path, why)
                own(path, why)

            return make(both)

        return lambda key, make: self.measured(key, partial(told, make))

    def measured(self, key: object, make: Callable[[Missing], _Made]) -> _Made:
        """What `make` measures, or an earlier run has measured under this key.

        make: given who is told of files that cannot be read; what lacks one is measured again each time.
        """
        lacking = []

        def missing(path: Path, why: str) -> None:
            lacking.append(path)
            self.missing(path, why)

        found = self.run.memory.get(key, lambda: make(missing))
        if lacking:
            self.run.memory.drop(key)
        return found

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


def is_called(clip: BinClip, wanted: str) -> bool:
    """True where a clip's name, file or folder matches a pattern, or its path ends so."""
    path = Path(clip.source.key)
    names = (clip.name, clip.folder, path.name, path.stem)
    return matches(wanted, names) or path.as_posix().endswith(f"/{wanted}")


def chosen_name(choice: Choice) -> Name:
    """The name of what a choice is on, which was read when it was made."""
    name = read_name(choice.name)
    assert name is not None  # noqa: S101
    return name


def _called(choice: Choice) -> str:
    return f"{choice.name!r}" + (f" ({choice.about})" if choice.about else "")


def plain(value: float) -> float | None:
    """A figure of a report: two decimals, None where there is none."""
    return round(value, 2) if isfinite(value) else None


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


def speech_in(findings: Findings, clips: Clips) -> tuple[Span, ...]:
    """Where these clips speak, in frames of the timeline; files that cannot be read are noted."""
    rate, detector = findings.timeline.rate, findings.run.detector
    return speech_on_timeline(clips, rate, detector, on_missing=findings.missing)


def level_over(findings: Findings, clips: Clips, span: Span) -> Level:
    """How loud these clips are together over `span`; files that cannot be read are noted."""
    return passage_level(clips, span, findings.timeline.rate, on_missing=findings.missing)


def speech_lufs(findings: Findings, span: Span) -> float:
    """Loudness of the speech over `span`; that which the film is delivered at where none is measured."""
    found = level_over(findings, speech_clips(findings), span).lufs
    return found if isfinite(found) else findings.recipe.delivery.target_lufs


def speech_activity(findings: Findings) -> tuple[Span, ...]:
    """Where someone speaks on the timeline, in frames; a clip at another speed counts whole."""
    clips, run = speech_clips(findings), findings.run
    note_timing(findings, clips)
    if run.voices is None:
        findings.note("speech is found by its level: the speech model is not available on this machine")
    whole = []
    for _, clip in clips:
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
    return joined([*speech_in(findings, run.each("finding speech", clips)), *whole])


def cutaways(findings: Findings) -> tuple[BinClip, ...]:
    """Clips of the bin that are cutaways, each file once."""
    found = {
        clip.source.key: clip
        for clip in reversed(findings.timeline.bin)
        if findings.elements.of_source(clip.source.key) is Element.CUTAWAY and clip.source.has_picture
    }
    return tuple(sorted(found.values(), key=lambda clip: clip.source.key))


def note_timing(findings: Findings, clips: Clips) -> None:
    """Name every file of these clips whose clock is at fault, with the place where it is first used."""
    first: dict[Path, int] = {}
    for _, clip in clips:
        path = clip.source.path
        if path is not None and path.exists():
            first[path] = min(clip.start, first.get(path, clip.start))
    for path, at in sorted(first.items(), key=lambda item: item[1]):
        for fault in timing_faults(path):
            findings.note(fault, at)


NOBODY_SPEAKS = "nobody speaks in the film: it has no edit to hear and none to cover"


def somebody_speaks(project: Project, findings: Findings) -> bool:
    """True where somebody speaks, False in a film that only looks: places are heard in it, and no more.

    Raises NothingToDo, with what to do about it, where speech may have been missed: what is switched off, or
    not known for what it is, may be speech.
    """
    if speech_clips(findings):
        return True
    muted = muted_help(findings, SPEECH)
    heard = {
        findings.elements.of_clip(track, clip)
        for track in findings.timeline.tracks
        for clip in track.clips()
        if clip.source.has_sound and not track.muted
    }
    if muted or Element.NATURAL not in heard or None in heard:
        ordinary = "name its track Interview or Narration, or pin it in a recipe"
        raise NothingToDo(project.path, "no speech was found", muted or ordinary)
    return False


def plan_of(
    command: str, project: Project, edits: Iterable[Edit], findings: Findings, figures: dict[str, Any]
) -> Plan:
    """A plan with what was found beside its edits."""
    rate, decisions = findings.timeline.rate, tuple(findings.decisions.values())
    notes, rules = tuple(findings.notes), plain_rules(findings.recipe)
    return Plan(command, project.path, rate, tuple(edits), notes, figures, decisions, recipe=rules)
