"""What was chosen for pauses, before any is opened."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from mltassist.choices.kinds import PauseChoice
from mltassist.choices.places import NEAR_S
from mltassist.findings import Findings, chosen_name
from mltassist.recipe.rules import PauseWish


class Wanted(NamedTuple):
    """A pause with the frame it opens at.

    natural: source of its sound and first frame, where one was chosen. choice: what asks for it, if one does.
    """

    at: int
    wish: PauseWish
    natural: tuple[str, int] | None = None
    choice: PauseChoice | None = None


def as_chosen(findings: Findings, asked: Iterable[Wanted]) -> list[Wanted]:
    """The pauses that were asked for, as they were chosen, with those that were chosen besides.

    What no longer applies is noted, and what was asked for and had been refused.
    """
    near = findings.timeline.rate.frames(NEAR_S)
    wanted = list(asked)
    for choice in findings.run.choices.pauses:
        at = findings.places.pause_at(chosen_name(choice))
        if at is None:
            findings.note_lost(choice)
            continue
        there = [one for one in wanted if abs(one.at - at) <= near]
        wanted = [one for one in wanted if one not in there]
        for one in there:
            if one.choice is not None:
                findings.note_overruled(one.choice, one.at)
        if choice.choice == "refused":
            findings.decide(choice.name, at, "no pause")
            for one in there:
                findings.note(f"the pause at {one.wish.at} is not opened: it was refused", at)
            continue
        wanted.append(
            Wanted(at, PauseWish(f"f{at}", choice.length_s), _natural(findings, choice, at), choice)
        )
    return wanted


def _natural(findings: Findings, choice: PauseChoice, at: int) -> tuple[str, int] | None:
    """The clip of the bin that was chosen to be heard."""
    if not choice.clip:
        return None
    clip = findings.clip_called(choice.clip)
    if clip is None:
        findings.note_unfit(choice, at, f"no clip of the bin is called {choice.clip!r}; another is heard")
        return None
    return clip.source.key, choice.source_in
