"""The page as a file, in a real browser: by ear, by eye, by keyboard alone, and by who cannot see it."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path

import pytest

from mltassist.choices.reading import load_choices, parse_choices
from mltassist.page.sheet import page_html


def data_of(page_file: Path) -> dict:
    return json.loads(page_file.with_name("data.json").read_text(encoding="utf-8"))


def test_the_keyboard_reaches_everything_and_the_choices_come_out_as_a_file(open_page, page_file):
    opened = open_page(page_file.as_uri())
    data = data_of(page_file)
    page = opened.page
    many = int(opened.text("#count").split()[2])  # "0 decided, so many as planned"
    opened.press("n")
    assert opened.current()["id"].startswith("join-")
    opened.press("Enter", "ArrowDown", "Delete")
    assert opened.current()["choice"] == "left"
    for _ in range(len(data["joins"]) - 2):
        opened.press("ArrowDown")
    opened.press("n", "1")
    assert opened.current()["choice"] == "other clip"
    opened.press("n", "f")
    assert opened.current()["state"] == "the face stays"
    opened.press("n", "Delete", "n", "Enter", "+")
    assert opened.current()["state"] == "accepted, 0.2 s longer"
    opened.press("Enter", "Enter", "p", "p")  # taken back, made again
    assert opened.text("#count").startswith(f"6 decided, {many - 6} as planned")
    with page.expect_download() as coming:
        opened.press("s")
    text = Path(coming.value.path()).read_text(encoding="utf-8")
    assert coming.value.suggested_filename == "saltreed.choices.toml"
    choices = parse_choices(text)
    joins, covers = data["joins"], data["covers"]
    assert {row.name: row.choice for row in choices.joins} == {
        joins[0]["name_of"]: "accepted",
        joins[1]["name_of"]: "left",
    }
    made = {row.name: row for row in choices.shots}
    other = covers[0]["others"][0]
    assert (made[covers[0]["name_of"]].clip, made[covers[0]["name_of"]].source_in) == (
        other["clip_name"],
        other["source_in"],
    )
    assert made[covers[1]["name_of"]].choice == "face stays"
    assert made[covers[2]["name_of"]].choice == "refused"
    assert made[covers[3]["name_of"]].choice == "accepted"


def test_a_longer_shot_takes_its_time_from_the_one_behind_it(open_page, page_file):
    opened = open_page(page_file.as_uri())
    covers = data_of(page_file)["covers"]
    place = next(n for n, (a, b) in enumerate(pairwise(covers)) if a["at"] + a["length"] == b["at"])
    opened.page.evaluate(f"() => document.querySelectorAll('#shots .card')[{place}].focus()")
    opened.press("ArrowDown", "1", "ArrowUp", "+", "+")
    with opened.page.expect_download() as coming:
        opened.press("s")
    made = {row.name: row for row in parse_choices(Path(coming.value.path()).read_text("utf-8")).shots}
    first, second = (made[covers[number]["name_of"]] for number in (place, place + 1))
    assert (first.choice, first.end_by) == ("accepted", 10)
    assert (second.choice, second.begin_by) == ("other clip", 10)


def test_a_pause_can_be_opened_anywhere_in_the_film(open_page, page_file, gathered):
    """By keyboard and by hand: it is named as the film names it, and stands before a word, not in it."""
    opened = open_page(page_file.as_uri())
    film, words = opened.page.locator("[role=slider]"), [at for at, _ in data_of(page_file)["words"]]
    marked: list[int] = []

    def between_words() -> None:
        frame = int(film.get_attribute("aria-valuenow"))
        near = min(words, key=lambda at: abs(at - frame))
        marked.append(near - 1 if abs(near - frame) <= 10 else frame)

    film.focus()
    opened.press("PageDown", "b", "+", "+")
    between_words()
    film.locator(".row").nth(3).click(position={"x": 300, "y": 20})
    between_words()
    opened.page.get_by_role("button", name="Open a pause here").first.click()
    assert opened.violations() == []
    with opened.page.expect_download() as coming:
        opened.press("s")
    chosen = load_choices(Path(coming.value.path())).pauses
    name = gathered.stages.after.places.pause
    assert [(one.name, one.length_s) for one in chosen] == [(name(marked[0]), 5), (name(marked[1]), 4)]
    film.focus()
    opened.press("b")
    assert opened.page.locator("#here button[aria-pressed=true]").count() == 0
    opened.press("n", "n", "b")  # the mark stands at the decision that is looked at
    assert film.get_attribute("aria-valuenow") == str(gathered.data["joins"][1]["at"])
    assert opened.page.locator("#here button[aria-pressed=true]").count() == 1


def test_players_play_and_report_how_long_they_are(open_page, page_file):
    opened = open_page(page_file.as_uri())
    opened.press("n", " ")
    opened.page.wait_for_function("""() => {
        const one = document.querySelector('.card[aria-current] audio');
        return one && one.duration > 3.9 && one.duration < 4.1 && one.currentTime > 0.05;
    }""")
    opened.press(" ")
    assert opened.page.evaluate("() => document.querySelector('.card[aria-current] audio').paused")


def test_stills_are_shown_when_they_come_near(open_page, page_file):
    opened = open_page(page_file.as_uri())
    assert opened.page.evaluate("() => document.querySelectorAll('img[src]').length") < 20
    opened.page.evaluate("() => document.getElementById('shots').scrollIntoView()")
    opened.page.wait_for_function("""() => {
        const one = document.querySelector('#shots img');
        return one.complete && one.naturalWidth === 320;
    }""")


def test_with_eyes_shut_marks_stand_beside_measures(open_page, page_file):
    opened = open_page(page_file.as_uri())
    opened.press("d")
    opened.page.wait_for_function("() => document.querySelector('#dark audio, #dark .ear')")
    opened.press(" ")
    assert opened.page.locator(".ear.marked").count() == 1
    opened.press("Escape")
    assert "You heard 1 of 1 join" in opened.text("#dark")
    assert "not heard" in opened.text("#dark table")
    opened.press("Enter")
    assert opened.page.locator("dialog[open]").count() == 0


def test_keys_of_one_letter_can_be_switched_off(open_page, page_file):
    opened = open_page(page_file.as_uri())
    opened.press("?")
    assert "the next decision" in opened.text("#help")
    opened.page.get_by_label("Keys of one letter").uncheck()
    opened.press("Escape", "n")
    assert opened.current() is None


@pytest.mark.parametrize(("scheme", "width"), [("light", 1440), ("dark", 390)])
def test_nothing_stands_in_anyones_way(open_page, page_file, scheme, width):
    opened = open_page(page_file.as_uri(), color_scheme=scheme, viewport={"width": width, "height": 900})
    opened.press("n", "Enter")
    for _ in range(17):
        opened.press("n")
    opened.press("1")
    assert opened.violations() == []
    assert opened.page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
    opened.press("?")
    assert opened.violations() == []


def test_it_fits_every_width(open_page, page_file):
    opened = open_page(page_file.as_uri())
    for width in (320, 390, 600, 800, 1024, 1920):
        opened.page.set_viewport_size({"width": width, "height": 800})
        opened.press("n")
        assert opened.page.evaluate("() => document.documentElement.scrollWidth <= innerWidth"), width


def test_names_are_shown_as_text_whatever_they_hold(open_page, page_file, tmp_path):
    data = data_of(page_file)
    hostile = "</script><img src=x onerror=\"document.title='taken'\">\u202e\u05d0\u05d1 <b>{{script}}</b>"
    data["film"]["name"] = hostile
    for rows in (data["joins"], data["covers"], data["pauses"]):
        for row in rows:
            row |= {key: hostile for key in ("who", "name", "words_before", "said", "why") if key in row}
    data["lists"]["notes"] = [{"at": None, "time": None, "text": hostile, "needs_editor": True}]
    data["tags"] = [hostile]
    target = tmp_path / "hostile.html"
    target.write_text(page_html(data), encoding="utf-8")
    opened = open_page(target.as_uri())
    opened.press("n")
    assert opened.page.title().startswith(hostile)
    assert opened.page.locator("h1").text_content() == hostile
    assert opened.page.locator("#notes td").last.text_content() == f"look: {hostile}"
    assert opened.page.locator("img[src='x'], main b").count() == 0


def test_who_comments_gets_a_place_for_each_remark(open_page, passed, tmp_path):
    import mltassist
    from mltassist.page.gather import gather

    done = passed("saltreed.kdenlive")
    data = gather(mltassist.open(done.original), done.plan, for_comments=True).data
    target = tmp_path / "comments.html"
    target.write_text(page_html(data), encoding="utf-8")
    opened = open_page(target.as_uri())
    opened.page.get_by_label("Your name").fill("Ada")
    opened.page.keyboard.press("Escape")
    opened.page.evaluate("() => document.activeElement.blur()")
    opened.press("n", "Enter")
    opened.page.keyboard.type("Is this fair to her?")
    opened.press("Escape")
    assert opened.violations() == []
    with opened.page.expect_download() as coming:
        opened.press("s")
    told = json.loads(Path(coming.value.path()).read_text(encoding="utf-8"))
    first = data["joins"][0]
    assert told == [{"at": first["name_of"], "text": "Is this fair to her?", "by": "Ada"}]


def test_nothing_that_is_not_there_is_written_out(open_page, page_file, tmp_path):
    """Where a row lacks words, other clips, a sound or a name, the page says so or is silent."""
    data = data_of(page_file)
    texts = ("words_before", "words_removed", "words_after", "said", "word", "name")
    media = ("sound", "sound_before", "sound_after", "still", "pause_name")
    for rows in (data["joins"], data["covers"], data["pauses"]):
        for row in rows:
            row.update((key, "") for key in (*texts, *media) if key in row)
            row.update((key, []) for key in ("others", "mends") if key in row)
    data["tags"] = []
    target = tmp_path / "bare.html"
    target.write_text(page_html(data), encoding="utf-8")
    opened = open_page(target.as_uri())
    opened.press("n", "Enter")
    told = opened.page.locator("main").text_content()  # also of what is too far away to be drawn
    assert [word for word in ("null", "undefined", "NaN", "[object") if word in told] == []
    assert "without a name" in told


def test_a_pause_without_natural_sound_says_what_is_seen_in_it(open_page, page_file, tmp_path):
    data = data_of(page_file)
    (row,) = data["pauses"]
    rows = [
        {**row, "name": "", "clip_name": "", "seen": "flour CU"},
        {**row, "name": "", "seen": "", "still": ""},
    ]
    data["pauses"] = rows
    data["lists"]["faults"] = [{"at": 3, "time": "00:00:00:03", "what": "nothing is seen here"}]
    target = tmp_path / "silent.html"
    target.write_text(page_html(data), encoding="utf-8")
    opened = open_page(target.as_uri(), viewport={"width": 390, "height": 900})
    told = [one.text_content() for one in opened.page.locator("#pauses .card figcaption").all()]
    assert told == ["flour CU stays in sight", "nothing is seen here"]
    assert opened.page.locator("#pauses h3").first.text_content().startswith("without natural sound")
    assert opened.violations() == []


def test_it_prints_on_paper_as_wide_as_it_is(open_page, page_file):
    """Paper is narrower than many screens: words stand beside their timecode, and no table is cut off."""
    opened = open_page(page_file.as_uri(), viewport={"width": 688, "height": 1000})
    opened.page.emulate_media(media="print")
    opened.page.evaluate("() => dispatchEvent(new Event('beforeprint'))")
    assert opened.page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
    boxes = opened.page.evaluate("""() => [...document.querySelectorAll('.card .what, table')]
        .map((one) => one.getBoundingClientRect()).map((box) => [box.width, box.right])""")
    shown = [(width, right) for width, right in boxes if width]
    assert all(right <= 688 for _, right in shown)
    assert all(width > 400 for width, _ in shown)
