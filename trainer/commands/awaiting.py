"""Waiting for a kit that is not switched on yet, where a person sits at the terminal."""

from __future__ import annotations

import time

from trainer import report
from trainer.commands.following import keys_can_be_read
from trainer.midi import names, ports
from trainer.midi.watch import LOOK_S, PortWatch


def await_kit(wanted: str) -> tuple[names.Port, ...]:
    """Return the inputs once one that a name means is there; at once where nobody sits there.

    Raises BadInput where no MIDI system answers.
    """
    here = ports.inputs()
    if names.fitting(here, wanted) or not (keys_can_be_read() and report.has_screen()):
        return here  # what is wrong is told by whoever picks one
    what = f'No MIDI input called "{wanted}"' if wanted else "No MIDI input"
    report.say(f"{what} is connected. Switch the kit on and plug it in: it is taken as it comes.")
    report.say("Ctrl-C gives up; --port keys plays on the computer keys.")
    watch = PortWatch()
    try:
        while not names.fitting(here, wanted):
            time.sleep(LOOK_S)
            here = watch.ports()
    finally:
        watch.close()  # the session opens clients of its own
    report.say("There it is.")
    return here
