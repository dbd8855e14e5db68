"""How exact the audio click is where JACK hears it, with a busy screen beside it.

A JACK server with periods of 256 frames and a dummy driver; `jack_rec` records what the audio
process plays. Clicks are 1,920 frames (40 ms) apart. An interval that is not 1,920 frames is not
exact; gaps that the driver reported are printed beside it.

Run: python -m pytest -s tests/bench/bench_audio_click.py   (BENCH_SECONDS=60 for a longer run)
"""

import os
import subprocess
import time
import wave
from array import array
from itertools import pairwise

import pytest

from trainer.midi.click import AudioClick
from trainer.practice.click_figure import PLAYING, Beat, read_figure

pytestmark = [pytest.mark.jack, pytest.mark.bench]

RATE, STEP = 48000, 1920
SECONDS = int(os.environ.get("BENCH_SECONDS", "10"))


def output_port():
    """The audio process's first output port."""
    names = subprocess.run(["jack_lsp"], capture_output=True, text=True, check=True).stdout.split()
    return next(name for name in names if "system:" not in name)


def onsets(path):
    """First sample of each click: one that is not silent after 10 ms of silence."""
    with wave.open(str(path)) as file:
        assert file.getsampwidth() == 2
        heard = array("h", file.readframes(file.getnframes()))
    loud = [i for i, sample in enumerate(heard) if sample]
    return [b for a, b in pairwise([-RATE, *loud]) if b - a > RATE // 100]


def recorded(path, seconds):
    """The lengths in frames from click to click that JACK hears for some seconds, once it is over.

    Returns at once; the call of what it returns waits.
    """
    record = ["jack_rec", "-f", str(path), "-d", str(seconds), "-b", "16", output_port()]
    recorder = subprocess.Popen(record, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    def intervals():
        recorder.wait(seconds + 10)
        return [b - a for a, b in pairwise(onsets(path))]

    return intervals


def ours(terminal, folder, seconds):
    """Click for some seconds beside a busy screen; return the intervals and the figures."""
    terminal("busy_screen.py", seconds + 5)
    click = AudioClick("tick")
    click.open(time.perf_counter())
    started = time.perf_counter() - click._zero
    intervals = recorded(folder / "clicks.wav", seconds + 1)
    for count in range(seconds * RATE // STEP):
        due = started + 1.0 + count * STEP / RATE
        time.sleep(max(0.0, due - click.lead_s - (time.perf_counter() - click._zero)))
        click.send("beat", due)
    found = intervals()
    click.close()
    return found, click.quality()


def test_audio_click_is_exact_to_the_sample(slow_jack, terminal, tmp_path):
    """Nearly all intervals are exact to the sample; the bound leaves room for the driver's gaps."""
    intervals, figures = ours(terminal, tmp_path, SECONDS)
    off = [gap - STEP for gap in intervals if gap != STEP]
    print(f"\n{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    print(f"intervals {len(intervals)}, exact {len(intervals) - len(off)}, off by frames: {off}")
    print(figures)
    assert len(intervals) > 200
    assert len(off) <= 0.01 * len(intervals) + 2 * figures["gaps"]


def test_a_figure_is_heard(slow_jack, tmp_path):
    """Swung eighths on the beats that click, as JACK hears them: to the frame but for gaps."""
    figure = read_figure({"click_parts": "2", "click_swing": "60", "click_on": "2,4"})
    click = AudioClick("tick")
    click.open(time.perf_counter())
    started = time.perf_counter() - click._zero + 1.0
    intervals = recorded(tmp_path / "clicks.wav", 5)
    beats = [Beat(started + k * 0.25, PLAYING, 0, k % 4, 4, 0.25) for k in range(16)]
    sent = [one for beat in beats for one in figure.clicks(beat, 0, silent=False)]
    for one in sent:
        click.send(one.kind, one.time_s)
    found = intervals()
    click.close()
    wanted = [round((b.time_s - a.time_s) * RATE) for a, b in pairwise(sent)]
    off = [got - due for got, due in zip(found, wanted, strict=True)]
    print(f"\nwanted {wanted}\nframes off: {off}, gaps {click.quality()['gaps']}")
    assert wanted[:2] == [round(0.6 * 0.25 * RATE), round(1.4 * 0.25 * RATE)]
    assert sum(abs(one) > 1 for one in off) <= 2 * click.quality()["gaps"]
