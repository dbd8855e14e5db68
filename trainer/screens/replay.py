"""The replay screen: the hit map of a session, with time moving, and any cell in words.

A session is opened and judged off the event loop, while the player sees what is being done.
"""

from __future__ import annotations

import time
from copy import copy
from textwrap import wrap
from typing import TYPE_CHECKING, Any, ClassVar

from textual import work
from textual.binding import Binding
from textual.containers import Container
from textual.widgets import Static

from trainer.actions.replay import FolderShelf
from trainer.console import printable
from trainer.errors import TrainerError
from trainer.screens import common
from trainer.screens.dialogs import WaitScreen
from trainer.screens.live import SMALLEST
from trainer.screens.overlay import OverScreen
from trainer.screens.summary import SummaryScreen
from trainer.screens.widgets.canvas import Lines
from trainer.screens.widgets.hit_map import VIEWS, MapGrid, Spread, pass_strip
from trainer.show import comparison_words, hit_map_words, signs
from trainer.show.ink import shortened
from trainer.show.live_words import clock_text
from trainer.show.page import PageLeft
from trainer.show.review import WHOLE_SESSION, review_of
from trainer.show.session_words import opening_words, recovered_words, session_lines

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import App, ComposeResult
    from textual.events import Click, Resize

    from trainer.actions.replay import OpenedSession, ReplayRequest, ReplayStep, SessionShelf
    from trainer.show.ink import Line
    from trainer.show.review import Review

TICK_S = 1 / 15
SPEEDS = (0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0)

_BAR = Binding.Group("Bar", compact=True)
_PART = Binding.Group("Part", compact=True)


class ReplayScreen(OverScreen):
    """Going through a session again."""

    GUIDE = (
        "What landed in each cell. w chooses what is counted: the whole session, one rung, one "
        "pass. [ and ] go to the next one. A cell has a small distribution: early on the left, on "
        "time in the middle, late on the right. Full height is every stroke due. Below it: "
        "letter, most frequent fault, mean power. > is an accent. In cells of two characters "
        "early is left, late right. One pass alone looks as it did while playing. While time runs "
        "the map fills up stroke by stroke. In a wide window a strip shows the cell pass by pass. "
        "Over another session: what differs by more than chance. Of twenty unchanged cells one "
        "will look changed."
    )
    SIGNS = signs.SIGN_MEANINGS + comparison_words.CHANGE_MEANINGS
    BINDINGS: ClassVar = [
        Binding("space", "play", "Play", id="play"),
        Binding("comma", "bar(-1)", "Bar back", key_display=",", id="bar-back", group=_BAR),
        Binding("full_stop", "bar(1)", "Bar on", key_display=".", id="bar-on", group=_BAR),
        Binding(
            "w",
            "part",
            "Whole session, one rung, one pass",
            key_display="w",
            group=_PART,
            id="part",
        ),
        Binding(
            "left_square_bracket",
            "step(-1)",
            "Rung or pass before",
            key_display="[",
            group=_PART,
            id="step-back",
        ),
        Binding(
            "right_square_bracket",
            "step(1)",
            "Next rung or pass",
            key_display="]",
            group=_PART,
            id="step-on",
        ),
        Binding("n", "fault(1)", "Next missed, wrong or stray stroke", show=False, id="fault-on"),
        Binding("N", "fault(-1)", "The one before", show=False, id="fault-back"),
        Binding("plus,equals_sign", "speed(1)", "Faster", show=False, id="faster"),
        Binding("minus", "speed(-1)", "Slower", show=False, id="slower"),
        Binding("home", "jump(0)", "Start of the session", show=False, id="start"),
        Binding("end", "jump(1)", "End of the session", show=False, id="end"),
        Binding("pageup", "turn(-1)", "Look at the bar before", show=False, id="turn-back"),
        Binding("pagedown", "turn(1)", "Look at the next bar", show=False, id="turn-on"),
        Binding("left", "move(-1,0)", "Cell left", show=False),
        Binding("right", "move(1,0)", "Cell right", show=False),
        Binding("up", "move(0,-1)", "Cell up", show=False),
        Binding("down", "move(0,1)", "Cell down", show=False),
        Binding("l", "limbs", "Rows by limb, or by voice again", show=False, id="limbs"),
        Binding("v", "view", "What each cell begins with: time, faults, power", show=False),
        Binding("o", "over", "Over", tooltip="Lay it over another session", id="over"),
        Binding("m", "mark", "Mark the bar under the cursor", show=False, id="mark"),
        Binding("b", "spot", "Spot", tooltip="Practise marked bars, or the worst", id="spot"),
        Binding("s,enter", "summary", "Summary", key_display="s", id="summary"),
        common.PICTURE_KEY,
        common.CLOSE_KEY,
        common.HELP_KEY,
    ]

    def __init__(self, review: Review, opened: OpenedSession, shelf: SessionShelf) -> None:
        super().__init__(review, opened, shelf)
        self.playing = False
        self.speed = SPEEDS.index(1.0)
        self._looked = 0.0
        self.marked: set[int] = set()

    def compose(self) -> ComposeResult:
        """Lay out title, time, map, distribution, words and keys."""
        yield Lines(self._when, id="when")
        yield Lines(lambda columns: [self._time(columns)], id="time")
        with Container(id="where"):
            yield MapGrid(self.review, id="map")
            yield Spread(id="spread")
        yield Lines(self._words, id="cell")
        yield Static(
            "The window is too small for the map. Make it larger.", id="small", markup=False
        )
        yield common.KeyLine()

    def on_mount(self) -> None:
        """Show the whole session; time is at its end."""
        self.map = self.query_one(MapGrid)
        self.map.focus()
        self.set_class(self.review.there is not None, "-over")
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
        if review.looked_at is None and not review.complete:
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
        below = self.review.figures_below(self.map.chosen)
        self.query_one(Spread).show(figures, below, pass_strip(self.review, self.map.chosen))

    def on_cell_chosen(self) -> None:
        """Show the words of the cell that was clicked."""
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

    def _when(self, columns: int) -> Sequence[Line]:
        """Return the pattern, the moment, and which part of what is counted."""
        review = self.review
        title = printable(review.pattern.title or review.pattern.name)
        marked = f"   marked: {self._marks()}" if self.marked else ""
        state = f" {'playing' if self.playing else 'stopped'} ×{SPEEDS[self.speed]:g} "
        under: Line = ((printable(hit_map_words.other_words(review)), "plain"),)
        return [
            (
                (shortened(title, columns - len(state + marked) - 3) + "   ", "strong"),
                (state, "cursor" if self.playing else "plain"),
                (marked, "strong"),
            ),
            (
                (hit_map_words.part_words(review) + "   ", "strong"),
                (hit_map_words.moment_words(review), "plain"),
            ),
            *([under] if review.there else []),
        ]

    @staticmethod
    def _room(columns: int) -> int:
        """Return how many columns time has; the rest is its clock."""
        return max(1, columns - 16)

    def _time(self, columns: int) -> Line:
        line = self.review.timeline
        room = self._room(columns)
        length = max(1e-9, line.end_s - line.start_s)
        at = min(room - 1, int((self.review.time_s - line.start_s) / length * room))
        reported = f" {clock_text(self.review.time_s - line.start_s)} of {clock_text(length)}"
        return (
            ("━" * at, "strong"),
            ("●", "strong"),
            ("─" * (room - 1 - at), "faint"),
            (reported, "plain"),
        )

    def _moment_at(self, column: int) -> float:
        """Return the moment that a column of the line of time shows."""
        line, room = self.review.timeline, self._room(self.query_one("#time").size.width)
        return line.start_s + (line.end_s - line.start_s) * min(1.0, column / max(1, room - 1))

    def _words(self, columns: int) -> Sequence[Line]:
        """Return what the cell under the cursor holds, its place first."""
        place, *rest = hit_map_words.cell_lines(self.review, self.map.chosen)
        wrapped = [part for line in rest for part in wrap(line, max(20, columns)) or [""]]
        return [((place, "strong"),), *(((line, "plain"),) for line in wrapped)]

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

    def action_step(self, count: int) -> None:
        """Go to another pass, or rung where rungs are counted."""
        self.playing = self.playing and self.review.part == WHOLE_SESSION
        self.review.step(count)
        self.refresh_map()

    def action_jump(self, end: int) -> None:
        """Jump to the start or the end."""
        line = self.review.timeline
        self._go(line.end_s if end else line.start_s)

    def action_fault(self, count: int) -> None:
        """Jump to the next stroke that was missed, on a wrong pad or astray, with the cursor."""
        cell = self.review.go_to_fault(count)
        if cell is None:
            self.notify("No more that way.", timeout=2, markup=False)
            return
        self.map.chosen = cell
        self.refresh_map()

    def on_click(self, event: Click) -> None:
        """Jump to the moment that was clicked on the line of time."""
        if event.widget is self.query_one("#time"):
            self._go(self._moment_at(event.x))

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

    def action_part(self) -> None:
        """Count the whole session, one rung of it or one pass, in turn."""
        parts = self.review.parts
        following = parts[(parts.index(self.review.part) + 1) % len(parts)]
        self.review.count_part(following, complete=not self.playing)
        self.refresh_map()

    def action_view(self) -> None:
        """Show something else on the first line of each cell."""
        self.map.view = (self.map.view + 1) % len(VIEWS)
        self.notify(f"Each cell begins with {VIEWS[self.map.view]}.", timeout=2, markup=False)
        self.refresh_map()

    def action_mark(self) -> None:
        """Mark the bar under the cursor to be practised, or take its mark away."""
        self.marked ^= {self.map.chosen.bar}
        bars = self._marks() or "none"
        self.notify(f"Bars marked: {bars}. b practises them.", timeout=3, markup=False)
        self.refresh_map()

    def _marks(self) -> str:
        return ", ".join(str(bar + 1) for bar in sorted(self.marked))

    def action_spot(self) -> None:
        """Practise the marked bars, or the worst one."""
        common.play_hard_spot(self, self.opened, self.marked)

    def action_picture(self) -> None:
        """Save the map as it is counted now, all bars of it."""
        from trainer.show.hit_map_picture import hit_map_sheet

        path = self.opened.pictures.with_name(f"{self.opened.pictures.name}-map.svg")
        # A copy: what is counted is never changed, only counted again.
        review = copy(self.review)
        common.save_screen_picture(self, path, lambda: hit_map_sheet(review))

    def action_summary(self) -> None:
        """Show the summary."""
        self.app.push_screen(_summary_of(self.opened))


class OpeningScreen(WaitScreen):
    """What is being done while a session is opened; its replay then takes its place."""

    def __init__(self, shelf: SessionShelf) -> None:
        super().__init__("Opening the session")
        self.shelf = shelf

    def on_mount(self) -> None:
        """Read and judge once there is something to look at."""
        self.call_after_refresh(self.open_session)

    @work(thread=True)
    def open_session(self) -> None:
        """Read and judge the session; leave off between two steps when the player has left."""

        def report(step: ReplayStep) -> None:
            if not common.call_on_screen(self, self.say, opening_words(step)):
                raise PageLeft

        try:
            opened = self.shelf.open(report)
            review = review_of(opened)
        except PageLeft:
            return
        except TrainerError as fault:
            common.call_on_screen(self, common.report_fault, self, fault, self.give_up)
        else:
            common.call_on_screen(self, self._show, opened, review)

    def _show(self, opened: OpenedSession, review: Review | None) -> None:
        """Show the session; one without a pass has only its summary."""
        app: Any = self.app
        if review is None:
            app.switch_screen(_summary_of(opened))
        else:
            app.switch_screen(ReplayScreen(review, opened, self.shelf))
        for one in opened.recovered:
            app.notify(printable(recovered_words(one)), severity="warning", markup=False)


def _summary_of(opened: OpenedSession) -> SummaryScreen:
    title, *lines = session_lines(opened.session, opened.summary)
    return SummaryScreen(
        title,
        lines,
        str(opened.path),
        summary=opened.summary,
        rungs=opened.session.rungs,
        pictures=opened.pictures,
    )


def open_replay(app: App[Any], request: ReplayRequest) -> None:
    """Open a session above the screen that is shown."""
    app.push_screen(OpeningScreen(FolderShelf(request)))
