"""Leads, shifts and climbs: which hand strikes what, against bars written out by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from trainer import toml_text
from trainer.errors import BadInput, Faults
from trainer.pattern import library
from trainer.pattern.language import notation

if TYPE_CHECKING:
    from trainer.pattern.model import Pattern


def pattern(source: str) -> Pattern:
    """Return the pattern of a TOML text."""
    return notation.read(toml_text.parse(source), "test", source)


def bars(made: Pattern, voice: str = "") -> list[str]:
    """Return the hands of each bar in order, of one voice or of all; accents after a sign >."""
    return [
        " ".join(
            (">" if note.level == "accent" else "") + str(note.limb)[0]
            for note in made.notes
            if bar.start <= note.beat < bar.end and (not voice or note.voice == voice)
        )
        for bar in made.bars
    ]


GROOVE = '[bars]\nvalue = "8"\nsticking = "RRBR RRBR"\nhihat = "xxxxxxxx"\nsnare = "--o---o-"\n'


def test_a_lead_exchanges_the_hands_of_a_grid() -> None:
    """Right hand on the hi-hat and left on the snare become left and right; nothing is added."""
    plain, left = pattern(GROOVE), pattern(GROOVE + '[hands]\nlead = "left"')

    assert (bars(plain, "hihat"), bars(plain, "snare")) == (["R R R R R R R R"], ["L L"])
    assert (bars(left, "hihat"), bars(left, "snare")) == (["L L L L L L L L"], ["R R"])
    assert left.strokes == plain.strokes == 10


def test_both_leads_of_a_grid_are_a_bar_each() -> None:
    """One bar led by the right hand, then one led by the left; signs that name a hand go along."""
    made = pattern('[hands]\nlead = "both"\n[bars]\nvalue = "4"\nsnare = "RRLR"\nkick = "x-x-"')

    assert bars(made, "snare") == ["R R L R", "L L R L"]
    assert bars(made, "kick") == ["R R", "R R"]
    assert [section.title for section in made.sections] == ["right lead", "left lead"]


def test_a_lead_over_a_line_and_a_grid_exchanges_both() -> None:
    """The hand that plays the ride in the grid and the one of the line change places."""
    source = '[bars]\nvalue = "4"\nride = "RRRR"\n[hands]\nsticking = "L"\nvalue = "4"\n'

    assert bars(pattern(source), "ride") == ["R R R R"]
    assert bars(pattern(f'{source}lead = "left"'), "ride") == ["L L L L"]
    assert bars(pattern(f'{source}lead = "left"'), "snare") == ["R R R R"]


@pytest.mark.parametrize(
    ("source", "keys"),
    [
        (GROOVE + "[hands]\nshift = 1", ["shift"]),
        (GROOVE + '[hands]\nback = true\nper = "beat"\nlead = "left"', ["back", "per"]),
        ('feet = "samba"\n[hands]\nlead = "left"', ["lead"]),
        ('[bars]\nkick = "x---"\n[hands]\norders = "all"', ["orders"]),
    ],
)
def test_keys_that_change_no_line_are_refused(source: str, keys: list[str]) -> None:
    """Beside a grid or feet they would have to invent strokes; each is named in a sentence."""
    with pytest.raises(BadInput) as caught:
        pattern(source)

    found = caught.value.faults if isinstance(caught.value, Faults) else [caught.value]
    assert [fault.what for fault in found] == [
        f"there is no line of the hands for {key} to change" for key in keys
    ]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("unison-groove path=floor", "a grid has no path to change"),
        ("unison-groove value=8t", "a grid has no value to change"),
        ("unison-groove shift=1", "a grid has no shift to change"),
        ("feet-samba lead=left", "no hands are written whose lead"),
        ("feet-samba path=floor", "no hands are written whose path"),
    ],
)
def test_a_change_of_hands_that_are_not_there_is_refused(name: str, words: str) -> None:
    """Nothing is laid over a groove or over feet; one sentence says why."""
    with pytest.raises(BadInput, match=words):
        library.load_pattern(name)


def test_changes_of_hands_that_have_a_meaning_without_a_line() -> None:
    """A groove takes another lead or other hands below it; feet take hands by a sticking."""
    groove = library.load_pattern("unison-groove lead=left")
    other = library.load_pattern("unison-groove sticking='L-L-B-L-L-L-B-L-'")
    over = library.load_pattern("feet-samba sticking='R L' value=8 path=floor")

    assert bars(other, "hihat") == ["L L R L L L R L"]
    assert bars(groove, "hihat") == ["L L L L L L L L"]
    assert groove.strokes == other.strokes == 13
    assert bars(over, "floor") == ["R L R L R L R L"]


def test_a_change_goes_only_to_sections_that_have_hands(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """A section of feet, or one whose hands are "none", gets no strokes by a change of the path."""
    path = tmp_path_factory.mktemp("made") / "mixed.toml"
    path.write_text(
        'feet = "four"\n[[section]]\nhands = "R L"\n[[section]]\n'
        '[[section]]\nhands = "none"\nbars = { value = "4", snare = "RRRR" }\n'
    )
    made = library.load_pattern(f"{path} path=floor")
    left = library.load_pattern(f"{path} lead=left")

    assert [len(one.split()) for one in bars(made, "floor")] == [16, 0, 0]
    assert bars(made, "snare") == ["", "", "R R R R"]
    assert [one[:3] for one in bars(left, "snare")] == ["L R", "", "L L"]


def test_both_leads_of_singles_are_the_whole_section() -> None:
    """Two bars of singles around two drums led by the right, then two led by the left."""
    made = pattern('length = 2\n[hands]\nvalue = "4"\npath = "snare x4, tom1 x4"\nlead = "both"')

    assert bars(made) == ["R L R L", "R L R L", "L R L R", "L R L R"]
    assert [n.voice for n in made.notes] == (["snare"] * 4 + ["tom1"] * 4) * 2


@pytest.mark.parametrize("sticking", ["R L R L", "R R L L", "R L R R L R L L", "R"])
def test_a_sticking_that_alternates_is_exchanged_after_its_bars(sticking: str) -> None:
    """Eighths of it fill a bar; the second bar has the other hand in each place."""
    made = pattern(f'[hands]\nvalue = "8"\nsticking = "{sticking}"\nlead = "both"')
    first = (sticking.split() * 8)[:8]

    assert bars(made) == [
        " ".join(first),
        " ".join("L" if hand == "R" else "R" for hand in first),
    ]


def test_both_leads_of_a_figure_come_in_turn() -> None:
    """A five stroke roll is led by the right, then by the left, within the bar."""
    made = pattern('[hands]\nsticking = "R R L L >R"\nrhythm = "16 x4, 4"\nlead = "both"')

    assert bars(made) == ["R R L L >R L L R R >L"]


def test_both_leads_of_a_climb_are_two_climbs() -> None:
    """Quarters and eighths led by the right, the same led by the left, the feet under all."""
    made = pattern('feet = "four"\n[hands]\nsticking = "R L R R"\nvalue = "4 8"\nlead = "both"')

    assert bars(made, "snare") == [
        "R L R R",
        "R L R R R L R R",
        "L R L L",
        "L R L L L R L L",
    ]
    assert bars(made, "kick") == ["R R R R"] * 4


def test_a_climb_comes_to_every_stop_of_its_path() -> None:
    """Four quarters and eight eighths are 12 strokes: 13 stops take the climb twice."""
    made = pattern('[hands]\nvalue = "4 8"\npath = "snare x4, tom1 x8, floor"')
    voices = [note.voice for note in made.notes]

    assert len(made.bars) == 4
    assert voices == [*["snare"] * 4, *["tom1"] * 8, "floor", *["snare"] * 4, *["tom1"] * 7]


def test_rests_in_a_climb_are_no_stops() -> None:
    """With every other step a rest, 12 steps come to six stops: seven take the climb twice."""
    hands = '[hands]\nsticking = "R -"\nvalue = "4 8"\npath = "snare x6{}"'

    assert len(pattern(hands.format("")).bars) == 2
    assert len(pattern(hands.format(", floor")).bars) == 4


def test_a_length_that_cuts_a_path_says_so() -> None:
    """One bar of quarters comes to two of four drums; the words name the others and the length."""
    made = pattern(
        'length = 1\n[hands]\nvalue = "4 8"\npath = "snare x2, tom1 x2, tom2 x2, floor x2"'
    )

    assert made.strokes == 4
    assert "length = 1 ends the path before tom2, floor; length = 2 plays all" in made.assumed


def test_stops_that_no_stroke_of_a_climb_falls_on_are_refused() -> None:
    """A drum a beat, but whole notes and halves strike on beats 1 and 3 only."""
    with pytest.raises(BadInput, match=r"hands\.path: no stroke of the climb falls on tom1, floor"):
        pattern('[hands]\nvalue = "1 2"\npath = "snare tom1 tom2 floor"\nper = "beat"')


@pytest.mark.parametrize(
    ("key", "wanted"),
    [
        ("shift = 1", "L >R L R"),
        ("shift = -1", "L R L >R"),
        ("shift_accents = 1", "R >L R L"),
        ("shift_accents = 2", "R L >R L"),
        ("shift_accents = 3", "R L R >L"),
        ("shift_accents = -1", "R L R >L"),
        ("shift_accents = 4", ">R L R L"),
        ("shift = 1\nshift_accents = 1", "L R >L R"),
    ],
)
def test_the_figure_or_the_accents_alone_are_shifted(key: str, wanted: str) -> None:
    """A shift moves strokes with their accents, the other one the accents over the hands."""
    made = pattern(f'[hands]\nsticking = ">R L R L"\nvalue = "4"\n{key}')

    assert bars(made) == [wanted]


def test_shifted_accents_pass_over_rests_and_keep_drums_and_flams() -> None:
    """The accent of a flam on the snare moves to the floor tom; the flam stays where it was."""
    made = pattern(
        '[hands]\nsticking = "l>R - L (R)"\nvalue = "4"\npath = "snare floor floor"\n'
        "shift_accents = 1"
    )
    played = [(note.voice, str(note.level), note.grace) for note in made.notes]

    assert played == [
        ("snare", "normal", 1),
        ("snare", "ghost", 0),
        ("floor", "accent", 0),
        ("floor", "normal", 0),
    ]
    changed = library.load_pattern("single-stroke-roll sticking='>R L R L' shift-accents=1")
    assert bars(changed) == [" ".join(["R", ">L", "R", "L"] * 4)]
