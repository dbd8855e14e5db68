"""All figures of time in one run, each beside the plain way to do the same, as one table.

The plain way is what one would write first: a callback that stamps, a thread that clicks and a
callback that plays sound, all in the process that draws a grid 60 times a second; for the screen
the same grid drawn whole through Static.update. Everything goes over a JACK server with a dummy
driver. `reach` is what the program wants to keep; whether it did is a word in the last column. Only
ratios between two figures of the same run are asserted.

Each test adds its own rows, so that one that fails costs no other's.

Run: python -m pytest -s tests/bench/bench_timing_table.py         (two minutes)
     BENCH_MINUTES=10 python -m pytest -s tests/bench/bench_timing_table.py   (clicks for so long)
     BENCH_MINUTES=10 python -m pytest -s tests/bench/bench_timing_table.py -k clicks
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
    lines = Path("/proc/cpuinfo").read_text().splitlines()
    names = (line.partition(":")[2].strip() for line in lines if line.startswith("model name"))
    model = next(names, platform.processor())
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


@dataclass
class Played:
    """What one run of the whole program gave, beside a bare receiver and a bare loop.

    `ours` and `bare` are figures of stamps, `late` and `floor` how late clicks and the loop's
    moments were, in ms and sorted.
    """

    ours: list
    bare: list
    late: list
    floor: list
    share: float


def program(terminal, sender, folder, count, *options):
    """Let the whole program hear rounds beside a bare receiver and a bare loop."""
    folder.mkdir()
    kit = sender("Table " + folder.name)
    seconds = count * ROUND_S + 8
    bare = Receiver(terminal, "bare", kit.port, seconds, folder)
    loop = terminal("plain_way.py", "loop", seconds, folder / "loop.json")
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
    late = sorted(one.late_s * 1e3 for one in session.clicks)
    kit.close()
    loop.wait(60)
    floor = in_ms(folder / "loop.json")
    return Played(off(heard, sent), off(bare.result()["rows"], sent), late, floor, share)


def in_ms(file):
    """The times of a file in ms, sorted."""
    return sorted(one * 1e3 for one in json.loads(file.read_text()))


@pytest.fixture
def played(ear, sender, terminal, tmp_path, ran):
    """The program under its own screen for as long as was asked; played once for all tests."""
    if "screen" not in ran:
        ran["screen"] = program(terminal, sender, tmp_path / "screen", ROUNDS)
    return ran["screen"]


@pytest.fixture(scope="module")
def ran():
    """What was played already."""
    return {}


@pytest.fixture
def ear(jack):
    """Something to click at, emptied now and then."""
    client = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name="Ear", queue_size_limit=65536)
    client.open_virtual_port("in")
    yield client
    client.delete()


def test_stamps_unisons_and_losses(table, played, sender, terminal, tmp_path):
    """Under the program's own screen stamps stay as near as a bare receiver's, or 0.3 ms more."""
    found, sent = one_round(terminal, sender, "screen", tmp_path)
    table += stamp_rows(played.ours, played.bare, off(found["rows"], sent))
    assert played.ours[1] <= near_enough(played.bare)


def test_a_driver_that_repeats_differences(table, sender, terminal, tmp_path):
    """Unisons stay together where the driver repeats its differences as macOS does."""
    found, sent = one_round(terminal, sender, "source", tmp_path)
    clean, gap = (off(one, sent)[3] for one in (found["rows"], with_fault(found["raw"])))
    name, without = "unison gap, macOS fault, p99, ms", f"no fault {clean:.3f}"
    table.append(Row(name, "< 0.2", without, f"{gap:.3f}", gap < 0.2))
    assert gap <= max(1.3 * clean, clean + 0.05)


def one_round(terminal, sender, kind, folder):
    """Let one receiver hear one round; return what it wrote down, and when it was sent."""
    kit = sender("Table plain")
    receiver = Receiver(terminal, kind, kit.port, STROKES * STEP_S + 3.0, folder)
    kit.start(written()[0])
    sent = [kit.sent()]
    found = receiver.result()
    kit.close()
    return found, sent


def test_clicks(table, played, sender, terminal, tmp_path):
    """Clicks are hardly later than a loop beside them that does nothing else."""
    least = min(ROUNDS, MOST_ALONE)
    alone = program(terminal, sender, tmp_path / "text", least, "--plain")
    file = tmp_path / "clicks.json"
    terminal("plain_way.py", "click", SECONDS, file).wait(60)
    table += click_rows(played, alone.late, in_ms(file))
    print(f"\n{spread('clicks', played.late)}\n{spread('bare loop', played.floor)}")
    assert part(played.late, 0.5) <= part(played.floor, 0.5) + 0.5


def spread(name, values):
    """How late they were, in ms."""
    shares = (0.5, 0.9, 0.99, 0.999)
    shown = ", ".join(f"{share:.1%} {part(values, share):.3f}" for share in shares)
    latest = ", ".join(f"{one:.2f}" for one in values[-5:])
    over = sum(one > 3 for one in values)
    return f"{name}: {len(values)}, {shown}; latest {latest}; {over} over 3"


def test_the_engine(table, played):
    """The engine's share of a core, beside a loop that only wakes each millisecond."""
    loop, _ = _share_of_a_core(lambda: _bare_loop(3.0))
    share = played.share
    name = "engine's share of a core, 20 strokes/s"
    table.append(Row(name, "< 10 %", f"bare loop {loop:.1%}", f"{share:.1%}", share < 0.1))
    assert share < 10 * loop + 0.1


def near_enough(bare):
    """The 99th percentile that stamps may have beside a bare receiver's figures."""
    return max(1.3 * bare[1], bare[1] + 0.3)


def stamp_rows(ours, bare, plain):
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
    ]


def click_rows(played, alone, plain):
    """How late clicks went under the screen and without one, a bare loop's and the plain way's."""
    p99, alone_p99, plain_p99 = (part(one, 0.99) for one in (played.late, alone, plain))
    reported = f"{p99:.2f} (no screen {alone_p99:.2f})"
    reached = p99 <= min(1.5, 2 * alone_p99)
    name, reach = "click sent late, p99, ms", "<= 2 x no screen, < 1.5"
    worst = played.late[-1]
    floor = f"{worst:.2f} (bare loop {played.floor[-1]:.2f})"
    count = len(played.late)
    return [
        Row(name, reach, f"{plain_p99:.2f}", reported, reached),
        Row(f"  worst of {count} clicks, ms", "< 3", f"{plain[-1]:.2f}", floor, worst < 3),
    ]


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
