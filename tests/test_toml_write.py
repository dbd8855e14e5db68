"""TOML files as they are written and changed: what people wrote in them by hand stays."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.toml_text import changed_text, toml_text

BY_HAND = """\
# on top
title = "x"   # a remark

[notes]
40 = "snare/rim"
38 = 'snare'  # mine

# about doubles
[doubles]
snare = { ms = 12, softer = 0.6 } # soft

# first
[[goal]]
name = "A"
# second
[[goal]]
name = "B"

# the end
"""


def changed(**to: object) -> str:
    """Return the text by hand with some of its keys changed; None takes one out."""
    before = tomllib.loads(BY_HAND)
    after = {key: value for key, value in (before | to).items() if value is not None}
    text = changed_text(BY_HAND, before, after)
    assert tomllib.loads(text) == after
    return text


REMARKS = [line[line.index("#") :] for line in BY_HAND.splitlines() if "#" in line]


@pytest.mark.parametrize(
    "to",
    [
        {},
        {"title": "y"},
        {"tempo": 90},
        {"notes": {"38": "tom1", "40": "snare/rim", "41": "floor"}},
        {"doubles": {"snare": {"ms": 13, "softer": 0.6}, "kick": {"ms": 1, "softer": 0.5}}},
        {"goal": [{"name": "A"}, {"name": "B"}, {"name": "C"}]},
        {"goal": [{"name": "A", "tempo": 60}, {"name": "B"}]},
        {"goal": [{"name": "A"}]},
        {"goal": [{"name": "B"}]},
        {"goal": None},
        {"power": {"snare": [30, 72.5, 118]}},
        {"crosstalk": [{"struck": "floor"}]},
    ],
)
def test_remarks_and_order_stay(to: dict[str, object]) -> None:
    """Whatever is changed, put in or taken out, every remark and every other line is kept."""
    text = changed(**to)

    assert [one for one in REMARKS if one not in text] == []
    lines = [line for line in BY_HAND.splitlines() if line and line != "[[goal]]"]
    kept = [line for line in text.splitlines() if line in lines]
    assert sorted(kept, key=lines.index) == kept


def test_a_table_takes_its_own_remarks_along() -> None:
    """What is taken out goes with the remark on its line; what stands between tables stays."""
    text = changed(doubles=None, notes="none")

    assert "# soft" not in text
    assert "# mine" not in text
    assert "# about doubles\n" in text
    assert "# first\n" in text


def test_new_keys_stand_above_the_remark_on_what_follows() -> None:
    """A key is put under the last one of its table, not under the next table's remark."""
    text = changed(notes={"38": "snare", "40": "snare/rim", "41": "floor"})

    assert '# mine\n41 = "floor"\n\n# about doubles\n[doubles]\n' in text


def test_what_cannot_be_changed_in_place_is_written_again() -> None:
    """A table written in several places still says the right thing afterwards."""
    source = "a.b = 1\n[c]\nd = 2\n[a.e]\nf = 3\n[[x]]\ny = [1,\n 2]\n[a.g]\nh = 4\n"
    before = tomllib.loads(source)
    after = {"a": {"b": 2, "new": {"z": 1}}, "c": {"d": 3}, "x": [{"y": [2]}, {"y": []}]}

    assert tomllib.loads(changed_text(source, before, after)) == after


KEYS = st.text(st.sampled_from("ab.-\x7f é\"'"), min_size=1, max_size=4)
TEXTS = st.text(st.characters(codec="utf-8"), max_size=6)
VALUES = st.one_of(TEXTS, st.integers(-9, 9), st.floats(-1e6, 1e6), st.booleans(), st.lists(TEXTS))
TABLES = st.dictionaries(
    KEYS,
    st.one_of(
        VALUES,
        st.dictionaries(KEYS, st.one_of(VALUES, st.dictionaries(KEYS, VALUES, max_size=2))),
        st.lists(st.dictionaries(KEYS, VALUES, max_size=3), min_size=1, max_size=3),
    ),
    max_size=5,
)


@given(TABLES, TABLES)
@settings(deadline=None)
def test_any_file_is_written_and_changed(
    before: dict[str, object], after: dict[str, object]
) -> None:
    """Python's own reader gives back what was written, whatever letters and keys there are."""
    source = toml_text(before)

    assert tomllib.loads(source) == before
    assert tomllib.loads(changed_text(source, before, after)) == after


def test_half_a_pair_of_surrogates_is_no_letter() -> None:
    """A name that no text can hold is written with a question mark in its place."""
    assert tomllib.loads(toml_text({"title": "a\udcffb"})) == {"title": "a?b"}
