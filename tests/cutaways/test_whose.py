"""Shots that are somebody's: told by a tag or a log row, and never laid while another speaks."""

from __future__ import annotations

from dataclasses import replace

import pytest

import mltassist
from mltassist.cutaways.planner.film import Frames, Voice
from mltassist.cutaways.planner.laying import cover_edits
from mltassist.cutaways.planner.plan import plan_cover
from mltassist.cutaways.planner.rules import breaches
from mltassist.cutaways.planner.stable import Placed, plan_stably
from mltassist.cutaways.task import cover_task
from mltassist.findings import Findings
from mltassist.frames import Rate, Span
from mltassist.recipe.rules import Recipe
from mltassist.rushes.find import begin, find
from mltassist.rushes.logsheet import read_log_sheet
from mltassist.rushes.moments import usable
from mltassist.timeline.elements import persons_of, subjects_of
from mltassist.timeline.log import Logged
from mltassist.timeline.model import BinClip
from tests.cli.films import EXAMPLE
from tests.cutaways.films import RULES, clips, task_of
from tests.timeline.films import in_bin


def test_a_tag_tells_whose_shot_it_is_and_names_no_subject():
    clip = replace(in_bin("hands CU"), tags=("hands", "CU", "of: Ines", "Of:Tobias Wren/ Ines"))
    assert persons_of(clip) == ("Ines", "Tobias Wren")
    assert subjects_of(clip) == ("hands",)
    assert persons_of(replace(clip, tags=("of stone", "roof: slate", "of:"))) == ()


def test_a_row_of_a_log_sheet_tells_it_for_its_moment_alone():
    sheet = read_log_sheet("file,in,out,of\nhands.mp4,1.0,4.0,Ines|Tobias\nhands.mp4,5.0,9.0,\n", Rate(25))
    assert sheet.problems == ()
    assert [row.of for row in sheet.rows] == [("Ines", "Tobias"), ()]
    clip = replace(in_bin("hands CU"), tags=("of: Narrator",))
    rows = [Logged(Span(25, 100), "", (), None, of=("Ines",)), Logged(Span(125, 225), "", (), None)]
    parts = usable(clip, rows, Span(13, 987), ideal=88, least=50)
    assert [part.of for part in parts] == [("Ines",), ("Narrator",)]


def example(**tags: str) -> Findings:
    """The example film with a tag added to the cutaways of some subjects, whose own of that kind is gone."""
    timeline = mltassist.open(EXAMPLE / "saltreed.mlt").timeline

    def tagged(clip: BinClip) -> BinClip:
        added = tuple(tag for subject, tag in tags.items() if clip.name.startswith(subject))
        own = tuple(tag for tag in clip.tags if not (added and tag.startswith("of:")))
        return replace(clip, tags=(*own, *added))

    timeline = replace(timeline, bin=tuple(tagged(clip) for clip in timeline.bin))
    return find(timeline, begin(timeline, Recipe()))


@pytest.mark.parametrize("name", ["Ines", "tobias wren"])
def test_hands_of_one_are_not_shown_while_the_other_speaks(name):
    findings = example(hands=f"of: {name}")
    whole = (Span(0, findings.timeline.length),)
    task, _ = cover_task(findings, whole, look=False)
    (own,) = {moment.whose for moment in task.supply if moment.name.startswith("hands")}
    others = [voice for voice in task.voices if not set(voice.who) & set(own)]
    assert others
    assert len(others) < len(task.voices)
    assert {key.rpartition("/")[2] for key in own} == {f"{name.partition(' ')[0].lower()}.mp4"}

    def over_others(plan):
        hands = [shot for shot in plan.shots if shot.moment.name.startswith("hands")]
        return [shot for shot in hands if any(voice.span.overlaps(shot.span) for voice in others)]

    rules = Frames.of(findings.recipe.cover, findings.timeline.rate)
    tied = plan_cover(task, rules)
    assert not over_others(tied)
    assert not [breach for breach in tied.breaches if breach.rule == "whose shot it is"]
    told = [edit.reason for edit in cover_edits(task, tied) if getattr(edit, "name", "").startswith("hands")]
    assert all(reason.endswith(f"; of {name}") for reason in told)
    # Where nothing else was filmed some lie there without the tag: the rule is what keeps them away.
    hands = tuple(moment for moment in task.supply if moment.name.startswith("hands"))
    assert not over_others(plan_cover(replace(task, supply=hands), rules))
    free = replace(task, supply=tuple(replace(moment, whose=()) for moment in hands))
    assert over_others(plan_cover(free, rules))


def test_the_example_ties_the_hands_to_the_miller():
    task, _ = cover_task(example(), (Span(0, 99999),), look=False)
    tied = {moment.name: moment.person for moment in task.supply if moment.whose}
    assert tied == {"hands MS": "Ines", "hands CU": "Ines", "hands ECU": "Ines"}


def test_a_name_of_nobody_is_told_once_and_ties_nothing():
    findings = example(hands="of: Xenia", tools="of: Xenia")
    task, _ = cover_task(findings, (Span(0, findings.timeline.length),), look=False)
    assert not any(moment.whose for moment in task.supply)
    assert len([note for note in findings.notes if "'Xenia'" in note.text]) == 1


def test_the_check_tells_a_shot_of_somebody_over_another():
    (hands, *_), voice = clips(1), Voice(Span(450, 500), ("ines",))
    task = replace(task_of(("ines", 1000), cuts=(500,), supply=(hands,)), voices=(voice,))
    (shot,) = plan_cover(task, RULES).shots
    for whose, broken in ((("tobias",), True), (("ines", "tobias"), False), ((), False)):
        laid = replace(shot, moment=replace(hands, whose=whose, person="Tobias"))
        told = [breach.rule for breach in breaches(task, RULES, (laid,))]
        assert ("whose shot it is" in told) is broken


def test_an_earlier_shot_over_another_is_not_kept():
    clip = clips(1)[0]
    task = replace(
        task_of(("ines", 1000), cuts=(500,), supply=(clip,)), voices=(Voice(Span(0, 1000), ("ines",)),)
    )
    (shot,) = plan_cover(task, RULES).shots
    earlier = [Placed(shot.span, clip.source, shot.source_in)]
    assert plan_stably(task, RULES, earlier).shots == (shot,)
    tied = replace(task, supply=(replace(clip, whose=("tobias",)),))
    assert plan_stably(tied, RULES, earlier).shots == ()
