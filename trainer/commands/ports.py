"""`trainer ports`: what strokes can come from and where a click can go."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer import console

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace


def options(parser: ArgumentParser) -> None:
    """Add the options of the command."""
    parser.add_argument("--json", action="store_true", help="print one JSON document")


def run(args: Namespace) -> int:
    """List MIDI inputs and outputs by the names `--port` and `--out` take."""
    from trainer.midi import ports

    system = ports.system()
    if args.json:
        from trainer.actions.json_documents import ports_document

        console.print_json(ports_document(system))
    else:
        from trainer.show.kit_words import port_lines

        console.print_lines(port_lines(system))
    return 0
