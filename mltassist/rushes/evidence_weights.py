"""How much each measure of the evidence speaks for each element.

Fitted on the tuning half of the labelled rushes (tests/rushes/labelled: 35 films in three layouts, and the
example film without its names) by maximum likelihood with a penalty of half the sum of squares; every
recording weighs by the square root of how often it is there. "" is the constant. What neighbours seem to be
counts by one factor for all elements, chosen where each recording was left out of the fit in its turn.
"""

from __future__ import annotations

from collections.abc import Mapping

from mltassist.timeline.elements import Element

NONE = "no element"
"""A screen, a slide, a title: it is none of the five."""
Outcome = Element | str

PICTURED: Mapping[Outcome, Mapping[str, float]] = {
    Element.INTERVIEW: {
        "speech": 2.2,
        "little speech": -1.9,
        "long runs": 0.8,
        "music": -0.0,
        "no sound": -0.4,
        "drawn": -0.2,
        "still": -0.2,
        "fixed": 0.2,
        "long": 0.7,
        "over speech": -0.1,
        "shortened": 0.7,
        "own sound": 0.7,
        "partner": 0.3,
        "": -0.4,
        "near interview": 1.0,
    },
    Element.CUTAWAY: {
        "speech": -1.9,
        "little speech": 1.8,
        "long runs": -0.7,
        "music": 0.1,
        "no sound": -1.0,
        "drawn": -3.0,
        "still": 0.2,
        "fixed": 0.5,
        "long": -1.0,
        "over speech": 0.3,
        "shortened": -0.7,
        "own sound": -0.4,
        "partner": -0.3,
        "": 2.2,
        "near cutaway": 1.0,
    },
    NONE: {
        "speech": -0.3,
        "little speech": 0.2,
        "long runs": -0.2,
        "music": -0.1,
        "no sound": 1.3,
        "drawn": 3.2,
        "still": -0.0,
        "fixed": -0.7,
        "long": 0.3,
        "over speech": -0.2,
        "shortened": -0.1,
        "own sound": -0.3,
        "partner": -0.0,
        "": -1.8,
    },
}
"""For files with picture."""

SOUND_ALONE: Mapping[Outcome, Mapping[str, float]] = {
    Element.INTERVIEW: {
        "speech": 0.9,
        "little speech": -0.9,
        "several voices": 2.2,
        "music": -1.4,
        "noise": -0.6,
        "beneath speech": -0.5,
        "throughout": 0.2,
        "partner": 3.1,
        "": 0.0,
        "near interview": 0.5,
    },
    Element.NARRATION: {
        "speech": 1.5,
        "little speech": -1.3,
        "several voices": -2.4,
        "music": -2.7,
        "noise": -1.1,
        "beneath speech": 0.1,
        "throughout": -0.6,
        "partner": -2.6,
        "": 1.4,
        "near narration": 0.5,
    },
    Element.NATURAL: {
        "speech": -1.9,
        "little speech": 1.8,
        "several voices": -0.2,
        "music": -1.3,
        "noise": 2.9,
        "beneath speech": -0.2,
        "throughout": -0.4,
        "partner": -0.2,
        "": -0.3,
        "near natural": 0.5,
    },
    Element.MUSIC: {
        "speech": -0.5,
        "little speech": 0.4,
        "several voices": 0.4,
        "music": 5.3,
        "noise": -1.2,
        "beneath speech": 0.5,
        "throughout": 0.9,
        "partner": -0.3,
        "": -1.2,
        "near music": 0.5,
    },
}
"""For sound alone."""
