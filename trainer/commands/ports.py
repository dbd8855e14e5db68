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
            {
                "api": system.api,
                "systems": list(system.apis),
                "refused": list(system.refused),
                "inputs": _rows(system.inputs),
                "outputs": _rows(system.outputs),
            }
        )
        return 0
    console.print_lines(lines(system))
    return 0


def lines(system: System) -> Iterator[str]:
    """Yield what is connected, inputs before outputs."""
    several = len(system.apis) > 1
    yield f"MIDI systems: {', '.join(system.apis)}" if several else f"MIDI system: {system.api}"
    yield from system.refused
    yield from _listed("inputs (strokes come from here, --port NAME)", system.inputs, several)
    yield from _listed("outputs (a click can go here, --out NAME)", system.outputs, several)


def _rows(found: Sequence[Port]) -> list[dict[str, object]]:
    return [
        {
            "name": port.label,
            "driver_name": port.name,
            "position": port.position,
            "system": port.api,
            "loop": port.is_loop,
        }
        for port in found
    ]


def _listed(title: str, found: Sequence[Port], several: bool) -> Iterator[str]:
    yield f"{title}:"
    for port in found:
        about = [port.api] * several + ["a loop inside the system, not a kit"] * port.is_loop
        yield f"  {port.label}" + (f"  ({'; '.join(about)})" if about else "")
    if all(port.is_loop for port in found):
        yield "  none; switch the device on, plug it in and look again"
