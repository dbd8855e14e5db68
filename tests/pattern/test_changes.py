"""Changes after a pattern's name, and the file that is made of them."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.errors import BadInput
from trainer.pattern import library
from trainer.pattern.language import changes
from trainer.toml_text import toml_text


def test_a_changed_pattern_opens_again_by_its_name() -> None:
    """The name of a changed pattern says the changes; loading it gives the same pattern."""
    made = library.load_pattern('single-paradiddle path="snare x3, tom2" feet=samba')

    assert {note.voice for note in made.notes} == {"snare", "tom2", "kick", "pedal"}
    assert library.load_pattern(made.name) == made


def test_a_change_replaces_what_it_excludes() -> None:
    """A value takes the place of a rhythm and its way back; the sticking stays."""
    made = library.load_pattern("five-stroke-roll value=8 sticking='RRLL R RRLL R RRLL RR'")

    assert {note.value for note in made.notes} == {"8"}


def test_a_change_holds_in_every_section() -> None:
    """A section that names its own hands gives way to a change of the hands."""
    made = library.load_pattern("climb-one-hand lead=left")

    assert {str(note.limb) for note in made.notes} == {"LH"}


@pytest.mark.parametrize("feet", ["feet=none", "feet=samba kick=x---"])
def test_feet_can_be_taken_away_or_mixed(feet: str) -> None:
    """`none` drops the feet; a line of one foot goes with a named ostinato in any order."""
    made = library.load_pattern(f"climb-odd-numbers-feet {feet}")
    voices = {note.voice for note in made.notes}

    assert voices == ({"snare"} if "none" in feet else {"snare", "kick", "pedal"})


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("climb-samba pat=snare", 'did you mean "path"'),
        ("climb-samba path='snare", "half a pair of quotes"),
        ("climb-samba path=snare tom1", '"tom1" is not a change'),
        ("climb-samba path=snar", 'did you mean "snare"'),
        ("climb-smba path=snare", 'did you mean "climb-samba"'),
    ],
)
def test_a_wrong_change_is_reported(text: str, words: str) -> None:
    """What cannot be read as a change is named, with the nearest that can."""
    with pytest.raises(BadInput) as caught:
        library.load_pattern(text)

    assert words in str(caught.value)


@given(st.dictionaries(st.sampled_from(sorted(changes.PLACES)), st.text(max_size=30)))
def test_written_changes_are_read_back(made: dict[str, str]) -> None:
    """Whatever the texts are, `split` gives back what `written` wrote."""
    name, back = changes.split("climb-samba" + changes.written(made))

    assert (name, back) == ("climb-samba", made)


TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)


@given(
    title=TEXTS,
    sticking=TEXTS,
    level=st.integers(-9, 9),
    tempo=st.floats(1, 500),
    tags=st.lists(TEXTS),
    row=TEXTS,
)
def test_a_made_file_says_what_it_was_made_of(
    title: str, sticking: str, level: int, tempo: float, tags: list[str], row: str
) -> None:
    """The TOML reader of Python's library gives back the table that was written."""
    table = {
        "title": title,
        "tags": tags,
        "level": level,
        "tempo": tempo,
        "feet": "samba",
        "hands": {"sticking": sticking, "back": True},
        "bars": {"snare/rim": row},
        "section": [{"title": title, "hands": {"sticking": sticking}}, {"feet": "none"}],
    }

    assert tomllib.loads(toml_text(table)) == table


@pytest.mark.parametrize(
    ("name", "title"),
    [
        ("flam-tap tempo=80 feet=samba", "Flam tap at 80, over samba feet"),
        ('flam-tap path="snare x4"', "Flam tap, on snare"),
        ('flam-tap path="snare/rim x2, tom2, floor x2"', "on snare rim, middle tom and floor tom"),
        ('flam-tap value="8 8t 16" back=true', "in 8ths, 8th triplets and 16ths, up and down"),
        ("flam-tap lead=left feet=none", "Flam tap, left lead, without feet"),
        ('flam-tap kick="same as accents"', "Flam tap, kick with the accents"),
        ('flam-tap tempo="80 to 120" times=3', "Flam tap from 80 to 120, 3 times"),
        ("flam-tap seed=4 level=2", "Flam tap"),
    ],
)
def test_a_changed_pattern_has_a_title_for_people(name: str, title: str) -> None:
    """Nobody reads the syntax of a change on a page."""
    assert library.load_pattern(name).title.endswith(title)
