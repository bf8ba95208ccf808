"""What was chosen for the levels of what sounds under speech."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from mltassist.choices.kinds import LevelChoice
from mltassist.choices.places import NEAR_S
from mltassist.findings import Findings, chosen_name
from mltassist.music.layers import Layer
from mltassist.music.planner import Hold


def as_chosen(
    findings: Findings, layers: Sequence[Layer], holds: Mapping[int, tuple[Hold, ...]]
) -> dict[int, tuple[Hold, ...]]:
    """The levels of every layer with those that somebody chose; what no longer applies is noted."""
    near = findings.timeline.rate.frames(NEAR_S)
    found, taken = dict(holds), dict[tuple[int, int], LevelChoice]()
    for choice in findings.run.choices.levels:
        name = chosen_name(choice)
        if name.kind != "level":
            continue
        at = findings.places.frame(name.first)
        rows = [
            (abs(hold.span.start - at), number, place)
            for number, layer in enumerate(layers)
            for place, hold in enumerate(found.get(number, ()))
            if at is not None and re.sub(r"\W+", "-", layer.name) == name.what
            if at in hold.span or abs(hold.span.start - at) <= near
        ]
        if not rows:
            findings.note_lost(choice)
            continue
        _, number, place = min(rows)
        if (number, place) in taken:
            findings.note_overruled(taken[number, place], found[number][place].span.start)
        taken[number, place] = choice
        some = list(found[number])
        own = findings.places.level(layers[number].name, some[place].span.start)
        findings.known_as[own] = choice.name
        gain = 0.0 if choice.choice == "left" else choice.gain_db
        some[place] = replace(some[place], depth_db=gain)
        found[number] = tuple(some)
    return found
