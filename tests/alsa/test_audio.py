"""The click through a sound card: recorded at the other end of ALSA's loop and counted."""

from __future__ import annotations

import subprocess
import time
from array import array
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from trainer.midi.click import AudioClick

if TYPE_CHECKING:
    from collections.abc import Iterator

pytestmark = pytest.mark.alsa

RATE, APART_S, CLICKS = 44100, 0.25, 12


@pytest.fixture
def loop() -> Iterator[None]:
    """Leave the test out where there is no loop, or no library for sound."""
    if not Path("/proc/asound/Loopback").exists():
        pytest.skip("there is no sound card that loops back (modprobe snd-aloop)")
    pytest.importorskip("sounddevice", reason="the extra audio is missing", exc_type=Exception)
    return


def onsets(samples: array[float]) -> list[int]:
    """Return the samples at which a click begins: the first loud one after 50 ms of silence."""
    found, last = [], -RATE
    for at, value in enumerate(samples):
        if abs(value) > 0.02:
            if at - last > RATE // 20:
                found.append(at)
            last = at
    return found


@pytest.mark.usefixtures("loop")
def test_clicks_are_heard_where_they_are_due(tmp_path: Path) -> None:
    """All clicks are in the recording, and the distances between them are those asked for.

    A gap of the card, which the figures count, may move the clicks after it by a little.
    """
    heard = tmp_path / "heard.raw"
    format_ = ("-f", "FLOAT_LE", "-r", str(RATE), "-c", "2", "-t", "raw")
    recorder = subprocess.Popen(
        ["arecord", "-q", "-D", "plughw:Loopback,1,0", *format_, "-d", "8", str(heard)]
    )
    click = AudioClick("tick", device="Loopback: PCM (hw:0,0)")
    zero = time.perf_counter()
    click.open(zero)
    began = time.perf_counter() - zero + 0.5
    for count in range(CLICKS):
        click.send("beat", began + APART_S * count)
    time.sleep(0.5 + APART_S * CLICKS + 0.5)
    click.close()
    recorder.wait(20)
    samples: array[float] = array("f")
    samples.frombytes(heard.read_bytes())
    found = onsets(samples[::2])
    figures = click.quality()
    assert len(found) == CLICKS, figures
    off = [abs((b - a) / RATE - APART_S) for a, b in pairwise(found)]
    exact = sum(one <= 1 / RATE for one in off)
    assert exact >= len(off) - 2 * (figures["gaps"] + figures["placed_anew"])
    assert figures["late_clicks"] <= figures["gaps"]
