"""A draft: a form of texts over a file's table, and faults by the field they stand in."""

from __future__ import annotations

from dataclasses import replace

import pytest

from trainer.errors import BadInput, Faults
from trainer.pattern import library
from trainer.pattern.draft import Draft, faults_by_field
from trainer.pattern.language.changes import drafted, said

TOML = [one.name for one in library.catalogue() if one.path.suffix == ".toml"]


@pytest.mark.parametrize("name", TOML)
def test_an_untouched_form_makes_the_same_pattern(name: str) -> None:
    """What a form says of a shipped file, written out and read again, is that file's pattern."""
    assert Draft.of(name).pattern() == library.load_pattern(name)


@pytest.mark.parametrize(
    ("table", "fields", "made"),
    [
        ({}, {"sticking": "R L"}, {"hands": {"sticking": "R L"}}),
        ({"hands": "R L"}, {"sticking": ""}, {}),
        ({"hands": "R L"}, {"sticking": "R L", "value": "8"}, {"sticking": "R L", "value": "8"}),
        (
            {"feet": {"ostinato": "samba", "kick": "x-"}},
            {"feet": "baiao", "kick": "x-"},
            {"feet": {"ostinato": "baiao", "kick": "x-"}},
        ),
        ({"tags": ["hands and feet"]}, {"tags": "hands and feet, two"}, None),
    ],
)
def test_a_form_changes_what_differs(
    table: dict[str, object], fields: dict[str, str], made: dict[str, object] | None
) -> None:
    """Empty fields take keys out, others put them in, and what stands beside a change stays."""
    found = drafted(table, fields)
    if made is None:
        assert found == {"tags": ["hands and feet", "two"]}
    else:
        assert found in (made, {"hands": made})


def test_value_and_rhythm_are_both_kept_so_that_their_quarrel_is_reported() -> None:
    """A form that says both gets the fault that a file with both gets."""
    table = {"hands": {"sticking": "R L", "value": "16"}}
    draft = Draft("x", table, said(table)).with_field("rhythm", "8 8")
    with pytest.raises(BadInput) as fault:
        draft.pattern()
    assert "exclude each other" in faults_by_field(fault.value)["rhythm"][0]


def test_faults_are_reported_by_field() -> None:
    """Those of a field go without their key, those of none keep their place."""
    several = Faults([BadInput("no", where="hands.path"), BadInput("not so", where="section 2")])
    assert faults_by_field(several) == {"path": ["no."], "": ["section 2: not so."]}


STUDY = """\
# for the left foot
title = "Study"      # a working title

[hands]
value = "8"          # slow
sticking = "R L R L"

# to come: feet
"""


def test_what_was_written_by_hand_stays_in_a_composed_file() -> None:
    """A changed field changes its line; remarks, order and spelling of the rest stay."""
    library.save_pattern("study", STUDY)
    draft = Draft.of("study").with_field("title", "Study two").with_field("kick", "x---x---")

    text = draft.to_text()
    kept = [line for line in STUDY.splitlines() if line not in text.splitlines()]
    assert kept == ['title = "Study"      # a working title']
    assert 'title = "Study two"      # a working title\n' in text
    again = draft.saved_as("study", text).with_field("title", "Study three")
    assert "# to come: feet" in again.to_text()
    library.save_pattern("study", text, over=True)
    assert library.load_pattern("study") == replace(draft.pattern(), name="study")
