"""Buzz strokes, rolls, ruffs, grace strokes on other drums, and accents as a line of their own."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from trainer import toml_text
from trainer.errors import BadInput
from trainer.kit.hits import Controllers, Pedal, Strike
from trainer.kit.kit_file import kit_from_toml
from trainer.kit.model import GENERAL_MIDI, Kit
from trainer.measure.power import power
from trainer.measure.reading import read_take
from trainer.measure.take_arrays import take_arrays
from trainer.midi.simulated_player import EXACT_TRAITS, WORKING_TRAITS, simulated_take
from trainer.pattern.formats import midi_read, musicxml_read, tab_file
from trainer.pattern.formats.midi_write import to_midi
from trainer.pattern.formats.musicxml_write import to_musicxml
from trainer.pattern.json_data import pattern_from_dict, pattern_to_dict
from trainer.pattern.language import notation
from trainer.pattern.model import Level, Limb, Pattern
from trainer.pattern.smaller_kit import on_smaller_kit
from trainer.practice.course import Course, Pass, pass_targets
from trainer.practice.matcher import judge, match_take
from trainer.practice.outcomes import BOUNCE, DOUBLE, wrong_zone


def pattern(hands: str, heading: str = "") -> Pattern:
    """Return the pattern of one line of the hands."""
    source = f"{heading}\nhands = {{ {hands} }}"
    return notation.read(toml_text.parse(source), "test", source)


def hands_of(made: Pattern) -> str:
    """Return the hands of the main strokes in order."""
    return "".join(str(note.limb)[0] for note in made.notes if not note.grace)


def test_slashes_are_measured_strokes_of_the_same_step() -> None:
    """/R is two sixteenths of the right, //L four thirty-seconds: LLRR."""
    made = pattern('sticking = "/R //L R L", value = "8"')
    first = [note for note in made.notes if note.beat < 1]

    assert hands_of(made)[:6] == "RRLLRR"
    assert [note.beat for note in first] == [Fraction(i, 8) for i in (0, 2, 4, 5, 6, 7)]
    assert [note.value for note in first] == ["16", "16", "32", "32", "32", "32"]


def test_slashes_keep_tuplets_and_accent_only_the_first_stroke() -> None:
    """An accented eighth triplet with a slash is two sixteenth triplets, one of them accented."""
    made = pattern('sticking = ">/R", value = "8t"')

    assert [note.value for note in made.notes[:2]] == ["16t", "16t"]
    assert [note.level for note in made.notes[:2]] == [Level.ACCENT, Level.NORMAL]


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        ('sticking = "/R L", value = "64"', "hands.sticking: 2 strokes in the time of a 64"),
        ('sticking = "z/R L"', "a buzz and measured strokes at once"),
        ('sticking = "zK R"', '"zK" cannot be rolled'),
        ('sticking = "/B R"', '"/B" cannot be rolled'),
        ('sticking = "rlrR L"', 'grace stroke of "rlrR" must come from the other hand'),
        ('sticking = "rlrlrL R"', "is not a stroke"),
        ('sticking = ">R L R L", accents = ">---"', "hands.accents: the sticking has accents"),
        ('accents = "x---"', 'hands.accents, step 1: "x" is no accent'),
        ('accents = ""', "hands.accents: no accent is written"),
        ('accents = "|: >--- :| x99999", sticking = "RLR"', "hands.accents"),
        ('path = "kick~snare"', "hands.path, drum 1: a foot plays the kick"),
        ('path = "snare~"', "hands.path, drum 1"),
    ],
)
def test_strokes_that_cannot_be_played_are_refused(line: str, fault: str) -> None:
    """Each has its place and a way out."""
    with pytest.raises(BadInput, match=fault):
        pattern(line)


def test_a_ruff_has_up_to_four_grace_strokes_on_a_drum_of_their_own() -> None:
    """Three taps on the snare lead to the tom; they come in order before it."""
    made = pattern('sticking = "lrlR - - -", value = "4", path = "snare~tom1"')
    targets = pass_targets(made, Pass(0, 60.0, 10.0), 0)

    assert [(one.note.voice, one.note.limb) for one in targets] == [
        ("snare", Limb.LH),
        ("snare", Limb.RH),
        ("snare", Limb.LH),
        ("tom1", Limb.RH),
    ]
    assert all(one.time_s < two.time_s for one, two in pairwise(targets))
    assert targets[0].time_s == pytest.approx(10 - 0.09)


@pytest.mark.parametrize("tempo", [60, 240, 400])
def test_four_grace_strokes_stay_behind_the_stroke_before(tempo: int) -> None:
    """They take two thirds of a step at most, and keep their order."""
    made = pattern('sticking = "R rlrL", value = "8"')
    targets = pass_targets(made, Pass(0, float(tempo), 0.0), 0)

    assert [one.note.grace for one in targets if 0 <= one.note.beat <= Fraction(1, 2)][:2] == [0, 3]
    assert all(one.time_s <= two.time_s for one, two in pairwise(targets))


def test_accents_go_their_own_way_over_the_sticking() -> None:
    """An accent every three strokes over a paradiddle comes round after three bars."""
    made = pattern('sticking = "RLRR LRLL", accents = ">--"', "length = 3")
    accented = [at for at, note in enumerate(made.notes) if note.level is Level.ACCENT]

    assert accented == list(range(0, 48, 3))
    assert hands_of(made) == "RLRRLRLL" * 6


def test_accents_move_and_rests_have_none() -> None:
    """shift_accents moves them over the strokes; g is a ghost; a rest stays a rest."""
    made = pattern('sticking = "R L - L", accents = ">g>-", value = "4", shift_accents = 1')

    assert [note.level for note in made.notes] == [Level.NORMAL, Level.ACCENT, Level.GHOST]


def test_a_grid_has_buzz_strokes_for_hands_only() -> None:
    """z and Z on the snare are buzzes; on the kick they mean nothing."""
    source = '[bars]\nvalue = "4"\nsnare = "zxZx"'
    made = notation.read(toml_text.parse(source), "test", source)

    assert [(note.buzz, note.level) for note in made.notes[::2]] == [
        (True, Level.NORMAL),
        (True, Level.ACCENT),
    ]
    with pytest.raises(BadInput, match='"z" is not a sign of a grid on the kick'):
        notation.read(toml_text.parse('[bars]\nkick = "zxxx"'), "test")


def test_bounces_of_a_buzz_are_no_strays_and_its_first_touch_is_judged() -> None:
    """A buzz held for its step: all targets are played, the rest are bounces."""
    buzz = pattern('sticking = "zR zL R L", value = "8"', "tempo = 80")
    judged = simulated_take(buzz, traits=EXACT_TRAITS)
    counts = read_take(judged).counts

    assert counts.played == counts.targets
    assert (counts.extra, counts.double) == (0, 0)
    assert counts.bounce == counts.hits - counts.targets > 2 * counts.targets


def test_without_a_buzz_bounces_are_double_triggers() -> None:
    """The same hits over plain strokes: only a buzz is held."""
    buzz = pattern('sticking = "zR L R L", value = "4"', "tempo = 60")
    plain = pattern('sticking = "R L R L", value = "4"', "tempo = 60")
    judged = simulated_take(buzz, traits=EXACT_TRAITS)
    outcomes = match_take(Course(plain, judged.course.passes).targets(), judged.hits)[1]
    assert DOUBLE in outcomes
    assert BOUNCE not in outcomes


def test_dynamics_are_a_target_for_power() -> None:
    """A player who follows p to ff is read as louder from mark to mark, and even without it."""
    swell = pattern('sticking = "R L", value = "8"', 'tempo = 90\ndynamics = "p < ff"')
    flat = pattern('sticking = "R L", value = "8"', "tempo = 90")
    found, level = (
        power(take_arrays(simulated_take(one, traits=WORKING_TRAITS))) for one in (swell, flat)
    )

    assert found.dynamics.value == pytest.approx(12, abs=1.5)
    assert found.dynamics_right.value == 100
    assert found.uneven.value == pytest.approx(level.uneven.value, rel=0.25)
    assert level.dynamics.value is None


def test_a_player_who_ignores_the_dynamics_is_read_so() -> None:
    """The same take against written dynamics: no louder, and half of the swells by chance."""
    swell = pattern('sticking = "R L", value = "8"', 'tempo = 90\ndynamics = "p < ff"')
    flat = pattern('sticking = "R L", value = "8"', "tempo = 90")
    played = simulated_take(flat, traits=WORKING_TRAITS)
    course = Course(swell, played.course.passes)
    judged = replace(played, course=course, targets=course.targets())
    found = power(take_arrays(judged))

    assert found.dynamics.value == pytest.approx(0, abs=2)


def test_a_half_open_hi_hat_is_written_and_judged_by_the_pedal() -> None:
    """Of closed, half and wide open only the middle one is half open; a kit that does not show it
    is never blamed.
    """
    source = '[bars]\nvalue = "4"\nsticking = "R"\nhihat = "xhoh"'
    made = notation.read(toml_text.parse(source), "test", source)
    pedal = Pedal(controller=4, closed=0, open=100, zones=True)
    seeing = replace(GENERAL_MIDI, controllers=Controllers(pedal=pedal))
    course = Course(made, (Pass(0, 60.0, 0.0),))
    strikes = [Strike(float(at), 42, 90, pedal=value) for at, value in enumerate((0, 50, 100, 95))]

    found = judge(course, strikes, seeing)
    said = [wrong_zone(one.note, found.hits[at]) for at, one in enumerate(found.targets)]
    assert [one.note.zone for one in found.targets] == ["", "half-open", "open", "half-open"]
    assert said == ["", "", "", "open for half-open"]
    blind = judge(course, strikes, GENERAL_MIDI)
    assert wrong_zone(blind.targets[3].note, blind.hits[3]) == ""


STAB = """
bars = { value = "8", crash = "X--#|X-#-", ride = "-b#-|----", kick = "x---|x--x" }
meter = "2/4"
"""


@pytest.mark.parametrize("way", ["midi", "musicxml", "tab", "json"])
def test_a_choke_is_written_and_read_back(way: str) -> None:
    """A cymbal is grabbed on its step, by no hand; every format brings it back."""
    made = notation.read(toml_text.parse(STAB), "stab", STAB)
    again = {
        "midi": lambda: midi_read.read(to_midi(made), "stab"),
        "musicxml": lambda: musicxml_read.read(to_musicxml(made).encode(), "stab"),
        "tab": lambda: tab_file.pattern_from_tab(tab_file.to_tab_file(made), "stab"),
        "json": lambda: pattern_from_dict(pattern_to_dict(made)),
    }[way]()

    grabbed = [(note.beat, note.voice, note.limb) for note in made.notes if note.choke]
    assert grabbed == [
        (Fraction(1), "ride", None),
        (Fraction(3, 2), "crash", None),
        (Fraction(3), "crash", None),
    ]
    assert again.notes == made.notes


def test_a_kit_that_sends_no_choke_is_asked_for_none() -> None:
    """Only the chokes of cymbals that send them stay; a note of its own is a choke too."""
    made = notation.read(toml_text.parse(STAB), "stab", STAB)
    own = kit_from_toml('notes = { 58 = "crash/choke" }', "own")
    pressed = kit_from_toml("controllers = { choke = [51] }", "pressed")

    def left(kit: Kit) -> list[str]:
        return [note.voice for note in on_smaller_kit(made, (), kit.choked)[0].notes if note.choke]

    assert left(GENERAL_MIDI) == []
    assert left(own) == ["crash", "crash"]
    assert left(pressed) == ["ride"]
    assert pressed.struck(Strike(0.0, 51, 0)) == own.struck(Strike(0.0, 51, 0))
    assert own.struck(Strike(0.0, 58, 90)).zone == "choke"


def test_a_choke_has_time_and_no_power() -> None:
    """It is played or missed; power is that of strokes, and a stroke in its place is no choke."""
    made = notation.read(toml_text.parse(STAB), "stab", STAB)
    arrays = take_arrays(simulated_take(made, traits=EXACT_TRAITS))
    chokes = [target.note.choke for target in Course(made, (Pass(0, 60.0, 1.0),)).targets()]
    assert set(arrays.outcome[: len(chokes)]) == {0}
    assert [not one for one in chokes] == list(arrays.played[: len(chokes)])
    assert float(np.nanmin(arrays.velocity)) > 0

    target = next(one for one in pass_targets(made, Pass(0, 60.0, 1.0), 0) if one.note.choke)
    struck = Strike(target.time_s, 51, 90)
    judged = judge(Course(made, (Pass(0, 60.0, 1.0),)), [struck], GENERAL_MIDI)
    assert judged.hit_outcome != ("played",)
