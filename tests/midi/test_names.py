"""Which port a name means."""

import pytest

from trainer.errors import BadInput
from trainer.midi import port_names


@pytest.mark.parametrize(
    ("api", "name", "title"),
    [
        ("alsa", "Kit 9:Kit 9 MIDI 1 20:0", "Kit 9:Kit 9 MIDI 1"),
        ("alsa", "Kit 9:Kit 9 MIDI 1", "Kit 9:Kit 9 MIDI 1"),
        ("winmm", "Kit 9 1", "Kit 9"),
        ("winmm", "MIDIIN2 (Kit 9) 2", "MIDIIN2 (Kit 9)"),
        ("core", "Kit 9", "Kit 9"),
        ("jack", "a2j:Kit 9 [20] (capture): Kit 9 MIDI 1", "a2j:Kit 9 (capture): Kit 9 MIDI 1"),
        ("jack", "Kit 9:drums 2", "Kit 9:drums 2"),
    ],
)
def test_numbers_that_change_are_left_out(api, name, title):
    """Only what the system itself adds is cut off; numbers of the maker stay."""
    assert port_names.without_numbers(name, api) == title


def test_exact_name_beats_part():
    """A full name is meant even where it is a part of another one."""
    found = port_names.ports_of_names(["Kit", "Kit 2", "My Kit"], "core")
    assert port_names.pick_port(found, "Kit").index == 0


def test_name_with_old_numbers_still_fits():
    """A name noted with the numbers of an earlier start means the same port."""
    found = port_names.ports_of_names(
        ["Midi Through:Midi Through Port-0 14:0", "Kit:Kit MIDI 1 28:0"], "alsa"
    )
    assert port_names.pick_port(found, "Kit:Kit MIDI 1 20:0").index == 1


def test_part_in_any_case():
    """A unique part of the name is enough, in capitals or not."""
    found = port_names.ports_of_names(["Piano:out", "Electronic Kit:drums"], "jack")
    assert port_names.pick_port(found, "ELECTRONIC").index == 1


def test_no_name_means_the_only_kit():
    """Without a name the one port that is no loop of the system is taken."""
    found = port_names.ports_of_names(
        ["Midi Through:Midi Through Port-0 14:0", "Kit:Kit MIDI 1 20:0"], "alsa"
    )
    assert port_names.pick_port(found, "").index == 1


def test_two_of_a_name_are_told_apart_by_position():
    """Two kits of one model have labels by position, and the label is a name."""
    found = port_names.ports_of_names(["Kit 0", "Kit 1", "Piano 2"], "winmm")
    assert [port.label for port in found] == ["Kit #1", "Kit #2", "Piano"]
    assert port_names.pick_port(found, "Kit #2").index == 1
    with pytest.raises(BadInput, match='2 ports fit: "Kit #1", "Kit #2"'):
        port_names.pick_port(found, "Kit")


def test_port_is_known_again_after_the_list_changed():
    """A port is found by title and position when numbers and order have changed."""
    known = port_names.ports_of_names(["A:a 20:0", "Kit:Kit 24:0"], "alsa")[1]
    again = port_names.same_port(
        port_names.ports_of_names(["Kit:Kit 28:0", "A:a 20:0"], "alsa"), known
    )
    assert again is not None
    assert again.index == 0
    assert port_names.same_port(port_names.ports_of_names(["A:a 20:0"], "alsa"), known) is None


def test_own_ports_keep_their_index_but_are_not_listed():
    """The program's own ports are left out without moving the others' places."""
    found = port_names.ports_of_names([f"{port_names.CLIENT}:click", "Kit:drums"], "jack")
    assert [(port.index, port.label) for port in found] == [(1, "Kit:drums")]


@pytest.mark.parametrize(("kind", "way"), [("input", "--port keys"), ("output", "--out audio")])
def test_nothing_connected_tells_the_next_best_way(kind, way):
    """With no ports at all the sentence says what else can be done."""
    with pytest.raises(BadInput, match=way):
        port_names.pick_port((), "Kit", kind)
