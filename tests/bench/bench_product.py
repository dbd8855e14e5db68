"""The whole program in a terminal, beside a bare receiver: stamps, unisons, losses and the click.

Another process plays 20 strokes a second over JACK, one in five a unison; `trainer play` shows its
screen in a terminal of 120x40 and clicks through a MIDI output. The figures come from the session
file it saves. A second run with `--plain` is the engine without a screen. Times in ms.

Run: python -m pytest -s tests/bench/bench_product.py   (BENCH_STROKES=1200 for a longer run)
"""

import os
import signal
import time

import pytest
import rtmidi
from bench.strokes import Receiver, by_index, figures, written

from trainer.archive.store import open_session

pytestmark = [pytest.mark.jack, pytest.mark.bench]


def play(terminal, sender, folder, *options):
    """Let the program listen to the strokes; return its session, the bare rows and the times."""
    kit = sender("Bench " + folder.name)
    rows, firsts = written()
    seconds = rows[-1][0] + 3.0
    folder.mkdir()
    bare = Receiver(terminal, "bare", kit.port, seconds + 6, folder)
    asked = ("play", "climb", "--port", kit.port, "--out", "Ear", "--tempo", "160")
    program = terminal("-m", "trainer", *asked, "--recordings", folder, *options)
    while not list(folder.glob("*.jsonl")):
        assert program.poll() is None, "the program ended early"
        time.sleep(0.05)
    time.sleep(1.0)
    kit.start(rows)
    sent = kit.sent()
    time.sleep(0.5)
    program.send_signal(signal.SIGINT if options else signal.SIGTERM)
    program.wait(30)
    return finished(next(folder.glob("*.jsonl"))), bare.result()["rows"], sent, firsts


def finished(path):
    """The session, once the engine, which outlives the screen, has saved it."""
    end = time.monotonic() + 20
    while (session := open_session(path)).summary is None:
        assert time.monotonic() < end, "the session was not finished"
        time.sleep(0.1)
    return session


def test_the_program_beside_a_bare_receiver(sender, terminal, tmp_path):
    """Stamps under the screen are as near as a bare receiver's, or 0.3 ms more."""
    ear = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name="Ear")
    ear.open_virtual_port("in")
    print(f"\n{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    print(f"{'':26}{'median':>9}{'p99':>9}{'worst':>9}{'unison p99':>12}{'lost':>6}")
    found = {}
    for kind, options in (("with the screen", ()), ("lines of text", ("--plain",))):
        folder = tmp_path / kind.split()[-1]
        session, bare, sent, firsts = play(terminal, sender, folder, *options)
        strikes = [[s.note, s.velocity, s.time_s] for s in (*session.strikes, *session.idle)]
        found[kind] = figures(by_index(strikes), sent, firsts)
        found["bare receiver, " + kind] = figures(by_index(bare), sent, firsts)
        late = session.header.timing["click"]["sent_late"]
        for name in ("bare receiver, " + kind, kind):
            median, p99, worst, gap, lost = found[name]
            print(f"{name:26.26}{median:9.3f}{p99:9.3f}{worst:9.3f}{gap:12.3f}{lost:6}")
        print(
            f"  click sent late, {late['count']} clicks: median {late['median_ms']:.3f}, ", end=""
        )
        print(f"p99 {late['p99_ms']:.3f}, worst {late['worst_ms']:.3f}")
    ear.delete()
    ours, bare = found["with the screen"][1], found["bare receiver, with the screen"][1]
    assert ours <= max(1.3 * bare, bare + 0.3)
