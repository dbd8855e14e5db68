"""A source of hits polled as the program does it."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from trainer.kit.hits import Strike

if TYPE_CHECKING:
    from trainer.midi.hit_source import SourceEvent
    from trainer.midi.kit_input import MidiSource

TURN_S = 0.0005


def listen(source: MidiSource, seconds: float) -> list[SourceEvent]:
    """Poll for some seconds; return what came."""
    made: list[SourceEvent] = []
    end = time.perf_counter() + seconds
    while time.perf_counter() < end:
        made += source.poll(0.0)
        time.sleep(TURN_S)
    return made


def notes(made: list[SourceEvent]) -> list[int]:
    """Return the notes of the strokes."""
    return [one.note for one in made if isinstance(one, Strike)]


def listen_until(source: MidiSource, lost: bool, seconds: float = 5.0) -> list[SourceEvent]:
    """Poll until the source is lost, or is back; return what came meanwhile."""
    made: list[SourceEvent] = []
    end = time.perf_counter() + seconds
    while source.lost is not lost:
        assert time.perf_counter() < end, f"lost is still {source.lost} after {seconds} s"
        made += source.poll(0.0)
        time.sleep(TURN_S)
    return made
