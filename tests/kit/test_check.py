"""The page of a kit: what is set, what is missing, what looks wrong."""

from __future__ import annotations

from dataclasses import replace

from trainer.kit import kit_file, kits
from trainer.kit.model import GENERAL_MIDI
from trainer.kit.survey import check_page

LEARNED = kit_file.kit_from_toml('ports = ["Kit"]\n[notes]\n36 = "kick"\n38 = "snare"\n', "room")


def starred(lines: list[str]) -> list[str]:
    """Return the pads with a star, as words."""
    return [line[3:].split("  ")[0] for line in lines if line.startswith(" * ")]


def test_a_star_marks_what_is_the_kits_own_even_where_general_midi_says_the_same() -> None:
    """Two notes written by hand have it; the rest, and the kit that ships, have none."""
    assert starred(list(check_page(LEARNED))) == ["kick", "snare"]
    assert starred(list(check_page(GENERAL_MIDI))) == []


def test_what_was_not_learned_is_reported_where_others_were() -> None:
    """A kit with two learned pads does not pass for whole."""
    (line,) = [one for one in check_page(LEARNED) if "Not learned" in one]
    assert "ride" in line
    assert "snare" not in line
    assert "Nothing to fix." in list(check_page(GENERAL_MIDI))


def test_the_page_says_what_becomes_of_other_notes() -> None:
    """General MIDI, or unknown where the file says so."""
    alone = kit_file.kit_from_toml('general_midi = false\n[notes]\n36 = "kick"\n', "bare")
    assert any("the rest: General MIDI" in line for line in check_page(LEARNED))
    assert any("any other note: unknown" in line for line in check_page(alone))


def test_a_survey_that_found_nothing_differs_from_none() -> None:
    """The page does not send a player to measure again what was measured."""
    assert any("trainer kit survey measures it" in line for line in check_page(LEARNED))
    surveyed = kit_file.kit_from_toml(kit_file.kit_to_toml(replace(LEARNED, surveyed=True)), "room")
    assert any("Filter: not needed" in line for line in check_page(surveyed))


def test_two_kits_on_one_port_are_reported() -> None:
    """Which of them is taken, and how to choose."""
    kits.save(LEARNED)
    kits.save(replace(LEARNED, name="cellar", ports=("kit",)))

    assert kits.kits_on_same_port(LEARNED) == ["cellar"]
    assert any(
        "cellar is used" in line and "--kit" in line
        for line in check_page(LEARNED, kits.kits_on_same_port(LEARNED))
    )
    assert kits.kit_for_port("Kit:drums").name == "cellar"


def test_a_learned_drum_has_no_zone_that_was_not_learned() -> None:
    """The rim of General MIDI is not asked of a snare that was learned without one."""
    assert LEARNED.zones("snare") == {"head"}
    assert "rim" in GENERAL_MIDI.zones("snare")
