"""Pages about kit and machine: what is measured of a kit, what is connected, how exact times are.

Timing is measured by a program of its own, as the practice loop is, so that drawing a screen is
not what is measured.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from contextlib import closing
from typing import TYPE_CHECKING

from trainer.actions import kit_measuring, kit_setup
from trainer.errors import BadInput, Failure
from trainer.kit import kits
from trainer.settings import existing_recordings_folder
from trainer.show import kit_words
from trainer.show.kit_words import port_lines, timing_lines
from trainer.show.page import Page, PageAct, PagePart, TextQuestion, paragraphs, refused_by

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from trainer.actions.kit_measuring import KitProgress, KitStep
    from trainer.kit.model import Kit
    from trainer.midi.kit_input import MidiSource
    from trainer.show.page import ReportProgress

    _Steps = Iterator[KitStep]
    _Measure = Callable[[Kit, MidiSource, Callable[[KitProgress], None]], _Steps]

SURVEY_S = 60.0
TIMING_S = 15
LOOK_S = 0.25

SURVEY_GUIDE = (
    "Play what the page says. It finds what the kit sends twice, which pad shakes which. It "
    "also finds how hard soft and hard strokes are. All of it is kept in the kit. No hit is ever "
    "dropped; such hits are only marked. The first minute is kept once it is over. Power is kept "
    "at the very end."
)
CONTROLLER_GUIDE = (
    "Move, strike and grab what the page says. What your kit sends for it is kept in the kit. "
    "What it does not send is left out. Leaving before the end changes nothing."
)
LATENCY_GUIDE = (
    "How late hits come after the click, from a session. That is the kit's lateness and your own "
    "habit together. Strokes alone cannot separate the two. Old sessions can be read again with "
    "another figure."
)
PORTS_GUIDE = (
    "The MIDI inputs and outputs that this machine has now. Home lets you choose an input with c. "
    "f5 looks again; t measures how far the times on this machine can be trusted."
)
TIMING_GUIDE = (
    "How late this machine wakes the program and sends a click. How far stroke times are off, "
    "inside the MIDI system. Leave the machine as it is when you play. A cable from an output "
    "back into an input: trainer timing --out NAME --port NAME. The terminal's own delay: trainer "
    "timing."
)


def kit_pages(name: str) -> dict[str, Page]:
    """Return the pages of a kit by the action of `trainer kit`."""
    again = (PageAct("enter", "Once more", "Measure once more", lambda _: None),)

    def survey(kit: Kit, source: MidiSource, report: Callable[[KitProgress], None]) -> _Steps:
        return kit_measuring.survey_kit(kit, source, SURVEY_S, report=report)

    return {
        "survey": Page(
            f"Measuring {name}: doubles, crosstalk and power",
            SURVEY_GUIDE,
            f"trainer kit survey {name}",
            lambda progress: _measured(name, survey, progress),
            again,
        ),
        "controllers": Page(
            f"The controllers of {name}",
            CONTROLLER_GUIDE,
            f"trainer kit controllers {name}",
            lambda progress: _measured(name, kit_measuring.learn_controllers, progress),
            again,
        ),
        "latency": latency_page(name),
    }


def _measured(name: str, measure: _Measure, progress: ReportProgress) -> Iterator[PagePart]:
    """Measure a kit at its own port and give each step as a part."""
    kit = kits.load(name)

    def report(done: KitProgress) -> None:
        progress(kit_words.progress_words(done))

    with closing(kit_setup.own_source(kit)) as source:
        source.open(time.perf_counter())
        yield PagePart(f"Listening to {source.name}.")
        for step in measure(kit, source, report):
            yield from map(PagePart, kit_words.step_lines(step))


def latency_page(name: str) -> Page:
    """Return the page of a kit's latency."""

    def measure() -> kit_setup.MeasuredLatency:
        folder = existing_recordings_folder()
        return kit_setup.measure_latency(kit_setup.LatencyRequest(name, folder, to_keep=True))

    def make(progress: ReportProgress) -> Iterator[PagePart]:
        now = kits.load(name).latency_s
        yield PagePart(f"Set now: {now * 1000:.1f} ms." if now else "Not set yet.")
        progress("reading the newest session …")
        try:
            lines = [*kit_words.latency_lines(measure())]
        except BadInput as fault:
            lines = str(fault).splitlines()
        yield from map(PagePart, lines)

    def keep(_under: str) -> str:
        return _keep(kits.load(name), measure().found.median_s)

    def by_hand(_under: str, ms: str) -> str:
        return _keep(kits.load(name), kit_setup.latency_of_text(ms))

    def question(_under: str) -> TextQuestion:
        return TextQuestion(
            f"How late is {name}, in ms?", "", refused_by(kit_setup.latency_of_text)
        )

    return Page(
        f"How late {name} is",
        LATENCY_GUIDE,
        f"trainer kit latency {name}",
        make,
        (
            PageAct("s", "Set by hand", "Set the latency by hand, in ms", by_hand, (question,)),
            PageAct("k", "Keep", "Keep what was measured", keep),
        ),
    )


def _keep(kit: Kit, latency_s: float) -> str:
    path = kit_setup.keep_latency(kit, latency_s)
    return kit_words.kept_latency_words(kit, latency_s, path)


def ports_page(port: str) -> Page:
    """Return the page of the ports."""
    return Page(
        "What is connected",
        PORTS_GUIDE,
        "trainer ports",
        _ports,
        (
            PageAct("enter", "Look again", "Look again what is connected", lambda _: None),
            PageAct(
                "t", "Timing", "How far times can be trusted here", lambda _: timing_page(port)
            ),
        ),
    )


def _ports(_progress: ReportProgress) -> Iterator[PagePart]:
    from trainer.midi import ports

    return paragraphs(port_lines(ports.system()))


def timing_page(_port: str) -> Page:
    """Return the page that measures timing."""
    return Page(
        "How far times can be trusted here",
        TIMING_GUIDE,
        "trainer timing",
        _timing,
        (PageAct("enter", "Measure again", "Measure once more", lambda _: None),),
    )


def _timing(progress: ReportProgress) -> Iterator[PagePart]:
    """Measure beside the screen and give the figures in words."""
    command = [sys.executable, "-P", "-m", "trainer", "timing"]
    measuring = subprocess.Popen(
        [*command, "--json", "--seconds", str(TIMING_S)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    began = time.monotonic()
    try:
        while measuring.poll() is None:
            progress(f"measuring: {time.monotonic() - began:.0f} of {TIMING_S} s")
            time.sleep(LOOK_S)
        output, complaint = measuring.communicate()
    finally:
        measuring.kill()
        measuring.wait()
    if measuring.returncode:
        raise Failure(complaint.strip().rstrip(".") or "measuring ended early")
    yield from map(PagePart, timing_lines(json.loads(output)))
