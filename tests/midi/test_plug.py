"""A connection that is lost and made again, without any MIDI system: the driver is made up."""

from __future__ import annotations

from typing import Any

import pytest

from trainer.errors import BadInput
from trainer.midi import connection, port_names, ports

KIT = port_names.ports_of_names(["Kit 0"], "winmm")


class Driver:
    """What the module `ports` asks of a driver: a list of ports, and whether they open.

    It is its own client, with `waiting` in its queue.
    """

    def __init__(self) -> None:
        self.here: tuple[port_names.Port, ...] = KIT
        self.held = False
        self.opened = 0
        self.waiting: list[tuple[list[int], float]] = []

    def get_message(self) -> tuple[list[int], float] | None:
        """Return the next message of the queue."""
        return self.waiting.pop(0) if self.waiting else None

    def open_port(self, client: Any, port: port_names.Port, own_name: str) -> None:
        """Open a port, unless another program holds it."""
        if self.held:
            raise BadInput("it cannot be opened (in use)")
        self.opened += 1


@pytest.fixture
def driver(monkeypatch: pytest.MonkeyPatch) -> Driver:
    """Put the made up driver in the place of the real one."""
    one = Driver()
    monkeypatch.setattr(ports, "inputs", lambda: one.here)
    monkeypatch.setattr(ports, "outputs", lambda: one.here)
    monkeypatch.setattr(ports, "of_kind", lambda kind, name: one.here)
    monkeypatch.setattr(ports, "seen", lambda client, name: one.here)
    monkeypatch.setattr(ports, "new_client", lambda kind, name: one)
    monkeypatch.setattr(ports, "open_port", one.open_port)
    monkeypatch.setattr(ports, "drop", lambda client: None)
    return one


def look(one: connection.Connection) -> str:
    """Look once more, long enough after the last time; return what is wrong."""
    one.watch(one.looked_s + 2 * connection.WATCH_S)
    return one.trouble


def test_a_port_that_another_program_took_meanwhile(driver: Driver) -> None:
    """A kit that is back but held by another program is named as that, and taken when free."""
    one = connection.Connection("input", "", "strokes")
    one.open()
    driver.here, driver.held = (), True
    assert look(one) == connection.GONE
    driver.here = KIT
    assert look(one) == connection.HELD
    assert look(one) == connection.HELD
    driver.held = False
    assert look(one) == ""
    assert driver.opened == 2


def test_a_port_that_stays_is_opened_once(driver: Driver) -> None:
    """As long as the port is in the list nothing is opened again."""
    one = connection.Connection("input", "", "strokes")
    one.open()
    assert [look(one) for _ in range(3)] == ["", "", ""]
    assert driver.opened == 1
    one.close()


@pytest.mark.parametrize("api", ["winmm", "core"])
def test_one_of_two_equal_kits_goes_where_nobody_knows_which(driver: Driver, api: str) -> None:
    """It may be ours, so playing waits; a stroke shows that it is the other one that has gone."""
    numbers = ("0", "1") if api == "winmm" else ("", "")
    both = port_names.ports_of_names([f"Kit {one}".strip() for one in numbers], api)
    driver.here = both
    one = connection.Connection("input", "Kit #2", "strokes")
    one.open()
    driver.here = port_names.ports_of_names([f"Kit {numbers[0]}".strip()], api)
    assert look(one) == connection.UNSURE
    assert look(one) == connection.UNSURE
    driver.waiting = [([0x99, 38, 90], 0.1)]
    assert one.receive()
    assert one.trouble == ""
    assert look(one) == ""
    driver.here = ()
    assert look(one) == connection.GONE


def test_a_kit_seen_beside_ours_is_not_taken_for_it(driver: Driver) -> None:
    """Ours goes off while one of the same name, which came later, stays: gone, until it is back."""
    driver.here = port_names.ports_of_names(["Kit:a 128:0"], "alsa")
    one = connection.Connection("input", "", "strokes")
    one.open()
    driver.here = port_names.ports_of_names(["Kit:a 128:0", "Kit:a 129:0"], "alsa")
    assert look(one) == ""
    driver.here = driver.here[1:]
    assert look(one) == connection.GONE
    driver.here = port_names.ports_of_names(["Kit:a 129:0", "Kit:a 130:0"], "alsa")
    assert look(one) == ""
    assert one.port
    assert one.port.name == "Kit:a 130:0"
    assert driver.opened == 2


class Cut:
    """A connection that another program cuts."""

    intact, period_s = True, 0.0

    def find(self) -> bool:
        """It leads to the right port."""
        return True

    def close(self) -> None:
        """Nothing to let go."""


def test_a_connection_that_is_cut_is_made_again(
    driver: Driver, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The port never left the list: what asks the system sees the cut, and the next look mends."""
    cable = Cut()
    monkeypatch.setattr(connection, "_cable", lambda port, end: cable)
    driver.here = port_names.ports_of_names(["Kit:a 128:0"], "alsa")
    one = connection.Connection("output", "", "click")
    one.open()
    assert look(one) == ""
    cable.intact = False
    assert look(one) == connection.CUT
    assert look(one) == ""
    assert driver.opened == 2


def test_a_port_opened_by_mistake_is_not_kept(
    driver: Driver, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the system says that another port was connected, opening fails and says so."""
    cable = Cut()
    monkeypatch.setattr(cable, "find", lambda: False)
    monkeypatch.setattr(connection, "_cable", lambda port, end: cable)
    one = connection.Connection("input", "", "strokes")
    with pytest.raises(BadInput, match="another port was opened"):
        one.open()
    assert one.port is None
