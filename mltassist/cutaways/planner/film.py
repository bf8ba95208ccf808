"""What a cover planner is told: one edit and its supply of shots as plain data, in frames."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from mltassist.cutaways.planner.words import Match, Matcher, Spoken
from mltassist.frames import Span, joined, without
from mltassist.recipe.cover import Frames as Frames  # noqa: PLC0414  (who reads a task reads it by them)

CLOSER = ("ECU", "BCU", "CU", "MCU", "MS", "MLS")
"""Sizes that do not show where we are (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Moment:
    """A usable stretch of a cutaway. `span` is in source frames, its handled ends already taken off.

    Moments of one source may overlap. worth: 0 to 1, how steady, sharp and well exposed it is, and how good
    the editor has said that it is.
    """

    source: str
    span: Span
    name: str = ""
    size: str = ""
    subjects: tuple[str, ...] = ()
    worth: float = 1.0
    whose: tuple[str, ...] = ()
    """Keys of the recordings of the person whose shot it is; empty where it is nobody's."""
    person: str = ""

    @property
    def is_closer(self) -> bool:
        """True where its size is known and shows no place."""
        return self.size in CLOSER


@dataclass(frozen=True, slots=True)
class Voice:
    """Somebody speaks on the timeline. who: keys of the recordings, of sound and picture, that it is in."""

    span: Span
    who: tuple[str, ...]

    def is_foreign_to(self, moment: Moment) -> bool:
        """True where the moment is somebody's, and another speaks."""
        return bool(moment.whose) and not set(moment.whose) & set(self.who)


@dataclass(frozen=True, slots=True)
class View:
    """What is seen over `span` before any cover.

    who: key of the interview that shows a face; "" for background alone; None where the editor has
    already laid a picture, which is never covered.
    """

    span: Span
    who: str | None


@dataclass(frozen=True, slots=True)
class JumpCut:
    """A cut the eye would notice. at: first frame after it. unlike: 0 (same) to 1.

    seen: False for a cut in sound alone, over which the picture runs on: lips fit the words on one side only.
    """

    at: int
    unlike: float = 1.0
    seen: bool = True


@dataclass(frozen=True, slots=True)
class Used:
    """A shot the editor has laid: its source frames are spent, its clip rests for a while."""

    source: str
    span_in_source: Span
    span_on_timeline: Span


@dataclass(frozen=True, slots=True)
class Shot:
    """A cutaway placed by a planner. match: the spoken word that names what it shows, where one does.

    decision: the name of the choice that has placed it, where no planner has.
    """

    span: Span
    moment: Moment
    source_in: int
    match: Match | None = None
    decision: str = ""

    @property
    def frames(self) -> Span:
        """Frames of the source that are shown."""
        return Span(self.source_in, self.source_in + self.span.length)

    @property
    def use(self) -> Used:
        """What it takes of the supply."""
        return Used(self.moment.source, self.frames, self.span)


@dataclass(frozen=True, slots=True)
class Refused:
    """A source that is not to be seen at a place."""

    source: str
    span: Span


@dataclass(frozen=True, slots=True)
class CoverTask:
    """Everything the cover of one edit depends on.

    views: in order, without overlap, from 0 to the end; neighbours differ in `who`. sound_edits: every
    frame where a clip of speech begins or ends. pauses: frames without speech, where shots like to
    change. words: what is said, where it is known; synonyms: tags with the words that mean them too.
    fixed: shots that the editor asked for; in views and used they count as laid already. splits: from
    the cut in picture to the cut in sound of one split edit: faces whose lips say other words. holes: where
    nothing at all is seen, though nobody narrates. refused: no shot from these sources lies there. voices:
    where those who are interviewed speak. hidden: where an interview is heard beneath a picture that lies
    there already, so that nobody is seen.
    """

    views: tuple[View, ...]
    cuts: tuple[JumpCut, ...]
    narration: tuple[Span, ...]
    sound_edits: tuple[int, ...]
    pauses: tuple[Span, ...]
    supply: tuple[Moment, ...]
    used: tuple[Used, ...] = ()
    words: tuple[Spoken, ...] = ()
    synonyms: tuple[tuple[str, tuple[str, ...]], ...] = ()
    fixed: tuple[Shot, ...] = ()
    splits: tuple[Span, ...] = ()
    holes: tuple[Span, ...] = ()
    refused: tuple[Refused, ...] = ()
    voices: tuple[Voice, ...] = ()
    hidden: tuple[Span, ...] = ()

    @property
    def never_bare(self) -> tuple[Span, ...]:
        """All frames that need a picture of their own: narration, splits and holes."""
        return joined([*self.narration, *self.splits, *self.holes])

    def refuses(self, source: str, span: Span) -> bool:
        """True where a source was refused at a place that this one overlaps."""
        return any(one.source == source and one.span.overlaps(span) for one in self.refused)

    def matcher(self, subjects: Sequence[tuple[str, ...]]) -> Matcher | None:
        """What tells which word names each of these; None where no words are known."""
        return Matcher(self.words, subjects, dict(self.synonyms)) if self.words else None

    @property
    def length(self) -> int:
        """Frames of the whole edit."""
        return self.views[-1].span.end if self.views else 0


def without_views(seen: tuple[View, ...], left: tuple[Span, ...]) -> Iterator[View]:
    """The views with these stretches taken for pictures of the editor's."""
    for view in seen:
        if view.who is None:
            yield view
            continue
        parts: list[tuple[Span, str | None]] = [(span, view.who) for span in without([view.span], left)]
        parts += [(both, None) for span in left if (both := view.span.shared(span)).length > 0]
        yield from (View(span, who) for span, who in sorted(parts, key=lambda part: part[0]))
