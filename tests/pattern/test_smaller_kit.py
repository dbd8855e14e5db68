"""Patterns on kits with fewer drums."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from trainer import cli
from trainer.errors import BadInput
from trainer.file_system import user_folder
from trainer.kit.kit_file import kit_from_toml, kit_to_toml
from trainer.kit.voices import VOICES
from trainer.pattern.description import description_lines
from trainer.pattern.library import catalogue, load_pattern
from trainer.pattern.smaller_kit import FOUR_PIECES, NEAREST, on_four_pieces, on_smaller_kit

if TYPE_CHECKING:
    from pathlib import Path


def test_every_voice_that_a_foot_does_not_play_has_others_near_it() -> None:
    """Names of voices that there are, never itself, and hands stay hands."""
    assert set(NEAREST) | {"snare", "kick", "pedal"} == set(VOICES)
    for voice, others in NEAREST.items():
        assert voice not in others
        assert all(VOICES[one].foot == VOICES[voice].foot for one in others)


@pytest.mark.parametrize("entry", catalogue(), ids=lambda one: one.name)
def test_every_shipped_pattern_can_be_played_on_four_pieces(entry) -> None:
    """Only the drums there are, as many strokes at the same moments by the same limbs."""
    pattern = load_pattern(entry.name)
    fitted, instead = on_smaller_kit(pattern, VOICES.keys() - FOUR_PIECES)
    assert {note.voice for note in fitted.notes} <= FOUR_PIECES
    kept = [(note.beat, note.limb, note.level, note.grace) for note in pattern.notes]
    assert kept == [(note.beat, note.limb, note.level, note.grace) for note in fitted.notes]
    assert (fitted == pattern) == (not instead)
    assert instead == on_four_pieces(pattern)


def test_the_nearest_drum_is_taken() -> None:
    """A middle tom on the high tom; where that one is missing too, on the floor tom."""
    pattern = load_pattern("fives-and-threes")
    assert on_smaller_kit(pattern, {"tom2"})[1] == {"tom2": "tom1"}
    assert on_smaller_kit(pattern, {"tom1", "tom2", "tom3"})[1] == {"tom2": "floor"}
    assert on_smaller_kit(pattern, {"crash"}) == (pattern, {})
    few = {"ride": "hihat", "tom1": "floor", "tom2": "floor"}
    assert on_smaller_kit(load_pattern("five-drums-drawn"), few)[1] == few


def test_a_page_says_what_is_played_elsewhere_on_the_players_kit() -> None:
    """Of the drums that this kit lacks, also where none is near; else of a four-piece kit's."""
    pattern = load_pattern("five-drums-drawn")
    assert "on a four-piece kit: tom2 on tom1" in description_lines(pattern)
    assert "on your kit: ride on hihat" in description_lines(pattern, without={"ride"})
    lines = [*description_lines(load_pattern("flam"), without={"snare"})]
    assert any("needs the snare" in line for line in lines)


def test_two_hands_do_not_meet_on_one_drum() -> None:
    """Where the nearest drum is struck at the same moment, the next one is taken."""
    pattern = load_pattern('unison-both-hands path="tom1+tom2"')
    assert on_smaller_kit(pattern, {"tom2", "tom3"})[1] == {"tom2": "floor"}


def test_what_nothing_is_near_to_is_refused() -> None:
    """In a sentence that names the drum."""
    with pytest.raises(BadInput, match="needs the snare"):
        on_smaller_kit(load_pattern("flam"), {"snare"})


def test_a_kit_file_says_what_it_lacks(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It is read, written and kept, and playing on the kit says what is played instead."""
    text = 'title = "Four pieces"\nwithout = ["tom2", "crash2"]\n'
    kit = kit_from_toml(text, "four")
    assert kit.without == {"tom2", "crash2"}
    assert kit_from_toml(kit_to_toml(kit), "four") == kit
    with pytest.raises(BadInput, match="no voice"):
        kit_from_toml('without = ["gong"]\n', "four")

    folder = user_folder("kits")
    folder.mkdir(parents=True)
    (folder / "four.toml").write_text(text)
    played = ["play", "fives-and-threes", "--port", "simulated", "--kit", "four", "--fast"]
    assert cli.run([*played, "--plain", "--passes", "1", "--recordings", str(tmp_path)]) == 0
    said = capsys.readouterr()
    assert "Your kit has no middle tom: play the high tom instead." in said.out + said.err
    assert "middle tom" not in (said.out + said.err).replace("Your kit has no middle tom", "")
