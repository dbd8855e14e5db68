"""How exact the audio click is where JACK hears it, with a busy screen beside it.

A JACK server with periods of 256 frames and a dummy driver; `jack_rec` records what the audio
process plays. Clicks are 1,920 frames (40 ms) apart. An interval that is not 1,920 frames is not
exact; gaps that the driver reported are printed beside it.

Run: python -m pytest -s tests/bench/bench_audio_click.py   (BENCH_SECONDS=60 for a longer run)
"""

import os
import shutil
import subprocess
import time
import wave
from array import array
from itertools import pairwise

import pytest

from trainer.midi.audio_click import AudioClick

pytestmark = [pytest.mark.jack, pytest.mark.bench]

RATE, STEP = 48000, 1920
SECONDS = int(os.environ.get("BENCH_SECONDS", "10"))


@pytest.fixture
def slow_jack(monkeypatch):
    """A JACK server of periods of 256 frames."""
    if not (shutil.which("jackd") and shutil.which("jack_rec")):
        pytest.skip("jackd and jack_rec are not installed")
    pytest.importorskip("sounddevice")
    name = f"trainer-audio-{os.getpid()}"
    monkeypatch.setenv("JACK_DEFAULT_SERVER", name)
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    command = ["jackd", "-n", name, "-r", "-d", "dummy", "-r", str(RATE), "-p", "256"]
    server = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    time.sleep(1.5)
    yield name
    server.terminate()
    server.wait(10)


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


def test_audio_click_is_exact_to_the_sample(slow_jack, terminal, tmp_path):
    """Nearly all intervals are exact to the sample; the bound leaves room for the driver's gaps."""
    terminal("busy_screen.py", SECONDS + 5)
    click = AudioClick("tick")
    click.open(time.perf_counter())
    started = time.perf_counter() - click._zero
    path = tmp_path / "clicks.wav"
    record = ["jack_rec", "-f", str(path), "-d", str(SECONDS + 1), "-b", "16", output_port()]
    recorder = subprocess.Popen(record, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    for count in range(SECONDS * RATE // STEP):
        due = started + 1.0 + count * STEP / RATE
        time.sleep(max(0.0, due - click.lead_s - (time.perf_counter() - click._zero)))
        click.send("beat", due)
    recorder.wait(SECONDS + 10)
    click.close()
    intervals = [b - a for a, b in pairwise(onsets(path))]
    off = [gap - STEP for gap in intervals if gap != STEP]
    figures = click.quality()
    print(f"\n{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    print(f"intervals {len(intervals)}, exact {len(intervals) - len(off)}, off by frames: {off}")
    print(figures)
    assert len(intervals) > 200
    assert len(off) <= 0.01 * len(intervals) + 2 * figures["gaps"]
