"""`trainer ports`: what strokes can come from and where a click can go."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer import console

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator, Sequence

    from trainer.midi.port_names import Port
    from trainer.midi.ports import System


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command."""
    parser.add_argument("--json", action="store_true", help="print one JSON document")


def run(args: argparse.Namespace) -> int:
    """List MIDI inputs and outputs by the names `--port` and `--out` take."""
    from trainer.midi import ports

    system = ports.system()
    if args.json:
        console.print_json(
            {"api": system.api, "inputs": _rows(system.inputs), "outputs": _rows(system.outputs)}
        )
        return 0
    console.print_lines(lines(system))
    return 0


def lines(system: System) -> Iterator[str]:
    """Yield what is connected, inputs before outputs."""
    yield f"MIDI system: {system.api}"
    yield from _listed("inputs (strokes come from here, --port NAME)", system.inputs)
    yield from _listed("outputs (a click can go here, --out NAME)", system.outputs)


def _rows(found: Sequence[Port]) -> list[dict[str, object]]:
    return [
        {"name": port.label, "driver_name": port.name, "position": port.position} for port in found
    ]


def _listed(title: str, found: Sequence[Port]) -> Iterator[str]:
    yield f"{title}:"
    for port in found:
        yield f"  {port.label}"
    if not found:
        yield "  none; switch the device on, plug it in and look again"
