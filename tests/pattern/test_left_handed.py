"""Patterns on a left-handed kit: hands and feet exchanged in everything a player sees."""

from __future__ import annotations

from dataclasses import replace

import pytest

from trainer import cli, settings
from trainer.actions.advice import drill_text
from trainer.actions.choices import led_by
from trainer.archive.session_file import open_session
from trainer.archive.summary import session_summary
from trainer.file_system import shipped_folder, user_folder
from trainer.pattern import library
from trainer.pattern.description import description_lines
from trainer.pattern.draft import Draft
from trainer.pattern.handedness import OTHER_LIMB, mirrored, other_side
from trainer.pattern.level import computed_level
from trainer.pattern.model import Limb
from trainer.pattern.ways import known_ways


@pytest.fixture
def left_handed() -> None:
    """A player whose kit is the mirror image."""
    user_folder(".").mkdir(parents=True, exist_ok=True)
    user_folder("settings.toml").write_text("left_handed = true\n")
    assert settings.load().left_handed


@pytest.mark.usefixtures("left_handed")
@pytest.mark.parametrize("entry", library.catalogue(), ids=lambda one: one.name)
def test_every_shipped_pattern_is_mirrored(entry: library.PatternEntry) -> None:
    """Drums, beats, name and level stay; each hand and foot is the other; twice is as before."""
    written, own = library.load_as_written(entry.name), library.load_pattern(entry.name)
    assert [one.limb for one in own.notes] == [
        one.limb and OTHER_LIMB[one.limb] for one in written.notes
    ]
    assert [replace(one, limb=None) for one in own.notes] == [
        replace(one, limb=None) for one in written.notes
    ]
    assert own.name == written.name == entry.name
    assert computed_level(own) == computed_level(written)
    assert mirrored(own) == written


@pytest.mark.usefixtures("left_handed")
def test_words_name_the_hand_that_plays() -> None:
    """Of hands and feet only: what is left out, or the left crash, is what it was."""
    assert other_side("The right hand on the hi-hat, the left on the snare, left lead") == (
        "The left hand on the hi-hat, the right on the snare, right lead"
    )
    for same in ("Nothing is left out", "go right away", "the left crash"):
        assert other_side(same) == same
    way = next(one for one in known_ways()[0] if one.name == "one-hand")
    assert way.steps[1].why == "Four drums with the left hand."
    lines = [*description_lines(library.load_pattern("unison-both-hands"))]
    assert "on your left-handed kit: hands and feet are exchanged, drums stay" in lines


@pytest.mark.usefixtures("left_handed")
def test_a_lead_is_that_of_the_players_own_hand() -> None:
    """Led by the left is as written, whose name ways and aims know; by the right is not."""
    assert led_by("fives-and-threes", "left") == "fives-and-threes"
    assert led_by("fives-and-threes", "right") == "fives-and-threes lead=left"
    first = {
        name: library.load_pattern(name).notes[0].limb
        for name in ("fives-and-threes", "fives-and-threes lead=left")
    }
    assert [*first.values()] == [Limb.LH, Limb.RH]


@pytest.mark.usefixtures("left_handed")
def test_an_own_pattern_is_written_for_the_usual_kit_and_a_draft_shows_the_players_hands() -> None:
    """In the composer as in play; a pattern taken in is not exchanged twice."""
    folder = user_folder("patterns")
    folder.mkdir(parents=True)
    (folder / "inner.toml").write_text('hands = "R R L L"\n')
    (folder / "outer.toml").write_text('phrase = "inner x2"\n')
    for name in ("inner", "outer"):
        assert library.load_pattern(name).notes[0].limb is Limb.LH
    assert Draft.of("outer").pattern().notes[0].limb is Limb.LH


@pytest.mark.usefixtures("left_handed")
def test_a_drill_for_a_hand_is_opened_for_that_hand() -> None:
    """Its file is written for the usual kit."""
    session = open_session(next(shipped_folder("recordings").glob("*orders.jsonl")))
    finding = {"kind": "hand", "name": "RH", "limb": "RH", "start": "", "end": ""}
    text = drill_text(finding, session, session_summary(session))
    name = library.save_beside("drill-right", text)
    limbs = [one.limb for one in library.load_pattern(name).notes]
    assert limbs.count(Limb.RH) > limbs.count(Limb.LH)


@pytest.mark.usefixtures("left_handed")
@pytest.mark.parametrize("ending", [".musicxml", ".mid", ".txt"])
def test_an_export_is_for_the_usual_kit(ending: str, capsys: pytest.CaptureFixture[str]) -> None:
    """So that it is not exchanged twice when it is opened again."""
    file = user_folder(f"out{ending}")
    assert cli.run(["patterns", "export", "single-paradiddle", "-o", str(file)]) == 0
    back, own = library.load_pattern(str(file)), library.load_pattern("single-paradiddle")
    hands = [one.limb for one in back.notes]
    assert hands == [one.limb for one in own.notes][: len(hands)] or set(hands) == {None}


@pytest.mark.parametrize("text", ["left_handed = 1", "left_handed = [", ""])
def test_settings_that_do_not_say_it_change_nothing(text: str) -> None:
    """Nor does a faulty file: the screens say what is wrong with it."""
    user_folder(".").mkdir(parents=True, exist_ok=True)
    user_folder("settings.toml").write_text(text)
    assert not library.is_left_handed()
