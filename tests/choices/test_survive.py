"""Films cut, paused and put in another order: every choice is obeyed where its words are by then, or told."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st

from mltassist.choices.kinds import Choices, JoinChoice, LevelChoice, PauseChoice, ShotChoice
from mltassist.choices.places import NEAR_S
from mltassist.cutaways.chosen import chosen_places, chosen_shots
from mltassist.findings import Findings, Run, chosen_name
from mltassist.frames import Span
from mltassist.joins.chosen import as_chosen as joins_as_chosen
from mltassist.joins.chosen import levels_as_chosen
from mltassist.joins.hear import Join
from mltassist.joins.planner.judge import Judgement, Measures, Verdict
from mltassist.music.chosen import as_chosen as levels_of_layers
from mltassist.music.layers import Layer
from mltassist.music.planner import Hold
from mltassist.pauses.chosen import as_chosen as pauses_as_chosen
from mltassist.recipe.rules import Recipe
from mltassist.timeline.cuts import speech_edits
from mltassist.timeline.elements import Element, find_elements
from mltassist.timeline.model import Clip, Gap, Timeline
from tests.timeline.films import in_bin, row, timeline, track

Bite = tuple[str | None, int, int]
"""A file (None: nothing), its length on the timeline, and its first source frame."""
WORDS = Recipe().vocabulary()
BITES = st.tuples(st.sampled_from(["ines.mp4", "tobias.mp4"]), st.integers(1, 200), st.integers(0, 700))
QUIET = Judgement(Verdict.CLEAN, 0.0, ())
NOTHING = Measures(*[0.0] * 9)


def film(bites: list[Bite]) -> Timeline:
    parts = [(name, length, first) if name else (None, length) for name, length, first in bites]
    length = sum(bite[1] for bite in bites)
    music = track(1, "Music", row(("tune.wav", length)), sound=True)
    made = timeline(music, track(2, "Interview", row(*parts)))  # type: ignore[arg-type]
    return replace(made, bin=(in_bin("wheel CU", "Cutaways", file="wheel.mp4"),))


def findings(bites: list[Bite], choices: Choices = Choices()) -> Findings:  # noqa: B008
    made = film(bites)
    return Findings(made, find_elements(made, WORDS), Run(Recipe(), choices=choices))


@st.composite
def recut(draw: st.DrawFn, bites: list[Bite]) -> list[Bite]:
    """The film after an editor's day: cuts, pauses, bites put elsewhere or taken out, and again."""
    result = list(bites)
    for _ in range(draw(st.integers(0, 4))):
        place = draw(st.integers(0, len(result) - 1))
        name, length, first = result[place]
        cut = draw(st.integers(0, length))
        match draw(st.sampled_from(["trim", "split", "pause", "swap", "out", "double"])):
            case "trim" if length - cut > 0 and name:
                result[place] = (name, length - cut, first + cut)
            case "split" if 0 < cut < length and name:
                result[place : place + 1] = [(name, cut, first), (name, length - cut, first + cut)]
            case "pause":
                result.insert(place, (None, draw(st.integers(1, 60)), 0))
            case "swap":
                result.append(result.pop(place))
            case "out" if len(result) > 1:
                result.pop(place)
            case "double":
                result.insert(0, result[place])
            case _:
                pass
    return [bite for bite in result if bite[1] > 0] or bites


@st.composite
def chosen(draw: st.DrawFn, bites: list[Bite]) -> Choices:
    """Choices of every kind on a film."""
    there = findings(bites)
    places, length = there.places, there.timeline.length
    rows: list[ShotChoice | JoinChoice | PauseChoice | LevelChoice] = []
    for _ in range(draw(st.integers(1, 3))):
        first = draw(st.integers(0, length - 1))
        span = Span(first, draw(st.integers(first + 1, length)))
        kind = draw(st.sampled_from(["accepted", "other clip", "refused", "face stays"]))
        by = draw(st.integers(-5, 5))
        rows.append(ShotChoice(places.shot(span), kind, "wheel CU", draw(st.integers(0, 900)), by, by))
    for edit in speech_edits(there.timeline, there.elements)[:3]:
        rows.append(JoinChoice(places.join(edit), "moved", draw(st.integers(-9, 9)), 1))
    rows.append(PauseChoice(places.pause(draw(st.integers(0, length))), "open", Fraction(2)))
    rows.append(LevelChoice(places.level("music", draw(st.integers(0, length - 1))), "set", -9.0))
    clips = [clip for clip in there.timeline.track(2).clips() if clip.source.key.endswith("ines.mp4")]
    if clips:
        rows.append(LevelChoice(places.match(clips[0]), "set", -2.0))
    return Choices().put(*rows)


def shown(timeline: Timeline, at: int) -> tuple[str, int] | None:
    """What is said at a frame, told without the code under test."""
    for item in timeline.track(2).items:
        if not isinstance(item, Gap) and at in item.span:
            assert isinstance(item, Clip)
            return item.source.key.rpartition("/")[2], item.source_in + at - item.start
    return None


def is_told(there: Findings, name: str) -> bool:
    return any(name in note.text and "the choice on" in note.text for note in there.notes)


def place_of(there: Findings, choice: ShotChoice) -> Span | None:
    """Where the stretch lies now that a choice is for."""
    named, film_now = there.places.span(chosen_name(choice)), Span(0, there.timeline.length)
    if named is None:
        return None
    return Span(named.start + choice.begin_by, named.end + choice.end_by).shared(film_now)


def known(there: Findings, join: Join) -> str:
    """The name under which somebody chose for a join."""
    return there.known_as[there.places.join(join.edit)]


@settings(max_examples=100, deadline=None)
@given(st.data())
def test_every_choice_is_obeyed_or_told(data: st.DataObject) -> None:
    bites = data.draw(st.lists(BITES, min_size=1, max_size=5))
    choices = data.draw(chosen(bites))
    there = findings(data.draw(recut(bites)), choices)
    film_now, near = there.timeline, there.timeline.rate.frames(NEAR_S)

    def lies(at: int, name: str, *, after: int = 0) -> bool:
        """True where a frame that a name tells is played, or one near to it, or where nobody speaks."""
        anchor = chosen_name(choice_of[name]).first
        said = shown(film_now, at - anchor.after - after)
        return said is None or (said[0] == anchor.file and abs(said[1] - anchor.frame) <= near)

    choice_of = {one.name: one for one in choices}
    # Shots: laid where their words are, or stretches left alone, or told.
    places = chosen_places(there)
    laid = chosen_shots(there, places, (), ())
    for one in choices.shots:
        stays = one.choice == "face stays" and place_of(there, one) in places.stays
        refused = one.choice == "refused" and place_of(there, one) in [row.span for row in places.refused]
        own = [shot for shot in laid if shot.decision == one.name]
        assert own or stays or refused or is_told(there, one.name), one
        assert not own or one.choice in ("accepted", "other clip")
        assert len(own) < 2
        for shot in own:
            assert shot.source_in in (one.source_in, 1000 - shot.span.length)
            if shot.span.start > 0 and shot.span.end < film_now.length:
                assert lies(shot.span.start - one.begin_by, one.name)
    for one, other in combinations(laid, 2):
        assert not one.span.overlaps(other.span)
    assert not [shot for shot in laid if any(shot.span.overlaps(stay) for stay in places.stays)]
    # Joins.
    edits = speech_edits(film_now, there.elements)
    joins = joins_as_chosen(there, tuple(Join(edit, NOTHING, QUIET) for edit in edits), mend=True)
    for one in choices.joins:
        name = chosen_name(one)
        moved = [
            join
            for join in joins
            if join.chosen is not None and there.known_as[there.places.join(join.edit)] == one.name
        ]
        assert moved or is_told(there, one.name), one
        for join in moved:
            assert name.last is not None
            last = join.edit.before.span.end - 1 - join.edit.before.start + join.edit.before.source_in
            assert last + join.chosen[0] == name.first.frame + one.before_by
            assert join.edit.after.source_in + join.chosen[1] == name.last.frame + one.after_by
    # Pauses, levels under passages, levels of bites.
    for wanted in pauses_as_chosen(there, ()):
        assert lies(wanted.at, choices.pauses[0].name, after=1)
        assert wanted.wish.length_s == 2
    assert pauses_as_chosen(there, ()) or is_told(there, choices.pauses[0].name)
    holds = tuple(Hold(span, -20.0) for span in _passages(film_now))
    levels = levels_of_layers(there, [Layer(Element.MUSIC, (), 15.0)], {0: holds})
    assert [hold for hold in levels[0] if hold.depth_db == -9.0] or is_told(there, choices.levels[0].name)
    matched = levels_as_chosen(there)
    for one in choices.levels[1:]:
        assert one in matched.values() or is_told(there, one.name)


def _passages(timeline: Timeline) -> list[Span]:
    return [item.span for item in timeline.track(2).items if not isinstance(item, Gap)]
