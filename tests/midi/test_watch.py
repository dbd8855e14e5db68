"""Which inputs are there and which have come: with a driver made up, and over JACK."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from patience import until

from trainer.errors import BadInput
from trainer.midi import connection, port_names, ports
from trainer.midi.connection import PortWatch

if TYPE_CHECKING:
    from collections.abc import Callable

    from conftest import Sender


class Driver:
    """MIDI systems by name, what each lists, and how many clients of it were made."""

    def __init__(self, **listed: list[str] | None) -> None:
        self.listed = listed
        self.made = dict.fromkeys(listed, 0)

    def new_client(self, kind: str, name: str) -> Any:
        """Make a client; a system without a list does not answer."""
        self.made[name] += 1
        if self.listed[name] is None:
            raise BadInput("does not answer")
        return object()

    def seen(self, client: Any, name: str) -> tuple[port_names.Port, ...]:
        """Return what a system lists."""
        return port_names.ports_of_names(self.listed[name] or [], name)


@pytest.fixture
def use(monkeypatch: pytest.MonkeyPatch) -> Callable[[Driver], Driver]:
    """Put a made up driver in the place of the real one, and let every look be a fresh one."""

    def put(driver: Driver) -> Driver:
        monkeypatch.setattr(ports, "apis", lambda: tuple(driver.listed))
        monkeypatch.setattr(ports, "new_client", driver.new_client)
        monkeypatch.setattr(ports, "seen", driver.seen)
        monkeypatch.setattr(ports, "drop", lambda client: None)
        monkeypatch.setattr(connection, "LIST_EVERY_S", 0.0)
        return driver

    return put


def test_only_what_comes_later_is_an_arrival(use: Callable[[Driver], Driver]) -> None:
    """What is there at first is known; what comes, also again, is reported once each time."""
    driver = use(Driver(core=["Pad box"]))
    one = PortWatch()
    assert one.arrived() == []
    driver.listed["core"] = ["Pad box", "Kit 9"]
    assert one.arrived() == ["Kit 9"]
    assert one.arrived() == []
    driver.listed["core"] = ["Pad box"]
    assert one.arrived() == []
    driver.listed["core"] = ["Pad box", "Kit 9"]
    assert one.arrived() == ["Kit 9"]


def test_looking_opens_one_client_and_keeps_it(use: Callable[[Driver], Driver]) -> None:
    """However often it is looked, a system gets one client, and none after the end."""
    driver = use(Driver(core=["Pad box"]))
    one = PortWatch()
    assert {one.look() for _ in range(20)} == {("Pad box",)}
    one.close()
    assert one.look() == ("Pad box",)
    assert driver.made == {"core": 1}


@pytest.mark.parametrize(("retry", "tries"), [(True, 2), (False, 1)])
def test_a_system_that_does_not_answer_is_left_in_peace(
    use: Callable[[Driver], Driver], monkeypatch: pytest.MonkeyPatch, retry: bool, tries: int
) -> None:
    """It is asked again after a while only, or never; meanwhile the next system is looked at."""
    driver = use(Driver(alsa=None, jack=["Kit:drums"]))
    clock = [100.0]
    monkeypatch.setattr(connection, "perf_counter", lambda: clock[0])
    one = PortWatch(retry=retry)
    assert [one.look() for _ in range(5)] == [("Kit:drums",)] * 5
    assert driver.made == {"alsa": 1, "jack": 1}
    clock[0] += connection.RETRY_S
    one.look()
    assert driver.made == {"alsa": tries, "jack": 1}


def test_the_list_is_asked_for_once_a_second(use: Callable[[Driver], Driver]) -> None:
    """Looking more often gives what was seen last."""
    driver = use(Driver(core=[]))
    connection.LIST_EVERY_S = 1.0  # the fixture takes it back
    one = PortWatch()
    assert one.look() == ()
    driver.listed["core"] = ["Kit 9"]
    assert one.look() == ()


@pytest.mark.jack
def test_a_kit_that_is_switched_on_is_seen(sender: Callable[[str], Sender]) -> None:
    """Another program's port comes and goes in the list of a client that stays open."""
    one = PortWatch()
    assert one.arrived() == []
    kit = sender("Stage Kit")
    assert until(one.arrived, "the kit") == ["Stage Kit:drums"]
    kit.close()
    until(lambda: not one.look(), "the list without the kit")
    assert one.arrived() == []
    one.close()
