"""What a recording is, weighed from all that speaks for it: plain data in, an element with its chance out.

Each fact becomes a number from 0 (not so) to 1 (so); weights say how much it speaks for each element, and the
chance of an element follows from their sum (logistic regression with several outcomes). The weights were
fitted on the tuning half of the labelled rushes (tests/rushes/labelled), on films whose names tell nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from math import exp

from mltassist.rushes.evidence_weights import PICTURED, SOUND_ALONE, Outcome
from mltassist.rushes.use import Use
from mltassist.timeline.elements import Element

A_PLACE_DB = -42.0
"""Level from which a place is heard in a clip; below it there is mostly the microphone."""
NOBODY = 0.03
"""Part of a place's sound that may be speech."""
REASONS = 3
_STILL = "it is a still"


@dataclass(frozen=True, slots=True)
class Facts:
    """What is known of one recording. Parts and chances are 0 to 1; what was not measured keeps its default.

    speech: part of its sound that is speech; runs_s: how long somebody speaks without pause; voices: how much
    better two voices describe that speech than one (nats for each frame). music, noise:
    chance that this is what is heard most. drawn: how much its picture is a screen or slide; fixed: how
    little it changes. partner: name of the file that holds the same sound, "" where none does. made_by: what
    its container tells of its device. near: what others of its kind seem to be, mean chances.
    """

    picture: bool
    sound: bool
    still: bool = False
    length_s: float = 0.0
    speech: float = 0.0
    runs_s: float = 0.0
    voices: float = 0.0
    music: float = 0.0
    noise: float = 0.0
    level_db: float = -100.0
    drawn: float = 0.0
    fixed: float = 0.0
    partner: str = ""
    made_by: str = ""
    use: Use = field(default_factory=Use)
    near: Mapping[Outcome, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Clue:
    """One fact in words, and how far it has moved the decision (in natural logarithms of odds)."""

    words: str
    weight: float


@dataclass(frozen=True, slots=True)
class Weighed:
    """What a recording is taken for. chance: 0 to 1; also: what it may serve as besides."""

    outcome: Outcome
    chance: float
    reasons: tuple[Clue, ...]
    chances: Mapping[Outcome, float]
    also: tuple[Element, ...] = ()

    @property
    def element(self) -> Element | None:
        """The element, None where it is none of the five."""
        return self.outcome if isinstance(self.outcome, Element) else None

    @property
    def words(self) -> str:
        """The strongest reasons as half a sentence."""
        return "; ".join(reason.words for reason in self.reasons)


Measure = Callable[[Facts], float]
Words = Callable[[Facts, float], str]


def ramp(value: float, low: float, high: float) -> float:
    """0 up to `low`, 1 from `high`, straight between."""
    return min(1.0, max(0.0, (value - low) / (high - low)))


def _near(outcome: Outcome) -> Measure:
    return lambda facts: facts.near.get(outcome, 0.0)


MEASURES: dict[str, tuple[Measure, Words]] = {
    "speech": (
        lambda f: ramp(f.speech, 0.12, 0.5),
        lambda f, _: f"{f.speech:.0%} of its sound is speech",
    ),
    "little speech": (
        lambda f: 1 - ramp(f.speech, 0.1, 0.35),
        lambda f, _: (
            _STILL
            if f.still
            else "nobody speaks in it"
            if f.speech < 0.01
            else f"only {f.speech:.0%} of its sound is speech"
        ),
    ),
    "long runs": (
        lambda f: ramp(f.runs_s, 0.4, 1.6),
        lambda f, _: f"somebody speaks for {f.runs_s:.1f} s without a pause",
    ),
    "several voices": (
        lambda f: ramp(f.voices, 0.25, 0.6) * ramp(f.speech, 0.1, 0.3),
        lambda f, v: "several voices speak in it" if v > 0.5 else "no second voice is heard in it",
    ),
    "music": (
        lambda f: f.music,
        lambda f, v: "it sounds like music" if v > 0.5 else "it hardly sounds like music",
    ),
    "noise": (
        lambda f: f.noise,
        lambda f, v: (
            "it sounds like a place, neither speech nor music" if v > 0.5 else "it has tones or words"
        ),
    ),
    "no sound": (lambda f: float(not f.sound), lambda f, v: "it has no sound" if v else "it has sound"),
    "drawn": (
        lambda f: ramp(f.drawn, 0.2, 0.45),
        lambda f, v: "its picture is a screen or a slide" if v > 0.5 else "its picture is a camera's",
    ),
    "still": (lambda f: float(f.still), lambda f, v: _STILL if v else "its picture moves"),
    "fixed": (
        lambda f: ramp(f.fixed, 0.6, 0.95),
        lambda f, v: "its picture hardly changes" if v > 0.5 else "its picture changes",
    ),
    "long": (lambda f: ramp(f.length_s, 12, 60), lambda f, _: f"it is {f.length_s:.0f} s long"),
    "over speech": (
        lambda f: f.use.over,
        lambda f, v: "it lies over somebody's speech" if v > 0.5 else "nobody else speaks under it",
    ),
    "beneath speech": (
        lambda f: f.use.beneath,
        lambda f, v: "it plays beneath speech" if v > 0.5 else "nobody speaks over it",
    ),
    "throughout": (
        lambda f: ramp(f.use.throughout, 0.2, 0.8),
        lambda f, v: f"it plays through {f.use.throughout:.0%} of the film",
    ),
    "shortened": (
        lambda f: ramp(f.use.shortened, 0, 3),
        lambda f, _: (
            f"it is cut shorter at {f.use.shortened} places"
            if f.use.shortened
            else "nothing is cut out of it"
        ),
    ),
    "laid": (
        lambda f: float(f.use.pieces > 0),
        lambda f, v: "it is laid in the film" if v else "it is not used",
    ),
    "own sound": (
        lambda f: f.use.heard,
        lambda f, v: "it plays with its own sound" if v > 0.5 else "it plays without its own sound",
    ),
    "partner": (
        lambda f: float(bool(f.partner)),
        lambda f, v: f"it has the same sound as {f.partner}" if v else "no other file has its sound",
    ),
    "near interview": (_near(Element.INTERVIEW), lambda f, _: "its neighbours are interviews"),
    "near narration": (_near(Element.NARRATION), lambda f, _: "its neighbours are narration"),
    "near cutaway": (_near(Element.CUTAWAY), lambda f, _: "its neighbours are cutaways"),
    "near natural": (_near(Element.NATURAL), lambda f, _: "its neighbours are natural sound"),
    "near music": (_near(Element.MUSIC), lambda f, _: "its neighbours are music"),
}
"""By name, how a fact becomes a number, and how it is told where it counts."""

Weights = Mapping[Outcome, Mapping[str, float]]


def weigh(facts: Facts, weights: Weights | None = None) -> Weighed:
    """What these facts speak for. weights: others than the fitted ones, to fit them."""
    if weights is None:
        weights = PICTURED if facts.picture else SOUND_ALONE
    values = {name: measure(facts) for name, (measure, _) in MEASURES.items()}
    scores = {
        outcome: sum(weight * values.get(name, 1.0) for name, weight in row.items())
        for outcome, row in weights.items()
    }
    top = max(scores.values())
    parts = {outcome: exp(score - top) for outcome, score in scores.items()}
    whole = sum(parts.values())
    chances = {outcome: part / whole for outcome, part in parts.items()}
    first, second = sorted(chances, key=lambda outcome: -chances[outcome])[:2]
    moved = {
        name: (weights[first].get(name, 0.0) - weights[second].get(name, 0.0)) * value
        for name, value in values.items()
    }
    told: dict[str, Clue] = {}
    for name in sorted((n for n in moved if moved[n] > 0.1), key=lambda name: -moved[name]):
        words = MEASURES[name][1](facts, values[name])
        told.setdefault(words, Clue(words, round(moved[name], 2)))
    reasons = tuple(told.values())[:REASONS]
    return Weighed(first, chances[first], reasons, chances, _also(facts, first))


def _also(facts: Facts, outcome: Outcome) -> tuple[Element, ...]:
    """A camera's picture in whose sound a place lives, and nobody speaks, is natural sound as well."""
    lives = facts.sound and facts.level_db >= A_PLACE_DB and facts.speech <= NOBODY and facts.noise > 0.5
    return (Element.NATURAL,) if outcome is Element.CUTAWAY and lives else ()
