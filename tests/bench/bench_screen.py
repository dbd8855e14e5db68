"""The live screen in terminals of two sizes: processor time and the way from a hit to the terminal.

Run with `python -m pytest tests/bench/bench_screen.py -s`.
"""

import os
import platform
import pty
import random
import re
import select
import subprocess
import sys
import termios
import threading
import time
from multiprocessing import Pipe
from pathlib import Path

import pytest
from stage import beat, hit, pattern

from trainer.practice.events import Tally

HERE = Path(__file__).parent
WRITTEN = pattern(("snare", "tom1", "tom2", "floor"))
STROKES_A_SECOND = 20
SECONDS = 8
SIZES = [(120, 40), (200, 60)]


class Terminal:
    """A program in a terminal of its own, and when which bytes came out of it."""

    def __init__(self, way: str, size: tuple[int, int]) -> None:
        ours, theirs = pty.openpty()
        termios.tcsetwinsize(theirs, size[::-1])
        self.here, there = Pipe()
        env = {**os.environ, "TERM": "xterm-256color", "COLORTERM": "truecolor"}
        env["PYTHONPATH"] = os.pathsep.join([str(HERE.parent), str(HERE.parent.parent)])
        self.process = subprocess.Popen(
            [sys.executable, str(HERE / "play_screen.py"), str(there.fileno()), way],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            env=env,
            pass_fds=[there.fileno()],
        )
        os.close(theirs)
        there.close()
        self.seen: list[tuple[float, bytes]] = []
        self._ours = ours
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        while select.select([self._ours], [], []):
            try:
                data = os.read(self._ours, 65536)
            except OSError:
                return
            self.seen.append((time.perf_counter(), data))

    def play(self, seconds: float, strokes: int) -> dict[int, float]:
        """Play so many strokes a second over a beat; return when each unlikely offset was sent."""
        chance = random.Random(1)
        sent = {}
        start = time.perf_counter()
        for index in range(int(seconds * max(strokes, 2))):
            due = start + index / max(strokes, 2) + chance.uniform(0, 0.02)
            time.sleep(max(0.0, due - time.perf_counter()))
            if index % max(strokes // 2, 1) == 0:
                self.here.send([beat(index // max(strokes // 2, 1) % 4, tempo=120.0)])
            if strokes:
                sent[1000 + index] = time.perf_counter()
                written = chance.randrange(len(WRITTEN.notes))
                struck = hit(index, WRITTEN, written, float(1000 + index))
                tally = Tally(index, 0, 0, 0, 0, 0, chance.gauss(0, 0.01), 0.012)
                self.here.send([struck, tally])
        return sent


def ready(way: str, size: tuple[int, int]) -> Terminal:
    """Return a terminal that shows the screen and has come to rest."""
    terminal = Terminal(way, size)
    while not any(b"Restart" in data for _, data in terminal.seen):
        assert terminal.process.poll() is None, terminal.seen
        time.sleep(0.05)
    time.sleep(1.5)
    return terminal


@pytest.mark.bench
@pytest.mark.parametrize("size", SIZES)
def test_processor_time_of_the_live_screen(size: tuple[int, int]) -> None:
    """The live screen takes at most a quarter of what whole updates of the same grid take."""
    ways = (("idle", 0), ("lean", STROKES_A_SECOND), ("plain", STROKES_A_SECOND))
    used = {}
    print(f"\n{machine()}; {size[0]}x{size[1]}, {STROKES_A_SECOND} strokes/s over {SECONDS} s")
    print("  way     share of a core   kB/s written")
    for way, strokes in ways:
        terminal = ready("plain" if way == "plain" else "lean", size)
        terminal.seen.clear()
        before = _cpu(terminal.process.pid)
        terminal.play(SECONDS, strokes)
        used[way] = (_cpu(terminal.process.pid) - before) / SECONDS
        written = sum(len(data) for _, data in terminal.seen) / SECONDS / 1000
        terminal.process.terminate()
        terminal.process.wait(10)
        print(f"  {way:<6} {used[way]:>16.1%} {written:>14.1f}")
    print(f"  lean / plain {used['lean'] / used['plain']:.2f} (wanted: 0.25)")
    assert used["lean"] <= used["plain"] / 4


def machine() -> str:
    """Return what the figures were measured on; a loaded machine starves the plain way first."""
    kind = f"{platform.system()} {platform.machine()}, Python {platform.python_version()}"
    return f"{kind}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}"


def _cpu(pid: int) -> float:
    """Return the CPU seconds a process has used."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


@pytest.mark.bench
@pytest.mark.parametrize("size", SIZES)
def test_the_way_from_a_hit_to_the_terminal(size: tuple[int, int]) -> None:
    """Nearly every stroke is written by itself; times are printed beside those without a screen."""
    print(f"\n{machine()}; {size[0]}x{size[1]}, ms from event to terminal")
    print("  way    strokes    p50    p95    p99   (wanted: 5 at p50, 16 at p99)")
    for way in ("bare", "lean"):
        terminal = ready(way, size)
        sent = terminal.play(SECONDS, STROKES_A_SECOND)
        time.sleep(0.5)
        terminal.process.terminate()
        terminal.process.wait(10)
        waits = _waits(terminal, sent)
        marks = (waits[int(share * (len(waits) - 1))] for share in (0.5, 0.95, 0.99))
        reported = " ".join(f"{ms:>6.1f}" for ms in marks)
        print(f"  {way:<5} {len(waits):>4}/{len(sent)} {reported}")
        assert len(waits) > 0.9 * len(sent)


def _waits(terminal: Terminal, sent: dict[int, float]) -> list[float]:
    """Return the milliseconds from each event to its bytes, sorted."""
    came: dict[int, float] = {}
    for moment, data in terminal.seen:
        for found in re.findall(rb" (\d{4}) ms", data):
            came.setdefault(int(found), moment)
    return sorted((came[one] - sent[one]) * 1000 for one in sent if one in came)
