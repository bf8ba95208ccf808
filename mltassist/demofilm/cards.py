"""The words spoken in the lessons and in the whole film, one recording a card, as the camera wrote them.

People talk here as people do: they breathe, look for a word, begin again. People and places are invented.
"""

from __future__ import annotations

from mltassist.demofilm.script import Talk

INES_1 = Talk(
    "ines-1",
    "Ines Calder",
    (
        "The first thing you learn at a tide mill is to wait.",
        "Um, my day, my day is,",
        "My day is never nine to five. It belongs to the moon.",
        "I was a teacher once, but that is another story.",
        "Er, anyway,",
        "When the wheel begins to turn, the whole floor trembles under your boots.",
        "You put a hand on the millstones, and you can tell if they are running true.",
        "Good flour should feel cool between your fingers, never hot.",
        "Every sack is tied by hand, with a knot my neighbour taught me.",
    ),
)

INES_2 = Talk(
    "ines-2",
    "Ines Calder",
    (
        "People ask me if the mill could run on a motor.",
        "It could. I have never said that it could not.",
        "Um, we had a long talk about it in the winter.",
        "If the gate was broken, and nobody could mend it,",
        "I would say yes to a motor.",
        "But I would not do it while there is a tide.",
        "The old ledger says they filled forty sacks in a day, but I think somebody was boasting.",
        "I write in the same ledger now, one line for every tide.",
        "One day somebody else will turn the page and carry on.",
    ),
)

INES_3 = Talk(
    "ines-3",
    "Ines Calder",
    (
        "We fill perhaps twelve sacks on a good tide, and three on a poor one.",
        "If the flour comes out warm, the stones are too close together.",
        "Um, we tried thermometers. Nobody reads them.",
        "You listen. The stones sing when they are right, and they growl when they are not.",
        "I have flour in my ears, in my shoes, and in my bed.",
        "My hands know the work better than I do.",
        "Er, what I mean, what I mean is,",
        "If I think about the knot, I cannot tie it.",
        "Stand on the bridge and listen. You hear the wheel long before you see it.",
    ),
)

TOBIAS_1 = Talk(
    "tobias-1",
    "Tobias Wren",
    (
        "I keep the sluice gate, and I am the one who lets the water in.",
        "At low water there is nothing here, only mud banks and a thin silver line.",
        "Er, what was I saying.",
        "Then the gulls get up off the mud, and you know that the tide has turned.",
        "I lift the gate with the winch. Forty turns, always by hand.",
        "If you, if you leave,",
        "If you shut the gate too late, you have given half your water away.",
        "The creek fills up behind the wall, until the pond is level with the grass.",
    ),
)

TOBIAS_2 = Talk(
    "tobias-2",
    "Tobias Wren",
    (
        "My tools hang on the wall in the order that I reach for them.",
        "There is a hammer that came from my grandfather.",
        "Um, in winter I go down at night with a lantern, and feel for ice on the chain.",
        "You hold the lantern low. With a lantern in your face you see nothing.",
        "The lantern was my father's. It went through the flood, and we were lucky in the end.",
        "Look at my hands. Every one of those marks is a piece of this gate.",
        "Er, you cannot,",
        "You cannot argue with a tide. You can only be ready for it.",
    ),
)

TOBIAS_3 = Talk(
    "tobias-3",
    "Tobias Wren",
    (
        "Somebody offered us an electric winch once, and I said no.",
        "You feel the water through the chain. A motor feels nothing.",
        "Um, there was a night, in, in the autumn,",
        "One autumn night the sea came over the wall, and we stood here with sacks of grain instead of sand.",
        "It held. The grain was spoiled, and the mill was dry.",
        "When the pond is full there is a minute with no sound at all.",
        "Then I turn the winch, and it all begins again.",
    ),
)

NARRATION = Talk(
    "narration",
    "Narrator",
    (
        "Twice a day, the sea comes up the creek at Saltreed.",
        "For three hundred years a mill has stood here, and waited for it.",
        "It was built of stone from across the water, and of oak from the wood behind the church.",
        "When the tide falls, the water held behind the gate has only one way out.",
        "It runs beneath the wheel, and for four hours the mill is alive.",
        "Most of the flour goes no further than the village: to two bakers, one school, "
        "and anybody who brings a bag.",
        "By evening the pond is empty, and the gulls are back on the mud.",
        "The sacks are stacked beside the door, and the ledger has a new line.",
        "Then the mill does what it has always done, and waits for water.",
        "Here we see the wheel, which is turning, because the water is running.",
        "And these are the hands of the miller, and this, as we can see, is flour.",
    ),
)

BALLAD = Talk(
    "ballad",
    "A voice in the music",
    (
        "The water comes, the water goes,",
        "the miller waits, the miller knows,",
        "the wheel will turn, the wheel will rest,",
        "and evening gulls fly home to nest.",
    ),
)

CARDS = (INES_1, INES_2, INES_3, TOBIAS_1, TOBIAS_2, TOBIAS_3, NARRATION, BALLAD)
