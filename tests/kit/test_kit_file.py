"""Kits as TOML: what is written by hand is understood, faults are reported with their lines."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.cli import run
from trainer.errors import BadInput
from trainer.file_system import user_folder
from trainer.kit import kits
from trainer.kit.hits import Controllers, CrosstalkRule, DoubleRule, FilterRules, Pedal, PowerCurve
from trainer.kit.kit_file import kit_from_toml, kit_to_toml
from trainer.kit.model import GENERAL_MIDI, Kit, Pad
from trainer.kit.voices import VOICES

if TYPE_CHECKING:
    from pathlib import Path

BY_HAND = """
title = "Practice room"
ports = ["Kit"]
latency_ms = 6.5

[notes]
38 = "snare"
22 = "hihat/edge"
60 = "tom1/rim"

[doubles]
snare = { ms = 12, softer = 0.6 }

[[crosstalk]]
struck = "floor"
shaken = "tom1"
ms = 6
softer = 0.35

[power]
"snare/rim" = [30, 72, 118]

[keys]
crash = "toggle"
56 = "restart"
"""


def test_a_kit_by_hand_says_what_it_means() -> None:
    """Every table of the documented form is read; General MIDI stays for the rest."""
    kit = kit_from_toml(BY_HAND, "room")

    assert kit.pad(22) == Pad("hihat", "edge")
    assert kit.pad(60) == Pad("tom1", "rim")
    assert kit.pad(36) == GENERAL_MIDI.pad(36)
    assert kit.latency_s == 0.0065
    assert kit.rules == FilterRules(
        {"snare": DoubleRule(0.012, 0.6)}, (CrosstalkRule("floor", "tom1", 0.006, 0.35),)
    )
    assert kit.power == {Pad("snare", "rim"): PowerCurve(30, 72, 118)}
    assert kit.pad_keys == {49: "toggle", 56: "restart"}
    assert kit.ports == ("Kit",)


def test_an_empty_file_is_the_general_midi_kit() -> None:
    """All keys may be left out."""
    assert kit_from_toml("", "mine").notes == GENERAL_MIDI.notes


def test_without_general_midi_other_notes_are_unknown() -> None:
    """Only the notes that are named count."""
    kit = kit_from_toml('general_midi = false\n[notes]\n1 = "snare"\n', "mine")

    assert dict(kit.notes) == {1: Pad("snare", "head")}


PADS = st.sampled_from([Pad(one.name, zone) for one in VOICES.values() for zone in one.zones])
VOICE_NAMES = st.sampled_from(sorted(VOICES))
TIMES = st.integers(0, 20_000).map(lambda us: us / 1e6)
KITS = st.builds(
    Kit,
    name=st.just("made"),
    title=st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), max_size=30),
    notes=st.dictionaries(st.integers(0, 127), PADS, max_size=40),
    latency_s=TIMES,
    rules=st.builds(
        FilterRules,
        st.dictionaries(VOICE_NAMES, st.builds(DoubleRule, TIMES, st.floats(0, 1)), max_size=5),
        st.lists(
            st.builds(CrosstalkRule, VOICE_NAMES, VOICE_NAMES, TIMES, st.floats(0, 1)), max_size=5
        ).map(tuple),
    ),
    power=st.dictionaries(PADS, st.just(PowerCurve(20.5, 60.25, 101.0)), max_size=5),
    controllers=st.builds(
        Controllers,
        st.none() | st.builds(Pedal, st.just(4), st.just(120), st.just(3), st.booleans()),
        st.dictionaries(VOICE_NAMES, st.integers(16, 19), max_size=2),
        st.lists(st.integers(0, 127), max_size=3).map(tuple),
    ),
    ports=st.lists(st.text(max_size=6), max_size=2).map(tuple),
    pad_keys=st.dictionaries(st.integers(0, 127), st.sampled_from(["toggle", "quit"]), max_size=3),
)


@given(KITS)
def test_a_kit_comes_back_from_its_own_text(kit: Kit) -> None:
    """What is written reads as the same kit."""
    again = kit_from_toml(kit_to_toml(kit), kit.name)

    assert (again.notes, again.power, again.ports) == (kit.notes, kit.power, kit.ports)
    assert again.pad_keys == kit.pad_keys
    assert again.controllers == kit.controllers
    assert again.title == kit.title
    assert again.latency_s == pytest.approx(kit.latency_s, abs=1e-9)
    assert [one.softer for one in again.rules.crosstalk] == [
        one.softer for one in kit.rules.crosstalk
    ]
    for voice, rule in kit.rules.doubles.items():
        assert again.rules.doubles[voice].within_s == pytest.approx(rule.within_s, abs=1e-9)
        assert again.rules.doubles[voice].softer == rule.softer


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("title = ", "not TOML"),
        ('titel = "x"\n', 'line 1, titel.*did you mean "title"'),
        ('[notes]\n128 = "snare"\n', "line 2, notes.128.*0 to 127"),
        ('[notes]\n38 = "snair"\n', 'line 2, notes.38.*did you mean "snare"'),
        ('[notes]\n38 = "snare/bell"\n', "it has head, rim, cross-stick"),
        ("latency_ms = nan\n", "number from -1000 to 1000"),
        ("[doubles]\nsnare = { ms = 80, softer = 0.5 }\n", "number from 0 to 20"),
        ("[doubles]\nsnare = 3\n", "does not say when"),
        ('[[crosstalk]]\nstruck = "snare"\n', "shaken is missing"),
        ("[power]\nsnare = [90, 60, 30]\n", "rise from soft to hard"),
        ('[keys]\ncrash = "explode"\n', "toggle"),
        ("[controllers]\npedal = { controller = 4, closed = 9, open = 9 }\n", "same value"),
        (
            "[controllers]\npedal = { controller = 4, closed = 9, open = 0, zones = 1 }\n",
            "controllers.pedal.*true or false",
        ),
        ("notes = 3\n", "is not a table"),
    ],
)
def test_faults_name_the_line_the_key_and_the_fix(text: str, words: str) -> None:
    """One plain sentence for each thing that is wrong."""
    with pytest.raises(BadInput) as caught:
        kit_from_toml(text, "mine")

    assert re.search(words, str(caught.value))


def test_all_faults_are_reported_at_once() -> None:
    """A file with three faults is fixed in one go."""
    with pytest.raises(BadInput) as caught:
        kit_from_toml('titel = "x"\nlatency_ms = "slow"\n[notes]\n200 = "snare"\n', "mine")

    assert len(str(caught.value).splitlines()) == 3


def test_a_saved_kit_is_found_by_name_and_by_its_port() -> None:
    """Saved, listed, loaded, and taken by itself where its port is connected."""
    kit = kit_from_toml(BY_HAND, "room")
    kits.save(kit)

    assert kits.names() == ["room", "general-midi"]
    assert kits.load("room").notes == kit.notes
    assert kits.kit_for_port("My Kit MIDI 1").name == "room"
    assert kits.kit_for_port("Something else").name == "general-midi"


def test_a_wrong_name_or_path_is_reported(tmp_path: Path) -> None:
    """The nearest kit is named; a file that is not there, or not text, says so."""
    kits.save(kit_from_toml(BY_HAND, "room"))
    (tmp_path / "bad.toml").write_bytes(b"\xff\xfe")

    with pytest.raises(BadInput, match='did you mean "room"'):
        kits.load("rom")
    with pytest.raises(BadInput, match="no such kit file"):
        kits.load(str(tmp_path / "none.toml"))
    with pytest.raises(BadInput, match="UTF-8"):
        kits.load(str(tmp_path / "bad.toml"))


@pytest.mark.parametrize("name", ["../out", "a/b", "", ".hidden", "general-midi", "x\x1b[2J"])
def test_a_kit_cannot_be_saved_outside_its_folder(name: str) -> None:
    """Names that leave the folder, hide or drive the terminal are refused."""
    with pytest.raises(BadInput, match=r"is the name of the kit that ships|cannot be the name"):
        kits.save(Kit(name=name))

    assert not list(user_folder("kits").parent.glob("*"))


@pytest.mark.parametrize(
    "port", ["Kit\x7f", "Kit\x00\x1b[2J", 'a "b" \\ c', "\x85\u2028", "é\U0001f600"]
)
def test_a_port_of_any_name_is_found_again(port: str) -> None:
    """A kit learned on a port whose name holds control characters opens and is taken by it."""
    kits.save(Kit("mine", ports=(port,)))

    assert kits.load("mine").ports == (port,)
    assert kits.kit_for_port(port).name == "mine"


HAND_WRITTEN = """\
# my kit
ports = ["Kit"]          # the module under the stairs

[notes]
60 = "tom1/rim"          # the new pad
38 = 'snare'

# measured twice
[doubles]
snare = { ms = 12, softer = 0.6 }

[keys]
crash = "toggle"         # all its notes
"""


def test_saving_a_kit_keeps_what_was_written_by_hand() -> None:
    """A new latency and a new rule are put into the file; every other line stays as it was."""
    path = user_folder("kits") / "room.toml"
    path.parent.mkdir(parents=True)
    path.write_text(HAND_WRITTEN)
    kit = kits.load("room")
    rules = FilterRules(dict(kit.rules.doubles) | {"tom1": DoubleRule(0.01, 0.5)})
    kits.save(replace(kit, latency_s=0.0065, rules=rules))

    text = path.read_text()
    assert [line for line in HAND_WRITTEN.splitlines() if line not in text.splitlines()] == []
    assert "latency_ms = 6.5\n" in text
    assert "tom1 = { ms = 10, softer = 0.5 }\n" in text
    assert kits.load("room").rules == rules


def test_a_key_taken_from_a_voice_is_taken_from_all_its_notes() -> None:
    """What the file says by voice gives way where one of its notes differs."""
    path = user_folder("kits") / "room.toml"
    path.parent.mkdir(parents=True)
    path.write_text(HAND_WRITTEN)
    kit = kits.load("room")
    kits.save(replace(kit, pad_keys={60: "quit"}))

    assert kits.load("room").pad_keys == {60: "quit"}


def test_a_faulty_file_is_not_written_over() -> None:
    """A kit whose file has faults is not saved until they are fixed: nothing in it is lost."""
    path = user_folder("kits") / "room.toml"
    path.parent.mkdir(parents=True)
    path.write_text("latency_ms = slow # tried twice\n")

    with pytest.raises(BadInput, match="not TOML"):
        kits.save(Kit("room"))

    assert path.read_text() == "latency_ms = slow # tried twice\n"


@pytest.mark.parametrize(
    "text",
    [
        f"notes = 0x{'f' * 5000}",
        f"latency_ms = 0x{'f' * 5000}",
        f"[doubles]\nsnare = {2**64}",
        "x=",
    ],
)
def test_one_faulty_kit_spoils_no_other(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    """It is named where kits are listed, and passed over where one is taken by its port."""
    kits.save(kit_from_toml(BY_HAND, "room"))
    (user_folder("kits") / "a-bad-one.toml").write_text(text)

    assert kits.kit_for_port("Kit").name == "room"
    assert run(["kit", "list"]) == 0
    out, err = capsys.readouterr()
    assert "room: Practice room, on Kit" in out
    assert "a-bad-one.toml, line " in err
