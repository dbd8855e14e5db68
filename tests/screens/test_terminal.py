"""When the terminal goes away the program ends and the session is saved."""

from __future__ import annotations

import os
import pty
import select
import signal
import subprocess
import sys
import termios
import time
from pathlib import Path

import pytest
from patience import LIMIT_S, until
from terminals import Terminal, finished

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such terminals")
@pytest.mark.parametrize("ignored", [False, True])
def test_a_closed_terminal_ends_the_demo_and_keeps_the_session(
    tmp_path: Path, ignored: bool
) -> None:
    """With SIGHUP ignored too, the program is gone soon after and the session file is whole."""
    ours, theirs = pty.openpty()
    termios.tcsetwinsize(theirs, (24, 80))
    process = subprocess.Popen(
        [sys.executable, "-m", "trainer", "demo", "--recordings", str(tmp_path)],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        cwd=ROOT,
        env={**os.environ, "TERM": "xterm-256color"},
        start_new_session=True,
        preexec_fn=(lambda: signal.signal(signal.SIGHUP, signal.SIG_IGN)) if ignored else None,
    )
    os.close(theirs)
    seen = b""
    ready = False
    while not ready and select.select([ours], [], [], LIMIT_S)[0]:
        seen += os.read(ours, 65536)
        ready = b"Restart" in seen and _struck(tmp_path)
    assert ready
    os.close(ours)
    try:
        process.wait(LIMIT_S)
    finally:
        process.kill()
    assert until(lambda: _whole(tmp_path), "the end of the session")


def _struck(folder: Path) -> bool:
    """Return whether a stroke is in a session's file: one without any is not kept."""
    return any(b"\n[" in path.read_bytes() for path in folder.glob("*.jsonl"))


def _whole(folder: Path) -> bool:
    """Return whether the one session in a folder has its last line."""
    texts = [path.read_text() for path in folder.glob("*.jsonl")]
    return len(texts) == 1 and '"summary"' in "".join(texts[0].splitlines()[-1:])


def test_a_line_too_slow_for_the_screen_loses_no_stroke(tmp_path: Path) -> None:
    """With four thousand bytes a second taken, all that was played is on disk as it was played."""
    play = ("demo", "--passes", "1", "--tempo", "240", "--recordings")
    program = [sys.executable, "-m", "trainer", *play, str(tmp_path / "fast"), "--fast"]
    subprocess.run(program, cwd=ROOT, stdout=subprocess.DEVNULL, check=True)
    terminal = Terminal(*play, str(tmp_path / "slow"), size=(60, 200), COLORTERM="truecolor")
    try:
        taken = _take_slowly(terminal, tmp_path / "slow")
    finally:
        terminal.end()
    played, meant = finished(tmp_path / "slow"), finished(tmp_path / "fast")

    assert played.strikes == meant.strikes
    assert taken > 20_000


def _take_slowly(terminal: Terminal, folder: Path) -> int:
    """Read what a program draws, 400 bytes ten times a second, until its session is whole."""
    taken: list[int] = []

    def take() -> None:
        if select.select([terminal.fd], [], [], 0.1)[0]:
            taken.append(len(os.read(terminal.fd, 400)))
        time.sleep(0.1)

    until(lambda: _whole(folder), "the end of the session", take)
    return sum(taken)
