"""Log sheets beside a project: which are found, which clips they mean, and what of them covers."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

import mltassist
from mltassist.cutaways.planner.film import Moment
from mltassist.cutaways.task import supply
from mltassist.findings import Findings
from mltassist.frames import Rate, Span
from mltassist.media.probe import probe
from mltassist.recipe.rules import load_recipe, parse_recipe
from mltassist.rushes.find import begin, find
from mltassist.rushes.logs import find_log, logged_moments
from mltassist.timeline.edits import LayShot
from mltassist.timeline.elements import Element
from mltassist.timeline.model import BinClip, Source, SourceKind, Timeline
from tests.cli.films import short, write
from tests.timeline.films import in_bin, timeline

PAL = Rate(25)


def film(folder: Path, *clips: BinClip) -> Timeline:
    """A film in this folder; the files of its bin lie in rushes/."""
    placed = []
    for clip in clips:
        path = folder / clip.source.key.lstrip("/")
        placed.append(replace(clip, source=replace(clip.source, key=str(path), path=path, length=225)))
    return replace(timeline(bin_clips=placed), path=folder / "film.mlt")


def sheet(path: Path, *lines: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join(("file,in,out,size,subject,rating", *lines)), encoding="utf-8")
    return path


def told(findings: Findings) -> list[str]:
    return [note.text for note in findings.notes]


def test_sheets_are_found_by_their_ending_beside_the_project_and_its_media(tmp_path: Path) -> None:
    made = film(tmp_path, in_bin("a.mov"))
    first = sheet(tmp_path / "Day1-LOG.CSV", "a,,,WS")
    second = sheet(tmp_path / "rushes" / "log.csv", "A.MOV,,,CU")
    sheet(tmp_path / "rushes" / "log.csv.txt", "b.mov,,,CU")
    (tmp_path / "folder log.csv").mkdir()
    for name in ("catalog.csv", "Blog.csv", "day1log.csv"):
        sheet(tmp_path / name, "a,,,MS")
    for name in ("cam1_log.csv", "day 2 log.csv", "é.Log.csv"):
        sheet(tmp_path / "words" / name, "a,,,MS")
    log = find_log(made)
    assert log.sheets == (first, second)
    assert log.problems == ()
    beside_words = replace(made, path=tmp_path / "words" / "film.mlt")
    named = [path.name for path in find_log(beside_words).sheets]
    assert named == ["cam1_log.csv", "day 2 log.csv", "é.Log.csv", "log.csv"]
    assert [(path.name, row.size) for path, row in log.rows[str(tmp_path / "rushes/a.mov")]] == [
        ("Day1-LOG.CSV", "WS"),
        ("log.csv", "CU"),
    ]
    named = sheet(tmp_path / "house" / "notes.csv", "../rushes/a.mov,,,MS")
    assert find_log(made, ["house/notes.csv"]).sheets == (named,)
    (tmp_path / "house" / "house.toml").write_text('log_sheets = ["notes.csv"]\n', encoding="utf-8")
    recipe = load_recipe(tmp_path / "house" / "house.toml")
    assert [row.size for rows in find_log(made, recipe.log_sheets).rows.values() for _, row in rows] == ["MS"]


def test_a_name_that_two_clips_have_means_the_one_beside_the_sheet(tmp_path: Path) -> None:
    made = film(tmp_path, in_bin("C1", file="card1/C0001.mp4"), in_bin("C2", file="card2/C0001.mp4"))
    sheet(tmp_path / "rushes/card1/log.csv", "c0001,,,WS")
    sheet(tmp_path / "log.csv", "rushes\\card2\\C0001.mp4,,,CU", "C0001,,,MS", "C0002,,,MS")
    log = find_log(made)
    found = {Path(key).parent.name: [row.size for _, row in rows] for key, rows in log.rows.items()}
    assert found == {"card1": ["WS"], "card2": ["CU"]}
    assert [(problem.text.partition(": ")[2], problem.grave) for problem in log.problems] == [
        ("line 3: 2 clips are called 'C0001'; write which by its path from the sheet", True),
        ("line 4: no clip of the bin is 'C0002'; add it to the bin, or mend the name", False),
    ]


@pytest.mark.parametrize(
    ("content", "told"),
    [
        ("file\nÄ.mov\n".encode("latin-1"), "the log sheet is not UTF-8 text; save it as CSV in UTF-8"),
        (b"name,in\na.mov,\n", "it has no column named file; write file,in,out,... in its first line"),
        (None, "there is no such log sheet; check its path"),
    ],
)
def test_a_sheet_that_cannot_be_used_is_told_once(tmp_path: Path, content: bytes | None, told: str) -> None:
    path = tmp_path / "sheet.csv"
    if content is not None:
        path.write_bytes(content)
    log = find_log(film(tmp_path, in_bin("a.mov")), ["sheet.csv"])
    assert (log.sheets, log.rows) == ((), {})
    assert [problem.text for problem in log.problems] == [f"{path}: {told}"]


def test_the_sheet_tells_the_element_where_no_name_does_before_the_sound(tmp_path: Path) -> None:
    bins = in_bin("C1.mov"), in_bin("C2.mov"), in_bin("talk.mov", "Interviews"), in_bin("C3.mov")
    made = film(tmp_path, *bins)
    sheet(tmp_path / "log.csv", "C1,,,,gulls", "C2,,,,Anna/interview", "talk,,,,Anna")
    findings = find(made, begin(made))
    verdicts = {Path(key).name: verdict for key, verdict in findings.elements.sources.items()}
    assert [(v.element, v.why) for v in verdicts.values()] == [
        (Element.CUTAWAY, "the log sheet names it"),
        (Element.INTERVIEW, "the log sheet says 'interview'"),
        (Element.INTERVIEW, "bin folder says 'interview'"),
        (None, "no name tells"),
    ]


def test_timecode_counts_from_the_start_that_a_camera_wrote(tmp_path: Path) -> None:
    path = tmp_path / "take.mov"
    with av.open(str(path), "w") as container:
        container.metadata["timecode"] = "10:00:00:12"
        stream = container.add_stream("mpeg4", rate=25)
        assert isinstance(stream, av.VideoStream)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        for number in range(50):
            picture = av.VideoFrame.from_ndarray(np.zeros((48, 64, 3), np.uint8), format="rgb24")
            picture.pts, picture.time_base = number, Fraction(1, 25)
            container.mux(stream.encode(picture))
        container.mux(stream.encode(None))
    assert probe(path).start_timecode == "10:00:00:12"
    clip = BinClip("take", "take", Source(str(path), SourceKind.FILE, path, 50))
    sheet(tmp_path / "log.csv", "take,10:00:00:20,10:00:02:00", "take,00:00:00:20,1.5", "take,10:00:02:13,")
    log = find_log(replace(timeline(bin_clips=[clip]), path=tmp_path / "film.mlt"))
    found, problems = logged_moments(log, clip, PAL, 0)
    assert [moment.span for moment in found] == [Span(8, 38), Span(20, 38)]
    assert [problem.text for problem in problems] == [
        f"{tmp_path / 'log.csv'}: line 4: 'take': its out is not after its in; give the in first"
    ]


def test_only_the_rows_of_a_logged_clip_cover_and_ratings_weigh(tmp_path: Path) -> None:
    path = write(short(), tmp_path)
    sheet(
        tmp_path / "tuesday-log.csv",
        "media/cutaways/gulls-ws.mp4,00:00:01:00,00:00:05:00,CU,lantern,5",
        "gulls-ws,5.0,9.0,,,2",
        "gulls-ms,2.0,5.0,,,0",
        "gulls-ms,,,,,",
        "wheel-ws,1.0,1.5",
        "hands-cu,,,,,0",
        "sacks-cu,8.0,20.0",
    )
    film = mltassist.open(path).timeline
    findings = find(film, begin(film))
    found: dict[str, list[Moment]] = {}
    for moment in supply(findings, look=False):
        found.setdefault(moment.name, []).append(moment)
    shown = [(m.span, m.size, m.subjects, m.worth) for m in found["gulls WS"]]
    assert shown == [
        (Span(25, 125), "CU", ("lantern",), 1.0),
        (Span(125, 225), "WS", ("gulls", "birds"), 0.4),
    ]
    # What is rated 0 is cut out of the other rows, and a clip nobody rated is middling.
    assert [(m.span, m.worth) for m in found["gulls MS"]] == [(Span(125, 212), 0.6)]
    assert {m.worth for m in found["wheel CU"]} == {0.6}
    assert found.keys().isdisjoint(["wheel WS", "hands CU"])
    assert [m.span for m in found["sacks CU"]] == [Span(13, 212)]  # a row that fails is as none
    assert [text for text in told(findings) if "log.csv" in text] == [
        f"{tmp_path / 'tuesday-log.csv'}: line {line}"
        for line in (
            "8: 'sacks CU': it lies outside the clip, which is 9.00 s long; check in and out",
            "6: 'wheel WS': its 13 frames are shorter than shot_min_s: it is not used; mark a longer moment",
        )
    ]


def test_cover_shows_what_the_sheet_names_and_survey_counts_it(tmp_path: Path) -> None:
    path = write(short(), tmp_path)
    sheet(tmp_path / "log.csv", "gulls-ws,5.0,9.0,,tide,5", "hands-cu,,,,,0", "nothing,,,")
    recipe = parse_recipe('[pins]\n"gulls WS" = "cutaway"\n"hands CU" = "cutaway"\n"Cutaways*" = "music"\n')
    assert recipe.log_sheets == ()
    project = mltassist.open(path)
    plan = mltassist.cover(project, recipe=recipe, no_look=True)
    shots = [edit for edit in plan.edits if isinstance(edit, LayShot)]
    assert shots
    assert {shot.name for shot in shots} == {"gulls WS"}
    assert all(shot.source_in >= 125 and shot.source_in + shot.length <= 225 for shot in shots)
    assert [(row["subject"], row["usable_s"]) for row in plan.figures["supply"]] == [("tide", 4.0)]
    found = mltassist.survey(project, recipe=recipe).as_dict()
    assert found["log_sheets"] == [str(tmp_path / "log.csv")]
    moments = {clip["name"]: clip["moments"] for clip in found["bin"] if clip["moments"]}
    row = {"start": 125, "length": 100, "size": "", "subjects": ["tide"], "of": [], "rating": 5.0}
    assert moments == {"gulls WS": [row]}
    line = f"{tmp_path / 'log.csv'}: line 4: no clip of the bin is 'nothing'"
    assert [note for note in found["notes"] if note["text"].startswith(line)]
