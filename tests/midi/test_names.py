"""Which port a name means."""

from dataclasses import replace

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


def test_two_of_a_name_are_kept_apart_by_position():
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


@pytest.mark.parametrize(
    ("now", "seen", "found"),
    [
        (["Kit:a 129:0", "Kit:a 128:0"], ["Kit:a 129:0"], "Kit:a 128:0"),  # the order is no sign
        (["Kit:a 129:0"], ["Kit:a 129:0"], None),  # the other one, while ours is off
        (["Kit:a 129:0", "Kit:a 131:0"], ["Kit:a 129:0"], "Kit:a 131:0"),  # back, another number
        (["Kit:a 130:0"], [], "Kit:a 130:0"),  # the only one, back
        (["Kit:a 130:0", "Kit:a 131:0"], [], None),  # two that were never seen
        (["Pad:a 128:0"], [], None),  # another device got its number
    ],
)
def test_two_kits_of_one_name_are_kept_apart_by_number(now, seen, found):
    """A kit is found again by its full name; one that was seen beside it is never taken for it."""
    known = port_names.ports_of_names(["Kit:a 128:0"], "alsa")[0]
    here = port_names.same_port(port_names.ports_of_names(now, "alsa"), known, frozenset(seen))
    assert (here and here.name) == found


@pytest.mark.parametrize(
    ("sockets", "seen", "found"),
    [
        (["1-2"], [], "1-2"),  # put into another socket
        (["1-2"], ["1-2"], None),  # the other kit, which now has our number
        (["1-2", "1-1"], ["1-2"], "1-1"),
        (["1-2", "1-3"], ["1-2"], "1-3"),
    ],
)
def test_two_usb_kits_are_kept_apart_by_socket(sockets, seen, found):
    """Cards are numbered as they come, so the number of a USB kit says nothing: its socket does."""

    def kits(places):
        names = [f"Kit:a {24 + 4 * k}:0" for k in range(len(places))]
        found = port_names.ports_of_names(names, "alsa")
        return [replace(port, socket=place) for port, place in zip(found, places, strict=True)]

    known = kits(["1-1"])[0]
    here = port_names.same_port(kits(sockets), known, frozenset(seen))
    assert (here and here.socket) == found


@pytest.mark.parametrize(
    ("api", "before", "after"),
    [
        ("winmm", ["Kit 0", "Kit 1"], ["Kit 0"]),
        ("core", ["Kit", "Kit"], ["Kit"]),
    ],
)
def test_where_only_the_place_is_known_one_left_of_two_is_nobodys(api, before, after):
    """Windows and macOS number equal kits by their place: which one has gone is not guessed."""
    for known in port_names.ports_of_names(before, api):
        left = port_names.ports_of_names(after, api)
        assert port_names.same_port(left, known) is None
        assert port_names.one_of_several_left(left, known)
        assert port_names.same_port(port_names.ports_of_names(before, api), known) == known
        assert not port_names.one_of_several_left([], known)


def test_own_ports_keep_their_index_but_are_not_listed():
    """The program's own ports, also over a bridge, are left out without moving others' places."""
    own = [f"{port_names.CLIENT}:click", f"a2j:{port_names.CLIENT} [128] (capture): click"]
    found = port_names.ports_of_names([*own, "Kit:drums"], "jack")
    assert [(port.index, port.label) for port in found] == [(2, "Kit:drums")]


LOOPS = [
    ("alsa", "Midi Through:Midi Through Port-0 14:0"),
    ("alsa", "Virtual Raw MIDI 1-0:VirMIDI 1-0 20:0"),
    ("jack", "a2j:Midi Through [14] (capture): Midi Through Port-0"),
    ("jack", "Midi-Bridge:Midi Through:(capture_0) Midi Through Port-0"),
    ("core", "IAC Driver Bus 1"),
    ("core", "IAC-Treiber Bus 1"),
    ("winmm", "loopMIDI Port 1"),
]


@pytest.mark.parametrize(("api", "name"), LOOPS)
def test_loops_are_no_kits(api, name):
    """A loop of the system is listed and may be named, but is never taken by itself."""
    found = port_names.ports_of_names([name], api)
    assert found[0].is_loop
    assert port_names.kits(found) == ()
    assert port_names.pick_port(found, found[0].label) == found[0]
    with pytest.raises(BadInput, match="no MIDI input is connected"):
        port_names.pick_port(found, "")


@pytest.mark.parametrize("name", ["Maniac Pad", "Kit Through", "MIDI 9 Drums", "Viral"])
def test_names_that_only_look_like_a_loop(name):
    """Part of a word is no loop."""
    assert not port_names.ports_of_names([name], "core")[0].is_loop


def test_a_bridge_shows_no_kit_twice():
    """What JACK bridges from ALSA is the same kit; where ALSA is not listed it is the kit."""
    bridged = port_names.ports_of_names(["a2j:Kit [24] (capture): Kit MIDI 1"], "jack")
    direct = port_names.ports_of_names(["Kit:Kit MIDI 1 24:0"], "alsa")
    assert port_names.kits((*direct, *bridged)) == direct
    assert port_names.kits(bridged) == bridged


def test_the_first_system_wins_and_the_next_can_be_meant():
    """A part of a name that fits in two systems means the first; a full name means its own."""
    alsa_ports = port_names.ports_of_names(["Midi Through:a 14:0", "Kit:Kit MIDI 1 24:0"], "alsa")
    jack = port_names.ports_of_names(["Kit:drums", "Synth:out"], "jack")
    found = (*alsa_ports, *jack)
    assert port_names.pick_port(found, "kit").api == "alsa"
    assert port_names.pick_port(found, "Kit:drums").api == "jack"
    assert port_names.pick_port(found, "synth").api == "jack"
    assert port_names.pick_port((alsa_ports[0], jack[1]), "").label == "Synth:out"


@pytest.mark.parametrize(
    ("here", "current", "chosen"),
    [
        ([], "", "keys"),
        (["Kit"], "", "Kit"),
        (["Kit"], "keys", "Kit"),
        (["Pad", "Kit"], "Kit", "Kit"),  # what is played on stays when another comes
        (["Pad"], "Kit", "Pad"),
        ([], "Kit", "keys"),
    ],
)
def test_the_input_to_use(here, current, chosen):
    """The current kit while it is there, else the first one, else what needs no kit."""
    assert port_names.input_to_use(here, current, "keys") == chosen


@pytest.mark.parametrize(("kind", "way"), [("input", "--port keys"), ("output", "--out audio")])
def test_nothing_connected_shows_the_next_best_way(kind, way):
    """With no ports at all the sentence says what else can be done."""
    with pytest.raises(BadInput, match=way):
        port_names.pick_port((), "Kit", kind)
