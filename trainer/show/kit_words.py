"""What is asked of the player and found while a kit is set up, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.kit.learning import LEARNING_REMARKS, place_name
from trainer.kit.voices import VOICES
from trainer.midi.timing import signed_ms

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from trainer.actions.kit_measuring import KitProgress, KitStep
    from trainer.actions.kit_setup import KeptKit, LoopLatency, MeasuredLatency
    from trainer.kit.learning import LearningStep
    from trainer.kit.model import Kit
    from trainer.kit.survey import Survey

STEPS = {
    "singles": "For {seconds:g} seconds play single strokes, one pad after another, at ordinary "
    "strength: at least a quarter of a second apart, a dozen on each pad.",
    "strength": "Now {seconds:g} seconds of {strength} strokes, all pads in turn.",
    "no strength": "No {strength} strokes came: power is left as it was.",
    "even power": "{place}: soft, normal and hard do not differ; left as it is.",
    "kept": "Kept in {path}",
    "gone": "{name}.",
    "back": "It is back.",
    "press pedal": "Press the hi-hat pedal down and let it up, five times.",
    "no pedal": "  No controller moved: left out.",
    "closed and open": "Strike the hi-hat four times with the pedal down, then four times with it "
    "up.",
    "few hi-hats": "  Too few strokes of either kind: the note alone decides.",
    "one hi-hat note": "  One note for both: the pedal decides whether it is closed or open.",
    "two hi-hat notes": "  A note for each.",
    "strike places": "Strike the {voice} eight times, from the middle to the edge.",
    "no places": "  It does not send where it was struck: left out.",
    "places": "  controller {number}.",
    "grab cymbals": "Strike each cymbal and grab it, twice.",
    "no choke": "  No choke was sent: left out.",
}
"""The words of most kinds of step."""


def step_lines(step: KitStep) -> Iterator[str]:
    """Give a step of measuring a kit in words."""
    if step.survey:
        yield from survey_lines(step.survey)
    elif step.pedal:
        ends = f"{step.pedal.closed} closed, {step.pedal.open} open"
        yield f"  controller {step.pedal.controller}: {ends}."
    elif step.kind == "choke":
        yield f"  choke of {f'{step.name}, ' if step.name else ''}note {step.number}."
    else:
        yield STEPS[step.kind].format(
            seconds=step.seconds,
            strength=step.strength,
            place=place_name(step.pad) if step.pad else "",
            path=step.path,
            name=step.name,
            number=step.number,
            voice=VOICES[step.name].title if step.name in VOICES else step.name,
        )


def progress_words(progress: KitProgress) -> str:
    """Return how long is left, and what has come so far."""
    if progress.question:
        return f"waiting {progress.seconds_left} s more"
    counts = ", ".join(f"{name} {count}" for name, count in progress.counts.items())
    return f"{progress.seconds_left} s left   {counts}".rstrip()


def survey_lines(found: Survey) -> Iterator[str]:
    """Give the doubles and the crosstalk of a kit."""
    for voice, one in found.doubles.items():
        yield (
            f"{voice}: {one.times} double triggers in {one.strokes} strokes, at most "
            f"{one.longest_s * 1000:.0f} ms later and {100 * one.loudest:.0f}% as loud."
        )
    for (struck, shaken), one in found.crosstalk.items():
        yield (
            f"{struck} shakes {shaken}: {one.times} times in {one.strokes} strokes, at most "
            f"{100 * one.loudest:.0f}% as loud."
        )
    if not found.doubles and not found.crosstalk:
        yield "No double triggers and no crosstalk."


def learning_line(step: LearningStep) -> str:
    """Return a step of learning a kit in words, empty where there is nothing to say."""
    place = place_name(step.pad) if step.pad else ""
    if step.kind == "ask":
        return f"Strike the {place}."
    if step.kind == "heard":
        return f"  note {step.note}"
    if step.kind == "learned":
        return f"  {place}: note {step.note}."
    if step.kind == "shared" and step.other:
        return (
            f"  {place} sends note {step.note}, as the {place_name(step.other)} does: they "
            "are one pad to the program. Give one of them another note in the module, if it can."
        )
    return f"  {LEARNING_REMARKS[step.kind]}" if step.kind in LEARNING_REMARKS else ""


def kept_lines(kept: KeptKit) -> Iterator[str]:
    """Say where a kit that was learned is, and what comes next."""
    if kept.path is None:
        yield "Nothing was learned, so nothing is kept."
        return
    yield f"{kept.notes} note{'s' * (kept.notes != 1)} learned, kept in {kept.path}"
    yield f"Next: trainer kit controllers {kept.name}, and trainer kit survey {kept.name}"


def latency_lines(measured: MeasuredLatency) -> Iterator[str]:
    """Say how late the hits of a session came, and what that figure holds."""
    found = measured.found
    yield (
        f"In {measured.session} hits came {signed_ms(found.median_s)} ms from the click "
        f"(95% interval: {signed_ms(found.low_s)} to {signed_ms(found.high_s)}; "
        f"{found.count} strokes, spread {found.spread_s * 1000:.0f} ms)."
    )
    yield (
        "That is the kit's lateness and your own habit together; strokes alone cannot separate "
        "them. Where you can lead a MIDI output back into the input, measure its way alone with "
        f"trainer kit latency {measured.kit.name} --out NAME --port NAME --keep."
    )


def loop_lines(loop: LoopLatency) -> Iterator[str]:
    """Say how long notes took round a loop."""
    yield (
        f"Notes take {loop.way_s * 1000:.1f} ms from the output back to the input "
        f"({loop.returned} of {loop.sent} came back)."
    )
    yield "That is the way of MIDI; what the module adds between stick and note is not in it."


def kept_latency_words(kit: Kit, latency_s: float, path: Path) -> str:
    """Return what a kit's latency is now, and where it is kept."""
    return f"{kit.name}: latency {latency_s * 1000:.1f} ms, kept in {path}"
