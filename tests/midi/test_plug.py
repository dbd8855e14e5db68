"""A connection that is lost and made again, without any MIDI system: the driver is made up."""

from __future__ import annotations

from typing import Any

import pytest

from trainer.errors import BadInput
from trainer.midi import connection, port_names, ports

KIT = port_names.ports_of_names(["Kit 0"], "winmm")


class Driver:
    """What the module `ports` asks of a driver: a list of ports, and whether they open."""

    def __init__(self) -> None:
        self.here: tuple[port_names.Port, ...] = KIT
        self.held = False
        self.opened = 0

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
    monkeypatch.setattr(ports, "of_kind", lambda kind, name: one.here)
    monkeypatch.setattr(ports, "seen", lambda client, name: one.here)
    monkeypatch.setattr(ports, "new_client", lambda kind, name: object())
    monkeypatch.setattr(ports, "open_port", one.open_port)
    monkeypatch.setattr(ports, "drop", lambda client: None)
    return one


def look(one: connection.Connection) -> str:
    """Look once more, long enough after the last time; return what is wrong."""
    one.watch(one.looked_s + 2 * connection.WATCH_S)
    return one.trouble


def test_a_port_that_another_program_took_meanwhile(driver: Driver) -> None:
    """A kit that is back but held by another program is told as that, and taken once it is free."""
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
    """As long as the port is in the list nothing is opened anew."""
    one = connection.Connection("input", "", "strokes")
    one.open()
    assert [look(one) for _ in range(3)] == ["", "", ""]
    assert driver.opened == 1
    one.close()
