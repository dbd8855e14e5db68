"""Sections laid out: paths by beat and bar, meters that change, feet, grids and limits."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

import pytest

from trainer import toml_text
from trainer.errors import BadInput
from trainer.pattern.language import notation
from trainer.pattern.language.rows import HANDS_ASSUMED
from trainer.pattern.model import Level, Limb

if TYPE_CHECKING:
    from trainer.pattern.model import Pattern


def pattern(source: str) -> Pattern:
    """Return the pattern of a TOML text."""
    return notation.read(toml_text.parse(source), "test", source)


def row(made: Pattern, voice: str, step: Fraction = Fraction(1, 4)) -> str:
    """Return a voice as x and - on a grid of steps."""
    beats = {note.beat for note in made.notes if note.voice == voice}
    return "".join("x" if at * step in beats else "-" for at in range(int(made.length / step)))


def test_a_path_by_the_beat_changes_with_the_written_beat() -> None:
    """In 7/8 each stop of the path lasts an eighth; it comes round when beats and stops do."""
    made = pattern('meter = "7/8"\n[hands]\npath = "snare tom1"\nper = "beat"')

    assert len(made.bars) == 2
    assert row(made, "snare") == "xx--" * 7
    assert row(made, "tom1") == "--xx" * 7


def test_a_path_by_the_bar_changes_with_the_bar_even_where_meters_change() -> None:
    """Three stops over two meters come round after six bars."""
    made = pattern('meter = ["2/4", "3/8"]\n[hands]\npath = "snare tom1 floor"\nper = "bar"')
    firsts = [next(n.voice for n in made.notes if n.beat == bar.start) for bar in made.bars]

    assert firsts == ["snare", "tom1", "floor"] * 2
    assert [str(bar.meter) for bar in made.bars] == ["2/4", "3/8"] * 3


def test_rests_and_feet_take_no_stop_of_the_path() -> None:
    """The path goes on with the next stroke of a hand, whatever lies between."""
    made = pattern('[hands]\nvalue = "4"\nsticking = "R - K L"\npath = "snare tom1"')

    assert [(n.voice, n.beat) for n in made.notes] == [("snare", 0), ("kick", 2), ("tom1", 3)]


def test_two_drums_of_a_stop_are_shared_by_the_hands() -> None:
    """The right hand takes the first, the left the second, also with the left lead."""
    for lead in ("right", "left"):
        made = pattern(
            f'[hands]\nsticking = "R L B"\nvalue = "8t"\npath = "hihat+snare"\nlead = "{lead}"'
        )
        pairs = {(note.limb, note.voice) for note in made.notes}

        assert pairs == {(Limb.RH, "hihat"), (Limb.LH, "snare")}


def test_a_rhythm_goes_round_step_by_step() -> None:
    """Four sixteenths and a quarter fill two beats with five strokes."""
    made = pattern('[hands]\nsticking = "R L R L R"\nrhythm = "16 x4, 4"\nlead = "both"')

    assert row(made, "snare") == "xxxxx---" * 2
    assert [note.value for note in made.notes] == ["16", "16", "16", "16", "4"] * 2


@pytest.mark.parametrize(
    ("value", "strokes"),
    [("1", 1), ("2", 2), ("2.", 4), ("4t", 6), ("8q", 10), ("16s", 28), ("64", 64), ("4.", 8)],
)
def test_note_values_from_whole_notes_to_sixty_fourths(value: str, strokes: int) -> None:
    """A value has the strokes in one or, dotted, three bars of 4/4 that its length says."""
    length = 3 if value.endswith(".") else 1
    made = pattern(f'length = {length}\n[hands]\nsticking = "R"\nvalue = "{value}"')

    assert made.strokes == strokes


def test_feet_follow_hands_accents_voices_and_each_other() -> None:
    """A foot that goes along with something strikes exactly where it strikes."""
    made = pattern(
        '[hands]\nsticking = ">R L R >L"\npath = "snare x3, tom1"\n'
        '[feet]\npedal = "same as kick"\nkick = "same as accents"\nkick2 = "same as tom1"'
    )

    assert row(made, "kick") == row(made, "pedal") == "x--x" * 4
    assert row(made, "kick2") == row(made, "tom1") == "---x" * 4


def test_an_ostinato_comes_round_across_the_bar_lines() -> None:
    """Two beats of samba over 3/4 come round after two bars; nothing is cut."""
    made = pattern('meter = "3/4"\nfeet = "samba"\nhands = "RLRL RLRL RLRL"')

    assert len(made.bars) == 2
    assert row(made, "kick") == "x--xx--x" * 3


def test_an_ostinato_gives_way_to_a_line_of_its_foot() -> None:
    """A written pedal replaces the ostinato's; its kick stays."""
    made = pattern('hands = "R"\n[feet]\nostinato = "samba"\npedal = "x---"')

    assert row(made, "pedal") == "x---" * 4
    assert row(made, "kick") == "x--xx--x" * 2


def test_grids_say_levels_zones_hands_and_grace_strokes() -> None:
    """Each sign of a grid becomes what the reference says."""
    made = pattern('[bars]\nvalue = "4"\nsticking = "RLRL"\nsnare = "XgfD"\nhihat = "o---"')
    snare = [n for n in made.notes if n.voice == "snare" and not n.grace]
    graces = [(n.beat, n.limb) for n in made.notes if n.grace]

    assert [note.level for note in snare] == ["accent", "ghost", "normal", "accent"]
    assert graces == [(2, Limb.LH), (3, Limb.RH), (3, Limb.RH)]
    assert next(note for note in made.notes if note.voice == "hihat").zone == "open"


def test_without_a_sticking_the_hands_of_a_grid_are_assumed() -> None:
    """The right hand on the cymbal, the left on the drums between; the pattern says so."""
    made = pattern('[bars]\nvalue = "8"\nhihat = "xxxxxxxx"\nsnare = "--o---o-"\nkick = "x---x---"')
    hihat = "".join(str(note.limb)[0] for note in made.notes if note.voice == "hihat")

    assert hihat == "RRRRRRRR"
    assert {note.limb for note in made.notes if note.voice == "snare"} == {Limb.LH}
    assert HANDS_ASSUMED in made.assumed
    assert {note.voice for note in made.notes if note.hand_assumed} == {"hihat", "snare"}


def test_a_bar_line_in_the_wrong_place_is_reported() -> None:
    """A bar line of a grid stands between two bars or is a fault with the step before it."""
    assert pattern('[bars]\nvalue = "4"\nsnare = "xxxx|x-x-"').strokes == 6
    with pytest.raises(BadInput, match="bar line after step 3"):
        pattern('[bars]\nvalue = "4"\nsnare = "xxx|xx-x-"')


def test_hands_below_a_grid_fill_its_bars_like_the_grid() -> None:
    """Two bars of hands make two bars of a one-bar grid; a step too many is reported."""
    two = '[bars]\nvalue = "4"\nsnare = "xxxx"\nsticking = "RLRL RRLL"'

    assert "".join(str(note.limb)[0] for note in pattern(two).notes) == "RLRLRRLL"
    with pytest.raises(BadInput, match="sticking has 9 steps"):
        pattern(two.replace("RRLL", "RRLLR"))


def test_the_same_stroke_written_twice_is_reported() -> None:
    """A kick in the grid and in the feet at the same beat is a fault with its beat."""
    with pytest.raises(BadInput, match="kick is written twice at beat 1"):
        pattern('[bars]\nvalue = "4"\nkick = "x---"\n[feet]\nkick = "x"\nvalue = "4"')


def test_a_section_takes_from_the_top_what_it_does_not_say() -> None:
    """Feet and path of the top hold in each section, a section's own key replaces one of them."""
    made = pattern(
        'feet = "four"\n[hands]\nsticking = "R L"\npath = "tom1"\n'
        '[[section]]\n[[section]]\nhands = { path = "floor" }\n[[section]]\nfeet = "none"'
    )

    seconds = [note.voice for note in made.notes if note.beat % 4 == Fraction(1, 4)]

    assert seconds == ["tom1", "floor", "tom1"]
    assert row(made, "kick", Fraction(1)) == "xxxxxxxx----"


def test_levels_of_ghosts_in_one_pair_of_brackets() -> None:
    """Brackets around several strokes make each a ghost, and a repeat holds for all of them."""
    made = pattern('[hands]\nvalue = "8"\nsticking = ">R (L R L) |: R (L) :| x2"')

    assert [n.level for n in made.notes][:5] == [Level.ACCENT, *[Level.GHOST] * 3, Level.NORMAL]
    assert [n.level for n in made.notes][5:] == [Level.GHOST, Level.NORMAL, Level.GHOST]
