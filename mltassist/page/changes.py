"""A change of choices as a page sends it: read, checked in every field, and put to what is there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import cattrs

from mltassist.choices.kinds import LISTS, Choices
from mltassist.errors import ChoicesError
from mltassist.timeline.structured import converter, mistakes

_PARTS = {"put", "drop", "never", "means"}


@dataclass(frozen=True, slots=True)
class Changed:
    """What one window has decided: rows that are put, names of decisions that are free again.

    never: clips, True where they are never laid. means: tag and word, True where the word means it.
    """

    put: Choices = field(default_factory=Choices)
    drop: tuple[str, ...] = ()
    never: tuple[tuple[str, bool], ...] = ()
    means: tuple[tuple[str, str, bool], ...] = ()

    def __call__(self, now: Choices) -> Choices:
        """The choices that are there with this change; what another window has decided stays."""
        found = now.without(*self.drop).put(*self.put)
        never = dict.fromkeys(found.never)
        for clip, on in self.never:
            never = {**never, clip: None} if on else {one: None for one in never if one != clip}
        means = dict(found.means)
        for tag, word, on in self.means:
            others = tuple(one for one in means.get(tag, ()) if one != word)
            means[tag] = (*others, word) if on else others
        return replace(found, never=tuple(never), means={tag: words for tag, words in means.items() if words})


def read_change(data: object) -> Callable[[Choices], Choices]:
    """The change in JSON data of a page. Raises ChoicesError naming all that is wrong with it."""
    if not isinstance(data, dict) or not data or set(data) - _PARTS:
        raise ChoicesError("a change of choices has put, drop, never or means, and nothing else")
    return Changed(
        put=_rows(data.get("put", {})),
        drop=_texts(data.get("drop", [])),
        never=tuple(_pairs(data.get("never", {}))),
        means=tuple(_meaning(data["means"]) if "means" in data else ()),
    )


def _rows(data: Any) -> Choices:  # noqa: ANN401  (plain JSON data)
    if not isinstance(data, dict) or set(data) - set(LISTS):
        raise ChoicesError("put: should hold lists of choices")
    try:
        return converter().structure(data, Choices)
    except cattrs.BaseValidationError as error:
        raise ChoicesError("; ".join(mistake.told for mistake in mistakes(error))) from None


def _texts(data: Any) -> tuple[str, ...]:  # noqa: ANN401
    if not isinstance(data, list) or not all(isinstance(one, str) for one in data):
        raise ChoicesError("drop: should be a list of names")
    return tuple(data)


def _pairs(data: Any) -> list[tuple[str, bool]]:  # noqa: ANN401
    if not isinstance(data, dict) or not all(isinstance(on, bool) for on in data.values()):
        raise ChoicesError("never: should say true or false of clips")
    return list(data.items())


def _meaning(data: Any) -> list[tuple[str, str, bool]]:  # noqa: ANN401
    if isinstance(data, dict) and set(data) == {"tag", "word", "on"}:
        tag, word, on = data["tag"], data["word"], data["on"]
        if isinstance(tag, str) and isinstance(word, str) and isinstance(on, bool):
            return [(tag, word, on)]
    raise ChoicesError("means: should have a tag, a word, and whether it means it")
