"""Every screen has its help: what it is for, and each of its keys in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from textual.binding import Binding

from trainer.screens.composer import ComposerScreen
from trainer.screens.dialogs import KEY_NAMES, keys_of
from trainer.screens.history import HistoryScreen
from trainer.screens.home import HomeScreen, menu_text
from trainer.screens.kit import KitsScreen, WatchScreen
from trainer.screens.kit_learning import LearnScreen
from trainer.screens.live import LiveScreen
from trainer.screens.patterns import PatternsScreen
from trainer.screens.replay import ReplayScreen
from trainer.screens.routine import RestScreen, RoutineScreen
from trainer.screens.summary import SummaryScreen

if TYPE_CHECKING:
    from textual.screen import Screen

SCREENS = (
    ComposerScreen,
    HistoryScreen,
    HomeScreen,
    KitsScreen,
    LearnScreen,
    LiveScreen,
    PatternsScreen,
    ReplayScreen,
    RestScreen,
    RoutineScreen,
    SummaryScreen,
    WatchScreen,
)


@pytest.mark.parametrize("screen", SCREENS)
def test_every_screen_says_what_it_is_for_and_what_its_keys_do(
    screen: type[Screen[object]],
) -> None:
    """A guide of a sentence or more, F1 and ? for it, and words for every key."""
    assert len(screen.GUIDE) > 60  # type: ignore[attr-defined]
    bindings = [one for one in screen.BINDINGS if isinstance(one, Binding)]
    assert any("f1" in one.key.split(",") for one in bindings)
    for keys, words in keys_of(screen.BINDINGS):
        assert words
        assert not any("_" in key for key in keys.split()), f"{keys} is no key of a keyboard"


def test_no_key_of_home_is_hidden() -> None:
    """What the footer does not show stands in the menu."""
    reported = menu_text(HomeScreen.BINDINGS).plain
    for one in HomeScreen.BINDINGS:
        assert isinstance(one, Binding)
        if not one.show and one.action != "all":
            name = KEY_NAMES.get(one.key, one.key)
            assert f"{name} {one.description}" in reported
