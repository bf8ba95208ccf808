"""Numbers and JSON of documents: the ordinary is read exactly, and nothing whatever raises."""

from __future__ import annotations

import json
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mltassist.document.values import MAX_DEPTH, MOST, json_value, number, whole

NO_NUMBERS = (
    *(
        "",
        " ",
        "²",
        "٣",
        "1/0",
        "1/2",
        "1_000",
        "0x10",
        "nan",
        "inf",
        "-Infinity",
        "1e99999999",
        "1e-99999999",
    ),
    *("9" * 5000, "1." + "9" * 5000, "--1", "1.2.3", "1 2", "1e", "e5", ".", "+", "1e99"),
)


@pytest.mark.parametrize("text", NO_NUMBERS)
def test_what_is_no_number_within_reach_is_none(text: str) -> None:
    assert whole(text) is None
    assert number(text) is None


@given(st.integers(-MOST, MOST))
def test_whole_numbers_are_read_back(value: int) -> None:
    assert whole(f" {value}\n") == number(str(value)) == json_value(str(value)) == value


@given(st.floats(-1e9, 1e9).filter(lambda value: value == 0 or abs(value) > 1e-99))
def test_a_decimal_is_read_as_python_writes_it(value: float) -> None:
    assert number(repr(value)) == Fraction(repr(value))
    assert json_value(repr(value)) == value
    assert number(f"{value:.6f}".replace(".", ",")) == Fraction(f"{value:.6f}")


@given(st.text())
def test_nothing_raises(text: str) -> None:
    assert whole(text) is None or number(text) is not None
    json_value(text)


@given(
    st.recursive(st.none() | st.booleans() | st.integers(-MOST, MOST) | st.text(), st.lists, max_leaves=20)
)
def test_json_of_documents_is_read_as_it_is(value: object) -> None:
    assert json_value(json.dumps(value)) == value


@pytest.mark.parametrize(
    "text",
    [
        *("", "{", "[1,", "NaN", "[Infinity]", '{"a": -Infinity}', "[1e999]", "[1e13]", f"[{'9' * 400}]"),
        *(f"[{'9' * 5000}]", "[" * 100_000, "[" * 900 + "]" * 900, '{"a":' * 900 + "1" + "}" * 900),
        "[" * (MAX_DEPTH + 1) + "]" * (MAX_DEPTH + 1),
    ],
    ids=lambda text: text[:12],
)
def test_json_that_cannot_be_used_is_none(text: str) -> None:
    assert json_value(text) is None


def test_json_as_deep_as_may_be_is_read() -> None:
    assert json_value("[" * MAX_DEPTH + "]" * MAX_DEPTH) is not None
