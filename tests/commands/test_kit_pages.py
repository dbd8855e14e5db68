"""What is measured of a kit, as pages: over real MIDI, and its latency from a session."""

from __future__ import annotations

import time
from threading import Thread
from typing import TYPE_CHECKING, Any

import pytest
from patience import LIMIT_S

from trainer.actions import kit_measuring
from trainer.cli import run
from trainer.errors import BadInput
from trainer.file_system import user_folder
from trainer.kit import kits
from trainer.kit.model import Kit, Pad
from trainer.screens import pages_kit
from trainer.show.page import PageLeft

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.show.page import Page


def lines(page: Page) -> list[str]:
    """Return what a page says."""
    return [part.heading for part in page.make(lambda _text: None)]


@pytest.mark.jack
def test_a_kit_is_surveyed_from_the_screen(
    sender: Callable[[str], Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Doubles are found and kept, and how long is left is reported with what has come."""
    odd = sender("survey kit")
    kits.save(Kit(name="odd", ports=("survey kit",), notes={38: Pad("snare", "head")}))
    monkeypatch.setattr(pages_kit, "SURVEY_S", 6.0)
    monkeypatch.setattr(kit_measuring, "STRENGTH_SECONDS", 1.0)
    reported: list[str] = []
    rows = []
    for stroke in range(40):
        at = 0.8 + 0.27 * stroke
        rows += [(at, (0x99, 38, 100)), (at + 0.02, (0x99, 38, 30))]
    player = Thread(target=odd.play, args=(rows,), daemon=True)
    player.start()
    said = [one.heading for one in pages_kit.kit_pages("odd")["survey"].make(reported.append)]
    player.join()
    assert said[0] == "Listening to survey kit:drums."
    assert any("double triggers" in one for one in said)
    assert said[-1].startswith("Kept in")
    assert any("s left" in one and "snare" in one for one in reported)
    assert "snare" in kits.load("odd").rules.doubles


@pytest.mark.jack
def test_leaving_a_question_changes_nothing(
    sender: Callable[[str], Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Who leaves while a question waits is let go long before it is over, with the port closed."""
    sender("quiet kit")
    kits.save(Kit(name="quiet", ports=("quiet kit",)))
    monkeypatch.setattr(kit_measuring, "ASKED_S", 2 * LIMIT_S)
    before = kits.load("quiet")
    began = time.monotonic()
    asked: list[str] = []

    def leave(text: str) -> None:
        asked.append(text)
        if len(asked) == 2:
            raise PageLeft

    with pytest.raises(PageLeft):
        list(pages_kit.kit_pages("quiet")["controllers"].make(leave))
    assert time.monotonic() - began < LIMIT_S
    assert kits.load("quiet") == before


def test_a_latency_is_set_by_hand() -> None:
    """In ms, kept at once; what makes no sense is refused by the question."""
    kits.save(Kit(name="room"))
    page = pages_kit.latency_page("room")
    assert lines(page)[0] == "Not set yet."
    (by_hand,) = [one for one in page.acts if one.key == "s"]
    question = by_hand.asks[0]("")
    assert question
    assert question.refuses("soon")  # type: ignore[union-attr]
    assert question.refuses("1e9")  # type: ignore[union-attr]
    assert not question.refuses("6.5")  # type: ignore[union-attr]
    assert "6.5 ms" in by_hand.does("", "6.5")
    assert kits.load("room").latency_s == pytest.approx(0.0065)
    assert lines(page)[0] == "Set now: 6.5 ms."


def test_a_latency_is_measured_from_a_session() -> None:
    """What the page measured is kept with one key; without a session it says what to do."""
    kits.save(Kit(name="room"))
    page = pages_kit.latency_page("room")
    (keep,) = [one for one in page.acts if one.key == "k"]
    with pytest.raises(BadInput, match="no session"):
        keep.does("")
    assert any("no session was played" in one for one in lines(page))
    play = ["play", "fives-and-threes", "--port", "simulated", "--fast", "--kit", "room"]
    assert run([*play, "--passes", "1"]) == 0
    assert [*user_folder("recordings").glob("*.jsonl")]
    assert any("cannot separate" in one for one in lines(page))
    assert "kept in" in keep.does("")
