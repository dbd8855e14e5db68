"""How far times measured on this machine can be trusted."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.engine import timing_check
from trainer.errors import BadInput
from trainer.midi.timing import trusted_ms
from trainer.results import save_result

if TYPE_CHECKING:
    from pathlib import Path
    from typing import Any

    from trainer.engine.timing_check import LoopbackFigures
    from trainer.midi.timing import Delays

LONGEST_S = 60.0


@dataclass(frozen=True, slots=True)
class TimingRequest:
    """How long to measure (seconds), through which loop, and whether to ask the terminal too.

    `out` leads back into `port`; empty for a loop inside the MIDI system.
    """

    seconds: float = 15.0
    out: str = ""
    port: str = ""
    terminal: bool = False

    def check(self) -> None:
        """Raise BadInput for what cannot be measured."""
        if not 1.0 <= self.seconds <= LONGEST_S:
            raise BadInput(
                f"{self.seconds:g} seconds is out of range",
                where="--seconds",
                fix=f"choose 1 to {LONGEST_S:g}",
            )
        if bool(self.out) != bool(self.port):
            raise BadInput(
                "a loop has two ends",
                where="--out and --port",
                fix="name both, or neither for a loop inside the MIDI system",
            )


@dataclass(frozen=True, slots=True)
class TimingFigures:
    """How late the program wakes, what notes round a loop show, and how slow the terminal is.

    `loop` is None where there is none, for the reason `no_loop`. Differences below `trusted_ms`
    (milliseconds) say nothing about playing.
    """

    wakes_late: Delays
    loop: LoopbackFigures | None
    no_loop: str | None
    terminal: Delays | None
    trusted_ms: float


def measure_timing(request: TimingRequest) -> TimingFigures:
    """Measure this machine; raises BadInput where a loop that was named is not there."""
    request.check()
    wakes = timing_check.measure_wakes(request.seconds / 3)
    loop, no_loop = _loop(request)
    terminal = timing_check.terminal_delays() if request.terminal else None
    off = loop.off if loop else wakes
    trusted = trusted_ms(loop.step_s if loop else 0.0, True, off)
    worst = round((off.share(0.99) or 0.0) * 1e3, 3)
    return TimingFigures(wakes, loop, no_loop, terminal, max(trusted, worst))


def _loop(request: TimingRequest) -> tuple[LoopbackFigures | None, str | None]:
    """Send notes round a loop; where there is none, return why."""
    try:
        with timing_check.Loopback(request.out, request.port) as loop:
            return loop.run(request.seconds * 2 / 3), None
    except BadInput as fault:
        if request.out:
            raise
        return None, str(fault)


def check_report_place(path: Path | None) -> None:
    """Raise BadInput where a report could not be written in the end."""
    if path and not path.absolute().parent.is_dir():
        raise BadInput("there is no such folder", where=str(path.parent), fix="choose another")


def write_timing_report(path: Path, figures: dict[str, Any]) -> Path:
    """Write a report about this machine as `results.save_result` does; return where it is."""
    from trainer.engine.timing_check import timing_report

    return save_result(path, json.dumps(timing_report(figures), indent=2) + "\n")
