"""What is measured of a kit, on the screen: doubles, crosstalk and power; controllers; latency."""

from __future__ import annotations

import time
from argparse import Namespace
from contextlib import closing
from functools import partial
from typing import TYPE_CHECKING

from trainer.commands.kit import keep_latency, measured
from trainer.commands.kit_controllers import learned
from trainer.commands.kit_hearing import surveyed
from trainer.errors import BadInput
from trainer.kit import kits
from trainer.midi.kit_input import MidiSource
from trainer.show.page import Page, PageAct, PagePart, TextQuestion

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from trainer.kit.model import Kit
    from trainer.show.page import ReportProgress

SURVEY_S = 60.0

SURVEY_GUIDE = (
    "Play what is asked for: what your kit sends twice, which pad shakes another, and how hard "
    "soft and hard strokes are come from it, and are kept in the kit. Nothing is ever dropped; "
    "such hits are marked when they are read. What the first minute shows is kept once it is over, "
    "power at the very end."
)
CONTROLLER_GUIDE = (
    "Does what is asked for move a controller, it is kept in the kit; what does not is left out. "
    "Leaving before the end changes nothing."
)
LATENCY_GUIDE = (
    "How late hits come after the click, from a session. That is the kit's lateness and your own "
    "habit together: strokes alone cannot tell them apart. Old sessions can be read again with "
    "another figure."
)


def pages(name: str) -> dict[str, Page]:
    """Return the pages of a kit by the action of `trainer kit`."""
    anew = (PageAct("enter", "Once more", "Measure once more", lambda _: None),)
    survey = partial(surveyed, seconds=SURVEY_S)
    return {
        "survey": Page(
            f"Measuring {name}: doubles, crosstalk and power",
            SURVEY_GUIDE,
            f"trainer kit survey {name}",
            partial(_heard, name, lambda kit, source, told: survey(kit, source, told=told)),
            anew,
        ),
        "controllers": Page(
            f"The controllers of {name}",
            CONTROLLER_GUIDE,
            f"trainer kit controllers {name}",
            partial(_heard, name, learned),
            anew,
        ),
        "latency": latency(name),
    }


def _heard(
    name: str,
    listen: Callable[[Kit, MidiSource, ReportProgress], Iterator[str]],
    progress: ReportProgress,
) -> Iterator[PagePart]:
    """Listen to a kit and give what is said as parts."""
    kit = kits.load(name)
    with closing(MidiSource(_own_port(kit))) as source:
        source.open(time.perf_counter())
        yield PagePart(f"Listening to {source.name}.")
        for line in listen(kit, source, progress):
            yield PagePart(line)


def _own_port(kit: Kit) -> str:
    """Return the input that is this kit's own; empty, for the only one, where none is."""
    from trainer.midi import ports

    known = [port.label for port in ports.inputs()]
    return next((one for one in known if kits.kit_for_port(one).name == kit.name), "")


def latency(name: str) -> Page:
    """Return the page of a kit's latency."""
    newest = Namespace(recordings=None, session=None, keep=True)

    def tell(progress: ReportProgress) -> Iterator[PagePart]:
        now = kits.load(name).latency_s
        yield PagePart(f"Set now: {now * 1000:.1f} ms." if now else "Not set yet.")
        progress("reading the newest session …")
        try:
            told = measured(kits.load(name), newest)[1]
        except BadInput as fault:
            told = str(fault).splitlines()
        yield from map(PagePart, told)

    def keep(_under: str) -> str:
        kit = kits.load(name)
        return keep_latency(kit, measured(kit, newest)[0].median_s)

    def by_hand(_under: str, ms: str) -> str:
        return keep_latency(kits.load(name), _latency_s(ms))

    def question(_under: str) -> TextQuestion:
        return TextQuestion(f"How late is {name}, in ms?", "", _refused)

    return Page(
        f"How late {name} is",
        LATENCY_GUIDE,
        f"trainer kit latency {name}",
        tell,
        (
            PageAct("s", "Set by hand", "Set the latency by hand, in ms", by_hand, (question,)),
            PageAct("k", "Keep", "Keep what was measured", keep),
        ),
    )


def _latency_s(ms: str) -> float:
    """Return a latency in seconds; raises BadInput for one that cannot be."""
    try:
        return kits.with_latency(kits.load("general-midi"), float(ms), "the latency").latency_s
    except ValueError:
        raise BadInput("this is no number", mend="type for instance 6.5") from None


def _refused(ms: str) -> str:
    try:
        _latency_s(ms)
    except BadInput as fault:
        return str(fault)
    return ""
