"""What is played on: the port, its kit, the source of hits, and the pads that are keys."""

from __future__ import annotations

import time
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from trainer import settings
from trainer.actions.requests import COMPUTER_KEYS, NO_PORT, SIMULATED_PLAYER
from trainer.checked import shortened, typed_whole
from trainer.errors import BadInput, TrainerError
from trainer.kit import kits
from trainer.kit.model import GENERAL_MIDI
from trainer.practice.events import COMMAND_NAMES

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trainer.actions.requests import PlayedOn
    from trainer.engine.job import Job
    from trainer.kit.model import Kit
    from trainer.midi.hit_source import HitSource
    from trainer.midi.pad_steering import PadSteering
    from trainer.midi.port_names import Port

    Waiting = Callable[[str], object]
    """Called at every look with the port that is waited for; may raise to give up."""

PAD_COMMANDS = tuple(name for name in COMMAND_NAMES if name not in ("tempo", "key"))
"""The commands that a pad can give."""


def find_kit(wanted: PlayedOn, waiting: Waiting | None = None) -> tuple[PlayedOn, Kit]:
    """Return what is played on with the port's full name, and the kit.

    The kit is the one named, else the one set, else the one that owns the port. With `waiting` a
    port that is not there is waited for. Raises BadInput.
    """
    if wanted.fast and wanted.port != SIMULATED_PLAYER:
        raise BadInput(
            "simulated time needs a simulated player", where="--fast", fix="add --port simulated"
        )
    wanted = replace(wanted, port=wanted.port or settings.load().input)
    if wanted.port in NO_PORT:
        found = kit_ahead(wanted)
    else:
        port = _find_port(wanted.port, waiting)
        found = kit_ahead(replace(wanted, port=port.title))
        # In full from here on, as it is shown and found again: a part may fit another port later.
        wanted = replace(wanted, port=port.label)
    return wanted, kits.with_latency(found, wanted.latency_ms)


def kit_ahead(wanted: PlayedOn) -> Kit:
    """Return the kit as far as it is known before its port is there. Raises BadInput."""
    named, port = wanted.kit or settings.load().kit, wanted.port or settings.load().input
    if named:
        return kits.load(named)
    return GENERAL_MIDI if port in NO_PORT else kits.kit_for_port(port)


def _find_port(wanted: str, waiting: Waiting | None) -> Port:
    from trainer.midi import port_names, ports

    here = ports.inputs()
    if waiting and not port_names.fitting_ports(here, wanted):
        here = _await_port(wanted, waiting)
    return port_names.pick_port(here, wanted)


def _await_port(wanted: str, waiting: Waiting) -> tuple[Port, ...]:
    """Return the inputs once one that a name means is there."""
    from trainer.midi import port_names
    from trainer.midi.connection import PortWatch

    watch = PortWatch()
    try:
        while not port_names.fitting_ports(here := watch.ports(), wanted):
            waiting(wanted)
            time.sleep(LOOK_S)
        return here
    finally:
        watch.close()  # the session opens clients of its own


LOOK_S = 0.2


def make_source(wanted: PlayedOn, kit: Kit) -> HitSource:
    """Return the source of hits, not opened yet."""
    if wanted.port == COMPUTER_KEYS:
        from trainer.midi.keyboard import KeySource

        return KeySource(offer=True, left_handed=settings.load().left_handed)
    if wanted.port == SIMULATED_PLAYER:
        from trainer.midi.simulated_player import SimulatedPlayer

        return SimulatedPlayer(kit, wanted.seed)
    from trainer.midi.kit_input import MidiSource

    return MidiSource(wanted.port)


def read_pad_keys(given: Sequence[str], kit: Kit) -> dict[int, str]:
    """Return the command each MIDI note gives: the kit's own, and those given for this time.

    A voice means all its notes. Raises BadInput.
    """
    found = dict(kit.pad_keys)
    for one in given:
        pad, _, command = one.partition("=")
        notes = [note for note, meant in kit.notes.items() if meant.voice == pad]
        if (note := typed_whole(pad, 0, 127)) is not None:
            notes = [note]
        if not notes or command not in PAD_COMMANDS:
            raise BadInput(
                f'"{shortened(one)}" names no pad and command',
                where="--pad-key",
                fix=f"write for instance crash=restart; commands: {', '.join(PAD_COMMANDS)}",
            )
        found |= dict.fromkeys(notes, command)
    return found


def steering_of_port(port: str, given: Sequence[str] = ()) -> PadSteering | None:
    """Return which keys the pads at a port are on a screen, None where none is a key.

    What is wrong with the kit is reported when something is played.
    """
    if port in NO_PORT:
        return None
    try:
        named = settings.load().kit
        kit = kits.load(named) if named else kits.kit_for_port(port)
        return _steering(port, kit, read_pad_keys(given, kit))
    except TrainerError:
        return None


def steering_of_job(job: Job) -> PadSteering | None:
    """Return the same of a job, for the screens after its end."""
    from trainer.midi.kit_input import MidiSource

    if not isinstance(job.source, MidiSource):
        return None
    return _steering(job.source.name, job.kit, dict(job.options.pad_keys or {}))


def _steering(port: str, kit: Kit, table: dict[int, str]) -> PadSteering | None:
    from trainer.midi.kit_input import MidiSource
    from trainer.midi.pad_steering import PadSteering

    return PadSteering(partial(MidiSource, port), kit, table) if table else None
