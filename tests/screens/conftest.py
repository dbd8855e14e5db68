"""Shared by the tests of the screens."""

from __future__ import annotations

import pytest
from patience import LIMIT_S
from textual.notifications import Notification


@pytest.fixture(autouse=True)
def _notes_stay(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let what a screen says for a few seconds stay, for a busy machine may look too late."""
    monkeypatch.setattr(Notification, "time_left", property(lambda _: LIMIT_S))
