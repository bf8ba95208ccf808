"""What the page of the example film states is what is found in the film."""

from __future__ import annotations

import re

import pytest

from mltassist.frames import format_timecode
from mltassist.rushes.survey import Survey
from mltassist.timeline.cuts import CutKind
from tests.docs import pages


@pytest.fixture(scope="module")
def found() -> Survey:
    return pages.survey_of_film()


@pytest.fixture(scope="module")
def text() -> str:
    return " ".join(pages.SALTREED.read_text("utf-8").split())


def test_its_figures_are_those_of_the_survey(found: Survey) -> None:
    assert pages.part(pages.SALTREED, "figures") == pages.film_figures(found)


def test_its_list_of_edits_is_that_of_the_survey(found: Survey) -> None:
    assert pages.part(pages.SALTREED, "edits") == pages.film_edits(found)


def test_the_places_to_look_at_are_where_it_says(found: Survey, text: str) -> None:
    def places(*, kind: CutKind, covered: bool = False) -> str:
        return " and ".join(
            format_timecode(cut.at, found.timeline.rate)
            for cut in found.cuts
            if cut.kind is kind and cut.covered is covered
        )

    assert f"covered already**, at {places(kind=CutKind.JUMP, covered=True)}:" in text
    assert f"through edit**, at {places(kind=CutKind.THROUGH)}:" in text
    assert f"changes of speaker**, at {places(kind=CutKind.CHANGE)}:" in text


def test_its_markers_are_where_it_says(found: Survey, text: str) -> None:
    breath, closing = found.timeline.markers
    assert f'"{breath.text}", at {format_timecode(breath.at, found.timeline.rate)}' in text
    assert (
        f'at {format_timecode(closing.at, found.timeline.rate)}, is a note to the editor: "{closing.text}"'
        in text
    )


def test_no_shot_of_a_lantern_is_in_the_bin(found: Survey, text: str) -> None:
    words = {word for clip in found.timeline.bin for word in (*clip.tags, *clip.name.lower().split())}
    assert "lantern" not in words
    spoken = re.search(r"The lantern\.\*\* At (\S+) ", text)
    assert spoken is not None
    assert spoken[1] in {format_timecode(cut.at, found.timeline.rate) for cut in found.cuts}


def test_its_sizes_are_those_of_the_files(text: str) -> None:
    media = [path for path in (pages.FILM / "media").rglob("*") if path.is_file()]
    documents = [*pages.FILM.glob("*.mlt"), *pages.FILM.glob("*.kdenlive")]
    megabytes = round(sum(path.stat().st_size for path in media) / 1e6)
    kilobytes = sum(path.stat().st_size for path in documents) / 1e3
    stated = re.search(r"media are (\d+) files of (\d+) MB together, the three documents (\d+) kB", text)
    assert stated is not None
    assert (int(stated[1]), int(stated[2])) == (len(media), megabytes)
    assert int(stated[3]) == pytest.approx(kilobytes, rel=0.05)  # line ends differ between systems
    assert len(documents) == 3
