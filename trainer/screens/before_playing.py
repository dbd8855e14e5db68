"""Before you play: one screen of choices, remembered for each pattern; and the lasting settings.

Both are a list of rows. Up and down go from row to row, left and right change one, a number may be
typed for some of them, enter starts (or keeps).
"""

from __future__ import annotations

import contextlib
from dataclasses import asdict, replace
from textwrap import wrap
from typing import TYPE_CHECKING, Any, ClassVar

from textual import work
from textual.binding import Binding
from textual.screen import Screen

from trainer import settings
from trainer.actions.choices import (
    FIGURE,
    LADDER,
    NUMBERS,
    OFFERED,
    PASSES,
    Choices,
    keep_choices,
    last_choices,
    request_of,
)
from trainer.actions.requests import COMPUTER_KEYS, SIMULATED_PLAYER
from trainer.console import printable
from trainer.errors import TrainerError
from trainer.pattern.library import load_pattern
from trainer.screens import common
from trainer.screens.widgets.canvas import Lines

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from textual.app import ComposeResult
    from textual.events import Key

    from trainer.actions.requests import SessionRequest
    from trainer.show.ink import Line

LABEL_COLUMNS, VALUE_COLUMNS = 14, 24

ROWS = {
    "kind": ("Play", "at one tempo, or climb a ladder of tempos"),
    "tempo": ("Tempo", "BPM; type a number"),
    "length": ("How long", "type a number of passes, or choose minutes"),
    "step": ("Step", "the largest step of the ladder, in BPM"),
    "strict": ("Strict", "how much counts as clean"),
    "count_in": ("Count-in", "bars before the first stroke"),
    "click": ("Click", "where it sounds"),
    "sound": ("Sound", "of a click through the sound card"),
    "parts": ("Clicks a beat", "1 to 8, or in turn: 1x4,4x4 is one for 4 bars, then four"),
    "on": ("Click on", "the beats that click; type others, as in 2,4"),
    "accents": ("Accents", "beats as in 1,3, groups of them as in 3+3+2, or none"),
    "late": ("After beat", "how late the click is: 1/8 is on the offbeat"),
    "swing": ("Swing", "50 is even, 67 a triplet's; for 2 or more clicks a beat"),
    "silent": ("Silent bars", "1/4: the last of 4. 1-3/4: then 2, then 3. 30%: by chance"),
    "lead": ("Lead hand", "which hand begins"),
    "input": ("Input", "what you play on"),
}
"""The rows in their order: label, and what is said of the one under the cursor."""

OWN = {
    "tempo": "the pattern's own",
    "length": "until you press q",
    "step": "automatic",
    "strict": "as set, else solid",
    "count_in": "1",
    "click": "as set",
    "sound": "wood",
    "parts": "1",
    "on": "every beat",
    "accents": "as the meter has them",
    "late": "on the beat",
    "swing": "the pattern's own",
    "silent": "none",
    "lead": "as written",
}
LADDER_OWN = {"tempo": "below your ceiling", "length": "20 minutes"}
"""What an empty choice means."""

LASTING = {
    "input": ("Input", "played on where nothing else is chosen"),
    "click": ("Click", "where the click sounds"),
    "left_handed": ("Kit", "left-handed: hands, feet and keys mirrored"),
    "lead": ("Lead hand", "in patterns that leave it open"),
    "strictness": ("Strict", "how much counts as clean"),
}
LASTING_OWN = {
    "input": "the only one",
    "click": "none",
    "left_handed": "right-handed",
    "lead": "as written",
    "strictness": "solid",
}
LEFT_HANDED = "left-handed"
LASTING_OFFERED = {
    "input": ("", COMPUTER_KEYS),
    "click": ("", "audio"),
    "left_handed": ("", LEFT_HANDED),
    "lead": ("", "right", "left"),
    "strictness": ("", "loose", "solid", "tight"),
}


class RowsScreen(Screen[Any]):
    """Rows of choices; `values` are as texts, an empty one means what `own` says."""

    PADS: ClassVar = {"next": "enter", "restart": ""}
    BINDINGS: ClassVar = [
        Binding("enter", "take", "Start", id="start"),
        Binding("up", "row(-1)", "Row before", show=False),
        Binding("down", "row(1)", "Next row", show=False),
        Binding("left,minus", "change(-1)", "Change", key_display="← →", id="change"),
        Binding("right,plus", "change(1)", "Change", show=False),
        Binding("q,escape", "dismiss(None)", "Back", key_display="q", id="close"),
        common.HELP_KEY,
    ]

    def __init__(self, heading: str, values: dict[str, str]) -> None:
        super().__init__()
        self.heading, self.values = printable(heading), values
        self.offered: dict[str, tuple[str, ...]] = {}
        self.fault = ""
        self._at = 0

    def compose(self) -> ComposeResult:
        """Lay out the rows and the keys."""
        yield Lines(self._lines, id="rows")
        yield common.KeyLine()

    def on_mount(self) -> None:
        """Look for inputs and outputs while the rows can be read."""
        self._look()

    @work(thread=True, exclusive=True)
    def _look(self) -> None:
        from trainer.midi import ports

        self._read()
        try:
            inputs = tuple(port.label for port in ports.inputs())
            outputs = tuple(port.label for port in ports.outputs())
        except TrainerError:
            return
        common.call_on_screen(self, self._found, inputs, outputs)

    def _read(self) -> None:
        """Read what the rows have to say, on the same thread."""

    def _found(self, inputs: Sequence[str], outputs: Sequence[str]) -> None:
        for key, ends in (("input", inputs), ("click", outputs)):
            known = self.offered.get(key, ())
            self.offered[key] = (*known, *(one for one in ends if one not in known))
        self._redraw()

    def rows(self) -> Mapping[str, tuple[str, str]]:
        """Return the rows that are shown now."""
        raise NotImplementedError

    def own(self, key: str) -> str:
        """Return what an empty choice means."""
        raise NotImplementedError

    def numbers(self) -> Sequence[str]:
        """Return the rows that a number can be typed into."""
        return ()

    @property
    def key(self) -> str:
        """The row under the cursor."""
        return [*self.rows()][min(self._at, len(self.rows()) - 1)]

    def _redraw(self) -> None:
        self.query_one("#rows", Lines).redraw()

    def _lines(self, columns: int) -> list[Line]:
        lines: list[Line] = [((self.heading, "strong"),), ()]
        for key, (label, _) in self.rows().items():
            value = printable(self.values[key]) or self.own(key)
            chosen = key == self.key
            ink = "strong" if self.values[key] else "plain"
            mark = "▶ " if chosen else "  "
            words = f"{mark}{label}".ljust(LABEL_COLUMNS + 2)
            shown = f" {value} ".ljust(VALUE_COLUMNS)
            lines.append(((words, "plain"), (shown, "cursor" if chosen else ink)))
        words = self.fault or self.rows()[self.key][1]
        ink = "wrong" if self.fault else "faint"
        return [*lines, (), *(((row, ink),) for row in wrap(printable(words), max(20, columns)))]

    def action_row(self, step: int) -> None:
        """Go to another row."""
        self._at = (min(self._at, len(self.rows()) - 1) + step) % len(self.rows())
        self._redraw()

    def action_change(self, step: int) -> None:
        """Take the next of what is offered; a number that was typed counts up or down."""
        key, value = self.key, self.values[self.key]
        offered = [*self.offered.get(key, ())]
        if value in offered and len(offered) > 1:
            value = offered[(offered.index(value) + step) % len(offered)]
        elif key == "tempo":
            value = str(max(20, min(400, self.tempo_now() + step)))
        else:
            value = offered[0] if offered else ""
        self.choose(key, value)

    def tempo_now(self) -> int:
        """Return the tempo that counting begins at."""
        return round(float(self.values["tempo"] or FIRST_TEMPO))

    def choose(self, key: str, value: str) -> None:
        """Take a choice."""
        self.values = {**self.values, key: value}
        self.fault = ""
        self._redraw()

    def on_key(self, event: Key) -> None:
        """Take a figure that is typed, or the last one back."""
        key, value = self.key, self.values[self.key]
        if key in FIGURE and (event.key == "backspace" or event.character in FIGURE_SIGNS):
            event.stop()
            typed = value[:-1] if event.key == "backspace" else f"{value}{event.character}"
            self.choose(key, typed[:MOST_SIGNS])
        if key not in self.numbers():
            return
        digits, _, unit = value.partition(" ")
        if event.key == "backspace":
            event.stop()
            digits = digits[:-1]
        elif event.character and event.character.isdecimal() and len(digits) < MOST_DIGITS:
            event.stop()
            digits += event.character
        else:
            return
        unit = unit or (PASSES if key == "length" else "")
        self.choose(key, f"{digits} {unit}".strip() if digits else "")


MOST_DIGITS, MOST_SIGNS = 4, 22
FIGURE_SIGNS = (*"0123456789,x+-/%",)
FIRST_TEMPO = 80.0
"""Where counting begins while the pattern's own tempo is not known."""


class BeforePlayingScreen(RowsScreen):
    """What is chosen between a pattern and the first stroke; ends with what is to be played."""

    GUIDE = (
        "Up and down go from row to row; left and right change one. A number can be typed. Enter "
        "starts. Your choices are remembered for this pattern. What you leave follows the pattern "
        "and your settings. s opens the settings. A ladder starts at its tempo and climbs. Silent "
        "bars test your own time."
    )
    BINDINGS: ClassVar = [
        *RowsScreen.BINDINGS,
        Binding("s", "settings", "Settings", tooltip="What holds for every pattern", id="settings"),
    ]

    def __init__(self, pattern: str, title: str, source: str, kind: str = "") -> None:
        """`source` is played on; `kind` is how, where the key that was pressed says so."""
        chosen = last_choices(pattern)
        chosen = replace(chosen, input=source, kind=kind or chosen.kind)
        super().__init__(f"{title}: before you play", asdict(chosen))
        self._pattern, self._tempo = pattern, 0.0
        inputs = (source, *(one for one in (COMPUTER_KEYS, SIMULATED_PLAYER) if one != source))
        self.offered = {**OFFERED, "input": inputs}

    def _read(self) -> None:
        """Read the pattern's own tempo; what is wrong with its file is reported at the start."""
        with contextlib.suppress(TrainerError):
            self._tempo = load_pattern(self._pattern).tempo
        common.call_on_screen(self, self._redraw)

    def rows(self) -> Mapping[str, tuple[str, str]]:
        """Return the rows; those of a ladder and of the sound card only where they matter."""
        hidden = set() if self.values["kind"] == LADDER else {"step"}
        hidden |= set() if self.values["click"] == "audio" else {"sound"}
        return {key: row for key, row in ROWS.items() if key not in hidden}

    def own(self, key: str) -> str:
        """Return what an empty choice means."""
        ladder = self.values["kind"] == LADDER
        if key == "tempo" and not ladder:
            return f"{self._tempo:g}, {OWN['tempo']}" if self._tempo else OWN["tempo"]
        return (LADDER_OWN if ladder else {}).get(key) or OWN.get(key, "")

    def numbers(self) -> Sequence[str]:
        """Return the rows that a number can be typed into."""
        return NUMBERS

    def tempo_now(self) -> int:
        """Return the tempo that counting begins at: the pattern's own."""
        return round(float(self.values["tempo"] or self._tempo or FIRST_TEMPO))

    def action_settings(self) -> None:
        """Open what holds for every pattern."""
        self.app.push_screen(SettingsScreen(), lambda _: self._redraw())

    def action_take(self) -> None:
        """Start, unless something cannot be played; remember what was chosen."""
        chosen = Choices(**self.values)
        try:
            request: SessionRequest = request_of(self._pattern, chosen)
        except TrainerError as fault:
            self.fault = " ".join(str(fault).split())
            self._redraw()
            return
        keep_choices(self._pattern, chosen)
        self.dismiss(request)


class SettingsScreen(RowsScreen):
    """The settings that last, in one screen and one file."""

    GUIDE = (
        "What holds for every pattern until you change it. It is kept in settings.toml. Up and "
        "down go from row to row; left and right change one. Enter keeps it. Single figures of "
        "clean: trainer explain clean."
    )
    BINDINGS: ClassVar = [Binding("enter", "take", "Keep", id="keep"), *RowsScreen.BINDINGS[1:]]

    def __init__(self) -> None:
        known, fault = settings.Settings(), ""
        try:
            known = settings.load()
        except TrainerError as error:
            fault = str(error)
        values = {key: str(getattr(known, key) or "") for key in LASTING}
        values["left_handed"] = LEFT_HANDED if known.left_handed else ""
        super().__init__("Settings", values)
        self.fault = " ".join(fault.split())
        self.offered = {
            key: (*offered, *((values[key],) if values[key] not in offered else ()))
            for key, offered in LASTING_OFFERED.items()
        }

    def rows(self) -> Mapping[str, tuple[str, str]]:
        """Return the rows."""
        return LASTING

    def own(self, key: str) -> str:
        """Return what an empty choice means."""
        return LASTING_OWN[key]

    def action_take(self) -> None:
        """Keep the settings in their file."""
        changes = {**self.values, "left_handed": bool(self.values["left_handed"])}
        try:
            settings.save(changes)
        except TrainerError as fault:
            self.fault = " ".join(str(fault).split())
            self._redraw()
            return
        self.dismiss(None)
