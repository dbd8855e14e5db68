"""What home shows in tests: a kit, three patterns, and a session of one of them; and the app."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.actions.history import Known
from trainer.archive.session_list import SessionEntry as Played
from trainer.pattern.library import PatternEntry as Written
from trainer.screens.home import HomeScreen
from trainer.screens.page_screen import screen_of_page
from trainer.screens.trainer_app import TrainerApp

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.actions.requests import Request
    from trainer.midi.pad_steering import PadSteering
    from trainer.show.page import Page

PATTERNS = (
    Written("leapfrog", "Leapfrog [b]up[/b]", Path("leapfrog.toml"), ("note values",)),
    Written("singles", "Singles", Path("singles.toml"), ("singles", "feet")),
    Written("broken", "Broken", Path("broken.toml"), fault="no bars"),
)
SESSION = Played(
    Path("one.jsonl"),
    datetime(2026, 3, 1, 18, 30, tzinfo=UTC),
    "singles",
    "Singles",
    "",
    True,
    600.0,
    20,
    400,
    (80.0, 92.0),
    (),
    {},
)
KNOWN = Known(("Pad box",), PATTERNS, (SESSION,))
NOW = SESSION.started + timedelta(days=1)


class Around:
    """Knows what a test says; `looks` counts the looks at everything."""

    def __init__(self, known: Known) -> None:
        self.known, self.looks = known, 0
        self.closed = False

    def look(self) -> Known:
        self.looks += 1
        return self.known

    def look_at_ports(self, known: Known) -> Known:
        return replace(known, ports=self.known.ports)

    def close(self) -> None:
        self.closed = True


class AtHome(TrainerApp):
    """The app on home; `asked` is what was to be played, `opened` what was to be opened."""

    def __init__(
        self,
        known: Known = KNOWN,
        source: str = "",
        *,
        page_of: Callable[[str, str], Page] | None = None,
        steering: Callable[[str], PadSteering | None] = lambda _source: None,
    ) -> None:
        self.around = Around(known)
        self.home = HomeScreen(self.around, self.open_screen, source, lambda: NOW)
        self.home.steering = steering  # type: ignore[method-assign]
        super().__init__(self.home)
        self.asked: list[Request] = []
        self.opened: list[tuple[str, str]] = []
        self._page_of = page_of

    def play(self, request: Request) -> None:
        self.asked.append(request)

    def open_screen(self, _app: TrainerApp, name: str, port: str) -> None:
        self.opened.append((name, port))
        if self._page_of:
            self.push_screen(screen_of_page(self._page_of(name, port)))
