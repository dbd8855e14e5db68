"""The language reference: every example in it is read."""

from __future__ import annotations

import re

import pytest

from trainer import toml_text
from trainer.kit.voices import VOICES
from trainer.pattern.language import notation, reference
from trainer.pattern.language.rows import OSTINATOS
from trainer.pattern.library import load_pattern

NOTE_VALUES_FAMILIES = ["dotted", "triplet", "quintuplet", "septuplet", "sextuplets"]
_TEXT = reference.__doc__ or ""
_LINES = "\n".join(line[4:] for line in _TEXT.splitlines() if re.match(r"    \S|\s*$", line))
EXAMPLES = ["# " + text for text in _LINES.split("\n# ")[1:]]


@pytest.mark.parametrize("example", EXAMPLES)
def test_every_example_of_the_reference_is_a_pattern(example: str) -> None:
    """What the reference shows can be typed and is read without a fault."""
    assert notation.read(toml_text.parse(example), "example", example, load_pattern).notes


def test_the_reference_has_examples_of_each_table() -> None:
    """The examples are found in the text, and all three tables are among them."""
    shown = "\n".join(EXAMPLES)

    assert len(EXAMPLES) >= 8
    assert all(table in shown for table in ("[hands]", "[feet]", "[bars]", "[[section]]"))


@pytest.mark.parametrize("known", [VOICES, OSTINATOS, NOTE_VALUES_FAMILIES])
def test_every_voice_ostinato_and_kind_of_value_is_named(known: list[str]) -> None:
    """The reference names all there is to choose from."""
    assert all(re.search(rf"(?<![\w-]){re.escape(name)}(?![\w-])", _TEXT) for name in known)


@pytest.mark.parametrize("table", ["hands", "feet", "bars"])
def test_every_key_stands_in_the_reference(table: str) -> None:
    """No key of the language is missing from its reference."""
    assert all(re.search(rf"\b{key}\b", _TEXT) for key in notation.FIELDS[table])
    assert all(re.search(rf"\b{key}\b", _TEXT) for key in notation.TOP_FIELDS)
