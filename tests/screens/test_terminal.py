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
    end = time.monotonic() + 30
    while b"Restart" not in seen and time.monotonic() < end:
        if select.select([ours], [], [], 1.0)[0]:
            seen += os.read(ours, 65536)
    assert b"Restart" in seen
    os.close(ours)
    try:
        process.wait(20)
    finally:
        process.kill()
    end = time.monotonic() + 20
    while not _whole(tmp_path) and time.monotonic() < end:
        time.sleep(0.1)
    assert _whole(tmp_path)


def _whole(folder: Path) -> bool:
    """Return whether the one session in a folder has its last line."""
    texts = [path.read_text() for path in folder.glob("*.jsonl")]
    return len(texts) == 1 and '"summary"' in texts[0].splitlines()[-1]
