"""The composer: sticking, path, value, feet, meter and the rest in a form, the bar beside it.

Every change is read again off the event loop; faults are shown under the field they come from, in
the words that checking a file would use.
"""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual import work
from textual.binding import Binding
from textual.containers import Container, Horizontal, Vertical, VerticalScroll
from textual.screen import Screen
from textual.widgets import Input, Label, Static

from trainer.console import printable
from trainer.errors import BadInput, TrainerError
from trainer.pattern import library
from trainer.pattern.draft import Draft, faults_by_field
from trainer.pattern.language import changes
from trainer.screens.common import KeyLine, call_on_screen, is_open
from trainer.screens.dialogs import AskScreen, ChooseScreen
from trainer.screens.summary import SummaryScreen
from trainer.show import pattern_words
from trainer.show.page import refused_by
from trainer.show.pattern_words import FIELD_CHOICES, trial_lines

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from textual.app import ComposeResult

    from trainer.pattern.model import Pattern

REST_S = 0.05
"""How long typing rests before the bar is drawn again."""

GROUPS = {
    "hands": ("sticking", "value", "path", "per", "lead"),
    "feet": ("feet", "kick", "pedal"),
    "bars": ("meter", "length", "tempo"),
    "how it is played": ("swing", "dynamics", "accents"),
    "more of the hands": ("rhythm", "back", "orders", "each", "seed", "shift", "shift-accents"),
    "more of the feet": ("kick2", "feet-value"),
    "other patterns": ("phrase",),
    "heading": ("title", "about", "tags", "level", "tempo-unit", "times"),
}
"""The fields in the order they are shown, the ones used most at the top."""

UNSAVED = "unsaved"
"""The name under which an unfinished form is kept."""

KEEP, LEAVE, OVER = "keep composing", "leave", "write over it"


class FieldRow(Vertical):
    """One field of the form with its name, and below it what is wrong with it."""

    def __init__(self, key: str, text: str) -> None:
        super().__init__(classes="field")
        self.key, self._text = key, text
        self._reported: Sequence[str] = ()

    def compose(self) -> ComposeResult:
        """Lay out name, input and fault."""
        with Horizontal():
            yield Label(f" {self.key}", markup=False)
            yield Input(
                self._text,
                id=f"field-{self.key}",
                placeholder="" if self._text else "–",
                compact=True,
                select_on_focus=False,
            )
        yield Static("", markup=False, classes="fault")

    def show(self, faults: Sequence[str]) -> None:
        """Show what is wrong, or that nothing is."""
        if faults == self._reported:
            return
        self._reported = faults
        self.query_one(Label).update(Text(f"{'!' if faults else ' '}{self.key}"))
        reported = self.query_one(Static)
        reported.update(Text(printable("\n".join(faults))))
        reported.display = bool(faults)


class ComposerScreen(Screen[str | None]):
    """The form and the pattern it makes; ends with the pattern to be practised, or nothing."""

    GUIDE = (
        "Type into a field, or press enter in it for a list. Up and down go from field to field. "
        "The pattern is drawn as you type. What is wrong with a field is shown below it. The "
        "drawing then waits until that is fixed. An empty field is left out of the pattern. "
        "R and L are the hands on a right-handed kit; the drawing shows them as your kit has them. "
        "Try: the simulated player plays half a minute of it. All that a field may say: trainer "
        "patterns language."
    )
    BINDINGS: ClassVar = [
        # Keys that move go first: what is typed next, however fast, belongs to the field they lead
        # to, and the form must not scroll by them.
        Binding("enter", "choose", "Choose", tooltip="Choose for this field", priority=True),
        Binding("ctrl+t", "try", "Try", tooltip="Let the simulated player try it", id="try"),
        Binding("ctrl+s", "save", "Save", tooltip="Save it under a name", id="save"),
        Binding("ctrl+g", "practise", "Practise", tooltip="Practise it", id="practise"),
        Binding("up", "app.focus_previous", "Field before", show=False, priority=True),
        Binding("down", "app.focus_next", "Next field", show=False, priority=True),
        Binding("pageup", "turn(-1)", "Turn the drawing back", show=False, priority=True),
        Binding("pagedown", "turn(1)", "Turn the drawing on", show=False, priority=True),
        Binding("escape", "leave", "Back", id="leave"),
        Binding("f1", "app.help", "Help", id="help"),
    ]

    def __init__(self, draft: Draft) -> None:
        super().__init__()
        self.draft = draft
        self.saved = draft
        self.pattern: Pattern | None = None
        self._given_up = False

    def compose(self) -> ComposeResult:
        """Lay out the form, the drawing and the keys."""
        yield Static("", id="heading", markup=False)
        with Container(id="composer"):
            with VerticalScroll(id="form", can_focus=False):
                for group, keys in GROUPS.items():
                    yield Static(group, markup=False, classes="group")
                    for key in keys:
                        yield FieldRow(key, self.draft.fields.get(key, ""))
            with VerticalScroll(id="drawn", can_focus=False):
                yield Static("", id="faults", markup=False)
                yield Static("", id="bar", markup=False)
        yield Static("", id="hint", markup=False)
        yield KeyLine()

    def on_mount(self) -> None:
        """Draw what there is, and type at once."""
        self._rest = self.set_timer(REST_S, self.draw_again)
        self._head()
        self.query_one("#field-sticking").focus()

    def on_unmount(self) -> None:
        """Keep what was typed where the program ends by a fault, or its window is closed."""
        if not self._given_up and self._unsaved():
            with suppress(TrainerError):
                name = library.save_beside(UNSAVED, self.draft.to_text())
                self.app.remarks.append(f"What you composed is kept as the pattern {name}.")  # type: ignore[attr-defined]

    @property
    def key(self) -> str:
        """The field that is typed in."""
        field = self.focused
        return field.id.removeprefix("field-") if field and field.id else ""

    def on_input_changed(self, event: Input.Changed) -> None:
        """Take what was typed and draw once typing rests."""
        if event.input.id:
            self.draft = self.draft.with_field(event.input.id.removeprefix("field-"), event.value)
            self._rest.stop()
            self._rest = self.set_timer(REST_S, self.draw_again)

    def on_descendant_focus(self) -> None:
        """Say what the field is for."""
        words = changes.MEANINGS.get(self.key, "")
        more = "   (enter: a list)" if self.key in FIELD_CHOICES else ""
        self.query_one("#hint", Static).update(Text(f"{self.key}: {words}{more}"))

    def on_resize(self) -> None:
        """Draw for the new width."""
        self.call_after_refresh(self.draw_again)

    def draw_again(self) -> None:
        """Read and draw what the form says now."""
        # A timer may end while the screen is being taken down.
        if is_open(self):
            self._draw(self.draft, max(20, self.query_one("#drawn").size.width - 1))

    @work(thread=True, exclusive=True, group="draw")
    def _draw(self, draft: Draft, width: int) -> None:
        pattern, lines, faults = None, list[str](), dict[str, list[str]]()
        try:
            pattern = draft.pattern()
            lines = pattern_words.pattern_lines(pattern, width, heading=False)
        except BadInput as fault:
            faults = faults_by_field(fault)
        call_on_screen(self, self._show, draft, pattern, lines, faults)

    def _show(
        self,
        draft: Draft,
        pattern: Pattern | None,
        lines: Sequence[str],
        faults: Mapping[str, list[str]],
    ) -> None:
        """Show what came of a draft, unless another one is being read already."""
        if draft is not self.draft:
            return
        self.pattern = pattern
        for row in self.query(FieldRow):
            row.show(faults.get(row.key, ()))
        if pattern:
            self.query_one("#bar", Static).update(Text(printable("\n".join(lines))))
        self.query_one("#bar").set_class(pattern is None, "-old")
        self.query_one("#faults", Static).update(Text("\n".join(_fault_lines(faults))))
        self.query_one("#faults").display = bool(faults)
        self._head()

    def _head(self) -> None:
        draft = self.draft
        what = f"Compose: from {draft.name}" if draft.name else "Compose: a new pattern"
        state = "" if draft is self.saved or not self._unsaved() else "   (not saved)"
        self.query_one("#heading", Static).update(Text(printable(what) + state))

    def _unsaved(self) -> bool:
        return self.draft.to_table() != self.saved.to_table()

    def action_choose(self) -> None:
        """Choose for the field from a list; move to the next field where there is none."""
        key = self.key
        if key not in FIELD_CHOICES:
            self.focus_next()
            return
        field = self.query_one(f"#field-{key}", Input)

        def take(value: str | None) -> None:
            if value is not None:
                field.value = "" if value == "–" else value
                field.cursor_position = len(field.value)

        choices = [*FIELD_CHOICES[key], ("–", "say nothing")]
        question = f"{key}: {changes.MEANINGS[key]}"
        self.app.push_screen(ChooseScreen(question, choices, field.value), take)

    def action_turn(self, pages: int) -> None:
        """Turn the pages of the drawing."""
        drawn = self.query_one("#drawn")
        drawn.scroll_relative(y=pages * drawn.size.height, animate=False)

    def action_try(self) -> None:
        """Let the simulated player try it and show the result in words."""
        if self._ready():
            assert self.pattern
            self.notify("The simulated player tries it …", markup=False, timeout=2)
            self._try(self.pattern)

    @work(thread=True, exclusive=True, group="try")
    def _try(self, pattern: Pattern) -> None:
        title = f"Tried by the simulated player: {pattern.title}"
        lines = trial_lines(pattern)
        call_on_screen(self, lambda: self.app.push_screen(SummaryScreen(title, lines, None)))

    def action_save(self) -> None:
        """Take a name and save it in the player's own folder."""
        if self._ready():
            self._ask_name(lambda name: self.notify(f"Saved as {name}.", markup=False))

    def action_practise(self) -> None:
        """End with the pattern; one that was changed is saved first."""
        if self._ready():
            if self.saved.name and not self._unsaved():
                self.dismiss(self.saved.name)
            else:
                self._ask_name(self.dismiss)

    def action_leave(self) -> None:
        """Go back; ask first where something would be lost."""
        if not self._unsaved():
            self.dismiss(None)
            return
        choices = [(KEEP, "nothing is lost"), (LEAVE, "what is not saved is gone")]

        def answer(chosen: str | None) -> None:
            if chosen == LEAVE:
                self._given_up = True
                self.dismiss(None)

        self.app.push_screen(ChooseScreen("Leave without saving?", choices), answer)

    def _ready(self) -> bool:
        """Return whether the form makes a pattern now; say so where it does not."""
        try:
            self.pattern = self.draft.pattern()
        except BadInput:
            self.notify("Fix what is wrong first.", severity="warning", markup=False)
            return False
        return True

    def _ask_name(self, then: Callable[[str], object]) -> None:
        """Take a name, save under it, and continue."""

        def answer(name: str | None) -> None:
            if name and library.is_name_taken(name):
                choices = [(KEEP, "and choose another name"), (OVER, "the old one is gone")]
                self.app.push_screen(
                    ChooseScreen(f"You have a pattern {name} already.", choices),
                    lambda chosen: self._save(name, then) if chosen == OVER else None,
                )
            elif name:
                self._save(name, then)

        self.app.push_screen(
            AskScreen("Save it as", suggested(self.draft), refused_by(library.check_name)), answer
        )

    def _save(self, name: str, then: Callable[[str], object]) -> None:
        try:
            text = self.draft.to_text()
            library.save_pattern(name, text, over=True)
        except TrainerError as fault:
            self.notify(printable(str(fault)), severity="error", markup=False)
            return
        self.draft = self.saved = self.draft.saved_as(name, text)
        self._head()
        then(name)


def suggested(draft: Draft) -> str:
    """Return a name to save under: its own, one beside the shipped one, or from the title."""
    if draft.own:
        return draft.name
    if draft.name:
        return f"my-{draft.name}"[:80]
    title = draft.fields.get("title", "").lower()
    return "-".join("".join(c if c.isascii() and c.isalnum() else " " for c in title).split())[:80]


def _fault_lines(faults: Mapping[str, list[str]]) -> Iterator[str]:
    """Yield the lines above the drawing: how much there is to fix, and what has no field."""
    count = sum(map(len, faults.values()))
    if count:
        where = ", at the sign !" if count > len(faults.get("", ())) else ""
        yield f"To fix: {count}{where}"
        yield from (printable(one) for one in faults.get("", ()))
        yield ""
