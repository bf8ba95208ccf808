"""House style: every figure of the pass in one TOML file, each with its default and its reason.

A recipe names only what it changes. Its mistakes are reported together, each with the file, the line
and the key. Seconds are exact fractions: they become frames of the project's rate where they are used.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, is_dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any, Literal

from mltassist.errors import RecipeError
from mltassist.frames import Rate
from mltassist.recipe.lines import line_of
from mltassist.recipe.reading import structured
from mltassist.timeline.elements import Element, Vocabulary


def _figure(default: Any, why: str) -> Any:  # noqa: ANN401  (dataclasses.field is typed the same way)
    return field(default=default, metadata={"why": why})


def _seconds(default: str, why: str) -> Any:  # noqa: ANN401
    return _figure(Fraction(default), why)


@dataclass(frozen=True, slots=True)
class ListenRules:
    """Limits of what passes unheard at a speech edit."""

    level_limit_db: float = _figure(3.0, "step of speech level; a bare step is noticed from 0.5 to 1.5 dB on")
    level_spread: float = _figure(2.6, "or this many times the spread of the speaker's phrases, if more")
    level_same_room: float = _figure(
        1.5, "times this where the room stays as it is: a louder phrase is then the speaker's own"
    )
    whole_limit_db: float = _figure(1.2, "step of voice and room together, as a change of gain makes it")
    room_limit_db: float = _figure(2.0, "step of the room's level, where it is within 45 dB of speech")
    room_ratio: float = _figure(0.7, "or this part of what its own room varies, if more")
    room_shape_limit_db: float = _figure(1.8, "difference of the room's spectrum, level apart")
    room_shape_ratio: float = _figure(0.85, "or this part of what its own room varies, if more")
    word_limit: float = _figure(0.2, "how far inside a sound an edit may lie: 0 in the room, 1 in speech")
    click_limit_db: float = _figure(12.0, "jump of the wave beyond the steps around it")
    pitch_limit_semitones: float = _figure(
        1.7, "leap of the voice inside a sound; 12 Hz of 120, noticed in sentences (from memory of reviews)"
    )
    pause_short_s: Fraction = _seconds(
        "0.12", "least pause between words; brief ones are under 0.2 s (common practice)"
    )
    pause_long_s: Fraction = _seconds("1.2", "longest pause; over 1 s is long (Campione and Véronis 2002)")
    pause_ratio: float = _figure(1.3, "or this many times the pause that 19 in 20 of the speaker's are under")
    heard_from: float = _figure(1.5, "from this score on an edit is heard; from 1 it is to be checked")


@dataclass(frozen=True, slots=True)
class MendRules:
    """Rules for moving joins that are heard."""

    reach_frames: int = _figure(6, "each side of a join is moved by at most this; 0 mends nothing")
    length: Literal["rippled", "kept"] = _figure(
        "rippled", "the film may become some frames longer or shorter, or keeps its length"
    )
    picture: Literal["follows", "stays"] = _figure(
        "follows", "the picture is cut with the sound, or stays where it is while the length is kept"
    )
    better_by: float = _figure(0.25, "part of the score that must go, where the verdict stays the same")
    crossfade: bool = _figure(True, "where a click remains, the sound crosses over within one frame")
    room_tone: bool = _figure(
        False, "holes between two bites of one recording are filled with the sound of its room"
    )
    room_tone_max_s: Fraction = _seconds("5", "holes longer than this are meant, and stay")


@dataclass(frozen=True, slots=True)
class CoverRules:
    """Rules for laying cutaways."""

    margin_s: Fraction = _seconds("0.5", "least time a shot begins before and ends after a jump cut")
    ideal_margin_s: Fraction = _seconds("1", "time it should, where there is room")
    shot_min_s: Fraction = _seconds("2", "shortest shot; below it the eye cannot read it (common practice)")
    shot_ideal_s: Fraction = _seconds(
        "3.5", "ordinary shot; films of today average 4 to 6 s (common practice)"
    )
    shot_max_s: Fraction = _seconds("6", "longest ordinary shot (common practice)")
    shot_span_max_s: Fraction = _seconds("8", "longest shot where one spans several cuts")
    edge_frames: int = _figure(5, "picture and sound never cut on the same frame: least distance")
    face_first_s: Fraction = _seconds("3", "a speaker seen for the first time stays at least this long")
    face_min_s: Fraction = _seconds("1.5", "later looks at the face last at least this long, or are bridged")
    reuse_after_s: Fraction = _seconds("60", "the same clip again, from another moment, only after this")
    handle_s: Fraction = _seconds("0.5", "head and tail of every take that are not used: hands on the camera")
    narration: bool = _figure(True, "cover narration from end to end")
    match_s: Fraction = _seconds("2", "a word matches a shot when it is said within this time of it")
    punch_in: float = _figure(
        1.25,
        "a jump cut at which the picture changes in size by this factor counts as hidden",
    )
    portrait: bool = _figure(False, "use clips that stand upright")
    interlaced: bool = _figure(False, "use clips whose pictures are interlaced")
    other_rates: bool = _figure(
        False, "use clips whose frame rate is no multiple of the film's, nor a part of it"
    )
    alternatives: int = _figure(2, "other clips that are told for every shot")
    stack_alternatives: bool = _figure(
        False, "lay the first of them over every shot, on a track of its own that is switched off"
    )
    keep_sound: bool = _figure(False, "keep the own sound of every shot under the film's, but for speech")
    sound_under_lu: float = _figure(
        20.0, "kept sound is set this far below the film's speech loudness (common practice)"
    )
    sound_fade_s: Fraction = _seconds("0.2", "fade at both ends of kept sound")

    def handle(self, rate: Rate) -> int:
        """Frames at either end of a take that are not used."""
        return -int(-(self.handle_s * rate.fraction) // 1)


@dataclass(frozen=True, slots=True)
class Weights:
    """What each broken rule and each matter of taste costs a cover plan; the cheapest plan is made.

    Broken rules come first: one outweighs any sum of tastes on an ordinary stretch.
    """

    bare_cut: float = _figure(4000.0, "a jump cut without a shot: half of it always, half by how it looks")
    near_sound_edit: float = _figure(1500.0, "a picture edit of ours within edge_frames of a sound edit")
    short_face: float = _figure(
        900.0, "a look at a face under the least time that a shot of ours begins or ends"
    )
    bare_narration: float = _figure(400.0, "a frame of narration without a picture")
    short_view: float = _figure(300.0, "a look that the editor's own cuts make too short")
    covered_first_look: float = _figure(60.0, "a frame of a speaker's first long look that is covered")
    early_look: float = _figure(20.0, "a frame of a face that is seen before its first long look")
    short_margin: float = _figure(
        12.0, "a shot with only the least margin, less towards the ideal one; a split edit under two shots"
    )
    spanning: float = _figure(8.0, "a shot longer than the ordinary limit")
    length: float = _figure(6.0, "times the squared distance from the ideal length, as a part of it")
    same_subject: float = _figure(6.0, "a shot with a subject of one of the two before it")
    match: float = _figure(4.0, "a shot that no spoken word names; less by the weight of the word")
    quality: float = _figure(4.0, "a shaky, soft or badly exposed moment, by how bad it is")
    used_before: float = _figure(4.0, "each time that the clip of a shot was used already")
    in_speech: float = _figure(3.0, "a picture edit inside a phrase")
    same_size: float = _figure(2.0, "a shot of the size of one of the two before it")
    cover: float = _figure(0.015, "a frame of face that is covered: a face is worth seeing")


@dataclass(frozen=True, slots=True)
class DuckRules:
    """Rules for music under speech."""

    separation_lu: float = _figure(
        15.0,
        "speech above music; common practice 12 to 20; from 20 on WCAG SC 1.4.7 holds too",
    )
    depth_limit_db: float = _figure(40.0, "music is never taken down by more than this")
    ramp_in_s: Fraction = _seconds("0.5", "time of the ramp down, which ends at the first word")
    ramp_out_s: Fraction = _seconds("1", "time of the ramp up after the last word")
    bridge_s: Fraction = _seconds("1.5", "music stays down over shorter gaps in speech")
    in_pause: Literal["under", "out"] = _figure("under", "music in a natural-sound pause: under it, or out")
    pause_separation_lu: float = _figure(8.0, "natural sound above music in a pause (common practice)")


@dataclass(frozen=True, slots=True)
class PauseRules:
    """Rules for natural-sound pauses."""

    lead_frames: int = _figure(6, "natural sound is heard this long before its picture is seen")
    trail_frames: int = _figure(6, "and this long after it is gone")
    fade_s: Fraction = _seconds("0.2", "fade at both ends of the natural sound")
    run_out_s: Fraction = _seconds("1", "fade of music whose source ends before the pause does")
    under_speech_lu: float = _figure(4.0, "natural sound is set this far below the film's speech loudness")
    handle_s: Fraction = _seconds("0.5", "head and tail of every take that are not used")
    spacing_s: Fraction = _seconds("20", "least time between suggested pauses, and from the ends of the film")


@dataclass(frozen=True, slots=True)
class DeliveryRules:
    """How loud the finished film is to be."""

    target_lufs: float = _figure(-23.0, "loudness of the whole film (EBU R 128)")
    ceiling_dbtp: float = _figure(-1.0, "highest true peak (EBU R 128)")


@dataclass(frozen=True, slots=True)
class SpeechRules:
    """How words are found in the sound of recordings without a transcript."""

    language: str = _figure("", "what is spoken, as in en or de; else the file's own tag tells")
    model: str = _figure("", "folder, from the recipe, with a model of faster-whisper, for other languages")


@dataclass(frozen=True, slots=True)
class PauseWish:
    """A pause the recipe asks for. at: timecode, f-number or marker text; length_s: seconds."""

    at: str
    length_s: Fraction


@dataclass(frozen=True, slots=True)
class FixedShot:
    """A clip that the editor fixes to a place. clip: its name, file or folder, with * for any characters.

    at: timecode, f-number or marker text; length_s: seconds; from_s: where in the clip it begins.
    """

    clip: str
    at: str
    length_s: Fraction
    from_s: Fraction = Fraction(1, 2)


@dataclass(frozen=True, slots=True)
class Stay:
    """A stretch in which the face stays. at, until: timecode, f-number or marker text."""

    at: str
    until: str


_WORDS: dict[Element, tuple[str, ...]] = {
    Element.INTERVIEW: ("interview*", "bites", "bite", "talking head*", "sync", "testimony", "iv"),
    Element.NARRATION: (
        "narration*",
        "narrator*",
        "voiceover*",
        "voice over",
        "voice-over",
        "commentary",
        "vo",
    ),
    Element.CUTAWAY: ("cutaway*", "cut-away*", "broll", "b-roll", "b roll", "inserts", "insert shots", "gvs"),
    Element.NATURAL: (
        "natural sound*",
        "nat sound*",
        "nats",
        "nat",
        "natural",
        "ambience*",
        "ambient",
        "atmos",
        "wildtrack*",
        "wild track*",
        "room tone*",
    ),
    Element.MUSIC: ("music*", "score", "soundtrack", "song*"),
}


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
    words: Mapping[str, tuple[str, ...]] = field(
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

    def vocabulary(self) -> Vocabulary:
        """The words of the trade together with the recipe's own."""
        words = {
            element: (*known, *(word.lower() for word in self.words.get(element.value, ())))
            for element, known in _WORDS.items()
        }
        return Vocabulary(words, self.pins)


def load_recipe(path: Path | None) -> Recipe:
    """Read a recipe; None gives the defaults. Raises RecipeError naming every mistake."""
    if path is None:
        return Recipe()
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "not UTF-8 text"
        raise RecipeError(f"{path}: the recipe cannot be read ({reason})") from None
    recipe = parse_recipe(text, str(path))
    beside = path.absolute().parent
    speech = recipe.speech
    model = str(beside / speech.model) if speech.model else ""
    return replace(
        recipe,
        log_sheets=tuple(str(beside / sheet) for sheet in recipe.log_sheets),
        speech=replace(speech, model=model),
    )


def parse_recipe(text: str, name: str = "recipe") -> Recipe:
    """Read a recipe from TOML text; `name` stands in the errors."""
    recipe = structured(text, name, Recipe, _PARTS)
    problems = _contradictions(recipe, text)
    if problems:
        raise RecipeError(f"{name}: " + "; ".join(problems))
    return recipe


_PARTS = (
    ListenRules,
    MendRules,
    CoverRules,
    Weights,
    DuckRules,
    PauseRules,
    DeliveryRules,
    SpeechRules,
    PauseWish,
    FixedShot,
    Stay,
    Recipe,
)


def _contradictions(recipe: Recipe, text: str) -> list[str]:
    cover, listen = recipe.cover, recipe.listen
    found = [
        f"line {line_of(text, ['listen', item.name])}: listen.{item.name}: a limit must be more than 0"
        for item in fields(listen)
        if item.name.endswith(("_limit", "_limit_db", "_semitones", "_s", "_from"))
        and getattr(listen, item.name) <= 0
    ]
    if not cover.shot_min_s <= cover.shot_ideal_s <= cover.shot_max_s <= cover.shot_span_max_s:
        found.append("cover: shot_min_s, shot_ideal_s, shot_max_s and shot_span_max_s must not fall")
    if cover.margin_s * 2 > cover.shot_max_s:
        found.append("cover: a shot of shot_max_s cannot hold margin_s on both sides of a cut")
    found += [
        f"line {line_of(text, ['words', name])}: words: {name!r} is none of {', '.join(Element)}"
        for name in recipe.words
        if name not in list(Element)
    ]
    return found


def reference() -> list[tuple[str, str, str]]:
    """Every key with its default and reason, for the documentation."""
    rows = []
    for part in fields(Recipe):
        default = part.default if part.default_factory is not dict else {}
        if not is_dataclass(default):
            rows.append((part.name, "", part.metadata["why"]))
            continue
        for item in fields(default):
            value = getattr(default, item.name)
            shown = f"{float(value):g}" if isinstance(value, Fraction) else str(value).lower()
            rows.append((f"{part.name}.{item.name}", shown, item.metadata["why"]))
    return rows
