"""Shared by all tests: the player's own folders kept out of reach, and real MIDI.

Tests marked `jack` run over a JACK server of their own, or over ALSA where TRAINER_TEST_MIDI=alsa.
"""

from __future__ import annotations

import ctypes
import json
import os
import select
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import beside
import pytest
from hypothesis import HealthCheck, settings
from patience import LIMIT_S

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Iterator, Sequence

SYSTEM = os.environ.get("TRAINER_TEST_MIDI", "jack")
"""The MIDI system that real MIDI goes through."""

SEQUENCER = Path("/dev/snd/seq")

jack_only = pytest.mark.skipif(SYSTEM != "jack", reason="only JACK has this")
alsa_only = pytest.mark.skipif(SYSTEM != "alsa", reason="only ALSA has this")

SERVERS = tuple(f"trainer-test-{slot}" for slot in range(6))

# Servers of the tests run without the right to go first, beside three of our engines on two cores.
os.environ.setdefault("TRAINER_PRIORITY", "usual")

JACK_OPTIONS = ("-S", "-r", "-d", "dummy", "-r", "48000", "-p", "64")
"""Synchronous (-S): otherwise a busy machine lets the server write into what a late client is still
reading; notes are lost, and RtMidi 6 reads past the end of them and dies."""


# How quickly examples are made and tried says something about the machine alone.
settings.register_profile(
    "any machine", deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("any machine")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, object, object]:
    """Let a test marked `alone` begin when those beside it are over, and the next ones after it."""
    with beside.turn(alone=item.get_closest_marker("alone") is not None):
        return (yield)


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """Run all tests in three processes, and those that were asked for by name in this one.

    Three, because on two cores one of them mostly waits for real time to pass.
    """
    return 3 if config.args_source is config.ArgsSource.TESTPATHS else 0


@pytest.fixture(autouse=True, scope="session")
def _ctrl_c() -> None:
    """Let programs that tests start hear Ctrl-C, also where this run began with it ignored.

    A shell starts what runs in the background so, and children inherit it.
    """
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.fixture(autouse=True)
def _own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Point the player's folders at an empty place, so that no test reads or writes real ones."""
    monkeypatch.setenv("TRAINER_HOME", str(tmp_path / "home"))


@pytest.fixture(autouse=True)
def _no_fault_of_ours(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[None]:
    """Fail a test in which the program met a fault of its own: it says so in one sentence only."""
    yield
    reports = sorted((tmp_path / "home" / "reports").glob("*.txt"))
    if reports and not request.node.get_closest_marker("faulty"):
        pytest.fail(reports[0].read_text())


@pytest.fixture(autouse=True)
def _tmux(request: pytest.FixtureRequest) -> None:
    """Leave out tests in a real terminal where there is none to have, unless it is required."""
    if request.node.get_closest_marker("tmux"):
        _need("tmux", "TRAINER_REQUIRE_TMUX", "no real terminal is tested")


@pytest.fixture(autouse=True)
def _alsa(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave out tests of ALSA where it has no sequencer, unless it is required."""
    if not request.node.get_closest_marker("alsa"):
        return
    if not SEQUENCER.exists():
        if os.environ.get("TRAINER_REQUIRE_ALSA") == "1":
            pytest.fail(f"there is no {SEQUENCER} and TRAINER_REQUIRE_ALSA=1")
        pytest.skip(f"there is no {SEQUENCER}, no ALSA MIDI is tested (bash tests/alsa/run)")
    monkeypatch.setenv("TRAINER_MIDI_API", "alsa")


def _need(program: str, variable: str, otherwise: str) -> None:
    """Skip the test where a program is not installed; fail it where the variable asks for that."""
    if not shutil.which(program):
        if os.environ.get(variable) == "1":
            pytest.fail(f"{program} is not installed and {variable}=1")
        pytest.skip(f"{program} is not installed, {otherwise}")


@pytest.fixture(scope="session")
def jack() -> Iterator[dict[str, str]]:
    """Run a JACK server with a dummy driver, or use ALSA; give the environment clients need."""
    if SYSTEM == "alsa":
        os.environ["TRAINER_MIDI_API"] = "alsa"
        yield dict(os.environ)
        del os.environ["TRAINER_MIDI_API"]
        return
    _need("jackd", "TRAINER_REQUIRE_JACK", "real MIDI is not tested")
    with JackServer():
        yield dict(os.environ)


class JackServer:
    """A JACK server that can be ended and started again; a context manager.

    While it holds, the environment names it for every client. JACK remembers eight servers, also
    those that were killed, and takes a dead one's place only for a server of the same name: so
    names come from a short list instead of being new every time.
    """

    def __enter__(self) -> JackServer:
        names = ("JACK_DEFAULT_SERVER", "JACK_NO_START_SERVER", "TRAINER_MIDI_API")
        self._before = {name: os.environ.get(name) for name in names}
        os.environ |= {"JACK_NO_START_SERVER": "1", "TRAINER_MIDI_API": "jack"}
        if not any(self._started(name) for name in SERVERS):
            pytest.fail(f"no JACK server started under any of the names {', '.join(SERVERS)}")
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()
        for name, value in self._before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value

    def start(self) -> None:
        """Start it again under the name it had, and wait until it answers."""
        assert self._started(os.environ["JACK_DEFAULT_SERVER"])

    def stop(self) -> None:
        """End it; a second time does nothing."""
        self._process.terminate()
        self._process.wait(LIMIT_S)

    def _started(self, name: str) -> bool:
        """Start a server; False where it ends at once, because its name is another's."""
        os.environ["JACK_DEFAULT_SERVER"] = name
        command = ["jackd", "-n", name, *JACK_OPTIONS]
        quiet = subprocess.DEVNULL
        self._process = subprocess.Popen(
            command, stdout=quiet, stderr=quiet, preexec_fn=_end_with_us
        )
        if _answers(self._process):
            return True
        self._process.kill()
        self._process.wait()
        return False


def _end_with_us() -> None:
    """Ask Linux to end the server when this process ends, however it does."""
    libc = ctypes.CDLL(None)
    if hasattr(libc, "prctl"):
        libc.prctl(1, signal.SIGTERM)  # 1 is PR_SET_PDEATHSIG


def _answers(server: subprocess.Popen[bytes]) -> bool:
    """Wait for a server, False where it ends at once.

    A process of its own asks: clients of ours that belong to a server that ended must not see a try
    that fails.
    """
    ask = "from trainer.midi import ports; ports.listing('jack')"
    env = os.environ | {"PYTHONPATH": str(Path(__file__).parents[1])}
    end = time.monotonic() + LIMIT_S
    while time.monotonic() < end:
        time.sleep(0.3)
        if server.poll() is not None:
            return False
        done = subprocess.run([sys.executable, "-c", ask], env=env, capture_output=True)
        if not done.returncode:
            # Another server of this name would have answered too; ours has ended by now if so.
            return server.poll() is None
    return False


def midi_api(system: str = "") -> int:
    """Return RtMidi's number of a MIDI system, by default of the one that is tested."""
    import rtmidi

    known = {"alsa": rtmidi.API_LINUX_ALSA, "jack": rtmidi.API_UNIX_JACK}
    number: int = known[system or SYSTEM]
    return number


class Sender:
    """Another process with a MIDI output of its own, `NAME:drums`.

    `play` gives it (seconds from now, bytes) rows and returns, when all are sent, the times of
    `time.perf_counter()` at which each was sent. On Linux that clock is shared by all processes.
    """

    def __init__(self, name: str, system: str = "") -> None:
        self.port = f"{name}:drums"
        script = Path(__file__).with_name("sender.py")
        self._process = subprocess.Popen(
            [sys.executable, str(script), name, str(midi_api(system))],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        assert self._answer() == "ready"

    def play(self, rows: Sequence[tuple[float, Sequence[int]]]) -> list[float]:
        """Send rows and wait for their end."""
        self.start(rows)
        return self.sent()

    def start(self, rows: Sequence[tuple[float, Sequence[int]]]) -> None:
        """Send rows without waiting."""
        assert self._process.stdin
        self._process.stdin.write(json.dumps([(at, list(data)) for at, data in rows]) + "\n")
        self._process.stdin.flush()

    def is_done(self) -> bool:
        """Whether all rows that were started are sent."""
        return bool(select.select([self._process.stdout], [], [], 0)[0])

    def sent(self) -> list[float]:
        """Return when the rows that were started were sent, once all are."""
        times: list[float] = self._answer()
        return times

    def kill(self) -> None:
        """Kill the process in the middle of whatever it does."""
        self._process.kill()
        self._process.wait(LIMIT_S)

    def close(self) -> None:
        """End the process, as if the kit were unplugged."""
        if self._process.poll() is not None:
            return
        assert self._process.stdin
        self._process.stdin.close()
        self._process.wait(LIMIT_S)

    def _answer(self):
        assert self._process.stdout
        return json.loads(self._process.stdout.readline())


@pytest.fixture
def sender(jack: dict[str, str]) -> Iterator[Callable[[str], Sender]]:
    """Make senders by name; all are ended with the test."""
    made: list[Sender] = []

    def make(name: str = "Test Kit") -> Sender:
        made.append(Sender(name))
        return made[-1]

    yield make
    for one in made:
        one.close()
