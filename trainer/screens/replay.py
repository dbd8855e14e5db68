"""The replay screen: the hit map of a session, with time moving, and any cell in words."""

from __future__ import annotations

import time
from collections import Counter
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding
from textual.containers import Container
from textual.screen import Screen
from textual.widgets import Footer, Static

from trainer.report import plain
from trainer.screens import cell_words, signs
from trainer.screens.live import SMALLEST
from trainer.screens.widgets.lines import Lines
from trainer.screens.widgets.map_grid import VIEWS, MapGrid
from trainer.screens.widgets.spread import Spread

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from textual.app import ComposeResult
    from textual.events import Resize

    from trainer.screens.ink import Line
    from trainer.screens.review import Review

TICK_S = 1 / 15
SPEEDS = (0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0)

_BAR = Binding.Group("Bar", compact=True)


class ReplayScreen(Screen[None]):
    """Going through a session again."""

    GUIDE = (
        "What landed in each cell, over the whole session up to the moment looked at. A cell has a "
        "small distribution (early on the left, on time in the middle, late on the right; full "
        "height is every stroke that was due), its letter with what went wrong most often, and the "
        "mean power. Of one pass alone the cells look as they did while playing. Cells of two "
        "characters show all early strokes beside all late ones."
    )
    SIGNS = signs.MEANINGS
    BINDINGS: ClassVar = [
        Binding("space", "play", "Play", id="play"),
        Binding("comma", "bar(-1)", "Bar back", key_display=",", id="bar-back", group=_BAR),
        Binding("full_stop", "bar(1)", "Bar on", key_display=".", id="bar-on", group=_BAR),
        Binding("plus,equals_sign", "speed(1)", "Faster", show=False, id="faster"),
        Binding("minus", "speed(-1)", "Slower", show=False, id="slower"),
        Binding("left_square_bracket", "pass(-1)", "Pass back", show=False, id="pass-back"),
        Binding("right_square_bracket", "pass(1)", "Pass on", show=False, id="pass-on"),
        Binding("home", "jump(0)", "Start of the session", show=False, id="start"),
        Binding("end", "jump(1)", "End of the session", show=False, id="end"),
        Binding("pageup", "turn(-1)", "Look at the bar before", show=False, id="turn-back"),
        Binding("pagedown", "turn(1)", "Look at the next bar", show=False, id="turn-on"),
        Binding("left", "move(-1,0)", "Cell left", show=False),
        Binding("right", "move(1,0)", "Cell right", show=False),
        Binding("up", "move(0,-1)", "Cell up", show=False),
        Binding("down", "move(0,1)", "Cell down", show=False),
        Binding("l", "limbs", "Limbs", id="limbs"),
        Binding("w", "whole", "Pass", id="whole"),
        Binding("v", "view", "View", id="view"),
        Binding("s,enter", "summary", "Summary", key_display="s", id="summary"),
        Binding("p", "picture", "Picture", tooltip="Save the map as an SVG picture", show=False),
        Binding("q,escape", "app.quit", "Close", key_display="q", id="close"),
        Binding("question_mark,f1", "app.help", "Help", key_display="?", id="help"),
    ]

    def __init__(self, review: Review, picture: Path) -> None:
        super().__init__()
        self.review = review
        self.picture = picture
        self.playing = False
        self.speed = SPEEDS.index(1.0)
        self._looked = 0.0

    def compose(self) -> ComposeResult:
        """Lay out title, time, map, distribution, words and keys."""
        yield Lines(lambda columns: self._when(), id="when")
        yield Lines(lambda columns: [self._time(columns)], id="time")
        with Container(id="where"):
            yield MapGrid(self.review, id="map")
            yield Spread(id="spread")
        yield Lines(lambda columns: self._words(), id="cell")
        yield Static(
            "The window is too small for the map. Make it larger.", id="small", markup=False
        )
        yield Footer(show_command_palette=False)

    def on_mount(self) -> None:
        """Show the whole session; time stands at its end."""
        self.map = self.query_one(MapGrid)
        self.map.focus()
        self.set_interval(TICK_S, self._tick)
        self.call_after_refresh(self.refresh_map)

    def on_resize(self, event: Resize) -> None:
        """Say so when the window is too small."""
        columns, rows = event.size
        self.set_class(columns < SMALLEST[0] or rows < SMALLEST[1], "-tiny")

    def refresh_map(self) -> None:
        """Draw everything for the moment looked at."""
        review = self.review
        cursor = None
        if review.looked_at is None and not review.at_end:
            beat = review.timeline.beat(review.time_s)
            cursor = review.board.grid.bars[review.bar].under(beat)
        self.map.refresh_map(cursor)
        self.query_one("#when", Lines).redraw()
        self.query_one("#time", Lines).redraw()
        self.refresh_words()

    def refresh_words(self) -> None:
        """Draw what is said of the cell under the cursor."""
        self.query_one("#cell", Lines).redraw()
        figures = self.review.figures(self.map.chosen)
        self.query_one(Spread).show(figures)

    def on_cell_chosen(self) -> None:
        """Tell of the cell that was clicked."""
        self.refresh_words()

    def _tick(self) -> None:
        now = time.monotonic()
        passed, self._looked = now - self._looked, now
        if self.playing:
            review = self.review
            moment = review.timeline.over_gap(review.time_s + passed * SPEEDS[self.speed])
            review.move_to(moment)
            self.playing = not review.at_end
            self.refresh_map()

    def _when(self) -> Sequence[Line]:
        """Return what is looked at: the pattern, then which part of the session."""
        review = self.review
        passes = review.judged.course.passes
        one = passes[review.row]
        part = "whole session so far" if review.whole else "this pass alone"
        where = (
            f"pass {review.row + 1} of {len(passes)}   "
            f"bar {review.bar + 1} of {len(review.pattern.bars)}   {one.tempo:g} BPM   "
        )
        state = f" {'playing' if self.playing else 'stopped'} ×{SPEEDS[self.speed]:g} "
        return [
            (
                (plain(review.pattern.title or review.pattern.name), "strong"),
                ("   ", "plain"),
                (state, "cursor" if self.playing else "plain"),
            ),
            ((where, "plain"), (part, "strong")),
        ]

    def _time(self, columns: int) -> Line:
        line = self.review.timeline
        room = max(1, columns - 16)
        length = max(1e-9, line.end_s - line.start_s)
        at = min(room - 1, int((self.review.time_s - line.start_s) / length * room))
        clock = f" {_clock(self.review.time_s - line.start_s)} of {_clock(length)}"
        return (
            ("━" * at, "strong"),
            ("●", "strong"),
            ("─" * (room - 1 - at), "faint"),
            (clock, "plain"),
        )

    def _words(self) -> Sequence[Line]:
        review, cell = self.review, self.map.chosen
        notes = [review.pattern.notes[index] for index in review.main_notes(cell)]
        strays: Counter[str] = review.strays.get(cell, Counter())
        where = (cell_words.place(review.pattern, review.board.grid, cell), "strong")
        if not notes:
            told = ", ".join(cell_words.strayed(strays)) or "nothing is written here"
            return [(where,), ((told, "plain"),)]
        figures = review.figures(cell)
        power = cell_words.hit_hard(figures)
        counts = cell_words.counted(figures, strays)
        return [
            (where, (f"  {cell_words.written(notes)}", "plain")),
            (("; ".join(filter(None, (counts, power))), "plain"),),
            ((cell_words.timed(figures), "plain"),),
        ]

    def _go(self, moment: float) -> None:
        self.review.move_to(moment)
        self.refresh_map()

    def action_play(self) -> None:
        """Let time run from here, from the start when it has run out; or stop it."""
        self.playing = not self.playing
        self._looked = time.monotonic()
        if self.playing and self.review.at_end:
            self.review.move_to(self.review.timeline.start_s)
        self.refresh_map()

    def action_bar(self, count: int) -> None:
        """Step in time by bars."""
        self._go(self.review.timeline.step_bar(self.review.time_s, count))

    def action_pass(self, count: int) -> None:
        """Step in time by passes."""
        self._go(self.review.timeline.step_pass(self.review.time_s, count))

    def action_jump(self, end: int) -> None:
        """Jump to the start or the end."""
        line = self.review.timeline
        self._go(line.end_s if end else line.start_s)

    def action_speed(self, step: int) -> None:
        """Let time run faster or slower."""
        self.speed = min(max(0, self.speed + step), len(SPEEDS) - 1)
        self.refresh_map()

    def action_turn(self, count: int) -> None:
        """Look at another bar without moving in time."""
        self.review.turn(count)
        self.refresh_map()

    def action_move(self, right: int, down: int) -> None:
        """Move the cursor from cell to cell."""
        self.map.move(right, down)
        if self.map.chosen.bar != self.review.bar:
            self.review.looked_at = self.map.chosen.bar
        self.refresh_map()

    def action_limbs(self) -> None:
        """Let rows be limbs, or voices again."""
        self.review.by_limb = not self.review.by_limb
        self.review.refresh()
        self.refresh_map()

    def action_whole(self) -> None:
        """Count this pass alone, or the whole session up to here again."""
        self.review.whole = not self.review.whole
        self.review.refresh()
        self.refresh_map()

    def action_view(self) -> None:
        """Show something else on the first line of each cell."""
        self.map.view = (self.map.view + 1) % len(VIEWS)
        self.notify(f"Each cell begins with {VIEWS[self.map.view]}.", timeout=2, markup=False)
        self.refresh_map()

    def action_picture(self) -> None:
        """Save the map as it is counted now as a picture beside the session."""
        from trainer.screens.picture import hit_map

        try:
            self.picture.write_text(hit_map(self.review), encoding="utf-8")
        except OSError as error:
            told = f"The picture cannot be saved: {plain(error.strerror or str(error))}."
            self.notify(told, severity="error", markup=False)
        else:
            self.notify(f"Picture saved: {plain(str(self.picture))}", markup=False)

    def action_summary(self) -> None:
        """Show the summary."""
        self.app.push_screen("summary")


def _clock(seconds: float) -> str:
    """Return minutes and seconds."""
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"
