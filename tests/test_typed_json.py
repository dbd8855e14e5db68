"""JSON read by types: wrong values are refused in words; and what is written is plain ASCII."""

from __future__ import annotations

import json
import math
from fractions import Fraction
from typing import Annotated

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import Meta, Struct

from trainer.errors import BadInput
from trainer.typed_json import MAX_DEPTH, Plain, Text, checked_plain, converted, encode, reader


class Row(Struct):
    """A row with a value of every kind."""

    name: Text = ""
    beat: Fraction = Fraction(0)
    level: Annotated[int, Meta(ge=1, le=5)] = 1
    ms: Annotated[float, Meta(ge=0, le=20)] = 0.0
    on: bool = False
    row: tuple[Text, Annotated[float, Meta(ge=0, le=1)]] = ("", 0.0)
    inner: list[Row] = []


DIGITS = "9" * 400


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[]", "must be a table of named values"),
        ('{"level": ' + DIGITS + "}", "level: must be a whole number from 1 to 5"),
        ('{"level": ' + "9" * 5000 + "}", "level: has a whole number that is too large"),
        ('{"ms": ' + DIGITS + "}", "ms: must be a number from 0 to 20"),
        ('{"ms": 1e999}', "ms: must be a number from 0 to 20"),
        ('{"ms": NaN}', "the line is not JSON"),
        ('{"ms": true}', "ms: must be a number"),
        ('{"level": 2.5}', "level: must be a whole number"),
        ('{"on": 1}', "on: must be true or false"),
        ('{"beat": "1/0"}', 'beat: must be a fraction written as text, like "7/4"'),
        ('{"beat": 0.5}', "beat: must be a fraction"),
        ('{"name": 3}', "name: must be a text of at most 2000 characters"),
        ('{"row": ["", 3]}', r"row\[1\]: must be a number from 0 to 1"),
        ('{"row": [""]}', r"row: must be \[a text"),
        ('{"inner": [{}, {"inner": [{"ms": -1}]}]}', r"inner\[1\]\.inner\[0\]\.ms: must be"),
        ('{"inner": ' + "[" * 100_000 + "]" * 100_000 + "}", "must be a table|nested too deeply"),
        ('{"other": ' + "[" * 100_000 + "]" * 100_000 + "}", "nested too deeply"),
    ],
)
def test_wrong_values_are_refused_by_their_place(text: str, words: str) -> None:
    """Each fault names the key it is under and what belongs there."""
    with pytest.raises(BadInput, match=words):
        reader(Row)(text.encode())


def test_keys_of_later_versions_are_passed_over() -> None:
    """A key that the type does not name may hold anything that is JSON."""
    assert reader(Row)(b'{"later": [1e400, {"a": "b"}], "level": 3}').level == 3


@given(st.floats(0, 20))
def test_floats_come_back_bit_for_bit(value: float) -> None:
    """What is written is what is read, to the last bit."""
    assert reader(Row)(encode({"ms": value})).ms.hex() == value.hex()


@pytest.mark.parametrize(
    "value", [10**30, -(2**64), [[10**30]], {"a": {"b": 2**63}}, json.loads("[" * 99 + "]" * 99)]
)
def test_plain_values_are_bounded(value: object) -> None:
    """Tables whose values have no type hold no number beyond 64 bits, and are not deep."""
    with pytest.raises(BadInput, match=r"^summary: (has a whole number|is nested)"):
        checked_plain({"x": value}, "summary")

    fine: Plain = {"x": json.loads("[" * (MAX_DEPTH - 1) + "]" * (MAX_DEPTH - 1)), "y": 2**53}
    assert checked_plain(fine, "summary") is fine


PIECES = ["\\", "\ud83d", "\ude00", "u", "d83d", '"', "é", "\x1b"]


@given(st.lists(st.sampled_from(PIECES)).map("".join))
def test_half_letters_are_put_right_on_both_sides(text: str) -> None:
    """Halves of a pair of surrogates become U+FFFD, on writing and in files that have them."""
    right = text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")
    raw = json.dumps({"name": text}).encode()

    assert encode({"name": text}).isascii()
    assert reader(Row)(encode({"name": text})).name == right
    assert reader(Row)(raw).name == right


def test_numbers_of_numpy_are_written_as_numbers() -> None:
    """Whole numbers, figures and truths of NumPy are Python's own; a list or NaN of it is not."""
    row = {"level": np.int64(3), "ms": np.float64(0.1), "on": np.bool_(True), "x": np.float32(0.5)}

    assert json.loads(encode(row)) == {"level": 3, "ms": 0.1, "on": True, "x": 0.5}
    for wrong in (np.array([1]), object(), 1j):
        with pytest.raises(TypeError):
            encode(wrong)
    for nan in (math.nan, np.float64("nan"), np.float32("nan")):
        with pytest.raises(ValueError, match="not JSON compliant"):
            encode([nan])


def test_plain_values_become_a_type_with_the_same_words() -> None:
    """Values that were read before are checked like a text."""
    assert converted({"beat": "7/4"}, Row).beat == Fraction(7, 4)
    with pytest.raises(BadInput, match=r"inner\[0\]\.ms: must be a number from 0 to 20"):
        converted({"inner": [{"ms": math.nan}]}, Row)
