"""Shared by the tests of the screens."""

from __future__ import annotations

import pytest
from patience import LIMIT_S
from textual.notifications import Notification

from trainer.show import session_words


@pytest.fixture(autouse=True)
def _notes_stay(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let what a screen says for a few seconds stay, for a busy machine may look too late."""
    monkeypatch.setattr(Notification, "time_left", property(lambda _: LIMIT_S))


@pytest.fixture(autouse=True)
def _the_year_of_the_sessions(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let it be 2026, the year of the sessions in these tests, so that none needs its year."""
    monkeypatch.setattr(session_words, "this_year", lambda: 2026)
