"""Any small film in any layout: a pause moves what it should, and taking it away gives the film back."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from mltassist.checking import check
from mltassist.document.placing import detach
from mltassist.frames import Span
from mltassist.hosts.parts import Parts
from mltassist.hosts.reading import main_timeline
from mltassist.project import Project
from mltassist.timeline.edits import OpenPause
from tests import referee
from tests.hosts.films import Row, opened
from tests.hosts.generations import GENERATIONS
from tests.hosts.random_films import films
from tests.hosts.written import WHY, editors, meant, saved, write_generation


def closed(project: Project, at: int, by: int) -> Project:
    """The document without the blank that a pause has left at `at` on every track."""
    parts = Parts(project.document)
    for strip in project.host.strips(parts, main_timeline(project.host, parts)):
        for playlist in strip.playlists:
            for spot in list(parts.spots(playlist)):
                if spot.is_blank and spot.span.covers(Span(at, at + by)):
                    if spot.length == by:
                        detach(spot.element)
                    else:
                        spot.element.set("length", parts.write(spot.length - by))
    return saved(project)


def joined(clips: list[Row]) -> list[Row]:
    """The same with pieces that follow one another on the timeline and in their source put together."""
    result: list[Row] = []
    for clip in clips:
        last = result[-1] if result else None
        if (
            last is not None
            and last.file == clip.file
            and (clip.start - last.start, clip.source_in - last.source_in) == (last.length, last.length)
        ):
            result[-1] = last._replace(length=last.length + clip.length)
        else:
            result.append(clip)
    return result


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    name=st.sampled_from(list(GENERATIONS)),
    film=films(),
    at=st.integers(0, 300),
    by=st.integers(1, 90),
)
def test_a_pause_opened_and_closed_gives_the_film_back(tmp_path, *, name, film, at, by):
    written = write_generation(name, tmp_path, film)
    before = written.project()
    project = written.edited(OpenPause(at, by, WHY))
    referee.check_names(project.document.root)
    assert check(project, original=before) == ()
    expected = [(track, kind, opened(clips, at, by)) for track, kind, clips in meant(name, film)]
    assert editors(project.timeline) == expected
    assert project.timeline.length == film.length + (by if at < film.length else 0)
    starts = {(t.index, clip.start) for t in project.timeline.tracks for clip in t.clips()}
    assert {place for pair in project.timeline.linked for place in pair} <= starts
    again = closed(project, at, by).timeline
    found = [joined(clips) for *_, clips in editors(again)]
    assert found == [joined(clips) for *_, clips in editors(before.timeline)]
