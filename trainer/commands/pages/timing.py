"""How far times can be trusted on this machine, measured from the screen.

The trial runs as a program of its own, as the practice loop does, so that drawing a screen is not
what is measured.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from typing import TYPE_CHECKING

from trainer.commands.timing import words
from trainer.errors import Failure
from trainer.show.page import Page, PageAct, PagePart

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.show.page import ReportProgress

SECONDS = 15
LOOK_S = 0.25
GUIDE = (
    "How late this machine wakes the program, how late a click is sent and how far the stamps of "
    "strokes are off, through a loop inside the MIDI system. Leave the machine as when you play. "
    "A cable from an output back into an input is measured with “trainer timing --out NAME --port "
    "NAME”, and the terminal's own delay with “trainer timing”."
)


def page(_port: str) -> Page:
    """Return the page of the trial."""
    return Page(
        "How far times can be trusted here",
        GUIDE,
        "trainer timing",
        _tell,
        (PageAct("enter", "Measure again", "Run the trial once more", lambda _: None),),
    )


def _tell(progress: ReportProgress) -> Iterator[PagePart]:
    """Run the trial and give its words."""
    command = [sys.executable, "-m", "trainer", "timing", "--json", "--seconds", str(SECONDS)]
    trial = subprocess.Popen(
        command,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    began = time.monotonic()
    try:
        while trial.poll() is None:
            progress(f"measuring: {time.monotonic() - began:.0f} of {SECONDS} seconds")
            time.sleep(LOOK_S)
        said, complaint = trial.communicate()
    finally:
        trial.kill()
        trial.wait()
    if trial.returncode:
        raise Failure(complaint.strip().rstrip(".") or "the trial ended early")
    yield from (PagePart(line) for line in words(json.loads(said)))
