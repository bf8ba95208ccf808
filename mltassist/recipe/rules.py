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
from typing import Annotated, Any, Literal

from mltassist.frames import Rate
from mltassist.recipe.layers import Named, layer_named
from mltassist.recipe.reading import laid_over, structured
from mltassist.recipe.tradewords import trade_words
from mltassist.timeline.bounds import Bounded, Flaw, Within, rising, shown
from mltassist.timeline.elements import Element, Vocabulary
from mltassist.timeline.picturefaults import FLASH

Decibels = Annotated[float, Within(0, 100)]
Limit = Annotated[float, Within(0, 100, above=True)]
Factor = Annotated[float, Within(0, 100, above=True)]
Separation = Annotated[float, Within(0, 40)]
"""Loudness of speech above what lies beneath it (LU): at 40 nobody hears that."""
Weight = Annotated[float, Within(0, 1_000_000)]
FrameCount = Annotated[int, Within(0, 1000)]
Seconds = Annotated[Fraction, Within(0, 3600)]
Duration = Annotated[Fraction, Within(0, 3600, above=True)]


def _figure(default: Any, why: str) -> Any:  # noqa: ANN401  (dataclasses.field is typed the same way)
    return field(default=default, metadata={"why": why})


def _seconds(default: str, why: str) -> Any:  # noqa: ANN401
    return _figure(Fraction(default), why)


@dataclass(frozen=True, slots=True)
class ListenRules(Bounded):
    """Limits of what passes unheard at a speech edit."""

    level_limit_db: Limit = _figure(3.0, "step of speech level; a bare step is noticed from 0.5 to 1.5 dB on")
    level_spread: Factor = _figure(2.6, "or this many times the spread of the speaker's phrases, if more")
    level_same_room: Factor = _figure(
        2.0, "times this where the room stays as it is: a louder phrase is then the speaker's own"
    )
    whole_limit_db: Limit = _figure(1.1, "step of voice and room together, as a change of gain makes it")
    room_limit_db: Limit = _figure(1.7, "step of the room's level, where it is within 60 dB of speech")
    room_ratio: Factor = _figure(1.2, "or this part of what its own room varies, if more")
    room_shape_limit_db: Limit = _figure(2.0, "difference of the room's spectrum, level apart")
    room_shape_ratio: Factor = _figure(1.2, "or this many times what its own room varies, if more")
    word_limit: Annotated[float, Within(0, 1, above=True)] = _figure(
        0.18, "how far inside a sound an edit may lie: 0 in the room, 1 in speech"
    )
    word_ratio: Factor = _figure(1.2, "or this many times what the speaker's own pauses hold, if more")
    click_limit_db: Limit = _figure(5.7, "jump of the wave beyond what the sound around it foretells")
    pitch_limit_semitones: Limit = _figure(
        1.7, "leap of the voice inside a sound; 12 Hz of 120, noticed in sentences (from memory of reviews)"
    )
    pause_short_s: Duration = _seconds(
        "0.11", "least pause between words; brief ones are under 0.2 s (common practice)"
    )
    pause_long_s: Duration = _seconds("1.2", "longest pause; over 1 s is long (Campione and Véronis 2002)")
    pause_ratio: Factor = _figure(
        1.3, "or this many times the pause that 19 in 20 of the speaker's are under"
    )
    heard_from: Factor = _figure(1.5, "from this score on an edit is heard; from 1 it is to be checked")

    def contradictions(self) -> Iterator[Flaw]:
        """The shortest pause is no longer than the longest."""
        return rising(self, "pause_short_s", "pause_long_s")


@dataclass(frozen=True, slots=True)
class MendRules(Bounded):
    """Rules for moving joins that are heard."""

    reach_frames: FrameCount = _figure(12, "each side of a join is moved by at most this; 0 mends nothing")
    length: Literal["rippled", "kept"] = _figure(
        "rippled", "the film may become some frames longer or shorter, or keeps its length"
    )
    picture: Literal["follows", "stays"] = _figure(
        "follows", "the picture is cut with the sound, or stays where it is while the length is kept"
    )
    better_by: Annotated[float, Within(0, 1)] = _figure(
        0.25, "part of the score that must go, where the verdict stays the same"
    )
    levels: bool = _figure(
        True, "a bite that was turned up or down against its speaker gets a gain back to that level"
    )
    level_most_db: Limit = _figure(12.0, "a step of more is told, not mended: something else is wrong there")
    crossfade: bool = _figure(True, "where a click remains, the sound crosses over within one frame")
    room_tone: bool = _figure(
        False, "holes between two bites of one recording are filled with the sound of its room"
    )
    room_tone_max_s: Seconds = _seconds("5", "holes longer than this are meant, and stay")


@dataclass(frozen=True, slots=True)
class CoverRules(Bounded):
    """Rules for laying cutaways."""

    margin_s: Seconds = _seconds("0.5", "least time a shot begins before and ends after a jump cut")
    ideal_margin_s: Seconds = _seconds("1", "time it should, where there is room")
    shot_min_s: Duration = _seconds("2", "shortest shot; below it the eye cannot read it (common practice)")
    shot_ideal_s: Duration = _seconds(
        "3.5", "ordinary shot; films of today average 4 to 6 s (common practice)"
    )
    shot_max_s: Duration = _seconds("6", "longest ordinary shot (common practice)")
    shot_span_max_s: Duration = _seconds("8", "longest shot where one spans several cuts")
    edge_frames: FrameCount = _figure(5, "picture and sound never cut on the same frame: least distance")
    face_first_s: Seconds = _seconds("3", "a speaker seen for the first time stays at least this long")
    face_min_s: Seconds = _seconds("1.5", "later looks at the face last at least this long, or are bridged")
    reuse_after_s: Annotated[Fraction, Within(0, 86_400)] = _seconds(
        "60", "the same clip again, from another moment, only after this"
    )
    handle_s: Seconds = _seconds("0.5", "head and tail of every take that are not used: hands on the camera")
    unseen_max_s: Duration = _seconds(
        "20", "in an interview somebody is seen again within this time (common practice)"
    )
    narration: bool = _figure(True, "cover narration from end to end")
    holes: Literal["cover", "leave"] = _figure(
        "cover", "places between pictures where nothing is seen are covered like narration, or left black"
    )
    match_s: Seconds = _seconds("2", "a word matches a shot when it is said within this time of it")
    punch_in: Annotated[float, Within(1, 100, above=True)] = _figure(
        1.25,
        "a jump cut at which the picture changes in size by this factor counts as hidden",
    )
    stills: bool = _figure(True, "use still pictures")
    stills_push_in: Annotated[float, Within(1, 2)] = _figure(
        1.0, "a still grows slowly to so many times its size; 1.05 is a slow push in, 1 leaves it as it is"
    )
    captions: Literal["stay", "cover beneath"] = _figure(
        "stay", "a face stays for as long as a caption lies over it, or it is covered beneath the caption"
    )
    portrait: bool = _figure(False, "use clips that stand upright in a film that does not")
    wide: bool = _figure(False, "use clips that are wider than high in an upright film")
    interlaced: bool = _figure(False, "use clips whose pictures are interlaced")
    other_rates: bool = _figure(
        False, "use clips whose frame rate is no multiple of the film's, nor a part of it"
    )
    alternatives: Annotated[int, Within(0, 99)] = _figure(2, "other clips that are told for every shot")
    stack_alternatives: bool = _figure(
        False, "lay the first of them over every shot, on a track of its own that is switched off"
    )
    keep_sound: bool = _figure(False, "keep the own sound of every shot under the film's, but for speech")
    sound_under_lu: Decibels = _figure(
        20.0, "kept sound is set this far below the film's speech loudness (common practice)"
    )
    sound_fade_s: Seconds = _seconds("0.2", "fade at both ends of kept sound")

    def contradictions(self) -> Iterator[Flaw]:
        """Shots from the shortest to the longest; their margins have room in them."""
        yield from rising(self, "shot_min_s", "shot_ideal_s", "shot_max_s", "shot_span_max_s")
        if self.margin_s * 2 > self.shot_max_s:
            what = "a shot of shot_max_s cannot hold margin_s on both sides of a cut"
            yield ("margin_s", "shot_max_s"), what

    def handle(self, rate: Rate) -> int:
        """Frames at either end of a take that are not used."""
        return -int(-(self.handle_s * rate.fraction) // 1)


@dataclass(frozen=True, slots=True)
class Weights(Bounded):
    """What each broken rule and each matter of taste costs a cover plan; the cheapest plan is made.

    Broken rules come first: one outweighs any sum of tastes on an ordinary stretch.
    """

    bare_cut: Weight = _figure(4000.0, "a jump cut without a shot: half of it always, half by how it looks")
    near_sound_edit: Weight = _figure(1500.0, "a picture edit of ours within edge_frames of a sound edit")
    short_face: Weight = _figure(
        900.0, "a look at a face under the least time that a shot of ours begins or ends"
    )
    bare_narration: Weight = _figure(400.0, "a frame of narration, or of nothing at all, without a picture")
    short_view: Weight = _figure(300.0, "a look that the editor's own cuts make too short")
    covered_first_look: Weight = _figure(60.0, "a frame of a speaker's first long look that is covered")
    early_look: Weight = _figure(20.0, "a frame of a face that is seen before its first long look")
    short_margin: Weight = _figure(
        12.0, "a shot with only the least margin, less towards the ideal one; a split edit under two shots"
    )
    spanning: Weight = _figure(8.0, "a shot longer than the ordinary limit")
    length: Weight = _figure(6.0, "times the squared distance from the ideal length, as a part of it")
    same_subject: Weight = _figure(6.0, "a shot with a subject of one of the two before it")
    match: Weight = _figure(4.0, "a shot that no spoken word names; less by the weight of the word")
    quality: Weight = _figure(4.0, "a shaky, soft or badly exposed moment, by how bad it is")
    used_before: Weight = _figure(4.0, "each time that the clip of a shot was used already")
    change: Weight = _figure(4.0, "a shot of an earlier run that is still valid and is given up or changed")
    opening: Weight = _figure(4.0, "a film whose first picture is a shot closer than wide (common practice)")
    in_speech: Weight = _figure(3.0, "a picture edit inside a phrase")
    same_size: Weight = _figure(2.0, "a shot of the size of one of the two before it")
    unseen: Weight = _figure(
        20.0, "a frame of an interview by which nobody is seen for too long; a run counts a flash more"
    )
    cover: Weight = _figure(0.015, "a frame of face that is covered: a face is worth seeing")


@dataclass(frozen=True, slots=True)
class Frames:
    """The rules of cover in frames of one rate, and what it costs to break them."""

    margin: int
    ideal_margin: int
    shot_min: int
    shot_ideal: int
    shot_max: int
    shot_span_max: int
    edge: int
    face_first: int
    face_min: int
    reuse_after: int
    match_reach: int = 50
    unseen_max: int = 500
    flash: int = FLASH
    weights: Weights = field(default_factory=Weights)

    @classmethod
    def of(cls, rules: CoverRules, rate: Rate, weights: Weights | None = None) -> "Frames":
        """Least times are rounded up and greatest down, so that every rule holds in frames."""

        def up(seconds: Fraction) -> int:
            return -int(-(seconds * rate.fraction) // 1)

        def down(seconds: Fraction) -> int:
            return int(seconds * rate.fraction // 1)

        return cls(
            margin=up(rules.margin_s),
            ideal_margin=up(rules.ideal_margin_s),
            shot_min=max(1, up(rules.shot_min_s)),
            shot_ideal=max(1, rate.frames(rules.shot_ideal_s)),
            shot_max=down(rules.shot_max_s),
            shot_span_max=down(rules.shot_span_max_s),
            edge=rules.edge_frames,
            face_first=up(rules.face_first_s),
            face_min=up(rules.face_min_s),
            reuse_after=up(rules.reuse_after_s),
            match_reach=rate.frames(rules.match_s),
            unseen_max=down(rules.unseen_max_s),
            weights=weights or Weights(),
        )


@dataclass(frozen=True, slots=True)
class DuckRules(Bounded):
    """Rules for music and all else that sounds under speech."""

    separation_lu: Separation = _figure(
        15.0,
        "speech above music; common practice 12 to 20; WCAG SC 1.4.7 holds where all three are 20 or more",
    )
    natural_separation_lu: Separation = _figure(
        15.0, "speech above natural sound that lies under it (Torcoli et al. 2019: 15 over ambience)"
    )
    cutaway_separation_lu: Separation = _figure(15.0, "speech above the own sound of cutaways, likewise")
    words_least: Annotated[float, Within(0, 1)] = _figure(
        0.45, "intelligibility of speech under which it is told; poor from there on (ANSI S3.5-1997, annex)"
    )
    depth_limit_db: Decibels = _figure(40.0, "nothing is ever taken down by more than this")
    ramp_in_s: Seconds = _seconds("0.5", "time of the ramp down, which ends at the first word")
    ramp_out_s: Seconds = _seconds("1", "time of the ramp up after the last word")
    bridge_s: Seconds = _seconds("1.5", "it stays down over shorter gaps in speech")
    in_pause: Literal["under", "out"] = _figure("under", "music in a natural-sound pause: under it, or out")
    pause_separation_lu: Separation = _figure(8.0, "natural sound above music in a pause (common practice)")


@dataclass(frozen=True, slots=True)
class PauseRules(Bounded):
    """Rules for natural-sound pauses."""

    lead_frames: FrameCount = _figure(6, "natural sound is heard this long before its picture is seen")
    trail_frames: FrameCount = _figure(6, "and this long after it is gone")
    fade_s: Seconds = _seconds("0.2", "fade at both ends of the natural sound")
    run_out_s: Seconds = _seconds("1", "fade of music whose source ends before the pause does")
    under_speech_lu: Annotated[float, Within(-20, 60)] = _figure(
        4.0, "natural sound is set this far below the film's speech loudness"
    )
    handle_s: Seconds = _seconds("0.5", "head and tail of every take that are not used")
    spacing_s: Annotated[Fraction, Within(0, 86_400)] = _seconds(
        "20", "least time between suggested pauses, and from the ends of the film"
    )


@dataclass(frozen=True, slots=True)
class DeliveryRules(Bounded):
    """How loud the finished film is to be."""

    target_lufs: Annotated[float, Within(-70, 0)] = _figure(-23.0, "loudness of the whole film (EBU R 128)")
    ceiling_dbtp: Annotated[float, Within(-60, 0)] = _figure(-1.0, "highest true peak (EBU R 128)")
    tolerance_lu: Annotated[float, Within(0, 20)] = _figure(
        0.2, "how far from target_lufs a finished film may be (EBU R 128: what meters differ by)"
    )
    range_max_lu: Annotated[float, Within(0, 100)] = _figure(
        20.0, "widest loudness range at home (common practice)"
    )
    short_term_max_lufs: Annotated[float, Within(-70, 0)] = _figure(
        0.0, "loudest three seconds; 0 is no limit"
    )


@dataclass(frozen=True, slots=True)
class SpeechRules(Bounded):
    """How words are found in the sound of recordings without a transcript."""

    language: str = _figure("", "what is spoken, as in en or de; else the file's own tag tells")
    model: str = _figure("", "folder, from the recipe, with a model of faster-whisper, for other languages")

    def contradictions(self) -> Iterator[Flaw]:
        """A language is named by its code, so that no name is taken for one that nobody knows."""
        if self.language and not re.fullmatch(r"[A-Za-z]{2,3}([-_]\w+)*", self.language):
            yield ("language",), f"{shown(self.language)} is no code of a language, as en or de are"


@dataclass(frozen=True, slots=True)
class SeasonRules(Bounded):
    """What is decided for all films of a season together."""

    spare: tuple[str, ...] = _figure(
        (), "clips that are kept for later: cover never uses them, and the page of a season lists them"
    )


@dataclass(frozen=True, slots=True)
class GuessRules(Bounded):
    """How sure evidence must be that tells an element where no name does."""

    least: Annotated[float, Within(0, 1)] = _figure(
        0.6, "from this chance on a clip is used as what it is guessed to be"
    )
    sure: Annotated[float, Within(0, 1)] = _figure(
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
    pauses: tuple[PauseWish, ...] = _figure((), "pauses to open in every project")
    fixed: tuple[FixedShot, ...] = _figure((), "clips that cover is to show at a place")
    stay: tuple[Stay, ...] = _figure((), "stretches that cover leaves as they are")
    forbid: tuple[str, ...] = _figure(
        (), "clips that cover never uses: names, files or folders, * is any text"
    )
    log_sheets: tuple[str, ...] = _figure(
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
