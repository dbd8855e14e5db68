"""Finding, listing and opening patterns."""

from __future__ import annotations

import pytest

from trainer.errors import BadInput
from trainer.pattern import json_data, library


@pytest.mark.parametrize("entry", library.catalogue(), ids=lambda entry: entry.name)
def test_every_shipped_pattern_loads_and_survives_its_dict(entry: library.PatternEntry) -> None:
    """Each shipped pattern is read without a fault, and from_dict(to_dict(p)) equals p."""
    made = library.load_pattern(entry.name)

    assert json_data.pattern_from_dict(json_data.pattern_to_dict(made)) == made
    assert {note.limb for note in made.notes} == set(entry.limbs)


def test_a_wrong_name_gets_the_nearest_one() -> None:
    """A misspelt name is answered with the pattern that was probably meant."""
    with pytest.raises(BadInput, match='did you mean "climb-odd-numbers"'):
        library.load_pattern("climb-odd-numbrs")
