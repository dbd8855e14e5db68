"""Finding, listing and opening patterns."""

from __future__ import annotations

import pytest

from trainer.errors import BadInput
from trainer.pattern import files, serial


@pytest.mark.parametrize("entry", files.catalogue(), ids=lambda entry: entry.name)
def test_every_shipped_pattern_loads_and_survives_its_dict(entry: files.Entry) -> None:
    """Each shipped pattern is read without a fault, and from_dict(to_dict(p)) equals p."""
    made = files.load(entry.name)

    assert serial.from_dict(serial.to_dict(made)) == made
    assert {note.limb for note in made.notes} == set(entry.limbs)


def test_a_wrong_name_gets_the_nearest_one() -> None:
    """A misspelt name is answered with the pattern that was probably meant."""
    with pytest.raises(BadInput, match='did you mean "climb"'):
        files.load("clim")
