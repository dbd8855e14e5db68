"""A screen is drawn only where all of it would be seen; elsewhere the same is said in lines."""

from __future__ import annotations

import os
import pty
import select
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from patience import LIMIT_S

ROOT = Path(__file__).resolve().parents[2]
PLAY = ("demo", "single-paradiddle", "--passes", "1", "--tempo", "300")

pytestmark = pytest.mark.skipif(os.name == "nt", reason="Windows has no such terminals")


def run(folder: Path, words: tuple[str, ...], **changes: object) -> tuple[str, int]:
    """Run the program in a terminal with some streams or variables changed; what it showed."""
    ours, theirs = pty.openpty()
    streams = {name: changes.pop(name, theirs) for name in ("stdin", "stdout", "stderr")}
    process = subprocess.Popen(
        [sys.executable, "-m", "trainer", *words, "--recordings", str(folder)],
        cwd=ROOT,
        env={**os.environ, "TERM": "xterm-256color", **changes},
        **streams,  # type: ignore[call-overload]
    )
    os.close(theirs)
    shown: list[bytes] = []
    reader = threading.Thread(target=_read, args=(ours, shown), daemon=True)
    reader.start()
    try:
        status = process.wait(LIMIT_S)
    finally:
        process.kill()
    reader.join(LIMIT_S)
    os.close(ours)
    return b"".join(shown).decode(), status


def _read(terminal: int, shown: list[bytes]) -> None:
    end = time.monotonic() + LIMIT_S
    while time.monotonic() < end:
        if select.select([terminal], [], [], 0.2)[0]:
            try:
                data = os.read(terminal, 65536)
            except OSError:
                return
            if not data:
                return
            shown.append(data)


def test_errors_sent_to_a_file_leave_lines_of_text(tmp_path: Path) -> None:
    """Textual draws on standard error: into a file it would draw for nobody, and fill the file."""
    with (tmp_path / "log").open("wb") as log:
        text, status = run(tmp_path, PLAY, stderr=log)
    assert "\x1b" not in text
    assert "Pass 1 of 1" in text
    assert (tmp_path / "log").read_text() == ""
    assert status == 0


def test_a_replay_with_errors_in_a_file_is_the_summary_in_text(tmp_path: Path) -> None:
    """The same rule holds for a command that would open another screen."""
    run(tmp_path, ("demo", "--fast", "--passes", "1"))
    text, status = run(tmp_path, ("replay",), stderr=subprocess.DEVNULL)
    assert "\x1b" not in text
    assert "played" in text.lower()
    assert status == 0


def test_a_terminal_that_cannot_move_its_cursor_gets_lines(tmp_path: Path) -> None:
    """TERM=dumb says that a screen cannot be drawn."""
    text, status = run(tmp_path, PLAY, TERM="dumb")
    assert "\x1b" not in text
    assert "Pass 1 of 1" in text
    assert status == 0
