"""Shared by the benchmarks: programs in terminals of their own."""

import importlib.util
import os
import pty
import shutil
import subprocess
import sys
import termios
import threading
import time
from pathlib import Path

import pytest

HERE = Path(__file__).parent


@pytest.fixture(autouse=True)
def _priority(monkeypatch):
    """Measure with the right that a player's engine has, where it has it."""
    monkeypatch.setenv("TRAINER_PRIORITY", "")


def in_terminal(*arguments):
    """Run Python in a terminal of 120x40 whose output is thrown away.

    The first argument is a script beside this file, or -m.
    """
    script, *rest = map(str, arguments)
    command = [sys.executable, script if script == "-m" else str(HERE / script), *rest]
    ours, theirs = pty.openpty()
    termios.tcsetwinsize(theirs, (40, 120))
    env = {**os.environ, "TERM": "xterm-256color", "COLUMNS": "120", "LINES": "40"}
    env["PYTHONPATH"] = str(HERE.parent.parent)
    process = subprocess.Popen(
        command,
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        env=env,
    )
    os.close(theirs)
    threading.Thread(target=_drain, args=(ours,), daemon=True).start()
    return process


def _drain(terminal):
    try:
        while os.read(terminal, 65536):
            pass
    except OSError:
        os.close(terminal)


@pytest.fixture
def terminal():
    """Run scripts in terminals; what still runs at the end is stopped."""
    made = []

    def run(*arguments):
        made.append(in_terminal(*arguments))
        return made[-1]

    yield run
    for process in made:
        process.kill()
        process.wait()


@pytest.fixture
def slow_jack(monkeypatch):
    """A JACK server of periods of 256 frames."""
    if not (shutil.which("jackd") and shutil.which("jack_rec")):
        pytest.skip("jackd and jack_rec are not installed")
    # Only looked for: loaded here it would be a client of the server, and break when that ends.
    if not importlib.util.find_spec("sounddevice"):
        pytest.skip("sounddevice is not installed")
    name = f"trainer-audio-{os.getpid()}"
    monkeypatch.setenv("JACK_DEFAULT_SERVER", name)
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    command = ["jackd", "-n", name, "-r", "-d", "dummy", "-r", "48000", "-p", "256"]
    server = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    time.sleep(1.5)
    yield name
    server.terminate()
    server.wait(10)
