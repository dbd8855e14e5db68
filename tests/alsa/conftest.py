"""Sources and senders for the tests over ALSA."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from conftest import Sender

from trainer.midi.kit_input import MidiSource

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

sys.path.append(str(Path(__file__).parent))


@pytest.fixture
def opened() -> Iterator[Callable[[str], MidiSource]]:
    """Open sources by name; close them with the test."""
    found: list[MidiSource] = []

    def make(name: str = "") -> MidiSource:
        source = MidiSource(name)
        source.open(time.perf_counter())
        found.append(source)
        return source

    yield make
    for one in found:
        one.close()


@pytest.fixture
def kit() -> Iterator[Callable[..., Sender]]:
    """Start programs that send; all are ended with the test."""
    made: list[Sender] = []

    def make(name: str, system: str = "alsa") -> Sender:
        made.append(Sender(name, system))
        return made[-1]

    yield make
    for one in made:
        one.close()


@pytest.fixture
def usb() -> None:
    """Leave out what needs USB kits where none can be made."""
    if not os.environ.get("TRAINER_USB_KITS"):
        pytest.skip("USB kits are made in a virtual machine only (bash tests/alsa/run)")
