"""Setting up a kit: keeping what was learned, and how late the kit is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.kit import kits

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.kit.learning import Learning
    from trainer.kit.model import Kit
    from trainer.kit.survey import LatencyEstimate
    from trainer.midi.kit_input import MidiSource

LOOP_S = 5.0
"""How long notes are sent round a loop."""


@dataclass(frozen=True, slots=True)
class KeptKit:
    """A kit that was learned: its name, how many notes, and its file (None: nothing was kept)."""

    name: str
    notes: int
    path: Path | None


def keep_learned(learning: Learning) -> KeptKit:
    """Save what was learned, where anything was."""
    notes = len(learning.notes)
    return KeptKit(learning.kit.name, notes, kits.save(learning.kit) if notes else None)


@dataclass(frozen=True, slots=True)
class LatencyRequest:
    """The kit, and the session its latency is measured from; None for the newest on that kit.

    `to_keep` says that the figure goes into the kit, so that the session has to be of that kit.
    """

    kit: str
    folder: Path
    session: str | None = None
    to_keep: bool = False


@dataclass(frozen=True, slots=True)
class MeasuredLatency:
    """How late the hits of a session came (its file's name), on a kit."""

    kit: Kit
    session: str
    found: LatencyEstimate


def measure_latency(request: LatencyRequest) -> MeasuredLatency:
    """Measure how late hits came after the click; raises BadInput where there are too few."""
    from trainer.archive.session_file import open_session
    from trainer.archive.summary import cut_short, judge_session
    from trainer.kit.survey import estimate_latency

    kit = kits.load(request.kit)
    path = _session_of(kit, request)
    session = cut_short(open_session(path))
    if request.to_keep and session.kit.name != kit.name:
        raise BadInput(
            f'it was played on the kit "{session.kit.name}"',
            where=path.name,
            fix=f"leave --keep away, or set what you believe with trainer kit latency {kit.name} "
            "--set MS",
        )
    take = judge_session(session)
    offsets = [take.offset_s(one) for one in range(len(take.targets))]
    # Offsets have the session's own latency taken out; it is put back to measure the whole.
    found = estimate_latency(one + session.kit.latency_s for one in offsets if one is not None)
    if found is None:
        raise BadInput(
            "too few strokes landed to measure a latency",
            where=path.name,
            fix="play forty strokes or more with the click",
        )
    return MeasuredLatency(kit, path.name, found)


def _session_of(kit: Kit, request: LatencyRequest) -> Path:
    """Return the session to measure from: as named, else the newest on the kit."""
    from trainer.archive.session_list import find_session, newest_session_on_kit

    if request.session:
        return find_session(request.folder, request.session)
    path = newest_session_on_kit(request.folder, kit.name)
    if path is None:
        raise BadInput(
            f'no session was played on the kit "{kit.name}"',
            where=str(request.folder),
            fix=f"play one with --kit {kit.name}, or name another with --session",
        )
    return path


@dataclass(frozen=True, slots=True)
class LoopLatency:
    """How long notes take from an output back to an input, in seconds; how many of how many.

    `way_s` is None where it is too short to be measured.
    """

    way_s: float | None
    returned: int
    sent: int


def measure_loop(out: str, port: str) -> LoopLatency:
    """Measure the way of notes that are led from an output back into an input."""
    from trainer.engine.timing_check import Loopback

    with Loopback(out, port) as loop:
        figures = loop.run(LOOP_S)
    if figures.lost == figures.sent:
        raise BadInput(
            "no note came back", where=f"--out {out}", fix="lead the output into the input"
        )
    return LoopLatency(figures.way_s, figures.sent - figures.lost, figures.sent)


def keep_latency(kit: Kit, latency_s: float) -> Path:
    """Write a latency (seconds) into a kit and return its file."""
    return kits.save(replace(kit, latency_s=latency_s))


def latency_of_text(ms: str) -> float:
    """Return a latency that was typed in ms, in seconds; raises BadInput for one that cannot be."""
    from trainer.kit.model import GENERAL_MIDI

    try:
        return kits.with_latency(GENERAL_MIDI, float(ms), "the latency").latency_s
    except ValueError:
        raise BadInput("this is no number", fix="type for instance 6.5") from None


def own_source(kit: Kit) -> MidiSource:
    """Return the kit's own input, not opened yet; the only one there is where none is its own."""
    from trainer.midi import port_names, ports
    from trainer.midi.kit_input import MidiSource

    known = [port.label for port in port_names.kits(ports.inputs())]
    return MidiSource(next((one for one in known if kits.kit_for_port(one).name == kit.name), ""))
