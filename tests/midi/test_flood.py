"""Two thousand messages a second, with system exclusive and real-time bytes among them."""

from __future__ import annotations

import sys
from collections import Counter
from typing import TYPE_CHECKING

import pytest

from trainer.kit.hits import Strike
from trainer.midi import connection, kit_input, port_names
from trainer.midi.hit_source import Control
from trainer.midi.kit_input import MidiSource

if TYPE_CHECKING:
    from collections.abc import Iterator

SECONDS, RATE = 60, 2000
TURN_S = 0.001


class FloodingDriver:
    """A driver whose queue fills with 2,000 messages a second of its own time."""

    def __init__(self) -> None:
        self.now_s = 0.0
        self.sent: Counter[str] = Counter()
        self._waiting: list[tuple[list[int], float]] = []

    def run(self, turn: int) -> None:
        """Let one millisecond pass; two messages come in it."""
        self.now_s += TURN_S
        for k in (2 * turn, 2 * turn + 1):
            kind, data = _message(k)
            self.sent[kind] += 1
            self._waiting.append((data, 1 / RATE))

    def get_message(self) -> tuple[list[int], float] | None:
        return self._waiting.pop(0) if self._waiting else None


def _message(k: int) -> tuple[str, list[int]]:
    """Return the kth message: mostly strokes, the rest of every kind that a kit may send."""
    if k % 50 == 7:
        return "other", [0xF0, 0x41, *([k % 128] * 200), 0xF7]
    if k % 10 == 3:
        return "other", [0xFE]
    if k % 10 == 5:
        return "other", [0xF8]
    if k % 10 == 8:
        return "control", [0xB9, 4, k % 128]
    if k % 10 == 9:
        return "other", [0x89, 38, 64]
    return "strike", [0x99, 35 + k % 48, 1 + k % 127]


@pytest.fixture
def flood(monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[MidiSource, FloodingDriver]]:
    """A source at a driver that floods it, in the driver's own time."""
    driver = FloodingDriver()
    port = port_names.ports_of_names(["Kit 20:0"], "alsa")
    monkeypatch.setattr(connection.ports, "inputs", lambda: port)
    monkeypatch.setattr(connection.ports, "new_client", lambda kind, api: driver)
    monkeypatch.setattr(connection.ports, "open_port", lambda *_: None)
    monkeypatch.setattr(connection.ports, "seen", lambda *_: port)
    monkeypatch.setattr(connection.ports, "drop", lambda _: None)
    for module in (kit_input, connection):
        monkeypatch.setattr(module, "perf_counter", lambda: driver.now_s)
    source = MidiSource("Kit")
    source.open(0.0)
    yield source, driver
    source.close()


def test_a_minute_of_flood(flood: tuple[MidiSource, FloodingDriver]) -> None:
    """Every stroke and control arrives, in order and on time, and memory stays flat."""
    source, driver = flood
    heard: Counter[str] = Counter()
    last_s, late_s, memory = 0.0, 0.0, []
    for turn in range(SECONDS * RATE // 2):
        driver.run(turn)
        for made in source.poll(0.0):
            heard["strike" if isinstance(made, Strike) else "control"] += 1
            assert isinstance(made, Strike | Control)
            assert made.time_s >= last_s
            last_s = made.time_s
            late_s = max(late_s, abs(driver.now_s - made.time_s))
        if turn % (10 * RATE // 2) == 0:
            memory.append(sys.getallocatedblocks())

    assert sum(driver.sent.values()) == SECONDS * RATE
    assert heard["strike"] == driver.sent["strike"]
    assert heard["control"] == driver.sent["control"]
    assert source.quality()["other_messages"] == driver.sent["other"]
    assert late_s <= 2 * TURN_S
    assert max(memory[2:]) - memory[1] < 500
    assert any(_message(k)[1][0] == 0xF0 for k in range(50))
