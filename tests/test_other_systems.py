"""What the code does differently on macOS and Windows, each with a fake where the system begins.

Neither system runs these tests; a fake stands for what their documents say. The table of all such
places is in DEVELOPERS.md.
"""

from __future__ import annotations

import importlib.util
import os
import re
import signal
import sys
import time
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest

from trainer import console, file_system
from trainer.engine import clock, process, timing_check
from trainer.errors import BadInput
from trainer.midi import click, connection, jack, keyboard, kit_input, port_names, ports


@pytest.fixture
def system(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Let the code believe that it runs on another system."""

    def be(name: str) -> None:
        monkeypatch.setattr(sys, "platform", name)

    return be


@pytest.mark.parametrize(
    ("name", "clocks", "asleep_s"),
    [
        ("linux", {"CLOCK_BOOTTIME": 90.0, "CLOCK_MONOTONIC": 50.0}, 40.0),
        ("darwin", {"CLOCK_MONOTONIC": 90.0}, 40.0),
        ("win32", {}, 0.0),
    ],
)
def test_time_asleep(
    system: Any,
    monkeypatch: pytest.MonkeyPatch,
    name: str,
    clocks: dict[str, float],
    asleep_s: float,
) -> None:
    """Linux and macOS have a clock that runs in sleep beside one that does not; Windows' does."""
    system(name)
    fake = SimpleNamespace(perf_counter=lambda: 50.0, **{one: one for one in clocks})
    fake.clock_gettime = clocks.__getitem__
    monkeypatch.setattr(clock, "time", fake)
    assert clock._asleep_s() == asleep_s


@pytest.mark.parametrize(
    ("name", "fix"),
    [("linux", "snd-seq"), ("darwin", "Audio MIDI Setup"), ("win32", "Windows MIDI")],
)
def test_no_midi_system(system: Any, name: str, fix: str) -> None:
    """What to do is said for the system at hand."""
    system(name)
    assert fix in str(ports._none_answers({"x": BadInput("does not answer")}))


@pytest.mark.parametrize(
    ("given", "meant"), [("CoreMIDI", "core"), ("macosx", "core"), ("Windows", "winmm")]
)
def test_names_of_systems(monkeypatch: pytest.MonkeyPatch, given: str, meant: str) -> None:
    """The systems' own names stand for the driver's."""
    driver = SimpleNamespace(get_compiled_api=lambda: [meant], get_api_name=lambda api: api)
    monkeypatch.setattr(ports, "_rtmidi", lambda: driver)
    monkeypatch.setenv("TRAINER_MIDI_API", given)
    assert ports.apis() == (meant,)


@pytest.mark.parametrize(("api", "repeats"), [("core", True), ("winmm", False), ("alsa", False)])
def test_repeated_differences(monkeypatch: pytest.MonkeyPatch, api: str, repeats: bool) -> None:
    """Only CoreMIDI's driver gives every message of a packet the packet's difference."""
    source = kit_input.MidiSource("Kit")

    def connect() -> None:
        source._plug.port = port_names.ports_of_names(["Kit"], api)[0]

    monkeypatch.setattr(source._plug, "open", connect)
    source.open(0.0)
    assert source._plug.clock.repeats is repeats


class NoVirtualPorts:
    """An RtMidi client on Windows, which has no ports of its own making."""

    def open_virtual_port(self, _name: str) -> None:
        raise NotImplementedError("Virtual ports are not supported by the Windows MM API.")

    def close_port(self) -> None:
        """Nothing was opened."""

    def delete(self) -> None:
        """Nothing to free."""


def test_no_loop_inside_windows(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no loop can be made the words ask for a cable and two names."""
    monkeypatch.setattr(ports, "system", lambda: ports.System("winmm", (), (), ("winmm",)))
    monkeypatch.setattr(ports, "new_client", lambda kind, api: NoVirtualPorts())
    with pytest.raises(BadInput, match="with a cable"), timing_check.Loopback():
        pass


@pytest.mark.parametrize("api", ["core", "winmm"])
def test_connections_are_known_by_the_list_alone(api: str) -> None:
    """Neither system says whether we are connected."""
    port = port_names.ports_of_names(["Kit"], api)[0]
    assert connection._cable(port, "strokes") is None


def test_jack_without_a_list_of_libraries(monkeypatch: pytest.MonkeyPatch) -> None:
    """JACK on macOS and Windows: the library is not found that way, and nothing is claimed."""
    monkeypatch.setattr(jack, "_MAPS", "/no/such/file")
    jack._library.cache_clear()
    try:
        cable = jack.JackCable("Kit:drums")
        assert cable.find()
        assert cable.intact is None
        assert cable.period_s == 0.0
        cable.close()
    finally:
        jack._library.cache_clear()


class Console:
    """Windows' keyboard, as its C library gives it (`_kbhit`, `_getwch`)."""

    def __init__(self, typed: str) -> None:
        self.typed = list(typed)

    def kbhit(self) -> bool:
        return bool(self.typed)

    def getwch(self) -> str:
        return self.typed.pop(0)


def test_keys_on_windows(system: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keys come from the console; waiting takes short sleeps, and no terminal mode is touched."""
    system("win32")
    monkeypatch.setitem(sys.modules, "msvcrt", Console("fj "))
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(isatty=lambda: True))
    slept: list[float] = []
    monkeypatch.setattr(keyboard, "time", SimpleNamespace(sleep=slept.append))
    with keyboard.TerminalKeys() as keys:
        keys.wait(10.0)
        assert keys.read() == "fj "
        assert keys.read() == ""
    assert slept == [keyboard.KEY_LOOK_S]


def test_keys_can_be_read_on_windows(system: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows has no jobs in the background of a terminal: a terminal is ours."""
    system("win32")
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(isatty=lambda: True))
    assert console.keys_can_be_read()


def test_a_rest_on_windows(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows waits on sockets only: the rest is kept to its end."""
    from trainer.commands import play_as_text

    def refuse(*_: object) -> None:
        raise OSError(10038, "not a socket")

    slept: list[float] = []
    monkeypatch.setattr(play_as_text, "select", SimpleNamespace(select=refuse))
    monkeypatch.setattr(play_as_text, "time", SimpleNamespace(sleep=slept.append))
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(isatty=lambda: True))
    assert play_as_text._line_within(3.0) is None
    assert slept == [3.0]


def test_a_windows_terminal_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its console has all colours and letters, and needs no TERM."""
    monkeypatch.setattr(console, "os", SimpleNamespace(name="nt", environ={}))
    terminal = SimpleNamespace(isatty=lambda: True)
    for name in ("stdin", "stdout", "stderr"):
        monkeypatch.setattr(sys, name, terminal)
    console.supports_utf8.cache_clear()
    assert console.can_draw()
    assert console.colour_count() == console.TRUE_COLOURS
    assert console.supports_utf8()
    console.supports_utf8.cache_clear()


def test_a_windows_terminal_is_not_measured(system: Any) -> None:
    """The question for the cursor is not asked there."""
    system("win32")
    assert timing_check.terminal_delays() is None


def test_the_disk_of_a_mac(system: Any, monkeypatch: pytest.MonkeyPatch, tmp_path: Any) -> None:
    """F_FULLFSYNC instead of fsync; where the disk knows no such thing, fsync all the same."""
    system("darwin")
    asked: list[int] = []
    fake: Any = SimpleNamespace(F_FULLFSYNC=51, fcntl=lambda fd, what: asked.append(what))
    monkeypatch.setitem(sys.modules, "fcntl", fake)
    synced: list[int] = []
    monkeypatch.setattr(file_system.os, "fsync", synced.append)
    with open(tmp_path / "file", "wb") as file:
        file_system.sync_file(file.fileno())
        assert (asked, synced) == ([51], [])

        def refuse(fd: int, what: int) -> None:
            raise OSError(25, "not supported")

        fake.fcntl = refuse
        file_system.sync_file(file.fileno())
        assert synced == [file.fileno()]


@pytest.fixture
def windows_journal(system: Any, monkeypatch: pytest.MonkeyPatch) -> tuple[Any, list[Any]]:
    """The module of the journal's file as it is loaded on Windows, and what it locks."""
    from trainer.archive import journal_file

    locked: list[Any] = []
    fake = ModuleType("msvcrt")
    fake.LK_NBLCK = 2  # type: ignore[attr-defined]
    fake.locking = lambda *given: locked.append(given)  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "msvcrt", fake)
    system("win32")
    spec = importlib.util.spec_from_file_location("journal_of_windows", journal_file.__file__)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "journal_of_windows", module)
    spec.loader.exec_module(module)
    return module, locked


def test_a_journal_is_locked_on_windows(
    windows_journal: tuple[Any, list[Any]], tmp_path: Any
) -> None:
    """One byte far behind the end is locked, so that others can read all there is."""
    module, locked = windows_journal
    with open(tmp_path / "session", "w+b") as file:
        file.write(b"header\n")
        assert module.lock_file(file.fileno()) is module.FileLock.HELD
        assert os.lseek(file.fileno(), 0, os.SEEK_CUR) == 2**31 - 2
        assert locked == [(file.fileno(), 2, 1)]


def test_the_signals_of_windows(monkeypatch: pytest.MonkeyPatch) -> None:
    """Control-Break ends an engine like Control-C; a hang-up there is none."""
    from collections import deque

    taken: dict[int, Any] = {}
    fake = SimpleNamespace(SIGINT=2, SIGTERM=15, SIGBREAK=21, signal=taken.__setitem__)
    monkeypatch.setattr(process, "signal", fake)
    inbox: deque[Any] = deque()
    process._listen_to_signals(inbox)
    assert sorted(taken) == [2, 15, 21]
    taken[21](21, None)
    assert [command.name for command in inbox] == ["quit"]
    assert signal.getsignal(signal.SIGTERM) is not taken[15]


def test_no_window_opens_for_the_sound(monkeypatch: pytest.MonkeyPatch) -> None:
    """On Windows the audio process gets no console window of its own."""
    given: dict[str, Any] = {}

    def start(command: list[str], **options: Any) -> None:
        given.update(options)
        raise OSError("not started")

    fake = SimpleNamespace(Popen=start, PIPE=-1, DEVNULL=-3, CREATE_NO_WINDOW=0x08000000)
    monkeypatch.setattr(click, "subprocess", fake)
    with pytest.raises(OSError, match="not started"):
        click.AudioClick().open(time.perf_counter())
    assert given["creationflags"] == 0x08000000


def test_no_hang_up_on_windows(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without `poll` and such a signal a closing terminal is not watched: no thread runs."""
    monkeypatch.setattr(console, "select", SimpleNamespace())
    monkeypatch.setattr(console, "Thread", None)
    watch = console.HangUp()
    watch.watch()
    before = signal.getsignal(signal.SIGHUP)
    with watch.ending(lambda: None):
        assert signal.getsignal(signal.SIGHUP) is before


def test_a_pipe_that_cannot_be_watched(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows' loop of events watches no pipe: a timer looks at it instead."""
    from trainer.screens import live

    def no_reader(*_: object) -> None:
        raise NotImplementedError

    loop = SimpleNamespace(add_reader=no_reader)
    monkeypatch.setattr(live, "asyncio", SimpleNamespace(get_running_loop=lambda: loop))
    timers: list[Any] = []
    app: Any = SimpleNamespace(set_interval=lambda *given: timers.append(given))
    handle: Any = SimpleNamespace(fileno=lambda: 3, poll=lambda: ["heard"])
    heard: list[Any] = []
    feed = live.EventFeed(handle, heard.append, lambda: None)
    feed.start(app)
    ((seconds, look),) = timers
    assert seconds == live.POLL_S
    look()
    assert heard == [["heard"]]


@pytest.mark.parametrize("opening", ["read", "journal", "fixing", "whole"])
def test_files_are_binary_on_windows(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Any, opening: str
) -> None:
    """Every file is opened so that lines end as they were written."""
    from trainer.archive import journal_file

    class Stopped(Exception):
        """The file was about to be opened."""

    flags: list[int] = []

    def refuse(_path: object, asked: int, *_mode: int) -> None:
        flags.append(asked)
        raise Stopped

    path = tmp_path / "file"
    binary = 1 << 28
    monkeypatch.setattr(os, "O_BINARY", binary, raising=False)
    monkeypatch.setattr(os, "open", refuse)
    opened = {
        "read": lambda: file_system.open_file(path, 10),
        "journal": lambda: journal_file.create_file(path),
        "fixing": lambda: journal_file.open_for_fixing(path),
        "whole": lambda: file_system.replace_file(path, b"text"),
    }
    with pytest.raises(Stopped):
        opened[opening]()
    monkeypatch.undo()
    assert flags[0] & binary


def test_every_branch_is_in_the_table() -> None:
    """Each file that asks for the system is named in the table of tests/alsa/README.md."""
    root = Path(__file__).parent.parent
    table = (root / "tests/alsa/README.md").read_text()
    asking = re.compile(r"sys\.platform|os\.name|platform\.system|O_BINARY|SIGBREAK")
    files = [one for one in (root / "trainer").rglob("*.py") if asking.search(one.read_text())]

    assert len(files) > 5
    assert [one for one in files if f"`{one.relative_to(root / 'trainer')}`" not in table] == []
