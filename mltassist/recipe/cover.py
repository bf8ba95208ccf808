"""House style of the cover: its rules, what each costs where it is broken, and both in frames of one rate.

Annotations are not put off here: the bounds of a figure stand in its type.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Annotated, Literal

from mltassist.frames import Rate
from mltassist.recipe.figures import Decibels, Duration, FrameCount, Seconds, Weight, figure, seconds
from mltassist.timeline.bounds import Bounded, Flaw, Within, rising
from mltassist.timeline.picturefaults import FLASH


@dataclass(frozen=True, slots=True)
class CoverRules(Bounded):
    """Rules for laying cutaways."""

    margin_s: Seconds = seconds("0.5", "least time a shot begins before and ends after a jump cut")
    ideal_margin_s: Seconds = seconds("1", "time it should, where there is room")
    shot_min_s: Duration = seconds("2", "shortest shot; below it the eye cannot read it (common practice)")
    shot_ideal_s: Duration = seconds(
        "3.5", "ordinary shot; films of today average 4 to 6 s (common practice)"
    )
    shot_max_s: Duration = seconds("6", "longest ordinary shot (common practice)")
    shot_span_max_s: Duration = seconds("8", "longest shot where one spans several cuts")
    edge_frames: FrameCount = figure(5, "picture and sound never cut on the same frame: least distance")
    face_first_s: Seconds = seconds("3", "a speaker seen for the first time stays at least this long")
    face_min_s: Seconds = seconds("1.5", "later looks at the face last at least this long, or are bridged")
    reuse_after_s: Annotated[Fraction, Within(0, 86_400)] = seconds(
        "60", "the same clip again, from another moment, only after this"
    )
    handle_s: Seconds = seconds("0.5", "head and tail of every take that are not used: hands on the camera")
    unseen_max_s: Duration = seconds(
        "20", "in an interview somebody is seen again within this time (common practice)"
    )
    narration: bool = figure(True, "cover narration from end to end")
    holes: Literal["cover", "leave"] = figure(
        "cover", "places between pictures where nothing is seen are covered like narration, or left black"
    )
    match_s: Seconds = seconds("2", "a word matches a shot when it is said within this time of it")
    punch_in: Annotated[float, Within(1, 100, above=True)] = figure(
        1.25,
        "a jump cut at which the picture changes in size by this factor counts as hidden",
    )
    stills: bool = figure(True, "use still pictures")
    stills_push_in: Annotated[float, Within(1, 2)] = figure(
        1.0, "a still grows slowly to so many times its size; 1.05 is a slow push in, 1 leaves it as it is"
    )
    captions: Literal["stay", "cover beneath"] = figure(
        "stay", "a face stays for as long as a caption lies over it, or it is covered beneath the caption"
    )
    portrait: bool = figure(False, "use clips that stand upright in a film that does not")
    wide: bool = figure(False, "use clips that are wider than high in an upright film")
    interlaced: bool = figure(False, "use clips whose pictures are interlaced")
    other_rates: bool = figure(
        False, "use clips whose frame rate is no multiple of the film's, nor a part of it"
    )
    alternatives: Annotated[int, Within(0, 99)] = figure(2, "other clips that are told for every shot")
    stack_alternatives: bool = figure(
        False, "lay the first of them over every shot, on a track of its own that is switched off"
    )
    keep_sound: bool = figure(False, "keep the own sound of every shot under the film's, but for speech")
    sound_under_lu: Decibels = figure(
        20.0, "kept sound is set this far below the film's speech loudness (common practice)"
    )
    sound_fade_s: Seconds = seconds("0.2", "fade at both ends of kept sound")

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

    bare_cut: Weight = figure(4000.0, "a jump cut without a shot: half of it always, half by how it looks")
    near_sound_edit: Weight = figure(1500.0, "a picture edit of ours within edge_frames of a sound edit")
    short_face: Weight = figure(
        900.0, "a look at a face under the least time that a shot of ours begins or ends"
    )
    bare_narration: Weight = figure(400.0, "a frame of narration, or of nothing at all, without a picture")
    short_view: Weight = figure(300.0, "a look that the editor's own cuts make too short")
    covered_first_look: Weight = figure(60.0, "a frame of a speaker's first long look that is covered")
    early_look: Weight = figure(20.0, "a frame of a face that is seen before its first long look")
    short_margin: Weight = figure(
        12.0, "a shot with only the least margin, less towards the ideal one; a split edit under two shots"
    )
    spanning: Weight = figure(8.0, "a shot longer than the ordinary limit")
    length: Weight = figure(6.0, "times the squared distance from the ideal length, as a part of it")
    same_subject: Weight = figure(6.0, "a shot with a subject of one of the two before it")
    match: Weight = figure(4.0, "a shot that no spoken word names; less by the weight of the word")
    quality: Weight = figure(4.0, "a shaky, soft or badly exposed moment, by how bad it is")
    used_before: Weight = figure(4.0, "each time that the clip of a shot was used already")
    change: Weight = figure(4.0, "a shot of an earlier run that is still valid and is given up or changed")
    opening: Weight = figure(4.0, "a film whose first picture is a shot closer than wide (common practice)")
    in_speech: Weight = figure(3.0, "a picture edit inside a phrase")
    same_size: Weight = figure(2.0, "a shot of the size of one of the two before it")
    unseen: Weight = figure(
        20.0, "a frame of an interview by which nobody is seen for too long; a run counts a flash more"
    )
    cover: Weight = figure(0.015, "a frame of face that is covered: a face is worth seeing")


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
