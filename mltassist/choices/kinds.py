"""The kinds of choice that are kept of a film, as plain data; their field names are those of the file.

Annotations are not put off here: the bounds of a figure stand in its type.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from fractions import Fraction
from typing import Annotated, Any, Literal

from mltassist.choices.naming import read_name
from mltassist.timeline.bounds import Bounded, Flaw, Within

_VERSION = 1
By = Annotated[int, Within(-100_000, 100_000)]
SourceFrame = Annotated[int, Within(-1, 10**9)]
_Decibels = Annotated[float, Within(-100, 20)]
_Seconds = Annotated[Fraction, Within(0, 3600, above=True)]
_Known = Annotated[int, Within(_VERSION, _VERSION)]
ANYWHERE = -1
"""In place of a frame of a source: any moment of it."""


class _Row(Bounded):
    """A choice on one decision. name: of the decision; about: words for people, which nothing reads."""

    __slots__ = ()
    KINDS: tuple[str, ...] = ()

    def contradictions(self) -> Iterator[Flaw]:
        """A name that can be read, of a decision of this kind."""
        own: Any = self
        name = read_name(own.name)
        if name is None or name.kind not in self.KINDS:
            yield ("name",), f"{own.name!r} is no name of a decision on {' or '.join(self.KINDS)}"


@dataclass(frozen=True, slots=True)
class ShotChoice(_Row):
    """What is to be seen over one stretch.

    choice: "accepted" and "other clip" lay `clip` from its frame `source_in` on (ANYWHERE: the best moment of
    it), "refused" does not lay it there, "face stays" lays nothing.
    begin_by, end_by: the shot begins and ends so many frames later than its name says, earlier where
    negative.
    clip: name, file or folder as in a recipe, or the end of its path.
    """

    name: str
    choice: Literal["accepted", "other clip", "refused", "face stays"]
    clip: str = ""
    source_in: SourceFrame = ANYWHERE
    begin_by: By = 0
    end_by: By = 0
    about: str = ""
    KINDS = ("shot",)

    def contradictions(self) -> Iterator[Flaw]:
        """A clip for what lays one."""
        yield from _Row.contradictions(self)
        if self.choice != "face stays" and not self.clip:
            yield ("clip",), f"is missing: {self.choice!r} is of one"


@dataclass(frozen=True, slots=True)
class JoinChoice(_Row):
    """What becomes of one join, or of one hole in a recording.

    choice: "moved", and "accepted" where one of them is not 0, moves it by these frames whatever it sounds
    like; "accepted" without them mends it as it is planned, "left" mends nothing. before_by: the
    clip before ends so many frames later than its name says; after_by: the clip after begins so much later in
    its source.
    """

    name: str
    choice: Literal["accepted", "moved", "left"]
    before_by: By = 0
    after_by: By = 0
    about: str = ""
    KINDS = ("join", "tone")


@dataclass(frozen=True, slots=True)
class PauseChoice(_Row):
    """A pause at one place.

    choice: "open" and "accepted" open one of `length_s` seconds there, with natural sound from `clip` (from
    its frame `source_in` on) where one is named; "refused" opens none.
    """

    name: str
    choice: Literal["accepted", "open", "refused"]
    length_s: _Seconds = Fraction(4)
    clip: str = ""
    source_in: SourceFrame = ANYWHERE
    about: str = ""
    KINDS = ("pause",)


@dataclass(frozen=True, slots=True)
class LevelChoice(_Row):
    """A level: of what sounds beneath one passage, or of one bite that was matched.

    choice: "set" and "accepted" set it to `gain_db` beside the editor's own, "left" leaves it as it is.
    """

    name: str
    choice: Literal["accepted", "set", "left"]
    gain_db: _Decibels = 0.0
    about: str = ""
    KINDS = ("level", "match")


Choice = ShotChoice | JoinChoice | PauseChoice | LevelChoice


@dataclass(frozen=True, slots=True)
class Choices(Bounded):
    """All that was decided on one film.

    never: clips that are never laid, by name, file or folder, * being any text. means: tag = spoken words
    that mean it too. Of two choices with one name in a list the later counts.
    """

    version: _Known = _VERSION
    never: tuple[str, ...] = ()
    means: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    shots: tuple[ShotChoice, ...] = ()
    joins: tuple[JoinChoice, ...] = ()
    pauses: tuple[PauseChoice, ...] = ()
    levels: tuple[LevelChoice, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.never or self.means or any(True for _ in self))

    def __iter__(self) -> Iterator[Choice]:
        """All choices on decisions."""
        for rows in (self.shots, self.joins, self.pauses, self.levels):
            yield from rows

    @property
    def undecided(self) -> "Choices":
        """What they say of words alone: nothing about any place, and no clip kept out."""
        return Choices(means=self.means)

    def of(self, name: str) -> Choice | None:
        """The choice on the decision with this name."""
        return next((row for row in reversed(tuple(self)) if row.name == name), None)

    def put(self, *rows: Choice) -> "Choices":
        """The same with these choices in place of those on the same decisions."""
        rows = tuple({row.name: row for row in rows}.values())
        found = self.without(*(row.name for row in rows))
        changed: dict[str, Any] = {
            part: (*getattr(found, part), *(row for row in rows if isinstance(row, kind)))
            for part, kind in LISTS.items()
        }
        return replace(found, **changed)

    def without(self, *names: str) -> "Choices":
        """The same without the choices on these decisions."""
        kept: dict[str, Any] = {
            part: tuple(row for row in getattr(self, part) if row.name not in names) for part in LISTS
        }
        return replace(self, **kept)


LISTS: Mapping[str, type[Choice]] = {
    "shots": ShotChoice,
    "joins": JoinChoice,
    "pauses": PauseChoice,
    "levels": LevelChoice,
}
"""Names of the lists in a file of choices."""


def merged(base: Choices, one: Choices, other: Choices) -> Choices:
    """What two have made of the same choices, together: what either has changed is changed.

    Where both have changed one choice, `other` counts.
    """
    lists: dict[str, Any] = {
        part: _merged_rows(*(getattr(c, part) for c in (base, one, other))) for part in LISTS
    }
    never = _merged_values(base.never, one.never, other.never)
    tags = dict.fromkeys((*base.means, *one.means, *other.means))
    means = {
        tag: _merged_values(*(choices.means.get(tag, ()) for choices in (base, one, other))) for tag in tags
    }
    return Choices(never=never, means={tag: words for tag, words in means.items() if words}, **lists)


def _merged_rows(base: tuple[Any, ...], one: tuple[Any, ...], other: tuple[Any, ...]) -> tuple[Any, ...]:
    was, first, second = ({row.name: row for row in rows} for rows in (base, one, other))
    found = []
    for name in dict.fromkeys((*was, *first, *second)):
        row = second.get(name) if second.get(name) != was.get(name) else first.get(name)
        found += [row] if row is not None else []
    return tuple(found)


def _merged_values(base: Iterable[str], one: Iterable[str], other: Iterable[str]) -> tuple[str, ...]:
    was, first, second = set(base), set(one), set(other)
    kept = (first & second) | (first - was) | (second - was)
    return tuple(value for value in dict.fromkeys((*base, *one, *other)) if value in kept)


def row_fields(row: Choice) -> Iterator[tuple[str, Any]]:
    """The fields of a choice that say more than their default does, in order."""
    for each in fields(row):
        value = getattr(row, each.name)
        if value != each.default:
            yield each.name, value


ChangeChoices = Callable[[Choices], Choices]
"""What one writer makes of the choices that are there when it writes."""
