"""The text of a TOML file: where a key stands, and texts that only look dangerous."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer import toml_text
from trainer.errors import BadInput

SOURCE = """\
title = "x"
hands.sticking = "R L"

[feet]
"kick" = "x"

[[section]]
title = "one"

[[section]]
[section.hands]
path = "snare"
"""


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("title",), 1),
        (("hands", "sticking"), 2),
        (("feet", "kick"), 5),
        (("feet", "pedal"), 4),
        (("section", 0, "title"), 8),
        (("section", 1, "hands", "path"), 12),
        (("section", 1, "hands", "sticking"), 2),
        (("section", 1), 10),
        (("section", 0, "feet", "kick"), 5),
        (("nothing",), None),
    ],
)
def test_line_of_a_key(path: tuple[str | int, ...], line: int | None) -> None:
    """A key's own line; else the nearest table's; what a section takes over stands at the top."""
    assert toml_text.line_of(toml_text.key_lines(SOURCE), path) == line


@pytest.mark.parametrize(
    "source",
    [
        'kick = ".x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x"',
        "kick = 'x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x'",
        'kick = """\nx.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x.x\n"""',
        "level = 1 # a ... b ... c ... d ... e",
    ],
)
def test_dots_in_grids_are_no_deep_keys(source: str) -> None:
    """Only keys of many parts are refused, not texts with many dots."""
    assert toml_text.parse(source) == tomllib.loads(source)


@given(st.text(st.sampled_from("ab.[]{}=\"'\n #1,-"), max_size=30))
def test_junk_is_read_as_python_reads_it_or_refused(source: str) -> None:
    """Any text gives what Python's own reader gives, or BadInput where that refuses it."""
    try:
        wanted = tomllib.loads(source)
    except tomllib.TOMLDecodeError:
        with pytest.raises(BadInput, match="not TOML"):
            toml_text.parse(source)
    else:
        assert toml_text.parse(source) == wanted
        toml_text.key_lines(source)
