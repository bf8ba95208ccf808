"""A second run keeps what is still valid, on the example film passed once, in all layouts."""

from __future__ import annotations

from collections.abc import Iterable
from copy import deepcopy
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from lxml import etree

from mltassist import api
from mltassist.cutaways.planner import stable
from mltassist.cutaways.planner.film import CoverTask, JumpCut, Refused, Shot, Used, without_views
from mltassist.cutaways.planner.givenup import GivenUp, given_up
from mltassist.cutaways.planner.objective import plan_cost
from mltassist.cutaways.planner.plan import Cover, plan_cover
from mltassist.cutaways.planner.stable import Placed, cost_beside, plan_stably
from mltassist.frames import Span
from mltassist.hosts.parts import Parts
from mltassist.hosts.reading import main_timeline
from mltassist.project import Project, open_project
from mltassist.timeline.earlier import earlier_of
from mltassist.timeline.model import Laid
from tests import referee
from tests.cutaways.films import RULES, clips, task_of
from tests.hosts.written import saved

Row = tuple[int, int, str, int]
BEHIND = 250
"""Frames behind a bite taken out, ten seconds, from which on nothing changes."""


def shots(project: Project) -> list[Row]:
    track = project.timeline.of_role("cover")
    assert track is not None
    return [(clip.start, clip.length, clip.source.key, clip.source_in) for clip in track.clips()]


def cover_playlist(project: Project, parts: Parts) -> etree._Element:
    strips = project.host.strips(parts, main_timeline(project.host, parts))
    return next(strip for strip in strips if strip.role == "cover").playlists[0]


def trim(project: Project, row: Row) -> None:
    """A shot ends one frame earlier, and what follows stays."""
    parts = Parts(project.document)
    spot = next(s for s in parts.spots(cover_playlist(project, parts)) if s.start == row[0])
    spot.element.set("out", parts.write(parts.frames(spot.element.get("out")) - 1))
    spot.element.addnext(etree.Element("blank", length=parts.write(1)))


def delete(project: Project, row: Row) -> None:
    """A shot is gone, and what follows stays."""
    parts = Parts(project.document)
    spot = next(s for s in parts.spots(cover_playlist(project, parts)) if s.start == row[0])
    spot.element.addnext(etree.Element("blank", length=parts.write(spot.length)))
    spot.element.getparent().remove(spot.element)


def take_out(project: Project, bite: Span) -> None:
    """These frames are gone from all tracks, and what follows moves up."""
    parts = Parts(project.document)
    for strip in project.host.strips(parts, main_timeline(project.host, parts)):
        for playlist in strip.playlists:
            for spot in list(parts.spots(playlist)):
                left = [Span(spot.start, min(spot.span.end, bite.start))]
                left.append(Span(max(spot.start, bite.end), spot.span.end))
                if not spot.span.overlaps(bite):
                    continue
                for part in (one for one in left if one.length > 0):
                    piece = deepcopy(spot.element)
                    if spot.is_blank:
                        piece.set("length", parts.write(part.length))
                    else:
                        first = spot.first + part.start - spot.start
                        piece.set("in", parts.write(first))
                        piece.set("out", parts.write(first + part.length - 1))
                    spot.element.addprevious(piece)
                playlist.remove(spot.element)


def moved_up(row: Row, bite: Span) -> Row:
    """A shot where it lies once a bite is gone that it does not lie over."""
    return (row[0] - bite.length * (row[0] >= bite.end), *row[1:])


def assert_shown_shorter(again: Project, once: Project, short: Row) -> None:
    """Rendered: a shot that was shortened by hand shows its frames as before, and its last one no more."""
    if not referee.installed():
        return
    last = short[0] + short[1] - 1
    before, now = (referee.frames(film.path, [short[0], last - 1, last]) for film in (once, again))
    unlike = [float(np.abs(a.astype(int) - b).mean()) for a, b in zip(before, now, strict=True)]
    assert max(unlike[:2]) < 1, unlike
    assert unlike[2] > 5, unlike


@pytest.mark.parametrize("name", ["saltreed.kdenlive", "saltreed-shotcut.mlt", "saltreed.mlt"])
def test_what_is_still_valid_stays_and_what_was_deleted_stays_away(name: str, passed):
    once = shots(open_project(passed(name).output))
    changed = open_project(passed(name).output)
    short, gone = once[4], once[10]
    trim(changed, short)
    delete(changed, gone)
    last = open_project(passed(name).output).timeline.length
    faces = [Span(a[0] + a[1], b[0]) for a, b in pairwise(once[12:])]
    open_face = max(faces, key=lambda span: span.length)
    assert open_face.length > 60
    assert open_face.end < last
    bite = Span(open_face.start + 20, open_face.start + 45)
    take_out(changed, bite)
    changed = saved(changed)

    plan = api.cover(changed, keep_changed=True)
    found = shots(plan.apply(changed))
    assert (short[0], short[1] - 1, *short[2:]) in found
    before = [row for row in once if row[0] < bite.start and row not in (short, gone)]
    assert [row for row in before if row not in found] == []
    behind = [row for row in once if row[0] >= bite.start + BEHIND]
    assert behind
    assert all((row[0] - bite.length, *row[1:]) in found for row in behind)
    place = Span(gone[0], gone[0] + gone[1])
    assert not [row for row in found if Span(row[0], row[0] + row[1]).overlaps(place)]
    told = [note for note in plan.notes if "was deleted here by hand" in note.text]
    assert [note.at for note in told] == [gone[0]]
    name = next(clip.name for clip in changed.timeline.bin if str(clip.source.path) == gone[2])
    assert told[0].text.startswith(f"{name!r} was deleted")
    by_hand = [note.at for note in plan.notes if "changed by hand" in note.text]
    assert by_hand == [short[0]]

    # Every other shot that is laid no more is told, with the reason.
    lost = [row for row in once if row not in (short, gone) and moved_up(row, bite) not in found]
    given_up = plan.figures["earlier_shots_given_up"]
    assert [one["at"] for one in given_up] == [moved_up(row, bite)[0] for row in lost]
    assert all(one["why"] and any(one["why"] in note.text for note in plan.notes) for one in given_up)

    # It stays away for good, and comes back when asked for.
    again = saved(plan.apply(changed))
    row = Laid("cover", gone[0], gone[1], gone[2].rsplit("/", 1)[-1], gone[3])
    assert again.timeline.laid is not None
    assert row in again.timeline.laid
    if name.endswith(".kdenlive"):
        assert_shown_shorter(again, open_project(passed(name).output), short)
        anew = shots(api.cover(again, anew=True).apply(again))
        assert [one for one in anew if Span(one[0], one[0] + one[1]).overlaps(place)]


def rows(*starts: tuple[str, int]) -> list[Laid]:
    return [Laid("cover", start, 50, file, 10) for file, start in starts]


def test_shots_that_moved_together_went_with_the_film():
    left = rows(("a", 0), ("b", 100), ("c", 200), ("d", 300))
    there = rows(("a", 0), ("b", 100), ("c", 180), ("d", 280))
    assert list(earlier_of(left, there, "cover").kept) == there


def test_a_shot_that_moved_alone_was_moved_by_hand():
    left = rows(("a", 0), ("b", 100), ("c", 200))
    found = earlier_of(left, rows(("a", 0), ("b", 110), ("c", 200)), "cover")
    assert [row.file for row in found.kept] == ["a", "c"]
    assert not found.deleted


def test_a_deleted_shot_is_told_where_it_would_lie_now():
    left = rows(("a", 0), ("b", 100), ("c", 200), ("d", 300), ("e", 400))
    found = earlier_of(left, rows(("a", 0), ("b", 60), ("d", 260), ("e", 360)), "cover")
    assert list(found.deleted) == rows(("c", 160))


def test_a_shot_that_went_with_its_film_was_not_deleted():
    left = rows(("a", 0), ("b", 100), ("c", 200), ("d", 300))
    assert not earlier_of(left, rows(("a", 0), ("c", 120), ("d", 220)), "cover").deleted


def test_a_swapped_shot_was_not_deleted_and_a_cleared_track_is_no_wish():
    left = rows(("a", 0), ("b", 100), ("c", 200))
    assert not earlier_of(left, rows(("a", 0), ("x", 100), ("c", 200)), "cover").deleted
    assert not earlier_of(left, [], "cover").deleted


def film() -> CoverTask:
    """Two jump cuts in half a minute of a face."""
    return task_of(("ines", 700), cuts=(150, 500), supply=clips(5, 160))


def placed(shots: Iterable[Shot]) -> list[Placed]:
    return [Placed.of(shot) for shot in shots]


def test_a_change_is_made_near_what_has_changed_and_nowhere_else() -> None:
    """Other clips have become better, and there is a new jump cut at 215: far from it nothing changes."""
    first = plan_cover(film(), RULES)
    used = {shot.moment.source for shot in first.shots}
    supply = tuple(replace(m, worth=0.2 if m.source in used else 1.0) for m in film().supply)
    same = replace(film(), supply=supply)
    assert placed(plan_stably(same, RULES, placed(first.shots), closely=True).shots) == placed(first.shots)

    cuts = tuple(JumpCut(at) for at in (150, 215, 500))
    cut = replace(same, cuts=cuts, sound_edits=(150, 215, 500))
    found = plan_stably(cut, RULES, placed(first.shots), closely=True)
    assert placed(first.shots)[-1] in placed(found.shots)
    assert any(215 in shot.span for shot in found.shots)
    assert found.cost == pytest.approx(plan_cost(cut, RULES, found.shots))
    assert not {"margin", "cover every jump cut"} & {breach.rule for breach in found.breaches}

    free = replace(RULES, weights=replace(RULES.weights, change=0.0))
    anew = plan_stably(cut, free, placed(first.shots), closely=True)
    assert placed(first.shots)[-1] not in placed(anew.shots)
    assert anew.bound <= anew.cost < found.cost


def test_for_tastes_shots_go_after_a_change_by_hand_and_none_where_the_film_was_cut_anew(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """As many as there are might go, and other clips have become better."""
    monkeypatch.setattr(stable, "ONE_OF", 1)
    first = plan_cover(film(), RULES)
    used = {shot.moment.source for shot in first.shots}
    supply = tuple(replace(m, worth=0.2 if m.source in used else 1.0) for m in film().supply)
    by_hand = replace(film(), supply=supply)
    assert placed(first.shots)[-1] not in placed(
        plan_stably(by_hand, RULES, placed(first.shots), closely=True).shots
    )
    at = first.shots[0].span.end + 40
    cut = replace(by_hand, cuts=tuple(JumpCut(frame) for frame in (150, at, 500)), sound_edits=(150, at, 500))
    found = plan_stably(cut, RULES, placed(first.shots), closely=True)
    assert set(placed(first.shots)) <= set(placed(found.shots))


def test_where_the_film_was_cut_anew_nothing_before_goes_for_a_speakers_first_look() -> None:
    """A bite is taken out of a face that has just begun, behind three shots of narration."""
    task = task_of(("", 300), ("ines", 700), cuts=(500,), narration=((0, 300),), supply=clips(8, 160))
    first = plan_cover(task, RULES)
    at = first.shots[2].span.end + 20
    cut = replace(task, cuts=(JumpCut(at), JumpCut(500)), sound_edits=(0, 300, at, 500))
    found = plan_stably(cut, RULES, placed(first.shots))
    assert set(placed(first.shots)) <= set(placed(found.shots))
    assert any(at in shot.span for shot in found.shots)
    assert not found.breaches


def test_what_lies_there_as_it_was_left_stays_unless_a_rule_asks_for_more() -> None:
    """Neither another planner nor other tastes change anything; a new jump cut does."""
    supply = film().supply
    earlier = [Placed(Span(at - 40, at + 45), supply[n].source, 20) for n, at in enumerate((150, 500))]
    found = plan_stably(film(), RULES, earlier, closely=True, changed=False)
    assert placed(found.shots) == earlier
    assert not found.breaches
    assert plan_cover(film(), RULES).cost < found.cost
    assert not list(given_up(film(), RULES, earlier, found))

    cuts = tuple(JumpCut(at) for at in (150, 215, 500))
    cut = replace(film(), cuts=cuts, sound_edits=(150, 215, 500))
    found = plan_stably(cut, RULES, earlier, closely=True, changed=False)
    assert earlier[1] in placed(found.shots)
    assert any(215 in shot.span for shot in found.shots)


def test_why_a_shot_is_given_up_is_told() -> None:
    earlier = placed(plan_cover(film(), RULES).shots)
    first, last = earlier
    alone = replace(film(), supply=film().supply[:1])
    refused = replace(film(), refused=(Refused(first.source, first.span),))
    laid = replace(film(), views=tuple(without_views(film().views, (last.span,))))

    def told(task: CoverTask, lies: list[Placed] = earlier) -> dict[int, GivenUp]:
        plan = plan_stably(task, RULES, lies)
        return {one.shot.span.start: one for one in given_up(task, RULES, lies, plan)}

    assert told(refused)[first.span.start].why == "this clip was refused here"
    assert told(laid)[last.span.start].why == "something else is to be seen here by now"
    there = {moment.source for moment in alone.supply}
    gone = [one.why for one in told(alone).values() if one.shot.source not in there]
    assert gone
    assert set(gone) == {"these frames are no longer among what can be used"}

    # A shot that leaves no room for one over a new jump cut makes way for it.
    at = first.span.end + 20
    cut = replace(film(), cuts=(JumpCut(at), JumpCut(500)), sound_edits=(at, 500))
    lies = [replace(first, span=Span(at - 60, at)), last]
    assert [(one.shot, one.rule is None) for one in told(cut, lies).values()] == [(lies[0], False)]


def test_a_shot_of_the_editors_counts_as_a_neighbour() -> None:
    """A plan costs more beside a shot of the editor's that shows the same subject, in the same size."""
    moment = film().supply[0]
    task = replace(film(), used=(Used(moment.source, Span(12, 60), Span(600, 648)),))
    shots = tuple(
        Shot(Span(460, 545), replace(other, size=moment.size, subjects=moment.subjects), 12)
        for other in film().supply[1:2]
    )
    plan = Cover(shots, (), (), plan_cost(task, RULES, shots))
    alike = RULES.weights.same_subject + RULES.weights.same_size
    assert cost_beside(task, RULES, plan) == pytest.approx(plan.cost + alike)
    assert cost_beside(film(), RULES, plan) == pytest.approx(plan.cost)
