"""Shows a page: its parts under a cursor, how far it is, and its acts as keys.

Everything slow runs on threads; what cannot be done is said in words where it was started.
"""

from __future__ import annotations

import asyncio
import contextlib
import time
from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual import work
from textual.binding import Binding
from textual.content import Content
from textual.screen import Screen
from textual.visual import Visual
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from trainer.actions.replay import ReplayRequest
from trainer.actions.requests import Request
from trainer.console import printable
from trainer.errors import TrainerError
from trainer.screens import common
from trainer.screens.common import call_on_screen, is_open
from trainer.screens.dialogs import AskScreen, ChooseScreen
from trainer.screens.replay import open_replay
from trainer.show.ink import wrapped_text
from trainer.show.page import Page, PageLeft, PagePart, TextQuestion

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.app import App, ComposeResult
    from textual.css.styles import RulesMap
    from textual.strip import Strip
    from textual.style import Style
    from textual.visual import RenderOptions
    from textual.worker import Worker

    from trainer.show.page import ChooseQuestion, PageAct

FLUSH_S = 0.1
"""Parts that come faster than this are drawn together."""


class Parts(OptionList, inherit_bindings=False):
    """The parts of a page; enter is left to the page."""

    BINDINGS: ClassVar = [one for one in OptionList.BINDINGS if one.key != "enter"]  # type: ignore[union-attr]


class PageScreen(Screen[None]):
    """One page. Made by `show`, which gives it the keys of the page's acts."""

    COMMON: ClassVar = [
        Binding("f5", "refresh", "Refresh", tooltip="Make the page again", show=False),
        Binding("q,escape", "app.close", "Back", key_display="q", id="close"),
        common.HELP_KEY,
    ]

    def __init__(self, page: Page) -> None:
        super().__init__()
        self.page = page
        self.GUIDE = f"{page.guide} The command “{page.command}” prints the same as text."
        self.parts: list[PagePart] = []
        self._making: Worker[None] | None = None

    def compose(self) -> ComposeResult:
        """Lay out the title, what is being done, the parts and the keys."""
        yield Static(printable(self.page.title), id="heading", markup=False)
        yield Static("", id="progress", markup=False)
        yield Parts(id="parts", markup=False)
        yield common.KeyLine()

    def on_mount(self) -> None:
        """Put the cursor on the parts and have them made."""
        self.list = self.query_one(Parts)
        self.list.focus()
        self.action_refresh()

    @property
    def chosen(self) -> str:
        """The name of the part under the cursor."""
        at = self.list.highlighted
        return self.parts[at].name if at is not None and at < len(self.parts) else ""

    def action_refresh(self) -> None:
        """Make the page again; the cursor stays on its part, or where it is."""
        self._at, self._on = self.list.highlighted, self.chosen
        self._making = self._make()

    @work(thread=True, exclusive=True, group="making")
    def _make(self) -> None:
        """Have the parts made and show them as they come."""

        def on_screen(does: Callable[..., None], *words: object) -> None:
            if not call_on_screen(self, does, *words):
                raise PageLeft

        made: list[PagePart] = []

        def progress(text: str) -> None:
            on_screen(self._add, made[:])
            made.clear()
            on_screen(self.say, text)

        with contextlib.suppress(PageLeft):
            on_screen(self._begin)
            shown_s = time.monotonic()
            try:
                for part in self.page.make(progress):
                    made.append(part)
                    if time.monotonic() - shown_s > FLUSH_S:
                        on_screen(self._add, made[:])
                        made.clear()
                        shown_s = time.monotonic()
            except TrainerError as fault:
                first, *rest = str(fault).splitlines()
                made.append(PagePart(first, tuple(rest)))
            on_screen(self._add, made)
            on_screen(self.say, "")

    def _begin(self) -> None:
        """Begin with an empty page."""
        self.parts = []
        self.list.clear_options()
        self.say("one moment …")

    def say(self, text: str) -> None:
        """Say how far it is; nothing takes no room."""
        line = self.query_one("#progress", Static)
        line.update(Text(printable(text)))
        line.display = bool(text)

    def _add(self, made: list[PagePart]) -> None:
        """Show some more parts, and put the cursor where it belongs."""
        if not made:
            return
        self.parts += made
        self.list.add_options([Option(PartText(part)) for part in made])
        self.list.highlighted = self._place()

    def _place(self) -> int:
        """Return where the cursor belongs: where it was, else on the first part with a name."""
        now = self.list.highlighted if self.chosen else None
        named = [part.name for part in self.parts]
        before = named.index(self._on) if self._on in filter(None, named) else self._at
        at = before if now is None else now
        if at is None:
            at = next((at for at, part in enumerate(self.parts) if part.name), 0)
        return min(at, len(self.parts) - 1)

    def on_option_list_option_selected(self) -> None:
        """A click does what enter does."""
        for at, act in enumerate(self.page.acts):
            if act.key == "enter":
                self.action_act(at)

    def action_act(self, at: int) -> None:
        """Do what a key of the page says."""
        act = self.page.acts[at]
        if act.key == "enter" and not self.parts and self._making and not self._making.is_finished:
            self.notify("Still reading; wait a moment.")
            return
        self._perform(act, self.chosen)

    @work(exclusive=True, group="acting")
    async def _perform(self, act: PageAct, name: str) -> None:
        """Ask what there is to ask, do it, and show the result."""
        answers = [name]
        try:
            for asks in act.asks:
                question = await asyncio.to_thread(asks, *answers)
                if question is None:
                    continue
                answer = await self.app.push_screen_wait(question_screen(question))
                if answer is None:
                    return
                answers.append(answer)
            done = await asyncio.to_thread(act.does, *answers)
        except TrainerError as fault:
            self.notify(printable(str(fault)), severity="error", markup=False)
            return
        if is_open(self):
            self._follow(done)

    def _follow(self, done: object) -> None:
        if isinstance(done, Page):
            open_page(self.app, done)
        elif isinstance(done, ReplayRequest):
            open_replay(self.app, done)
        elif isinstance(done, Request):
            app: Any = self.app
            app.play(done)
        else:
            if done:
                self.notify(printable(str(done)), markup=False)
            self.action_refresh()


def open_page(app: App[Any], page: Page, closed: Callable[[None], None] = lambda _: None) -> None:
    """Open a page above the screen that is shown; `closed` is called once it is left."""
    app.push_screen(screen_of_page(page), closed)


def screen_of_page(page: Page) -> PageScreen:
    """Return the screen of a page, with a key for each of its acts."""
    acts = [
        Binding(act.key, f"act({at})", act.label, tooltip=act.tooltip, show=act.show)
        for at, act in enumerate(page.acts)
    ]
    kind = type("ShownPage", (PageScreen,), {"BINDINGS": [*acts, *PageScreen.COMMON]})
    screen: PageScreen = kind(page)
    return screen


def question_screen(question: ChooseQuestion | TextQuestion) -> Screen[str | None]:
    """Return the small screen that asks a question."""
    if isinstance(question, TextQuestion):
        return AskScreen(question.question, question.text, question.refuses)
    return ChooseScreen(
        question.question, question.choices, question.chosen, words_alone=question.words_alone
    )


class PartText(Visual):
    """A part with its heading stressed and room below; rows of a table close.

    A line that is too long for the window continues set in, under the line itself.
    """

    def __init__(self, part: PagePart) -> None:
        self._part = part

    def _content(self, columns: int) -> Content:
        heading, lines = self._part.heading, self._part.lines
        text = Text(_fitted(heading, columns), "" if not lines else "bold")
        for line in lines:
            text.append("\n" + _fitted(line, columns), "not bold")
        return Content.from_rich_text(text.append("\n") if lines else text)

    def get_optimal_width(self, rules: RulesMap, container_width: int) -> int:
        """Return the whole width."""
        return container_width

    def get_minimal_width(self, rules: RulesMap) -> int:
        """Return the narrowest that is drawn."""
        return 1

    def get_height(self, rules: RulesMap, width: int) -> int:
        """Return how many lines it takes."""
        return self._content(width).get_height(rules, width)

    def render_strips(
        self, width: int, height: int | None, style: Style, options: RenderOptions
    ) -> list[Strip]:
        """Draw it."""
        return self._content(width).render_strips(width, height, style, options)


MEASURE = 100
"""Columns of a sentence at most; rows of a table and tab may be wider."""


def _fitted(line: str, columns: int) -> str:
    words = line.split()
    if "  " not in line.strip() and max(map(len, words), default=0) < MEASURE // 2:
        columns = min(columns, MEASURE)
    return "\n".join(wrapped_text(printable(line), columns))
