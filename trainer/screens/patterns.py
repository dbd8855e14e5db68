"""The pattern browser: every pattern, found by words, tag, level and limb, and what it looks like.

Reading files happens off the event loop.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual import work
from textual.binding import Binding
from textual.containers import Container, VerticalScroll
from textual.screen import Screen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from trainer.actions.patterns import SheetRequest, all_patterns, write_sheet
from trainer.actions.requests import PlayRequest, setup_on
from trainer.console import printable
from trainer.errors import TrainerError
from trainer.pattern import library
from trainer.pattern.draft import Draft
from trainer.pattern.library import PatternFilter
from trainer.screens import common
from trainer.screens.common import call_on_screen, is_open
from trainer.screens.composer import ComposerScreen
from trainer.screens.dialogs import AskScreen, ChooseScreen
from trainer.show import pattern_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from textual.app import App, ComposeResult
    from textual.events import Resize

    from trainer.pattern.library import PatternEntry

REST_S = 0.06
"""How long the cursor rests on a pattern before it is read."""

TYPED_S = 0.08
"""How long typing rests before the list is searched: a long list is not made again for each key."""

SLOW_S = 0.4
"""After so long the player sees that something is being read."""

LIMBS = ("", "RH", "LH", "RF", "LF")
EMPTY = PatternFilter()


class PatternList(OptionList):
    """The list; enter practises."""

    BINDINGS: ClassVar = [Binding("enter", "select", "Practise")]


class PatternsScreen(Screen[None]):
    """The list, the filters and the preview."""

    GUIDE = (
        "Every pattern there is, your own included. Type / and words to find some. t, the digits "
        "and m filter by tag, level and limb. escape shows all again, and then goes back. Below "
        "or beside the list is the pattern as tab: steps across, voices down, the sticking below."
    )
    SIGNS = (
        ("x o", "stroke"),
        ("X O", "accent"),
        ("g", "ghost note"),
        ("f d", "flam, drag"),
        ("b @ w", "bell, rim, cross-stick"),
        ("*", "one of your own patterns"),
        ("!", "cannot be read; the preview says why"),
    )
    BINDINGS: ClassVar = [
        Binding("enter", "practise", "Practise", id="practise"),
        # First of all: what is typed next, however fast, are the words to find.
        Binding("slash", "find", "Find", key_display="/", priority=True, id="find"),
        Binding("t", "tag", "Tag", tooltip="Only those with a tag", id="tag"),
        Binding("1", "level(1)", "Level", key_display="1-5", tooltip="Only level 1"),
        *(
            Binding(str(level), f"level({level})", f"Only level {level}", show=False)
            for level in range(2, 6)
        ),
        Binding("0", "level(0)", "Any level", show=False),
        Binding("m", "limb", "Only those that use a limb, the next one each time", show=False),
        Binding("c", "compose", "Compose", tooltip="Change it in the composer", id="compose"),
        Binding("n", "new", "Compose a new pattern", show=False, id="new"),
        Binding("p", "print", "Print", tooltip="Print it for the music stand", id="print"),
        Binding("escape", "all", "Show all patterns, then go back", show=False, id="all"),
        Binding("q", "app.close", "Back", id="close"),
        common.HELP_KEY,
    ]

    def __init__(
        self,
        at: str = "",
        wanted: PatternFilter = EMPTY,
        *,
        port: str = "",
        compose_first: bool = False,
        write: Callable[[SheetRequest], Iterable[Path]] = write_sheet,
    ) -> None:
        """Begin at a pattern, with a filter; `port` is what a choice is played on.

        `compose_first` opens the composer at once, `write` prints a page.
        """
        super().__init__()
        self.port, self._write, self._compose_first = port, write, compose_first
        self.wanted = wanted
        self.entries: Sequence[PatternEntry] = ()
        self.listed: Sequence[PatternEntry] = ()
        self.shown: PatternEntry | None = None
        self._options: dict[int, Option] = {}
        self._text = ""
        self._at = at

    def compose(self) -> ComposeResult:
        """Lay out the filters, the list, the preview and the keys."""
        yield Static("reading the patterns …", id="heading", markup=False)
        yield Input(placeholder="words of its name, title or tags", id="words", compact=True)
        with Container(id="browse"):
            yield PatternList(id="found", markup=False)
            with VerticalScroll(id="preview", can_focus=True):
                yield Static("", id="pattern", markup=False)
        yield common.KeyLine()

    def on_mount(self) -> None:
        """Put the cursor on the list."""
        self.found = self.query_one(PatternList)
        self.query_one("#words").display = False
        self.found.focus()
        self._rest = self.set_timer(REST_S, self.refresh_preview)
        self._typing = self.set_timer(TYPED_S, self._typed)
        if self._compose_first:
            self.open_composer(self._at)

    def on_screen_resume(self) -> None:
        """Read the list, at first and after the composer, which may have saved a pattern."""
        self.read_list()

    @property
    def chosen(self) -> PatternEntry | None:
        """The pattern under the cursor."""
        place = self.found.highlighted
        return None if place is None or place >= len(self.listed) else self.listed[place]

    def show_list(self, entries: Sequence[PatternEntry]) -> None:
        """Show the patterns that were read; the cursor stays on its pattern."""
        self.entries = entries
        self._options = {id(entry): Option(list_line(entry)) for entry in entries}
        self._list()

    def _list(self) -> None:
        """List what is wanted, the cursor where it was or on the first."""
        before = self.chosen.name if self.chosen else self._at
        self.listed = [entry for entry in self.entries if self.wanted.fits(entry)]
        self.found.clear_options()
        self.found.add_options([self._options[id(entry)] for entry in self.listed])
        names = [entry.name for entry in self.listed]
        self.found.highlighted = names.index(before) if before in names else 0 if names else None
        self._head()
        if not self.listed:
            self._show(["Nothing fits. Press escape to show all patterns."])

    def _head(self) -> None:
        """Say how many are shown and what is looked for."""
        wanted = self.wanted
        filters = [f'"{" ".join(wanted.words)}"'] if wanted.words else []
        filters += [f"tag {tag}" for tag in wanted.tags]
        filters += [f"level {wanted.level}"] if wanted.level else []
        filters += [f"for {wanted.limb}"] if wanted.limb else []
        head = Text(f"Patterns: {len(self.listed)} of {len(self.entries)}", "bold")
        if filters:
            head.append(f"   {printable(', '.join(filters))}   (escape: all)", "not bold")
        self.query_one("#heading", Static).update(head)

    def _want(self, wanted: PatternFilter) -> None:
        self.wanted = wanted
        self._list()

    def on_option_list_option_highlighted(self) -> None:
        """Read the pattern once the cursor rests."""
        self._rest.stop()
        self._rest = self.set_timer(REST_S, self.refresh_preview)

    def on_resize(self, event: Resize) -> None:
        """Draw the tab for the new width."""
        del event
        self.call_after_refresh(self.refresh_preview)

    def refresh_preview(self) -> None:
        """Read the pattern under the cursor and show it; say so where that takes long."""
        # A timer may end while the screen is being taken down.
        if is_open(self) and self.chosen:
            self.set_timer(SLOW_S, partial(self._reading, self.chosen))
            self.read_pattern(self.chosen, self.query_one("#preview").size.width - 1)

    def _reading(self, entry: PatternEntry) -> None:
        if is_open(self) and self.chosen is entry and self.shown is not entry:
            self._show([f"reading {entry.name} …"])

    def show_preview(self, entry: PatternEntry | None, lines: Sequence[str]) -> None:
        """Show a pattern's lines, unless the cursor has moved on meanwhile."""
        if entry is self.chosen:
            self.shown = entry
            self._show(lines)

    def _show(self, lines: Sequence[str]) -> None:
        self.query_one("#pattern", Static).update(Text(printable("\n".join(lines))))
        self.query_one("#preview").scroll_home(animate=False)

    def on_option_list_option_selected(self) -> None:
        """Practise what was chosen with enter or the mouse."""
        self.action_practise()

    def on_input_changed(self) -> None:
        """List what fits the words so far, once typing rests."""
        self._typing.stop()
        self._typing = self.set_timer(TYPED_S, self._typed)

    def _typed(self) -> None:
        """List what fits the words in the field."""
        self._typing.stop()
        if not is_open(self):
            return
        text = self.query_one("#words", Input).value
        if text != self._text:
            self._text = text
            self._want(replace(self.wanted, words=tuple(text.split())))

    def on_input_submitted(self) -> None:
        """Go back to the list."""
        self._typed()
        self.found.focus()

    def on_key(self, event: object) -> None:
        """Go from the words to the list with the down arrow."""
        if getattr(event, "key", "") == "down" and self.focused is self.query_one("#words"):
            self.on_input_submitted()

    def action_find(self) -> None:
        """Type words to find patterns by."""
        field = self.query_one("#words")
        field.display = True
        # At once: what is typed next belongs there.
        self.set_focus(field)

    async def action_all(self) -> None:
        """Show all patterns again; go back where all are shown."""
        field = self.query_one("#words", Input)
        if self.wanted == EMPTY and not field.display:
            await self.run_action("app.close")
            return
        with field.prevent(Input.Changed):
            field.value = ""
        field.display = False
        self._typing.stop()
        self._text = ""
        self.found.focus()
        self._want(EMPTY)

    def action_level(self, level: int) -> None:
        """Leave only the patterns of a level; 0 takes any."""
        self._want(replace(self.wanted, level=level or None))

    def action_limb(self) -> None:
        """Leave only the patterns for the next limb, then for any again."""
        at = LIMBS.index(self.wanted.limb)
        self._want(replace(self.wanted, limb=LIMBS[(at + 1) % len(LIMBS)]))

    def action_tag(self) -> None:
        """Choose a tag."""
        counted = library.tag_counts(self.entries)
        choices = [("any", ""), *((tag, f"{count} patterns") for tag, count in counted.items())]

        def take(tag: str | None) -> None:
            if tag is not None:
                self._want(replace(self.wanted, tags=() if tag == "any" else (tag,)))

        now = self.wanted.tags[0] if self.wanted.tags else "any"
        self.app.push_screen(ChooseScreen("Only patterns with the tag", choices, now), take)

    def action_practise(self) -> None:
        """Practise the pattern under the cursor."""
        if entry := self._readable():
            self.practise(entry.name)

    def action_compose(self) -> None:
        """Change the pattern under the cursor in the composer."""
        if entry := self._readable():
            self.open_composer(entry.name)

    def action_new(self) -> None:
        """Compose a pattern from nothing."""
        self.open_composer("")

    def action_print(self) -> None:
        """Take the name of a file and print the pattern into it."""
        if entry := self._readable():

            def answer(file: str | None) -> None:
                if file:
                    self.notify(f"Printing {entry.name} …", markup=False)
                    self.print_pattern(entry.name, file)

            question = "Print it into a file: .pdf, .svg, .html or .musicxml"
            self.app.push_screen(AskScreen(question, f"{entry.name}.pdf", file_refusal), answer)

    def _readable(self) -> PatternEntry | None:
        """Return the pattern under the cursor where it can be read; say so where not."""
        entry = self.chosen
        if entry is None or entry.fault:
            words = entry.fault if entry else "There is no pattern to choose."
            self.notify(printable(words), severity="warning", markup=False)
            return None
        return entry

    def practise(self, pattern: str) -> None:
        """Practise a pattern on what the browser was opened for."""
        app: Any = self.app
        app.play(PlayRequest(pattern, setup=setup_on(self.port)))

    def open_composer(self, name: str) -> None:
        """Open the composer on a pattern, or on an empty one."""
        try:
            draft = Draft.of(name) if name else Draft()
        except TrainerError as fault:
            self.notify(printable(str(fault)), severity="warning", markup=False)
            return
        self.app.push_screen(ComposerScreen(draft), self._take_composed)

    def _take_composed(self, pattern: str | None) -> None:
        if pattern:
            self.practise(pattern)

    @work(thread=True, exclusive=True, group="list")
    def read_list(self) -> None:
        """Read the headings of all patterns."""
        call_on_screen(self, self.show_list, all_patterns())

    @work(thread=True, exclusive=True, group="pattern")
    def read_pattern(self, entry: PatternEntry, width: int) -> None:
        """Read one pattern and draw it for a width."""
        try:
            lines = pattern_words.pattern_lines(library.load_pattern(str(entry.path)), width)
        except TrainerError as fault:
            lines = pattern_words.unreadable_lines(entry.title, str(fault), width)
        call_on_screen(self, self.show_preview, entry, lines)

    @work(thread=True)
    def print_pattern(self, name: str, file: str) -> None:
        """Print a pattern and say where."""
        app = self.app
        try:
            paths = [*self._write(SheetRequest((name,), Path(file)))]
        except TrainerError as fault:
            words, severity = str(fault), "error"
        else:
            words = "\n".join(f"written: {path.absolute()}" for path in paths)
            severity = "information"
        call_on_screen(app, app.notify, printable(words), severity=severity, markup=False)


def open_patterns(app: App[Any], *, port: str = "") -> None:
    """Open the browser above the screen that is shown; choices are played on a port."""
    app.push_screen(PatternsScreen(port=port))


def list_line(entry: PatternEntry) -> Text:
    """Return a pattern's line of the list: a mark, its level, its title."""
    mark = "!" if entry.fault else "*" if entry.own else " "
    return Text(
        f"{mark} {entry.level or '-'}  {printable(entry.title)}", no_wrap=True, overflow="ellipsis"
    )


def file_refusal(file: str) -> str:
    """Return why a file cannot be printed into: never over another one."""
    return "There is such a file already; choose another name." if Path(file).exists() else ""
