"""All figures of time in one run, each beside the plain way to do the same, as one table.

The plain way is what one would write first: a callback that stamps, a thread that clicks and a
callback that plays sound, all in the process that draws a grid 60 times a second; for the screen
the same grid drawn whole through Static.update. Everything goes over a JACK server with a dummy
driver. `reach` is what the program wants to keep; whether it did is a word in the last column. Only
ratios between two figures of the same run are asserted.

Run: python -m pytest -s tests/bench/bench_timing_table.py         (two minutes)
     BENCH_MINUTES=10 python -m pytest -s tests/bench/bench_timing_table.py   (clicks for so long)
"""

import json
import os
import platform
import signal
import time
from dataclasses import dataclass
from pathlib import Path

import bench.bench_audio_click as sound
import bench.bench_screen as drawing
import pytest
import rtmidi
from bench.bench_engine import _bare_loop, _share_of_a_core
from bench.bench_stamps import with_fault
from bench.strokes import WARM, Receiver, by_index, figures, part
from conftest import JACK_OPTIONS
from terminals import engine_of, finished

pytestmark = [pytest.mark.jack, pytest.mark.bench]

MINUTES = float(os.environ.get("BENCH_MINUTES", "0.3"))
STROKES, STEP_S = 200, 0.05
"""Strokes of one round; a longer run is more rounds."""

ROUND_S = STROKES * STEP_S + 1.0
ROUNDS = max(1, round(MINUTES * 60 / ROUND_S))
MOST_ALONE = 6
"""Rounds without a screen, which need not last as long: a minute gives the 99th percentile."""

SECONDS = 8


@dataclass
class Row:
    """One line of the table."""

    measure: str
    reach: str
    plain: str
    ours: str
    reached: bool


@pytest.fixture(scope="module")
def table():
    """The rows; printed when all pieces have run."""
    before = os.getloadavg()[0]
    rows = []
    yield rows
    print(f"\n\n{machine(before)}\n")
    print(f"{'measure':<42}{'reach':<26}{'plain way':>16}  {'ours':>23}")
    for row in rows:
        word = "reached" if row.reached else "MISSED"
        print(f"{row.measure:<42}{row.reach:<26}{row.plain:>16}  {row.ours:>23}  {word}")


def machine(load_before):
    """What the figures were measured on."""
    model = next(
        (
            line.partition(":")[2].strip()
            for line in Path("/proc/cpuinfo").read_text().splitlines()
            if line.startswith("model name")
        ),
        platform.processor(),
    )
    load = f"load {load_before:.1f} before and {os.getloadavg()[0]:.1f} after"
    versions = f"{platform.system()} {platform.release()}, Python {platform.python_version()}"
    versions += f", RtMidi {rtmidi.get_rtmidi_version()}"
    return (
        f"{model}, {os.cpu_count()} cores, {load}\n{versions}\n"
        f"jackd {' '.join(JACK_OPTIONS)} (for the sound: -p 256)"
    )


def written():
    """The rows of one round, each note told apart by number and velocity, and the unisons' firsts.

    One stroke in five is a unison of two notes back to back.
    """
    rows, firsts = [], []
    for stroke in range(STROKES):
        double = stroke % 5 == 0
        if double:
            firsts.append(len(rows))
        for _ in range(1 + double):
            count = len(rows)
            rows.append((0.5 + stroke * STEP_S, (0x99, 30 + count // 127, 1 + count % 127)))
    return rows, firsts


def rounds(kit, count):
    """Play rounds; return when each note of each round was sent."""
    rows, _ = written()
    sent = []
    for _ in range(count):
        kit.start(rows)
        sent.append(kit.sent())
        time.sleep(0.2)
    return sent


def off(received, sent):
    """Figures of all rounds: `received` rows are (note, velocity, second) on any one clock."""
    _, firsts = written()
    count = len(sent[0])
    numbered = [(*by_index([row]), row[2]) for row in received]
    shift = next(at - sent[0][index] for index, at in numbered)
    found = {}
    for index, at in numbered:
        place = next((k for k, one in enumerate(sent) if at - shift < one[-1] + 0.5), 0)
        found[place * count + index] = at - shift
    every = [at for one in sent for at in one]
    starts = [place * count + first for place in range(len(sent)) for first in firsts]
    return figures(found, every, starts)


def program(terminal, sender, folder, count, *options):
    """Let the whole program hear rounds beside a bare receiver; return both, and its cost."""
    folder.mkdir()
    kit = sender("Table " + folder.name)
    seconds = count * ROUND_S + 8
    bare = Receiver(terminal, "bare", kit.port, seconds, folder)
    asked = ("play", "climb-odd-numbers", "--port", kit.port, "--out", "Ear", "--tempo", "160")
    process = terminal("-m", "trainer", *asked, "--recordings", folder, *options)
    while not list(folder.glob("*.jsonl")):
        assert process.poll() is None, "the program ended early"
        time.sleep(0.05)
    time.sleep(1.0)
    engine = engine_of(process.pid)
    began, used = time.perf_counter(), drawing._cpu(engine)
    sent = rounds(kit, count)
    share = (drawing._cpu(engine) - used) / (time.perf_counter() - began)
    process.send_signal(signal.SIGINT if options else signal.SIGTERM)
    process.wait(60)
    session = finished(folder)  # strays take their time to be summed up
    strikes = sorted((*session.strikes, *session.idle), key=lambda one: one.time_s)
    heard = [[one.note, one.velocity, one.time_s] for one in strikes]
    late = session.header.timing["click"]["sent_late"]
    kit.close()
    return off(heard, sent), off(bare.result()["rows"], sent), late, share


@pytest.fixture
def ear(jack):
    """Something to click at, emptied now and then."""
    client = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name="Ear", queue_size_limit=65536)
    client.open_virtual_port("in")
    yield client
    client.delete()


def plain_stamps(terminal, sender, folder):
    """Let a callback in a process that draws hear one round, and our source as raw rows."""
    folder.mkdir()
    kit = sender("Table plain")
    rows, _ = written()
    seconds = STROKES * STEP_S + 3.0
    kinds = ("screen", "source")
    receivers = {one: Receiver(terminal, one, kit.port, seconds, folder) for one in kinds}
    kit.start(rows)
    sent = [kit.sent()]
    found = {kind: one.result() for kind, one in receivers.items()}
    kit.close()
    fault = with_fault(found["source"]["raw"])
    return off(found["screen"]["rows"], sent), off(fault, sent)


def plain_clicks(terminal, file):
    """Let a thread of a process that draws click; return how late each click was, sorted."""
    process = terminal("plain_way.py", "click", SECONDS, file)
    process.wait(60)
    return sorted(json.loads(file.read_text()))


def test_stamps_unisons_losses_clicks_and_the_engine(table, ear, sender, terminal, tmp_path):
    """Under the program's own screen stamps stay as near as a bare receiver's, or 0.3 ms more."""
    ours, bare, late, share = program(terminal, sender, tmp_path / "screen", ROUNDS)
    least = min(ROUNDS, MOST_ALONE)
    _, _, alone, _ = program(terminal, sender, tmp_path / "text", least, "--plain")
    plain, fault = plain_stamps(terminal, sender, tmp_path / "plain")
    clicks = [one * 1e3 for one in plain_clicks(terminal, tmp_path / "clicks.json")]
    _, loop = _idle_loop()

    table += [
        *stamp_rows(ours, bare, plain, fault),
        *click_rows(late, alone, clicks),
        Row(
            "engine's share of a core, 20 strokes/s",
            "< 10 %",
            f"bare loop {loop:.1%}",
            f"{share:.1%}",
            share < 0.1,
        ),
    ]
    assert ours[1] <= near_enough(bare)


def near_enough(bare):
    """The 99th percentile that stamps may have beside a bare receiver's figures."""
    return max(1.3 * bare[1], bare[1] + 0.3)


def stamp_rows(ours, bare, plain, fault):
    """What stamps, losses and unisons were like."""
    bound, count = near_enough(bare), len(written()[0]) * ROUNDS - WARM
    reported, lost = f"{ours[1]:.2f} (bare {bare[1]:.2f})", f"{ours[4]} of {count} (bare {bare[4]})"
    reach = f"<= {bound:.2f}, by bare"
    most = bare[4] + 0.001 * count
    return [
        Row("stamp error, p99, ms", reach, f"{plain[1]:.2f}", reported, ours[1] <= bound),
        Row(
            "notes lost", "bare + 0.1 %", f"{plain[4]} of {count // ROUNDS}", lost, ours[4] <= most
        ),
        Row(
            "unison gap error, p99, ms", "< 0.2", f"{plain[3]:.3f}", f"{ours[3]:.3f}", ours[3] < 0.2
        ),
        Row("  with the macOS fault injected", "< 0.2", "", f"{fault[3]:.3f}", fault[3] < 0.2),
    ]


def click_rows(late, alone, plain):
    """How late clicks went under the screen and without one, and the plain way's, sorted."""
    most = min(1.5, 2 * alone["p99_ms"])
    reported = f"{late['p99_ms']:.2f} (no screen {alone['p99_ms']:.2f})"
    count, worst = late["count"], late["worst_ms"]
    plain_p99 = f"{part(plain, 0.99):.2f}"
    return [
        Row(
            "click sent late, p99, ms",
            "<= 2 x no screen, < 1.5",
            plain_p99,
            reported,
            late["p99_ms"] <= most,
        ),
        Row(f"  worst of {count} clicks, ms", "< 3", f"{plain[-1]:.2f}", f"{worst:.2f}", worst < 3),
    ]


def _idle_loop():
    """A loop that only wakes each millisecond, for some seconds."""
    share, seconds = _share_of_a_core(lambda: _bare_loop(3.0))
    return seconds, share


def test_the_screen(table):
    """The screen costs at most a quarter of the same grid drawn whole."""
    used, waits = {}, {}
    for way in ("lean", "plain"):
        terminal = drawing.ready(way, (120, 40))
        before = drawing._cpu(terminal.process.pid)
        sent = terminal.play(SECONDS, drawing.STROKES_A_SECOND)
        used[way] = (drawing._cpu(terminal.process.pid) - before) / SECONDS
        time.sleep(0.5)
        terminal.process.terminate()
        terminal.process.wait(10)
        waits[way] = drawing._waits(terminal, sent)
    lean = f"{used['lean']:.1%} ({used['lean'] / used['plain']:.2f})"
    cheap = used["lean"] <= used["plain"] / 4
    small = f"{used['lean']:.1%}"
    table.append(
        Row("play screen, 20 strokes/s", "< 5 % of a core", "", small, used["lean"] < 0.05)
    )
    name = "play screen's share of a core"
    table.append(Row(name, "1/4 of plain", f"{used['plain']:.1%}", lean, cheap))
    for share, name, most in ((0.5, "median", 5), (0.99, "p99", 16)):
        plain, ours = (waits[way][int(share * (len(waits[way]) - 1))] for way in ("plain", "lean"))
        name = f"stroke to terminal, {name}, ms"
        table.append(Row(name, f"< {most}", f"{plain:.1f}", f"{ours:.1f}", ours < most))
    assert cheap


def test_the_sound(table, slow_jack, terminal, tmp_path):
    """Intervals of the audio click are exact to the sample, but for the driver's own gaps."""
    found, reported = sound.ours(terminal, tmp_path, SECONDS)
    plain = plain_sound(terminal, tmp_path)
    exact, plain_exact = (sum(one == sound.STEP for one in each) for each in (found, plain))
    name, reached = f"audio clicks {sound.STEP} frames apart, exact", exact >= 0.99 * len(found)
    plain_reported, ours = f"{plain_exact} of {len(plain)}", f"{exact} of {len(found)}"
    table.append(Row(name, ">= 99 %", plain_reported, ours, reached))
    assert len(found) - exact <= 0.01 * len(found) + 2 * reported["gaps"]


def plain_sound(terminal, folder):
    """The intervals of a callback in a process that draws."""
    file = folder / "plain.json"
    process = terminal("plain_way.py", "audio", SECONDS + 3, file)
    while not file.exists():
        assert process.poll() is None, "the plain way ended early"
        time.sleep(0.02)
    time.sleep(1.0)
    intervals = sound.recorded(folder / "plain.wav", SECONDS)()
    process.wait(60)
    return intervals
