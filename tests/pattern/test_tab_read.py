"""Tab out and back in, and tab as others type it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.errors import BadInput
from trainer.pattern import library
from trainer.pattern.formats.tab_file import pattern_from_tab, read, to_tab_file
from trainer.pattern.language.rows import HANDS_ASSUMED
from trainer.pattern.model import Level, Limb

from .made import patterns

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.pattern.model import Pattern


@given(patterns())
@settings(max_examples=100, deadline=None)
def test_out_and_back_in_is_the_same_pattern(pattern: Pattern) -> None:
    """Everything a pattern says returns from its tab file."""
    assert pattern_from_tab(to_tab_file(pattern), pattern.name) == pattern


@pytest.mark.parametrize("name", [entry.name for entry in library.catalogue()])
def test_every_shipped_pattern_returns(name: str) -> None:
    """Out and back in is the same pattern, whole."""
    pattern = library.load_pattern(name)

    assert pattern_from_tab(to_tab_file(pattern), name) == pattern


GROOVE = """
HH|x-x-x-x-|x-x-x-o-|
SD|----o---|----O--g|
BD|o-----o-|o-o-----|
"""


def test_a_groove_as_drummers_type_it() -> None:
    """Rows of characters, no headings: bars of 4/4, eight steps each."""
    pattern = pattern_from_tab(GROOVE, "groove")

    assert [str(bar.meter) for bar in pattern.bars] == ["4/4", "4/4"]
    kicks = [note.beat for note in pattern.notes if note.voice == "kick"]
    assert kicks == [0, 3, 4, 5]
    snares = [(n.beat, n.level) for n in pattern.notes if n.voice == "snare"]
    assert snares == [(2, Level.NORMAL), (6, Level.ACCENT), (7.5, Level.GHOST)]
    assert [n.beat for n in pattern.notes if n.zone == "open"] == [7]
    assert HANDS_ASSUMED in pattern.assumed


def test_the_sticking_stands_below_its_steps() -> None:
    """Letters below name the hands; B is the right hand on the upper drum, b the left."""
    text = "HH |x-x-|\nSN |o--o|\nBD |o---|\n    B R L"

    notes = pattern_from_tab(text.replace("    B R L", "    B RL"), "t").notes

    hands = [(n.voice, n.limb) for n in notes if n.voice != "kick"]
    assert hands == [
        ("hihat", Limb.RH),
        ("snare", Limb.LH),
        ("hihat", Limb.RH),
        ("snare", Limb.LH),
    ]


def test_both_hands_on_one_drum() -> None:
    """B under a single drum is a stroke of each hand."""
    notes = pattern_from_tab("FT |o---|\n    B", "t").notes

    assert [(n.voice, n.limb) for n in notes] == [("floor", Limb.RH), ("floor", Limb.LH)]


def test_flams_and_drags_have_grace_strokes_of_the_other_hand() -> None:
    """f is a flam, d a drag: one and two grace strokes before."""
    notes = pattern_from_tab("SN |f-d-|\n    R L", "t").notes

    grace = [(n.beat, n.grace, n.limb) for n in notes]
    assert grace == [
        (0, 1, Limb.LH),
        (0, 0, Limb.RH),
        (2, 2, Limb.RH),
        (2, 1, Limb.RH),
        (2, 0, Limb.LH),
    ]


def test_headings_and_meters() -> None:
    """Headings are TOML; a line before the rows gives the meter."""
    text = 'title = "Seven"\ntempo = 92\n\nbar 1, 7/8\nSN |o-o-o--|\n\nbar 2, 3/4\nSN |ooo|\n'

    pattern = pattern_from_tab(text, "t")

    assert (pattern.title, pattern.tempo) == ("Seven", 92)
    assert [str(bar.meter) for bar in pattern.bars] == ["7/8", "3/4"]


@pytest.mark.parametrize(
    ("steps", "meter", "kind"),
    [
        (3, "3/8", "eighths"),
        (4, "4/4", "quarters"),
        (6, "6/8", "eighths; write"),
        (7, "7/8", "eighths"),
        (8, "4/4", "eighths"),
        (10, "5/8", "sixteenths"),
        (12, "4/4", "eighth triplets; write"),
        (14, "7/8", "sixteenths"),
        (16, "4/4", "sixteenths"),
        (18, "9/8", "sixteenths"),
        (24, "4/4", "sixteenth triplets"),
        (40, "4/4", "even steps"),
        (999, "4/4", "even steps"),
    ],
)
def test_a_meter_nobody_wrote_goes_by_the_steps(steps: int, meter: str, kind: str) -> None:
    """Steps that go into four quarters are 4/4, six or an odd number eighths, others sixteenths."""
    pattern = pattern_from_tab(f"SN |{'o' * steps}|", "t")

    assert str(pattern.meter) == meter
    reported = f"meter: {meter}, as none is written and a bar has {steps} steps ({kind}"
    assert pattern.assumed[0].startswith(reported)


def test_a_tab_of_sevens_is_in_seven_eight() -> None:
    """Fourteen steps are sixteenths of 7/8: step 7 is the fourth eighth."""
    pattern = pattern_from_tab("HH |x-x-x-x-x-x-x-|\nBD |o-----o---o---|", "t")

    assert pattern.length == 3.5
    assert [n.beat for n in pattern.notes if n.voice == "kick"] == [0, 1.5, 2.5]


def test_what_is_written_is_not_assumed() -> None:
    """With meter, tempo and sticking written nothing is reported; the meter holds until another."""
    text = "title: Funk two\nTempo: 96 BPM\nmeter: 3/4\nSN |oooo|oooo|\n    RLRL RLRL\n"

    pattern = pattern_from_tab(text, "t")

    assert (pattern.title, pattern.tempo, pattern.assumed) == ("Funk two", 96, ())
    assert {str(bar.meter) for bar in pattern.bars} == {"3/4"}


def test_a_tempo_nobody_wrote_is_reported() -> None:
    """A tab without a tempo says which one is taken, as other files do."""
    assert "tempo: 60 BPM, as the file has none" in pattern_from_tab(GROOVE, "groove").assumed


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no row of tab"),
        ("XX |o-o-|", "line 1: no drum has the letters"),
        ("SN |o-?-|", r'line 1: "\?" is no sign'),
        ("SN |o-o-|\nBD |o-|", "line 2: the bars of this row"),
        ("SN/edge |o-|", "line 1: the snare has no zone"),
        ("bar 1, 9/7\nSN |o-|", "line 1: the meter 9/7"),
        ("title: x\ntempo: fast\nSN |o-|", 'line 2: "fast" is no tempo'),
        ("tempo = fast\nSN |o-|", "headings are not TOML"),
        ("tempo = 9999\nSN |o-|", "tempo"),
        ('sections = ["x"]\nSN |o-|', "is no section"),
        ("SN |o-|\n\nbar 1, values: snare 99", 'line 3, value 1: "99"'),
        ("SN |o-|\n\nbar 1, values: snare 8 8", "line 3: the values"),
        ("SN |o-|\n\nbar 1, values: snare 8; snare 8", "line 3: the values"),
        ("SN |o-|\n\n+ beat=9 voice=snare", "line 3: the stroke is after"),
        ("SN |o-|\n\n+ beat=1 voice=drum", "line 3"),
    ],
)
def test_what_cannot_be_read_is_reported(text: str, words: str) -> None:
    """Each fault names its line."""
    with pytest.raises(BadInput, match=words):
        pattern_from_tab(text, "t")


_WHOLE = to_tab_file(library.load_pattern("changing-meters"))


@given(at=st.integers(0, 5000), junk=st.text(max_size=6))
@settings(deadline=None)
def test_damaged_tabs_never_crash(at: int, junk: str) -> None:
    """Text written over a good file gives a pattern or BadInput, nothing else."""
    at %= len(_WHOLE)
    try:
        found: object = pattern_from_tab(_WHOLE[:at] + junk + _WHOLE[at + len(junk) :], "t").bars
    except BadInput as fault:
        found = str(fault)
    assert found


def test_a_tab_is_opened_as_a_pattern(tmp_path: Path) -> None:
    """Wherever a pattern is asked for, a .txt file with tab will do; faults name the file."""
    path = tmp_path / "groove.txt"
    path.write_text(GROOVE)

    assert library.load_pattern(str(path)) == read(path)
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(BadInput, match=r"groove\.txt: the file is not UTF-8 text"):
        library.load_pattern(str(path))
