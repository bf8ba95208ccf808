"""The figures of a plan, as what was found and measured: a mapping as in JSON, and each part of it typed.

Field names and units are those of docs/formats.md.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any, TypeVar

import cattrs

from mltassist.timeline.structured import converter, mistakes

_Part = TypeVar("_Part")


@dataclass(frozen=True, slots=True)
class Done:
    """What was done to a join, a bite or a hole."""

    at: int
    timecode: str
    done: str


@dataclass(frozen=True, slots=True)
class JoinFigures:
    """Of `listen --mend` and `rough`."""

    edits_in_speech: int
    edits_mended: int
    joins_crossed_over: int
    levels_matched: int
    holes_filled: int
    mends: tuple[Done, ...]
    edits_heard: int
    edits_to_check: int


@dataclass(frozen=True, slots=True)
class LengthFigures:
    """How long the film was and is, in frames."""

    before: int
    after: int
    timecode: str


@dataclass(frozen=True, slots=True)
class PauseFigures:
    """A pause that was opened."""

    at: int
    timecode: str
    length: int
    seconds: float
    rippled: bool
    natural_sound: str


@dataclass(frozen=True, slots=True)
class RuleNotKept:
    """A rule that could not be kept."""

    rule: str
    at: int
    what: str


@dataclass(frozen=True, slots=True)
class ShownShot:
    """A shot with what is said meanwhile."""

    at: int
    timecode: str
    seconds: float
    clip: str
    source_in: int
    said: str
    why: str


@dataclass(frozen=True, slots=True)
class MatchedWord:
    """A shot that a spoken word names."""

    at: int
    timecode: str
    clip: str
    word: str
    tag: str


@dataclass(frozen=True, slots=True)
class OtherClip:
    """A clip that might have been laid."""

    name: str
    source: str
    source_in: int


@dataclass(frozen=True, slots=True)
class Others:
    """The next best clips for the shot at a frame."""

    at: int
    clips: tuple[OtherClip, ...]


@dataclass(frozen=True, slots=True)
class WantedSubject:
    """A subject that is spoken of, with the sizes it lacks."""

    subject: str
    sizes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlannedPickUp:
    """A shot that is missing. length: frames; cuts: frames of the jumps in it."""

    at: int
    timecode: str
    length: int
    seconds: float
    cuts: tuple[int, ...]
    words: str
    subjects: tuple[WantedSubject, ...]


@dataclass(frozen=True, slots=True)
class SubjectSupply:
    """What the bin has of a subject."""

    subject: str
    usable_s: float
    used_s: float
    sizes: tuple[str, ...]
    sizes_lacking: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class UnfilmedWord:
    """A thing that is spoken of and was never filmed."""

    word: str
    times: int
    timecode: str


@dataclass(frozen=True, slots=True)
class GivenUpShot:
    """A shot of an earlier run that is laid no more, at the place where it lay."""

    at: int
    timecode: str
    clip: str
    why: str


@dataclass(frozen=True, slots=True)
class CoverFigures:
    """Of `cover` and `rough`."""

    jump_cuts: int
    jump_cuts_covered_by_editor: int
    jump_cuts_hidden_by_size: int
    jump_cuts_covered: int
    jump_cuts_stay: int
    jump_cuts_left: int
    narration_s: float
    shots: int
    face_before_s: float
    face_after_s: float
    rules_not_kept: tuple[RuleNotKept, ...]
    cost: float
    gap: float
    shown: tuple[ShownShot, ...]
    matched: tuple[MatchedWord, ...]
    others: tuple[Others, ...]
    pick_ups: tuple[PlannedPickUp, ...]
    supply: tuple[SubjectSupply, ...]
    unfilmed: tuple[UnfilmedWord, ...]
    earlier_shots: int
    earlier_shots_kept: int
    alternatives_laid: int
    sounds_kept: int
    earlier_shots_given_up: tuple[GivenUpShot, ...] = ()


@dataclass(frozen=True, slots=True)
class Beneath:
    """What sounds beneath a passage, of one element."""

    sound: str
    lufs: float | None
    depth_db: float
    target_lu: float | None
    separation_before_lu: float | None
    separation_after_lu: float | None


@dataclass(frozen=True, slots=True)
class PassageFigures:
    """A passage of speech, or of natural sound alone, with what sounds beneath it."""

    at: int
    timecode: str
    length: int
    kind: str
    foreground_lufs: float | None
    loudest: str | None
    depth_db: float
    target_lu: float | None
    separation_before_lu: float | None
    separation_after_lu: float | None
    plain_after_db: float | None
    words_before: float | None
    words_after: float | None
    music_up_at: int | None
    music_up: str | None
    beneath: tuple[Beneath, ...]


@dataclass(frozen=True, slots=True)
class FilmLoudness:
    """Loudness, its range and the true peak of a whole film; None where it is silent."""

    integrated_lufs: float | None
    range_lu: float | None
    peak_dbtp: float | None


@dataclass(frozen=True, slots=True)
class MixFigures:
    """The whole film before and after."""

    before: FilmLoudness
    after: FilmLoudness
    target_lufs: float
    gain_to_target_db: float | None


@dataclass(frozen=True, slots=True)
class LevelFigures:
    """Of `duck` and `rough`."""

    passages: tuple[PassageFigures, ...]
    mix: MixFigures


class Figures(Mapping[str, Any]):
    """What a command found and measured: by name as in JSON, and by parts that are typed.

    Parts are made when they are asked for; one that is not there is None. Raises ValueError, naming what is
    wrong, where a saved plan was changed so that it is none.
    """

    def __init__(self, named: Mapping[str, Any] | None = None) -> None:
        self._named = dict(named or {})

    def __getitem__(self, name: str) -> Any:  # noqa: ANN401 - what JSON holds
        return self._named[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._named)

    def __len__(self) -> int:
        return len(self._named)

    def __repr__(self) -> str:
        return repr(self._named)

    @cached_property
    def joins(self) -> JoinFigures | None:
        """What was found and done at joins."""
        return self._part(JoinFigures, "edits_in_speech")

    @cached_property
    def cover(self) -> CoverFigures | None:
        """What is covered, by what, and what is missing."""
        return self._part(CoverFigures, "jump_cuts")

    @cached_property
    def levels(self) -> LevelFigures | None:
        """Passages, and the mix of the whole film."""
        return self._part(LevelFigures, "passages")

    @cached_property
    def length(self) -> LengthFigures | None:
        """How long the film was and is."""
        return _structured(self["length"], LengthFigures) if "length" in self else None

    @cached_property
    def pauses(self) -> tuple[PauseFigures, ...]:
        """The pauses that were opened, in order."""
        return tuple(_structured(row, PauseFigures) for row in self.get("pauses", ()))

    def _part(self, kind: type[_Part], telling: str) -> _Part | None:
        if telling not in self:
            return None
        names = [each.name for each in fields(kind)]  # type: ignore[arg-type]
        return _structured({name: self[name] for name in names if name in self}, kind)


def _structured(data: Any, kind: type[_Part]) -> _Part:  # noqa: ANN401
    try:
        return converter().structure(data, kind)
    except cattrs.BaseValidationError as error:
        told = "; ".join(mistake.told for mistake in mistakes(error))
        raise ValueError(f"figures: {told}") from None
