"""What goes to standard output: JSON documents."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from trainer import console

if TYPE_CHECKING:
    from collections.abc import Callable

PLAIN = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(allow_nan=False, allow_infinity=False),
    st.text(),
)  # fmt: skip
VALUES = st.recursive(
    PLAIN, lambda inner: st.one_of(st.lists(inner), st.dictionaries(st.text(), inner))
)


@given(value=VALUES)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_json_says_what_was_meant(value: Any, capsys: pytest.CaptureFixture[str]) -> None:
    """Any document reads back as it was, in plain ASCII with a line's end."""
    console.print_json(value)
    out = capsys.readouterr().out

    assert json.loads(out) == value
    assert out.isascii()
    assert out.endswith("\n")


def test_json_has_a_key_or_an_item_a_line(capsys: pytest.CaptureFixture[str]) -> None:
    """Keys stand a line each, and so do the rows of a list; a list of numbers stands on one."""
    console.print_json({"a": [1, 2], "rows": [{"b": 1}, {"b": 2}], "c": {}})

    lines = ["{", ' "a": [1, 2],', ' "rows": [', '  {"b": 1},', '  {"b": 2}', " ],", ' "c": {}']
    assert capsys.readouterr().out.splitlines() == [*lines, "}"]


@pytest.mark.parametrize("wrap", [lambda one: one, lambda one: {"a": [{"b": one}]}])
def test_a_figure_that_is_no_number_is_never_written(
    wrap: Callable[[float], Any], capsys: pytest.CaptureFixture[str]
) -> None:
    """NaN raises before anything is written."""
    with pytest.raises(ValueError, match="not JSON compliant"):
        console.print_json(wrap(math.nan))

    assert capsys.readouterr().out == ""


def test_numbers_of_numpy_are_printed_as_numbers(capsys: pytest.CaptureFixture[str]) -> None:
    """A count or a figure that NumPy made is a number like any other; its NaN raises as well."""
    console.print_json({"count": np.int64(3), "rows": [{"ms": np.float32(0.5), "on": np.bool_(1)}]})
    assert json.loads(capsys.readouterr().out) == {"count": 3, "rows": [{"ms": 0.5, "on": True}]}
    with pytest.raises(ValueError, match="not JSON compliant"):
        console.print_json([np.float32("nan")])
