"""Learning a kit: names each place in turn and shows what was struck.

What was learned is saved when the screen is left, however it is left.
"""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding
from textual.screen import Screen

from trainer.actions.kit_setup import keep_learned
from trainer.console import printable
from trainer.errors import TrainerError
from trainer.kit import kits
from trainer.kit.hits import Strike
from trainer.kit.learning import LEARNING_REMARKS, STROKES, Learning, place_name
from trainer.midi import midi_message
from trainer.midi.kit_input import KitMonitor, MidiSource
from trainer.screens import common
from trainer.screens.widgets.canvas import Lines
from trainer.show import kit_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from textual.app import ComposeResult

    from trainer.actions.kit_setup import KeptKit
    from trainer.kit.learning import LearningStep
    from trainer.kit.model import Pad
    from trainer.show.ink import Line

NO_AGREEMENT = "Not all of these strokes sent one note: strike only this pad."
LOOK_S = 1 / 30
COLUMN = 34


class LearnScreen(Screen[None]):
    """What to strike, what came, and every place with the note it was given."""

    GUIDE = (
        f"Strike the pad that is named {STROKES} times, evenly, and nothing else. The kick comes "
        "first and is then a key for your foot. One stroke alone skips a pad, two in a row go "
        "back. Skip what your kit does not have. Such places are read as General MIDI, or stay as "
        "they were. What was learned is kept whenever you end."
    )
    SIGNS = (
        ("●", "learned, with its note"),
        ("○", "known before this round; it stays unless it is learned again"),
        ("▶", "strike this now"),
        ("=", "sends the same note as another place: one pad to the program"),
        ("–", "skipped"),
    )
    BINDINGS: ClassVar = [
        Binding("s", "skip", "Skip", tooltip="Skip this pad", id="skip"),
        Binding("b", "back", "Back", tooltip="Go back one place and ask again", id="back"),
        Binding("q,escape", "close", "Keep and end", key_display="q", id="end"),
        Binding("enter", "close", "Keep what was learned and end", show=False),
        common.HELP_KEY,
    ]

    def __init__(self, monitor: KitMonitor, learning: Learning) -> None:
        super().__init__()
        self.monitor, self.learning = monitor, learning
        self._kept: KeptKit | None = None
        self.last = ""
        self.count = self.heard = 0
        self.remark = ""

    @classmethod
    def of_port(cls, name: str, port: str = "") -> LearnScreen:
        """Return the screen that learns a kit; opens the port, and raises BadInput where it can't.

        Whoever calls this closes it again with `finish`, also where it was never shown.
        """
        kits.check_name(name)
        monitor = KitMonitor(MidiSource(port))
        return cls(monitor, Learning(name, monitor.name, known=kits.own_kit(name)))

    def finish(self) -> KeptKit:
        """Close the port and save what was learned; the second time only say what was saved."""
        self.monitor.close()
        if self._kept is None:
            self._kept = keep_learned(self.learning)
        return self._kept

    async def action_close(self) -> None:
        """Save before the screen below is shown, which lists what there is."""
        self._save()
        await self.run_action("app.close")

    def on_unmount(self) -> None:
        """Save also where the screen was taken away."""
        self._save()

    def _save(self) -> None:
        """Save once, and say so."""
        if self._kept:
            return
        try:
            words, severity = "\n".join(kit_words.kept_lines(self.finish())), "information"
        except TrainerError as fault:
            words, severity = str(fault), "error"
        self.app.notify(printable(words), severity=severity, markup=False)  # type: ignore[arg-type]

    def compose(self) -> ComposeResult:
        """Lay out the question, what came, the places and the keys."""
        yield Lines(lambda columns: [self._head()], id="head")
        yield Lines(self._question, id="question")
        yield Lines(self._places, id="places")
        yield common.KeyLine()

    def on_mount(self) -> None:
        """Name the first place to strike."""
        self._take(self.learning.begin())
        self.set_interval(LOOK_S, self.look)

    def look(self) -> None:
        """Take what was heard since the last look, let time pass, and draw once."""
        for heard in self.monitor.take():
            made = midi_message.read_message(heard.message, heard.time_s)
            if isinstance(made, Strike):
                self.last = (
                    f"note {made.note}, velocity {made.velocity}  "
                    f"{kit_words.velocity_bar(heard.message)}"
                )
                self._take(self.learning.strike(made))
        self._take(self.learning.settle(self.monitor.now()))
        self._draw()

    def _draw(self) -> None:
        for lines in self.query(Lines):
            lines.redraw()

    def _take(self, steps: Sequence[LearningStep]) -> None:
        for one in steps:
            if one.kind == "ask":
                self.count = self.heard = 0
            elif one.kind == "heard":
                self.heard += 1
                self.count = one.count
                self.remark = NO_AGREEMENT if self.heard > one.count else ""
            elif one.kind == "learned" and one.pad:
                self.remark = f"{place_name(one.pad)}: note {one.note}."
            elif one.kind == "shared" and one.pad and one.other:
                self.remark = (
                    f"{place_name(one.pad)} sends note {one.note}, as the "
                    f"{place_name(one.other)} does. Give one another note in the module."
                )
            elif one.kind in LEARNING_REMARKS:
                self.count = self.heard = 0
                self.remark = LEARNING_REMARKS[one.kind]

    def _head(self) -> Line:
        name = printable(self.monitor.name)
        if self.monitor.lost:
            return ((f" {name} is gone; plug it in again. What was learned is safe. ", "alert"),)
        learning = self.learning
        place = min(learning.at + 1, len(learning.places))
        return (
            (f"Learning {printable(learning.kit.name)}", "strong"),
            (f" on {name}   place {place} of {len(learning.places)}", "plain"),
        )

    def _question(self, columns: int) -> list[Line]:
        asked = self.learning.asked
        if asked is None:
            question: Line = ((" Every place is done. Enter keeps the kit. ", "alert"),)
        else:
            came = "●" * min(self.count, STROKES) + "○" * max(0, STROKES - self.count)
            question = (
                (f" Strike the {place_name(asked)} ", "alert"),
                (f"  {came}", "centre"),
            )
        last = self.last or "nothing has come yet"
        key = "kick once: skip   kick twice: back" if self._has_key() else ""
        remark = wrap(self.remark, max(20, columns - 1), max_lines=2)
        return [
            question,
            ((key, "faint"),),
            ((f"last: {last}", "plain"),),
            *(((line, "wrong"),) for line in remark),
        ]

    def _has_key(self) -> bool:
        """True once the kick is known and something else is asked."""
        asked = self.learning.asked
        kicks = [pad for pad in self.learning.notes.values() if pad.voice == "kick"]
        return bool(kicks) and asked is not None and asked not in kicks

    def _places(self, columns: int) -> list[Line]:
        """Return all places in as many columns as fit."""
        cells = [*self._cells()]
        across = max(1, min(3, columns // COLUMN))
        down = -(-len(cells) // across)
        rows = [cells[at::down] for at in range(down)]
        return [
            tuple((text.ljust(COLUMN)[:COLUMN], ink) for text, ink in row_cells)
            for row_cells in rows
        ]

    def _cells(self) -> Iterator[tuple[str, str]]:
        learning = self.learning
        notes: dict[Pad, int] = {pad: note for note, pad in learning.notes.items()}
        shared = {pad: note for _, pad, note in learning.shared}
        for at, pad in enumerate(learning.places):
            words = place_name(pad)
            if at == learning.at:
                yield f"▶ {words}", "chosen"
            elif pad in notes:
                yield f"● {words}: note {notes[pad]}", "strong"
            elif pad in shared:
                yield f"= {words}: note {shared[pad]} too", "wrong"
            elif (note := learning.before(pad)) is not None:
                yield f"○ {words}: note {note}", "plain"
            elif at < learning.at:
                yield f"– {words}: skipped", "faint"
            else:
                yield f"  {words}", "plain"

    def action_skip(self) -> None:
        """Skip this place."""
        self._take(self.learning.skip())
        self._draw()

    def action_back(self) -> None:
        """Go back one place and forget what it had learned."""
        self._take(self.learning.back())
        self._draw()
