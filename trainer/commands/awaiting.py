"""Waiting for a kit that is not switched on yet, where a person sits at the terminal."""

from __future__ import annotations

import time

from trainer import console
from trainer.midi import port_names, ports
from trainer.midi.connection import LIST_EVERY_S, PortWatch


def await_kit(wanted: str) -> tuple[port_names.Port, ...]:
    """Return the inputs once one that a name means is there; at once where nobody sits there.

    Raises BadInput where no MIDI system answers.
    """
    here = ports.inputs()
    if port_names.fitting_ports(here, wanted) or not (
        console.keys_can_be_read() and console.has_screen()
    ):
        return here  # what is wrong is told by whoever picks one
    what = f'No MIDI input called "{wanted}"' if wanted else "No MIDI input"
    console.print_line(
        f"{what} is connected. Switch the kit on and plug it in: it is taken as it comes."
    )
    console.print_line("Ctrl-C gives up; --port keys plays on the computer keys.")
    watch = PortWatch()
    try:
        while not port_names.fitting_ports(here, wanted):
            time.sleep(LIST_EVERY_S)
            here = watch.ports()
    finally:
        watch.close()  # the session opens clients of its own
    console.print_line("There it is.")
    return here
