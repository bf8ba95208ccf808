"""What the bin has, what the film used, and what is still to be shot."""

from __future__ import annotations

from dataclasses import replace

from mltassist.cutaways.planner.film import Moment, Shot
from mltassist.cutaways.planner.plan import plan_cover
from mltassist.cutaways.planner.stock import Unfilmed, pick_ups, stock_of, unfilmed
from mltassist.cutaways.planner.words import Spoken
from mltassist.frames import Span
from tests.cutaways.films import RULES, task_of

WHEEL_WIDE = Moment("/wheel-ws.mov", Span(10, 210), "wheel WS", "WS", ("wheel",))
WHEEL_CLOSE = Moment("/wheel-ecu.mov", Span(10, 110), "wheel ECU", "ECU", ("wheel", "water"))
GULLS = Moment("/gulls.mov", Span(0, 90), "gulls", "", ("gulls",))


def said(text: str, at: int, step: int = 6) -> tuple[Spoken, ...]:
    return tuple(Spoken(word, at + n * step, "en", opens=n == 0) for n, word in enumerate(text.split()))


def test_subjects_are_counted_by_frames_and_sizes():
    task = task_of(("ines", 900), supply=(WHEEL_WIDE, WHEEL_CLOSE, GULLS))
    stock = stock_of(task, [Shot(Span(100, 180), WHEEL_WIDE, 10)])
    assert [(row.subject, row.usable, row.used) for row in stock] == [
        ("wheel", 300, 80),
        ("water", 100, 0),
        ("gulls", 90, 0),
    ]
    assert stock[0].sizes == ("ECU", "WS")
    assert stock[0].lacking == ("MS",)
    assert stock[1].lacking == ("WS", "MS")
    assert stock[2].lacking == ()  # nobody said what sizes there are


def test_a_missing_shot_is_described_by_what_is_said_there():
    words = (*said("then the wheels began to turn", 380), *said("and much later the gulls", 800))
    short = replace(WHEEL_WIDE, span=Span(0, 10))  # for any shot
    task = replace(task_of(("ines", 1000), cuts=(400, 410), supply=(short,)), words=words)
    plan = plan_cover(task, RULES)
    assert plan.shots == ()
    (missing,) = pick_ups(task, RULES, plan.bare, stock_of(task, ()))
    assert set(missing.cuts) == {400, 410}
    assert missing.span.covers(Span(400 - RULES.margin, 410 + RULES.margin))
    assert "wheels" in missing.words
    assert "gulls" not in missing.words
    assert missing.subjects == (("wheel", ("MS", "CU")),)


def test_what_is_spoken_of_and_was_never_filmed_is_listed():
    words = (
        *said("we came with the lantern and the wheel", 0),
        *said("a lantern by night said Wren to us", 200),
        *said("lanterns again and Wren too", 400),
        *said("my lantern", 600),
        *said("wheel wheel wheel wheel", 700),
        *said("with with with with", 900),
    )
    task = replace(task_of(("ines", 1200), supply=(WHEEL_WIDE,)), words=words)
    found = unfilmed(task)
    assert [(row.word, len(row.at)) for row in found] == [("lantern", 4), ("Wren", 2)]
    assert found[0].at[0] == 24
    assert [row.word for row in unfilmed(task, ("lantern",))] == ["Wren"]  # filmed, and not to be used
    lit = replace(task, synonyms=(("wheel", ("lantern",)),))
    assert [row.word for row in unfilmed(lit)] == ["Wren"]


def test_what_is_asked_for_is_said_in_the_sentence_and_was_not_filmed():
    words = said("my tools hang on the wall by the lantern till I have them in my hands", 300)
    one = Moment("/tools.mov", Span(0, 9), "tools MS", "MS", ("tools", "hammer", "wall"))
    task = task_of(("ines", 1000), cuts=(400,), supply=(one, replace(WHEEL_WIDE, span=Span(0, 9))))
    task = replace(task, words=words)
    plan = plan_cover(task, RULES)
    never = (Unfilmed("lantern", (words[8].at, 700)), Unfilmed("flood", (800,)))
    (missing,) = pick_ups(task, RULES, plan.bare, stock_of(task, ()), never)
    # Not the wall: every shot of it is one of the tools.
    assert missing.subjects == (("lantern", ("CU",)), ("hands", ("CU",)), ("tools", ("WS", "CU")))
