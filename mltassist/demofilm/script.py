"""The words spoken in the demonstration film. People and places are invented."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Talk:
    """What one voice says, sentence by sentence.

    `speaker` is the short name that files carry; `paragraphs` holds the sentence numbers that belong
    together, as half-open (first, past last) pairs.
    """

    speaker: str
    full_name: str
    sentences: tuple[str, ...]
    paragraphs: tuple[tuple[int, int], ...] = ()


INES = Talk(
    "ines",
    "Ines Calder",
    (
        "The first thing you learn at a tide mill is to wait for the water.",
        "My day is never nine to five, it belongs to the moon and the rising tide.",
        "I used to be a teacher, before the trust asked me to come down here.",
        "When the wheel begins to turn, the whole floor trembles under your boots.",
        "It is hard to explain, but you get used to that.",
        "You put a hand on the millstones and you can tell if they are running true.",
        "People ask me about speed, and really there is no hurry at all.",
        "Good flour should feel cool between your fingers, never hot.",
        "If the flour comes out warm, the stones are too close together.",
        "We have tried thermometers, and nobody ever reads them.",
        "Stand on the bridge and listen, you hear the wheel long before you see it.",
        "Every sack is tied by hand, with a knot my neighbour taught me.",
        "We fill perhaps twelve sacks on a good tide, and three on a poor one.",
        "The old ledger says they did forty, but I think somebody was boasting.",
        "I write in the same ledger now, one line for every tide.",
        "One day somebody else will turn the page and carry on.",
    ),
)

TOBIAS = Talk(
    "tobias",
    "Tobias Wren",
    (
        "I keep the sluice gate, so I am the one who lets the water in.",
        "At low water there is nothing here, only mud banks and a thin silver line.",
        "My boat is older than I am, but that is another story.",
        "Then the gulls get up off the mud, and you know that the tide has turned.",
        "I lift the gate with the winch, forty turns, always by hand.",
        "The creek fills up behind the wall until the mill pond is level with the grass.",
        "Somebody offered us an electric motor once, and I said no.",
        "If you shut the gate too late, you have given half your water away.",
        "My tools hang on the wall in the order that I reach for them.",
        "There is a hammer in there that came from my grandfather.",
        "In winter I go down at night with a lantern and feel for ice on the chain.",
        "It was a bad flood that year, though we were lucky in the end.",
        "Look at my hands, every one of those marks is a piece of this gate.",
        "You cannot argue with a tide, you can only be ready for it.",
    ),
)

NARRATOR = Talk(
    "narrator",
    "Narrator",
    (
        "Twice a day, the sea comes up the creek at Saltreed.",
        "For three hundred years, a mill has stood here, and waited for it.",
        "When the tide falls, the water held behind the gate has only one way out.",
        "It runs beneath the wheel, and for four hours the mill is alive.",
        "By evening the pond is empty, and the gulls are back on the mud.",
        "The sacks are stacked beside the door, and the ledger has a new line.",
        "Then the mill does what it has always done, and waits for water.",
    ),
    ((0, 2), (2, 4), (4, 7)),
)
