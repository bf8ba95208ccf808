"""House style: every figure of the pass in one TOML file, each with its default and its reason.

A recipe names only what it changes. Its mistakes are reported together, each with the file, the line
and the key. Seconds are exact fractions: they become frames of the project's rate where they are used.
Annotations are not put off here: the bounds of a figure stand in its type.
"""

import os
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Annotated, Literal

from mltassist.recipe.cover import CoverRules, Weights
from mltassist.recipe.figures import (
    Decibels,
    Duration,
    Factor,
    FrameCount,
    Limit,
    Seconds,
    Separation,
    figure,
    seconds,
)
from mltassist.recipe.layers import Named, layer_named
from mltassist.recipe.reading import laid_over, structured
from mltassist.recipe.tradewords import trade_words
from mltassist.timeline.bounds import Bounded, Flaw, Within, rising, shown
from mltassist.timeline.elements import Element, Vocabulary


@dataclass(frozen=True, slots=True)
class ListenRules(Bounded):
    """Limits of what passes unheard at a speech edit."""

    level_limit_db: Limit = figure(3.0, "step of speech level; a bare step is noticed from 0.5 to 1.5 dB on")
    level_spread: Factor = figure(2.6, "or this many times the spread of the speaker's phrases, if more")
    level_same_room: Factor = figure(
        2.0, "times this where the room stays as it is: a louder phrase is then the speaker's own"
    )
    whole_limit_db: Limit = figure(1.1, "step of voice and room together, as a change of gain makes it")
    room_limit_db: Limit = figure(1.7, "step of the room's level, where it is within 60 dB of speech")
    room_ratio: Factor = figure(1.2, "or this part of what its own room varies, if more")
    room_shape_limit_db: Limit = figure(2.0, "difference of the room's spectrum, level apart")
    room_shape_ratio: Factor = figure(1.2, "or this many times what its own room varies, if more")
    word_limit: Annotated[float, Within(0, 1, above=True)] = figure(
        0.18, "how far inside a sound an edit may lie: 0 in the room, 1 in speech"
    )
    word_ratio: Factor = figure(1.2, "or this many times what the speaker's own pauses hold, if more")
    click_limit_db: Limit = figure(5.7, "jump of the wave beyond what the sound around it foretells")
    pitch_limit_semitones: Limit = figure(
        1.7, "leap of the voice inside a sound; 12 Hz of 120, noticed in sentences (from memory of reviews)"
    )
    pause_short_s: Duration = seconds(
        "0.11", "least pause between words; brief ones are under 0.2 s (common practice)"
    )
    pause_long_s: Duration = seconds("1.2", "longest pause; over 1 s is long (Campione and Véronis 2002)")
    pause_ratio: Factor = figure(1.3, "or this many times the pause that 19 in 20 of the speaker's are under")
    heard_from: Factor = figure(1.5, "from this score on an edit is heard; from 1 it is to be checked")

    def contradictions(self) -> Iterator[Flaw]:
        """The shortest pause is no longer than the longest."""
        return rising(self, "pause_short_s", "pause_long_s")


@dataclass(frozen=True, slots=True)
class MendRules(Bounded):
    """Rules for moving joins that are heard."""

    reach_frames: FrameCount = figure(12, "each side of a join is moved by at most this; 0 mends nothing")
    length: Literal["rippled", "kept"] = figure(
        "rippled", "the film may become some frames longer or shorter, or keeps its length"
    )
    picture: Literal["follows", "stays"] = figure(
        "follows", "the picture is cut with the sound, or stays where it is while the length is kept"
    )
    better_by: Annotated[float, Within(0, 1)] = figure(
        0.25, "part of the score that must go, where the verdict stays the same"
    )
    levels: bool = figure(
        True, "a bite that was turned up or down against its speaker gets a gain back to that level"
    )
    level_most_db: Limit = figure(12.0, "a step of more is told, not mended: something else is wrong there")
    crossfade: bool = figure(True, "where a click remains, the sound crosses over within one frame")
    room_tone: bool = figure(
        False, "holes between two bites of one recording are filled with the sound of its room"
    )
    room_tone_max_s: Seconds = seconds("5", "holes longer than this are meant, and stay")


@dataclass(frozen=True, slots=True)
class DuckRules(Bounded):
    """Rules for music and all else that sounds under speech."""

    separation_lu: Separation = figure(
        15.0,
        "speech above music; common practice 12 to 20; WCAG SC 1.4.7 holds where all three are 20 or more",
    )
    natural_separation_lu: Separation = figure(
        15.0, "speech above natural sound that lies under it (Torcoli et al. 2019: 15 over ambience)"
    )
    cutaway_separation_lu: Separation = figure(15.0, "speech above the own sound of cutaways, likewise")
    words_least: Annotated[float, Within(0, 1)] = figure(
        0.45, "intelligibility of speech under which it is told; poor from there on (ANSI S3.5-1997, annex)"
    )
    depth_limit_db: Decibels = figure(40.0, "nothing is ever taken down by more than this")
    ramp_in_s: Seconds = seconds("0.5", "time of the ramp down, which ends at the first word")
    ramp_out_s: Seconds = seconds("1", "time of the ramp up after the last word")
    bridge_s: Seconds = seconds("1.5", "it stays down over shorter gaps in speech")
    in_pause: Literal["under", "out"] = figure("under", "music in a natural-sound pause: under it, or out")
    pause_separation_lu: Separation = figure(8.0, "natural sound above music in a pause (common practice)")


@dataclass(frozen=True, slots=True)
class PauseRules(Bounded):
    """Rules for natural-sound pauses."""

    lead_frames: FrameCount = figure(6, "natural sound is heard this long before its picture is seen")
    trail_frames: FrameCount = figure(6, "and this long after it is gone")
    fade_s: Seconds = seconds("0.2", "fade at both ends of the natural sound")
    run_out_s: Seconds = seconds("1", "fade of music whose source ends before the pause does")
    under_speech_lu: Annotated[float, Within(-20, 60)] = figure(
        4.0, "natural sound is set this far below the film's speech loudness"
    )
    handle_s: Seconds = seconds("0.5", "head and tail of every take that are not used")
    spacing_s: Annotated[Fraction, Within(0, 86_400)] = seconds(
        "20", "least time between suggested pauses, and from the ends of the film"
    )


@dataclass(frozen=True, slots=True)
class DeliveryRules(Bounded):
    """How loud the finished film is to be."""

    target_lufs: Annotated[float, Within(-70, 0)] = figure(-23.0, "loudness of the whole film (EBU R 128)")
    ceiling_dbtp: Annotated[float, Within(-60, 0)] = figure(-1.0, "highest true peak (EBU R 128)")
    tolerance_lu: Annotated[float, Within(0, 20)] = figure(
        0.2, "how far from target_lufs a finished film may be (EBU R 128: what meters differ by)"
    )
    range_max_lu: Annotated[float, Within(0, 100)] = figure(
        20.0, "widest loudness range at home (common practice)"
    )
    short_term_max_lufs: Annotated[float, Within(-70, 0)] = figure(
        0.0, "loudest three seconds; 0 is no limit"
    )


@dataclass(frozen=True, slots=True)
class SpeechRules(Bounded):
    """How words are found in the sound of recordings without a transcript."""

    language: str = figure("", "what is spoken, as in en or de; else the file's own tag tells")
    model: str = figure("", "folder, from the recipe, with a model of faster-whisper, for other languages")

    def contradictions(self) -> Iterator[Flaw]:
        """A language is named by its code, so that no name is taken for one that nobody knows."""
        if self.language and not re.fullmatch(r"[A-Za-z]{2,3}([-_]\w+)*", self.language):
            yield ("language",), f"{shown(self.language)} is no code of a language, as en or de are"


@dataclass(frozen=True, slots=True)
class SeasonRules(Bounded):
    """What is decided for all films of a season together."""

    spare: tuple[str, ...] = figure(
        (), "clips that are kept for later: cover never uses them, and the page of a season lists them"
    )


@dataclass(frozen=True, slots=True)
class GuessRules(Bounded):
    """How sure evidence must be that tells an element where no name does."""

    least: Annotated[float, Within(0, 1)] = figure(
        0.6, "from this chance on a clip is used as what it is guessed to be"
    )
    sure: Annotated[float, Within(0, 1)] = figure(
        0.95, "from this on a guess is told as sure: of those 98 in 100 were right"
    )

    def contradictions(self) -> Iterator[Flaw]:
        """What is sure is not less than what is used."""
        yield from rising(self, "least", "sure")


@dataclass(frozen=True, slots=True)
class PauseWish(Bounded):
    """A pause the recipe asks for. at: timecode, f-number or marker text; length_s: seconds."""

    at: str
    length_s: Duration


@dataclass(frozen=True, slots=True)
class FixedShot(Bounded):
    """A clip that the editor fixes to a place. clip: its name, file or folder, with * for any characters.

    at: timecode, f-number or marker text; length_s: seconds; from_s: where in the clip it begins.
    """

    clip: str
    at: str
    length_s: Seconds
    from_s: Seconds = Fraction(1, 2)


@dataclass(frozen=True, slots=True)
class Stay:
    """A stretch in which the face stays. at, until: timecode, f-number or marker text."""

    at: str
    until: str


@dataclass(frozen=True, slots=True)
class Recipe:
    """All rules of the pass."""

    listen: ListenRules = ListenRules()
    mend: MendRules = MendRules()
    cover: CoverRules = CoverRules()
    weights: Weights = Weights()
    duck: DuckRules = DuckRules()
    pause: PauseRules = PauseRules()
    delivery: DeliveryRules = DeliveryRules()
    guesses: GuessRules = GuessRules()
    season: SeasonRules = SeasonRules()
    speech: SpeechRules = SpeechRules()
    pauses: tuple[PauseWish, ...] = figure((), "pauses to open in every project")
    fixed: tuple[FixedShot, ...] = figure((), "clips that cover is to show at a place")
    stay: tuple[Stay, ...] = figure((), "stretches that cover leaves as they are")
    forbid: tuple[str, ...] = figure(
        (), "clips that cover never uses: names, files or folders, * is any text"
    )
    log_sheets: tuple[str, ...] = figure(
        (),
        "log sheets (CSV) by path from the recipe; without any, files like log.csv or a-log.csv are sought",
    )
    words: Mapping[Element, tuple[str, ...]] = field(
        default_factory=dict,
        metadata={"why": "more words by which names tell an element; a final * is any ending"},
    )
    synonyms: Mapping[str, tuple[str, ...]] = field(
        default_factory=dict,
        metadata={"why": "tag = the spoken words that mean it too, besides all forms of the tag itself"},
    )
    pins: Mapping[str, Element] = field(
        default_factory=dict,
        metadata={"why": "track, folder or file name patterns whose element is told outright"},
    )

    also: Mapping[str, Element] = field(
        default_factory=dict,
        metadata={
            "why": "the same patterns, and what such clips may serve as besides: their sound in a pause"
        },
    )

    def separated(self, lu: float | None) -> "Recipe":
        """The same with speech so far above all that sounds beneath it; None: as it is."""
        if lu is None:
            return self
        duck = replace(self.duck, separation_lu=lu, natural_separation_lu=lu, cutaway_separation_lu=lu)
        return replace(self, duck=duck)

    def vocabulary(self) -> Vocabulary:
        """The words of the trade together with the recipe's own."""
        words = {
            element: (*trade_words(element), *(word.lower() for word in self.words.get(element, ())))
            for element in Element
        }
        return Vocabulary(words, self.pins, self.also)


def load_recipe(path: Named | Iterable[Named] | None) -> Recipe:
    """Read a recipe, or several laid over each other, the later over the earlier; None: the defaults.

    Each is a file, or the name of one that comes with this package. Raises RecipeError naming every mistake.
    """
    named = [] if path is None else [path] if isinstance(path, str | os.PathLike) else path
    layers = [layer_named(one) for one in named]
    return laid_over(layers, Recipe) if layers else Recipe()


def parse_recipe(text: str, name: str = "recipe") -> Recipe:
    """Read a recipe from TOML text; `name` stands in the errors."""
    return structured(text, name, Recipe)
