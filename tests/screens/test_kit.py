"""The kit's screens: learning, watching and the page of each kit, with a source made of a list."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from opened import Opened
from shots import SIZES, drawn, kept
from stage import shown, wait_until

from trainer.errors import BadInput
from trainer.kit import kits
from trainer.kit.learning import PLACES_TO_LEARN, Learning
from trainer.kit.model import GENERAL_MIDI, Kit, Pad
from trainer.midi.kit_input import KitMonitor, TimedMessage
from trainer.screens.kit import MOST, KitsScreen, WatchScreen
from trainer.screens.kit_learning import LearnScreen
from trainer.show.page import Page

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.midi.hit_source import SourceEvent

NAME = "Pad box [b]1[/b]"


class Quiet:
    """A port from which nothing comes."""

    name = NAME
    lost = False
    overheard: Callable[[tuple[int, ...], float], None]
    closed = False

    def open(self, zero_s: float) -> None:
        """Nothing to open."""

    def poll(self, now_s: float) -> list[SourceEvent]:
        return []

    def close(self) -> None:
        """Remember that it was closed."""
        self.closed = True


class Reported(KitMonitor):
    """An ear that hears what a test says, with a clock that a test moves."""

    def __init__(self) -> None:
        self.at_s = 0.0  # its thread asks for it at once
        super().__init__(Quiet())

    def now(self) -> float:
        return self.at_s

    def hear(self, *messages: tuple[int, ...], gap_s: float = 0.25) -> None:
        """Hear messages one after the other."""
        for message in messages:
            self.at_s += gap_s
            self._hear(message, self.at_s)

    def strike(self, note: int, times: int = 4) -> None:
        """Hear even strokes on one pad."""
        self.hear(*[(0x99, note, 90)] * times)


@pytest.fixture
def ear():
    """An ear that is closed at the end."""
    reported = Reported()
    yield reported
    reported.close()


def learning(ear: Reported) -> tuple[Opened, Learning]:
    """Return the app and the learning behind it."""
    learned = Learning("room", ear.name)
    return Opened(LearnScreen(ear, learned)), learned


def watching(ear: Reported, seconds: float | None = None) -> Opened:
    """Return the app that watches what a kit sends."""
    return Opened(WatchScreen(ear, GENERAL_MIDI, seconds))


def kits_app(*about: Any) -> Opened:
    """Return the app of the kits."""
    return Opened(KitsScreen(*about))


async def test_it_asks_and_shows_what_it_got(ear: Reported) -> None:
    """The place, how many strokes agree, the last note, and the next place once four agree."""
    app, learned = learning(ear)
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "Strike the kick   ○○○○" in shown(app))
        ear.strike(11, 2)
        await wait_until(pilot, lambda: "Strike the kick   ●●○○" in shown(app))
        assert "last: note 11, velocity 90" in shown(app)
        ear.strike(11, 2)
        await wait_until(pilot, lambda: "Strike the snare   ○○○○" in shown(app))
        assert "● kick: note 11" in shown(app)
        assert f"Learning room on {NAME}   place 2 of {len(PLACES_TO_LEARN)}" in shown(app)
    assert learned.kit.pad(11) == Pad("kick", "head")


async def test_keys_skip_and_go_back(ear: Reported) -> None:
    """s leaves a place out, b asks for the one before again."""
    app, learned = learning(ear)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("s")
        await wait_until(pilot, lambda: "– kick: skipped" in shown(app))
        await pilot.press("b")
        await wait_until(pilot, lambda: "▶ kick" in shown(app))
        await pilot.press("q")
        await wait_until(pilot, lambda: not app.is_running)
    assert learned.notes == {}


async def test_the_kick_is_a_key(ear: Reported) -> None:
    """One stroke alone skips what is asked for, two in a row go back."""
    app, learned = learning(ear)
    async with app.run_test(size=(80, 24)) as pilot:
        ear.strike(11)
        await wait_until(pilot, lambda: "▶ snare" in shown(app))
        ear.hear((0x99, 11, 90))
        ear.at_s += 1.0
        await wait_until(pilot, lambda: "– snare: skipped" in shown(app))
        ear.hear((0x99, 11, 90), (0x99, 11, 90))
        await wait_until(pilot, lambda: "▶ snare " in shown(app))
        assert "– snare: skipped" not in shown(app)
    assert learned.notes == {11: Pad("kick", "head")}


async def test_a_note_of_another_place_is_reported(ear: Reported) -> None:
    """Two places with one note cannot be told apart, and the words say what to do."""
    app, _ = learning(ear)
    async with app.run_test(size=(100, 30)) as pilot:
        ear.strike(11)
        ear.strike(12)
        ear.strike(12)
        await wait_until(pilot, lambda: "= snare, rim: note 12 too" in shown(app))
        assert "sends note 12, as the snare does" in shown(app)


async def test_a_kit_that_goes_away_loses_nothing(ear: Reported) -> None:
    """The words say so, and what was learned is still there."""
    app, learned = learning(ear)
    async with app.run_test(size=(100, 30)) as pilot:
        ear.strike(11)
        await wait_until(pilot, lambda: "▶ snare" in shown(app))
        ear.source.lost = True  # type: ignore[misc]
        await wait_until(pilot, lambda: "is gone; plug it in again" in shown(app))
    assert learned.notes == {11: Pad("kick", "head")}


async def test_enter_ends_when_all_was_asked(ear: Reported) -> None:
    """The end is reported, and one key keeps the kit."""
    app, learned = learning(ear)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(*"s" * len(PLACES_TO_LEARN))
        await wait_until(pilot, lambda: "Every place is done" in shown(app))
        await pilot.press("enter")
        await wait_until(pilot, lambda: not app.is_running)
    assert learned.done


async def test_every_message_is_reported_in_words_and_bytes(ear: Reported) -> None:
    """Strokes with a bar as long as they are loud, controllers, pressure, and the time between."""
    app = watching(ear)
    async with app.run_test(size=(100, 24)) as pilot:
        await wait_until(pilot, lambda: "Nothing has come yet" in shown(app))
        ear.hear((0x99, 38, 127), (0xB9, 4, 30), (0xA9, 49, 90), (0xF8,), (0x99, 3, 1))
        await wait_until(pilot, lambda: "unknown pad (note 3), velocity 1" in shown(app))
        screen = shown(app)
        assert "99 26 7F " + "█" * 12 + " snare head (note 38), velocity 127" in screen
        assert "+250.0 ms B9 04 1E " + " " * 13 + "controller 4 (hi-hat pedal) at 30" in screen
        assert "choke or pressure 90 on crash edge" in screen
        assert "clock" in screen
        assert f"Listening to {NAME}   5 messages" in screen


async def test_clock_can_be_left_out(ear: Reported) -> None:
    """x hides what comes all the time; strokes stay."""
    app = watching(ear)
    async with app.run_test(size=(100, 24)) as pilot:
        await pilot.press("x")
        ear.hear((0xF8,), (0xFE,), (0x99, 38, 90))
        await wait_until(pilot, lambda: "velocity 90" in shown(app))
        assert "F8" not in shown(app)
        assert "without clock" in shown(app)


async def test_holding_keeps_the_list_still(ear: Reported) -> None:
    """While it is held new messages wait below; going on shows the newest; up looks back."""
    app = watching(ear)
    async with app.run_test(size=(100, 12)) as pilot:
        ear.hear(*[(0x99, 38, velocity) for velocity in range(1, 31)])
        await wait_until(pilot, lambda: "velocity 30" in shown(app))
        await pilot.press("space")
        ear.hear((0x99, 38, 99))
        await wait_until(pilot, lambda: "31 messages" in shown(app))
        assert "velocity 99" not in shown(app)
        assert "held" in shown(app)
        await pilot.press("space")
        await wait_until(pilot, lambda: "velocity 99" in shown(app))
        await pilot.press("pageup", "pageup")
        await wait_until(pilot, lambda: "velocity 11\n" in shown(app))
        await pilot.press("c")
        await wait_until(pilot, lambda: "Nothing has come yet" in shown(app))


async def test_a_flood_is_bounded(ear: Reported) -> None:
    """Only so many messages are kept, and what could not be shown is counted."""
    app = watching(ear)
    ear.hear(*[(0x99, 38, 90)] * 5000, gap_s=0.001)
    async with app.run_test(size=(100, 12)) as pilot:
        await wait_until(pilot, lambda: "904 too many to show" in shown(app))
        await wait_until(pilot, lambda: "4096 messages" in shown(app))
        assert len(app.screen.rows) == MOST  # type: ignore[attr-defined]


async def test_the_page_of_each_kit() -> None:
    """The list holds the player's kits; the page says what looks wrong; text is text."""
    kits.save(Kit(name="room", title="[b]Room[/b]", notes={38: Pad("snare", "head")}))
    app = kits_app("room")
    async with app.run_test(size=(80, 60)) as pilot:
        await wait_until(pilot, lambda: "[b]Room[/b] (room)" in shown(app))
        await wait_until(pilot, lambda: "No note for the kick" in shown(app))
        await pilot.press("down")
        await wait_until(pilot, lambda: "General MIDI percussion" in shown(app))
        assert "No note stands for the kick" not in shown(app)


@pytest.fixture
def port(monkeypatch: pytest.MonkeyPatch) -> Quiet:
    """The one port there is, for every screen that listens."""
    quiet = Quiet()
    for module in ("kit", "kit_learning"):
        monkeypatch.setattr(f"trainer.screens.{module}.MidiSource", lambda _port: quiet)
    return quiet


async def test_watching_opens_above_the_kits(port: Quiet) -> None:
    """w listens, q is back at the kits and has closed the port."""
    kits.save(Kit(name="room"))
    app = kits_app("room")
    async with app.run_test(size=(100, 24)) as pilot:
        await wait_until(pilot, lambda: "(room)" in shown(app))
        await pilot.press("w")
        await wait_until(pilot, lambda: f"Listening to {NAME}" in shown(app))
        await pilot.press("q")
        await wait_until(pilot, lambda: "(room)" in shown(app))
        await wait_until(pilot, lambda: port.closed)
        await pilot.press("q")
        await wait_until(pilot, lambda: not app.is_running)


async def test_what_is_learned_is_saved_and_listed(port: Quiet) -> None:
    """l asks for a name and learns under it; once it is left, the new kit is in the list."""
    kits.save(Kit(name="room"))
    app = kits_app("room")
    async with app.run_test(size=(100, 30), notifications=True) as pilot:
        await wait_until(pilot, lambda: "(room)" in shown(app))
        await pilot.press("l", "2", "enter")
        await wait_until(pilot, lambda: "Learning room2" in shown(app))
        for at_s in range(4):
            port.overheard((0x99, 11, 90), 0.25 * at_s)
        await wait_until(pilot, lambda: "● kick: note 11" in shown(app))
        await pilot.press("q")
        await wait_until(pilot, lambda: "1 note learned, kept in" in shown(app))
        await wait_until(pilot, lambda: "room2" in app.screen.names)
    assert kits.load("room2").pad(11) == Pad("kick", "head")


async def test_a_port_that_cannot_be_opened_is_reported_in_place(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The kits stay on the screen."""

    def refused(_port: str) -> Quiet:
        raise BadInput("no MIDI input is connected", fix="plug the kit in")

    monkeypatch.setattr("trainer.screens.kit.MidiSource", refused)
    app = kits_app()
    async with app.run_test(size=(100, 24), notifications=True) as pilot:
        await pilot.press("w")
        await wait_until(pilot, lambda: "no MIDI input is connected" in shown(app))
        assert isinstance(app.screen, KitsScreen)


async def test_watching_ends_after_so_many_seconds(ear: Reported) -> None:
    """The first screen ends the program with it."""
    app = watching(ear, seconds=0.2)
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: not app.is_running)


@pytest.mark.parametrize(
    ("key", "action"), [("m", "survey"), ("c", "controllers"), ("t", "latency")]
)
async def test_what_is_measured_of_a_kit_has_its_page(key: str, action: str) -> None:
    """The page is of the kit under the cursor; what it changed is on the kit's page afterwards."""
    kits.save(Kit(name="room"))

    def pages(name: str) -> dict[str, Page]:
        return {action: Page(f"{action} of {name}", "", "trainer kit", lambda _progress: ())}

    app = kits_app("room", pages)
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "Latency: 0.0 ms, not set" in shown(app))
        await pilot.press(key)
        await wait_until(pilot, lambda: f"{action} of room" in shown(app))
        kits.save(Kit(name="room", latency_s=0.0065))
        assert "Latency: " not in shown(app)
        await pilot.press("q")
        await wait_until(pilot, lambda: "Latency: 6.5 ms" in shown(app))
        assert f"{action} of room" not in shown(app)


async def test_the_kit_that_ships_is_not_measured() -> None:
    """Nothing could be kept in it."""
    app = kits_app("general-midi")
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await wait_until(pilot, lambda: "General MIDI percussion" in shown(app))
        await pilot.press("m")
        await wait_until(pilot, lambda: "Learn your own kit first." in shown(app))
        assert "General MIDI percussion" in shown(app)


@pytest.mark.parametrize("size", SIZES)
async def test_how_learning_looks(ear: Reported, size: tuple[int, int]) -> None:
    """Learned, skipped, shared, asked for and still to come, all at once."""
    app, _ = learning(ear)
    async with app.run_test(size=size) as pilot:
        ear.strike(36)
        ear.strike(38)
        ear.strike(38)
        await wait_until(pilot, lambda: "▶ snare, cross-stick" in shown(app))
        await pilot.press("s")
        ear.strike(42, 2)
        await wait_until(pilot, lambda: "●●○○" in shown(app) and "? Help" in shown(app))
        assert await drawn(pilot, "learning", size) == kept("learning", size)


@pytest.mark.parametrize("size", SIZES)
async def test_how_watching_looks(ear: Reported, size: tuple[int, int]) -> None:
    """Messages of every kind."""
    app = watching(ear)
    async with app.run_test(size=size) as pilot:
        ear.hear((0x99, 38, 100), (0x99, 38, 31), gap_s=0.012)
        ear.hear((0xB9, 4, 90), (0xF8,), (0x89, 38, 0), (0xA9, 49, 127), (0x99, 3, 64))
        await wait_until(pilot, lambda: "unknown pad" in shown(app) and "? Help" in shown(app))
        assert await drawn(pilot, "watching", size) == kept("watching", size)


def test_an_ear_hears_on_a_thread_of_its_own() -> None:
    """What the source hears between two looks is taken at once, in order."""

    class Busy(Quiet):
        def poll(self, now_s: float) -> list[SourceEvent]:
            if self.overheard and self.left:
                self.overheard((0x99, 38, self.left), now_s)  # type: ignore[unreachable]
                self.left -= 1
            return []

        left = 3

    heard: list[TimedMessage] = []
    ear = KitMonitor(Busy())
    while len(heard) < 3:
        heard += ear.take()
    ear.close()
    assert [one.message[2] for one in heard] == [3, 2, 1]
    assert [one.time_s for one in heard] == sorted(one.time_s for one in heard)
