"""Shared by all tests: the player's own folders are kept out of reach."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(autouse=True)
def _own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Point the player's folders at an empty place, so that no test reads or writes real ones."""
    monkeypatch.setenv("TRAINER_HOME", str(tmp_path / "home"))
