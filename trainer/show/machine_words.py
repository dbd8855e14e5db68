"""This machine in words: what is connected, and how far its times can be trusted."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trainer.midi.port_names import Port
    from trainer.midi.ports import System

COARSE_MS = 3.0
"""Above this a good player's spread (some 10 ms, or less) begins to drown in the machine's own."""


def port_lines(system: System) -> Iterator[str]:
    """Give what is connected, inputs before outputs."""
    several = len(system.apis) > 1
    yield f"MIDI systems: {', '.join(system.apis)}" if several else f"MIDI system: {system.api}"
    yield from system.refused
    yield from _listed("inputs (strokes come from here, --port NAME)", system.inputs, several)
    yield from _listed("outputs (a click can go here, --out NAME)", system.outputs, several)


def _listed(title: str, found: Sequence[Port], several: bool) -> Iterator[str]:
    yield f"{title}:"
    for port in found:
        about = [port.api] * several + ["a loop inside the system, not a kit"] * port.is_loop
        yield f"  {port.label}" + (f"  ({'; '.join(about)})" if about else "")
    if all(port.is_loop for port in found):
        yield "  none; switch the device on, plug it in and look again"


def timing_lines(figures: dict[str, Any]) -> list[str]:
    """Give the figures of `timing_document` in words, the verdict last."""
    lines = [f"The program is woken {_spread(figures['wakes_late'])} late."]
    if loop := figures["loop"]:
        lines += _loop_lines(loop)
    else:
        lines.append(f"Stamps and click were not measured: {figures['no_loop']}")
    if figures["terminal"]:
        lines.append(f"The terminal takes {_spread(figures['terminal'])} to take in a line.")
    return [*lines, *_verdict(figures)]


def _loop_lines(loop: dict[str, Any]) -> list[str]:
    lines = [
        f"A click is sent {_spread(loop['sent_late'])} after it is due.",
        f"Stroke times through {loop['system']} are {_spread(loop['stamps_off'])} off; "
        f"{loop['lost']} of {loop['sent']} notes were lost.",
    ]
    if loop["step_ms"]:
        lines.append(f"They come in steps of {loop['step_ms']:.2g} ms.")
    return lines


def _verdict(figures: dict[str, Any]) -> list[str]:
    trusted = figures["trusted_ms"]
    if not figures["loop"]:
        return [f"Nothing is finer than {trusted:.1f} ms here; what MIDI adds is not known."]
    lines = [f"Differences below {trusted:.1f} ms say nothing about your playing on this machine."]
    if trusted > COARSE_MS:
        lines.append(
            "That is coarse. Close other programs, plug the power in, and measure again; "
            "with JACK choose a smaller buffer."
        )
    else:
        lines.append("Spreads and offsets of a few ms can be trusted; averages of many are finer.")
    return lines


def _spread(figures: dict[str, Any]) -> str:
    if figures["median_ms"] is None:
        return "an unknown time"
    return (
        f"{figures['median_ms']:.2f} ms (99 of 100 within {figures['p99_ms']:.2f}, "
        f"worst {figures['worst_ms']:.2f})"
    )
