"""The film before a plan and after it, with what is said in it: what all parts of a page look at."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Set
from dataclasses import dataclass
from functools import cached_property, partial
from itertools import groupby, takewhile

from mltassist.choices.kinds import Choices
from mltassist.cutaways.planner.words import Spoken
from mltassist.cutaways.said import spoken_words
from mltassist.findings import Findings, Memory, StageProgress
from mltassist.frames import Rate, Span, format_timecode
from mltassist.media.words.interface import TimedWord
from mltassist.page.cutwords import Cut, cut_words
from mltassist.plans import Plan
from mltassist.project import Project
from mltassist.recipe.rules import Recipe
from mltassist.rushes.find import begin, find
from mltassist.rushes.speech import Speech, find_speech, frame_said, spoken_recording
from mltassist.timeline.edits import ClearOurs, Edit
from mltassist.timeline.model import Clip
from mltassist.timeline.moves import moves_of_all
from mltassist.timeline.picture import Showing, showing


@dataclass
class Stages:
    """Both states of the film. before: without anything of ours; after: as the plan leaves it."""

    project: Project
    plan: Plan
    before: Findings
    after: Findings

    @property
    def rate(self) -> Rate:
        """Frames a second."""
        return self.plan.rate

    @cached_property
    def said(self) -> tuple[Spoken, ...]:
        """The words of the film as the plan leaves it, in order."""
        return spoken_words(self.after)

    @cached_property
    def seen(self) -> tuple[Showing, ...]:
        """What is seen in the film as the plan leaves it, in order."""
        return showing(self.after.timeline, ours=True)

    def placed(self) -> Iterator[tuple[Edit, int]]:
        """The edits of the plan that have a place, each with its frame in the film as the plan leaves it."""
        edits = self.plan.edits
        for number, edit in enumerate(edits):
            if isinstance(edit, ClearOurs) or not hasattr(edit, "at"):
                continue
            yield edit, moves_of_all(edits[number + 1 :]).frame(edit.at)

    def time(self, frame: int) -> str:
        """A frame as timecode."""
        return format_timecode(frame, self.rate)

    def seconds(self, frames: int) -> float:
        """Frames in seconds, to the hundredth."""
        return round(float(self.rate.seconds(frames)), 2)

    def clip_name(self, key: str) -> str:
        """The shortest end of a source's path that no other source of the bin has: what a choice names."""
        return self.after.places.called(key)

    def showing_at(self, frame: int) -> Clip | None:
        """The clip that is seen at a frame of the film as the plan leaves it."""
        return next((shown.clip for shown in self.seen if frame in shown.span), None)

    def words_in(self, span: Span) -> str:
        """What is said over a span of the film as the plan leaves it."""
        return in_sentences((w.text, w.opens, w.after) for w in self.said if w.at in span)

    @cached_property
    def speech(self) -> Speech:
        """What is known to be said in the recordings that the film plays."""
        return find_speech(self.before)

    def words_of(self, clip: Clip, frames: Span) -> str:
        """What is said in a clip's recording over frames of it, as far as that is known."""
        return in_sentences((w.text, w.opens, w.after) for w in self.speech.between(clip, frames))

    def words_cut(self, clip: Clip, frames: Span) -> str:
        """The words of frames that are left out: as written down, or as heard for sure.

        What the film plays at another place was moved, and is not among them: "…" stands for it.
        """
        there = self._cut(clip, frames)
        pieces = [list(row) for moved, row in groupby(there, key=partial(self._moved, clip)) if not moved]
        return " … ".join(in_sentences((w.text, w.opens, w.after) for w in piece) for piece in pieces)

    def plays_elsewhere(self, clip: Clip, frames: Span) -> bool:
        """True where all that is known to be said in these frames is played at another place of the film."""
        there = self._cut(clip, frames)
        return bool(there) and all(self._moved(clip, word) for word in there)

    def _moved(self, clip: Clip, word: TimedWord) -> bool:
        return (clip.source.key, frame_said(word.at_ms, self.rate), word.text) in self._played

    @cached_property
    def _played(self) -> Set[tuple[str, int, str]]:
        return {(word.source, word.source_in, word.text) for word in self.speech.said}

    def is_heard(self, clip: Clip) -> bool:
        """True where nothing is written down of what a clip's recording says: words may be misheard."""
        return clip.source.path is not None and spoken_recording(clip).transcript() is None

    @cached_property
    def _cut(self) -> Cut:
        return cut_words(self.before)


def in_sentences(words: Iterable[tuple[str, bool, str]]) -> str:
    """Words, whether each opens a sentence, and the marks behind it: as text.

    Where no mark is known a full stop stands before what opens a sentence.
    """
    told, marked = "", True
    for text, opens, after in words:
        told += ("" if marked or not opens else ".") + " " + text if told else text
        told, marked = told + after, bool(after)
    return told


def stages_of(
    project: Project,
    plan: Plan,
    recipe: Recipe | None = None,
    choices: Choices | None = None,
    on_progress: StageProgress | None = None,
    *,
    no_words: bool = False,
    applied: Project | None = None,
    memory: Memory | None = None,
) -> Stages:
    """Both states of a project that a plan is for.

    no_words: only words that are written down count. applied: the project with the plan, where it is at hand.
    memory: of earlier runs on this film.
    """
    run = begin(project.timeline, recipe, on_progress, choices, no_words=no_words, memory=memory)
    done = plan.apply(project) if applied is None else applied
    clearing = takewhile(lambda edit: isinstance(edit, ClearOurs), plan.edits)
    before = find(project.with_edits(clearing).timeline, run)
    return Stages(project, plan, before, find(done.timeline, run))
