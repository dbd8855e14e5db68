"""The edge: a fault of ours is one sentence and a file; streams may be closed, screens killed."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest
from patience import LIMIT_S, until

from trainer import console
from trainer.fault_report import MOST_REPORTS, reported

faulty = pytest.mark.faulty
posix = pytest.mark.skipif(os.name == "nt", reason="rights and signals of Unix systems")

PLANTED = """import sys
from trainer.__main__ import main

def planted(secret):
    raise OverflowError("planted")

if __name__ == "__main__":
    from trainer.commands import explain
    explain.run = planted
    sys.exit(main())
"""

THREAD = """import sys, threading
from trainer.__main__ import main

def planted(args):
    thread = threading.Thread(target=lambda: {}["lost"])
    thread.start()
    thread.join()
    return 0

if __name__ == "__main__":
    from trainer.commands import explain
    explain.run = planted
    sys.exit(main())
"""

PLAY = ("play", "flam", "--port", "simulated", "--plain", "--tempo", "300", "--passes", "1")

ENGINE = """import sys
from trainer.__main__ import main
from trainer.engine import {module}

def planted(*_):
    raise OverflowError("planted")

{module}.{place} = planted

if __name__ == "__main__":
    sys.exit(main())
"""
"""The practice loop's process reads this file too, and so has the fault."""


def _run(tmp_path: Path, source: str, *words: str) -> subprocess.CompletedProcess[str]:
    script = tmp_path / "begin.py"
    script.write_text(source)
    command = [sys.executable, str(script), *words]
    return subprocess.run(command, capture_output=True, text=True, timeout=LIMIT_S)


def _reports(tmp_path: Path) -> list[Path]:
    return sorted((tmp_path / "home" / "reports").iterdir())


@faulty
def test_a_fault_is_one_sentence_and_a_file(tmp_path: Path) -> None:
    """The sentence names the file; the file has versions and traceback, and nothing that was typed.

    Nobody else may read it.
    """
    done = _run(tmp_path, PLANTED, "explain", "my own words")

    (report,) = _reports(tmp_path)
    assert done.returncode == 1
    assert done.stdout == ""
    assert done.stderr == (
        "this is a fault in the program (OverflowError, begin.py line 5); please send the file "
        f"{report}.\n"
    )
    text = report.read_text()
    assert "Python 3." in text
    assert "in planted" in text
    assert "my own words" not in text
    if os.name != "nt":
        assert report.stat().st_mode & 0o777 == 0o600


@faulty
def test_reports_have_an_end_and_follow_no_link(tmp_path: Path) -> None:
    """So many are kept; one is never written through a link that is there."""
    folder = tmp_path / "home" / "reports"
    folder.mkdir(parents=True)
    (folder / "trainer-fault-1.txt").symlink_to(tmp_path / "elsewhere")
    for _ in range(MOST_REPORTS + 5):
        reported(ValueError("x"))

    assert len(_reports(tmp_path)) == MOST_REPORTS
    assert not (tmp_path / "elsewhere").exists()


@faulty
def test_where_the_home_takes_no_report_it_is_elsewhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A home that cannot be written does not hide the fault."""
    monkeypatch.setenv("TRAINER_HOME", "/dev/null/nowhere")
    monkeypatch.setattr(tempfile, "gettempdir", lambda: str(tmp_path))
    assert str(tmp_path / "trainer-fault-1.txt") in str(reported(ValueError("x")))
    monkeypatch.setattr(tempfile, "gettempdir", lambda: "/dev/null/nowhere")
    assert "describe what you did" in str(reported(ValueError("x")))


@faulty
def test_a_thread_that_fails_prints_no_traceback(tmp_path: Path) -> None:
    """What ends a thread is reported too, after the command."""
    done = _run(tmp_path, THREAD, "explain")

    assert len(_reports(tmp_path)) == 1
    assert "Traceback" not in done.stderr
    assert "KeyError" in done.stderr
    assert str(_reports(tmp_path)[0]) in done.stderr


@faulty
@pytest.mark.parametrize(
    ("module", "place"),
    [("process", "Engine"), ("loop", "SessionLoop.turn"), ("job", "judge_session")],
    ids=["at the start", "while playing", "at the end"],
)
def test_a_fault_in_the_practice_loop_is_a_sentence(
    module: str, place: str, tmp_path: Path
) -> None:
    """Wherever its process fails, the player is shown what it was, and what was played is kept."""
    done = _run(
        tmp_path, ENGINE.format(module=module, place=place), *PLAY, "--recordings", str(tmp_path)
    )

    assert "Traceback" not in done.stderr + done.stdout
    assert "OverflowError" in done.stderr + done.stdout
    assert _reports(tmp_path)
    kept = [*tmp_path.glob("*.jsonl")]
    assert len(kept) == (place == "judge_session")  # before that no stroke was played
    assert all(json.loads(one.read_text().splitlines()[-1])["kind"] == "summary" for one in kept)


CLOSED = [">&-", "2>&-", "<&-", ">&- 2>&-", "<&- >&- 2>&-"]


@posix
@pytest.mark.parametrize("streams", CLOSED)
def test_closed_streams_end_nothing(streams: str, tmp_path: Path) -> None:
    """A session is played to its end, and nothing that is printed gets into its file."""
    line = f'exec "$0" -m trainer "$@" {streams}'
    words = [*PLAY[:-1], "2", "--recordings", str(tmp_path / "kept")]
    done = subprocess.run(
        ["sh", "-c", line, sys.executable, *words], capture_output=True, timeout=LIMIT_S
    )

    assert done.returncode == 0
    assert b"Traceback" not in done.stdout + done.stderr
    (path,) = (tmp_path / "kept").glob("*.jsonl")
    rows = [json.loads(row) for row in path.read_text().splitlines()]
    assert rows[-1]["kind"] == "summary"
    assert rows[-1]["passes"] >= 2


@posix
@pytest.mark.parametrize("streams", CLOSED)
@pytest.mark.parametrize("words", ["--help", "explain limp", "nonsense", "history --json"])
def test_closed_streams_show_no_traceback(streams: str, words: str) -> None:
    """Whatever is closed, a command ends as it would."""
    line = f'exec "$0" -m trainer {words} {streams}'
    done = subprocess.run(["sh", "-c", line, sys.executable], capture_output=True, timeout=LIMIT_S)
    assert done.returncode == (2 if words == "nonsense" else 0)
    assert b"Traceback" not in done.stdout + done.stderr


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device of Linux")
@pytest.mark.parametrize("words", [["--help"], ["history", "--json"], ["patterns", "list"]])
def test_a_full_disk_behind_the_output_is_a_sentence(words: list[str]) -> None:
    """What cannot be printed is said once, also where it was still waiting at the end."""
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "trainer", *words],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            timeout=LIMIT_S,
        )
    assert (done.returncode, done.stderr) == (1, "the system refused: the disk is full.\n")


@posix
@pytest.mark.parametrize("wait_s", [0.0, 0.1, 0.2, 0.4])
def test_a_screen_killed_while_the_engine_starts(wait_s: float, tmp_path: Path) -> None:
    """The practice loop finds nobody there: it ends without a word, and its session is whole."""
    noted = tmp_path / "said"
    kept = tmp_path / "kept"
    with noted.open("ab") as said:
        screen = subprocess.Popen(
            [sys.executable, "-m", "trainer", *PLAY, "--recordings", str(kept)],
            stdout=said,
            stderr=said,
            start_new_session=True,
        )
    until(lambda: _children(screen.pid), "the practice loop's process")
    time.sleep(wait_s)
    children = _children(screen.pid)
    os.kill(screen.pid, signal.SIGKILL)
    screen.wait()
    until(lambda: not any(Path(f"/proc/{one}").exists() for one in children), "its end")

    assert b"Traceback" not in noted.read_bytes()


def _children(pid: int) -> list[str]:
    try:
        listed = [Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
        return [one for ones in listed for one in ones if b"spawn_main" in _command(one)]
    except OSError:
        return []


def _command(pid: str) -> bytes:
    return Path(f"/proc/{pid}/cmdline").read_bytes()


def test_every_net_is_known() -> None:
    """Faults of ours are caught in a few places only: tests meet them everywhere else."""
    program = Path(console.__file__).parent
    nets = {
        path.relative_to(program).as_posix()
        for path in program.rglob("*.py")
        if "import reported" in path.read_text() and path.name != "fault_report.py"
    }
    assert nets == {
        "engine/job.py",
        "engine/process.py",
        "screens/trainer_app.py",
    }
