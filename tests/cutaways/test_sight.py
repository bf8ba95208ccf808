"""What must stay in sight, what is never bare, and that every jump is counted once."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mltassist.cutaways.figures import cover_figures
from mltassist.cutaways.planner.film import CoverTask, Frames
from mltassist.cutaways.planner.plan import Cover, plan_cover
from mltassist.cutaways.sight import captions_over_faces, note_hidden_faces
from mltassist.cutaways.task import cover_task
from mltassist.findings import Findings
from mltassist.frames import Span
from mltassist.recipe.cover import CoverRules
from mltassist.recipe.rules import Recipe, Stay
from mltassist.rushes.find import begin, find
from mltassist.timeline.model import Coverage, SourceKind, Track, Veil
from mltassist.timeline.picturefaults import holes
from tests.cutaways.films import clips
from tests.timeline.films import clip, row, timeline, track

FACE = track(1, "Interview", row(("ines", 300, 0), ("ines", 300, 420), ("ines", 300, 900)))


def title(start: int, length: int) -> Track:
    return track(3, "Titles", [clip("name of Ines", start, length, kind=SourceKind.TITLE)])


def found(*tracks: Track, **rules: Any) -> Findings:
    film = timeline(*tracks)
    return find(film, begin(film, Recipe(**rules)))


def bare(*tracks: Track) -> tuple[Span, ...]:
    findings = found(*tracks)
    return holes(findings.timeline, findings.elements)


def planned(findings: Findings) -> tuple[CoverTask, Cover, dict[str, Any]]:
    task, jumps = cover_task(findings, (), look=False)
    task = replace(task, supply=clips(12))
    rules = findings.recipe
    plan = plan_cover(task, Frames.of(rules.cover, findings.timeline.rate, rules.weights))
    return task, plan, cover_figures(findings, task, jumps, plan, ())


def test_a_face_stays_for_as_long_as_a_caption_lies_over_it() -> None:
    """Two jumps: the second, at 600, lies under a name."""
    _, without_name, _ = planned(found(FACE))
    assert any(600 in shot.span for shot in without_name.shots)
    findings = found(FACE, title(560, 100))
    _, plan, figures = planned(findings)
    assert not any(shot.span.overlaps(Span(560, 660)) for shot in plan.shots)
    assert any(300 in shot.span for shot in plan.shots)
    told = [note for note in findings.notes if "beneath the caption 'name of Ines'" in note.text]
    assert [(note.at, note.needs_editor) for note in told] == [(600, True)]
    assert (figures["jump_cuts"], figures["jump_cuts_covered"], figures["jump_cuts_stay"]) == (2, 1, 1)
    assert figures["face_before_s"] == 36.0
    assert figures["face_after_s"] == 36.0 - sum(shot.span.length for shot in plan.shots) / 25


def test_it_is_covered_beneath_the_caption_where_the_recipe_says_so() -> None:
    findings = found(FACE, title(560, 100), cover=CoverRules(captions="cover beneath"))
    _, plan, figures = planned(findings)
    assert any(600 in shot.span for shot in plan.shots)
    assert figures["jump_cuts_stay"] == 0
    assert not any("caption" in note.text for note in findings.notes)


@pytest.mark.parametrize("kind", ["still", "letters on a clear colour", "letters on the face"])
def test_a_caption_need_not_be_a_title(kind: str) -> None:
    name, face = clip("name", 560, 100, kind=SourceKind.IMAGE), FACE
    if kind == "still":
        name = replace(name, source=replace(name.source, coverage=Coverage.PART))
    else:
        nothing = replace(name.source, kind=SourceKind.COLOUR, coverage=Coverage.NONE)
        name = replace(name, source=nothing, veil=Veil(lettered=(Span(0, 10**9),)))
    above = track(2, "V2", [name])
    if kind == "letters on the face":
        *others, last = FACE.items
        face = replace(FACE, items=(*others, replace(last, veil=Veil(lettered=(Span(600, 660),)))))
        above = track(2, "V2")
        assert [span for span, _ in captions_over_faces(found(face, above))] == [Span(600, 660)]
        return
    findings = found(face, above)
    assert [(span, one.name) for span, one in captions_over_faces(findings)] == [(Span(560, 660), "name")]
    cuts = [cut.at for cut in cover_task(findings, (), look=False)[0].cuts]
    assert cuts == [300]


def test_a_mark_over_the_whole_film_is_no_caption() -> None:
    assert captions_over_faces(found(FACE, title(0, 900))) == ()


BROKEN = track(1, "Interview", row((None, 40), ("ines", 200, 0), (None, 9), ("ines", 200, 209), (None, 300)))
SOUND = track(2, "Interview sound", row((None, 40), ("ines", 409, 0)), sound=True)


def test_where_nothing_is_seen_is_covered_like_narration() -> None:
    findings = found(BROKEN, SOUND)
    assert holes(findings.timeline, findings.elements) == (Span(0, 40), Span(240, 249))
    task, plan, _ = planned(findings)
    assert task.holes == (Span(0, 40), Span(240, 249))
    assert all(any(shot.span.covers(hole) for shot in plan.shots) for hole in task.holes)
    assert "no black" not in {breach.rule for breach in plan.breaches}
    left = found(BROKEN, SOUND, cover=CoverRules(holes="leave"))
    assert planned(left)[0].holes == ()


def test_a_title_on_black_and_the_end_of_the_film_are_no_holes() -> None:
    music = track(4, "Music", row(("music", 900)), sound=True)
    assert bare(BROKEN, SOUND, title(0, 40), music) == (Span(240, 249),)
    black = track(0, "Black", [clip("black", 240, 9, kind=SourceKind.COLOUR)])
    black = replace(
        black,
        items=tuple(replace(one, source=replace(one.source, key="colour:black")) for one in black.clips()),
    )
    assert bare(black, BROKEN, SOUND, title(0, 40)) == (Span(240, 249),)


@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_every_jump_is_counted_once(data: st.DataObject) -> None:
    """Found = by the editor + by size + now + stay + left, whatever lies over the jumps."""
    lengths = data.draw(st.lists(st.integers(60, 300), min_size=2, max_size=6))
    rows = [("ines", length, 1000 * number) for number, length in enumerate(lengths)]
    end = sum(lengths)
    spans = [
        Span(at, min(end, at + long))
        for at, long in data.draw(
            st.lists(st.tuples(st.integers(0, end - 1), st.integers(20, 200)), max_size=4)
        )
    ]
    tracks = [track(1, "Interview", row(*rows))]
    stays = []
    for number, span in enumerate(spans):
        kind = data.draw(st.sampled_from(["stay", "title", "cutaway"]))
        if kind == "stay":
            stays.append(Stay(f"f{span.start}", f"f{span.end}"))
        else:
            of = SourceKind.TITLE if kind == "title" else SourceKind.FILE
            name = "Titles" if kind == "title" else "Cutaways"
            tracks.append(
                track(2 + number, name, [clip(f"{kind}{number}", span.start, span.length, kind=of)])
            )
    findings = found(*tracks, stay=tuple(stays))
    _, _, figures = planned(findings)
    parts = ("covered_by_editor", "hidden_by_size", "covered", "stay", "left")
    assert figures["jump_cuts"] == sum(figures[f"jump_cuts_{part}"] for part in parts)
    assert figures["jump_cuts"] == len(lengths) - 1
    assert figures["face_after_s"] <= figures["face_before_s"]


def test_a_speaker_whose_picture_is_covered_whole_is_told() -> None:
    findings = found(track(1, "Interview", row(("ines", 300, 0), ("tobias", 80, 0), ("ines", 300, 420))))
    note_hidden_faces(findings, [Span(290, 340), Span(340, 380)])
    assert [(note.at, "'tobias' is heard and never seen: cover" in note.text) for note in findings.notes] == [
        (300, True)
    ]
    for cover in ([], [Span(301, 380)], [Span(0, 300), Span(380, 679)]):
        findings.notes.clear()
        note_hidden_faces(findings, cover)
        assert list(findings.notes) == []
