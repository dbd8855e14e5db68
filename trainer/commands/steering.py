"""Which pads steer the screens: those that the kit file, or `--pad-key`, makes keys."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from trainer import settings
from trainer.commands.play import NO_PORT, pad_keys
from trainer.errors import TrainerError
from trainer.kit import kits
from trainer.midi.kit_input import MidiSource
from trainer.midi.pad_steering import PadSteering

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.engine.job import Job


def of_port(port: str, given: Sequence[str] = ()) -> PadSteering | None:
    """Return what the pads of the kit at a port stand for, None where none is a key.

    `given` are keys for this time, as `--pad-key` takes them. What is wrong with the kit is told
    when something is played.
    """
    if port in NO_PORT:
        return None
    try:
        named = settings.load().kit
        kit = kits.load(named) if named else kits.kit_for_port(port)
        table = pad_keys(list(given), kit)
    except TrainerError:
        return None
    return PadSteering(partial(MidiSource, port), kit, table) if table else None


def of_job(job: Job) -> PadSteering | None:
    """Return the same of a job, for the screens after its end."""
    table = job.options.pad_keys
    if not table or not isinstance(job.source, MidiSource):
        return None
    return PadSteering(partial(MidiSource, job.source.name), job.kit, table)
