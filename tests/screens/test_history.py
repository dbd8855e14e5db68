"""The history screen: what it shows of a folder of sessions, and what each key does."""

from __future__ import annotations

import re
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from opened import Opened
from sessions import saved
from shots import SIZES, drawn, kept
from stage import shown, wait_until

from trainer.actions.history import FolderSessions, HistoryRequest
from trainer.archive.ceilings import climb_of
from trainer.archive.history import PractisedWeek
from trainer.archive.session_list import FIGURES, RungConditions, SessionEntry
from trainer.screens.history import HistoryScreen, curve_of
from trainer.screens.replay import ReplayScreen
from trainer.screens.widgets.history import Curve, DrawnCurve, minute_bar, week_words
from trainer.show.drawing import STAIR_ROWS, BrailleSheet, staircase
from trainer.show.ink import fit_line, line_text, line_width, shortened, text_width

if TYPE_CHECKING:
    from collections.abc import Iterator

FIRST = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)


def _entry(
    day: int, pattern: str = "singles", player: str = "Ada", minutes: float = 10
) -> SessionEntry:
    """A session with a ladder that is clean below 90 BPM plus a beat a day."""
    tempos = [84.0 + day + 2 * step for step in range(6)]
    return SessionEntry(
        path=Path(f"{day}-{pattern}.jsonl"),
        started=FIRST + timedelta(days=day),
        pattern=pattern,
        title=pattern.title() + " [b]",
        player=player,
        finished=True,
        seconds=60.0 * minutes,
        passes=6,
        strikes=400,
        tempos=(tempos[0], tempos[-1]),
        rungs=tuple((tempo, tempo < 90 + day) for tempo in tempos),
        figures=dict.fromkeys(FIGURES, 12.0 - day / 10),
        clean_tempo=max(tempo for tempo in tempos if tempo < 90 + day),
    )


ENTRIES = tuple(_entry(day, ("singles", "doubles")[day % 2]) for day in range(40))


def _app(
    entries: tuple[SessionEntry, ...] = ENTRIES,
    folder: Path = Path("/tmp"),
    now: datetime | None = None,
    **chosen: str | bool,
) -> Opened:
    def look(_folder: Path, _report: object) -> FolderSessions:
        return FolderSessions(entries)

    request = HistoryRequest(folder, **chosen)  # type: ignore[arg-type]
    if now is None:
        return Opened(HistoryScreen(request, look=look))
    return Opened(HistoryScreen(request, look=look, now=lambda: now))


async def test_the_newest_session_is_under_the_cursor_with_its_curve() -> None:
    """Ceiling in words, its curve, trends, minutes and the list; titles are plain text."""
    app = _app(now=ENTRIES[-1].started)
    async with app.run_test(size=(120, 40)) as pilot:
        await wait_until(pilot, lambda: "fastest pass: " in shown(app))
        screen = shown(app)
        assert "40 sessions, 400 minutes" in screen
        reported = re.search(
            r"Doubles \[b\], Ada.*\n fastest clean 127, "
            r"ceiling (\d+) BPM \((\d+) to (\d+), 90% interval\)",
            screen,
        )
        assert reported
        tempo, low, high = map(int, reported.groups())
        # The first session is clean below 90 BPM, the last below 129; the old has drifted away.
        assert 110 < low < tempo < high <= 129
        climb = climb_of(ENTRIES, "Ada", "doubles")
        assert climb
        found = climb.ceiling(ENTRIES[-1].started)
        assert found
        assert (tempo, low, high) == tuple(
            round(one) for one in (found.half.tempo, found.half.low, found.half.high)
        )
        assert any(0x2800 < ord(character) < 0x2900 for character in screen)
        assert "min in" in screen


async def test_enter_replays_a_session_and_q_comes_back(tmp_path: Path) -> None:
    """The replay opens above the history; where it cannot be opened it says why, in its place."""
    path = saved(tmp_path / "sessions")
    gone = replace(_entry(50), path=tmp_path / "gone.jsonl", title="Gone")
    app = _app((replace(_entry(41), path=path), gone))
    async with app.run_test(size=(100, 30)) as pilot:
        await wait_until(pilot, lambda: "2 sessions" in shown(app))
        await pilot.press("down", "enter")
        await wait_until(pilot, lambda: isinstance(app.screen, ReplayScreen))
        await pilot.press("q")
        await wait_until(pilot, lambda: "2 sessions" in shown(app))
        await pilot.press("up", "enter")
        await wait_until(pilot, lambda: "there is no session" in " ".join(shown(app).split()))
        await pilot.press("q")
        await wait_until(pilot, lambda: "2 sessions" in shown(app))
        await pilot.press("q")
        await wait_until(pilot, lambda: not app.is_running)
    assert app.fault is None


async def test_one_pattern_and_one_player_and_all_again() -> None:
    """Filters go by the session under the cursor and come off with the same key."""
    app = _app((*ENTRIES, _entry(50, player="Ben")))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "41 sessions" in shown(app))
        await pilot.press("p")
        await wait_until(pilot, lambda: "1 session, 10 minutes; only Ben" in shown(app))
        await pilot.press("p", "f")
        await wait_until(pilot, lambda: "21 sessions, 210 minutes; only singles" in shown(app))
        await pilot.press("f")
        await wait_until(pilot, lambda: "41 sessions, 410 minutes" in shown(app))
        assert "only" not in shown(app)


async def test_the_cursor_draws_the_pattern_it_comes_to() -> None:
    """Another pattern under the cursor, another curve."""
    app = _app()
    async with app.run_test(size=(120, 40)) as pilot:
        await wait_until(pilot, lambda: "\n Doubles [b], Ada" in shown(app))
        await pilot.press("down")
        await wait_until(pilot, lambda: "\n Singles [b], Ada" in shown(app))


@pytest.mark.parametrize(("also", "count"), [(False, "1 session,"), (True, "2 sessions,")])
async def test_the_simulated_player_counts_only_where_it_is_asked_for(
    also: bool, count: str
) -> None:
    """`trainer history --simulated` lists on the screen what it lists as text."""
    own = replace(_entry(0), conditions=RungConditions(input="simulated player"))
    app = _app((own, _entry(1, "doubles")), simulated=also)
    async with app.run_test(size=(120, 40)) as pilot:
        await wait_until(pilot, lambda: "Doubles [b]" in shown(app))
        assert count in shown(app)


async def test_an_empty_folder_is_said() -> None:
    """Nothing played yet is no fault."""
    app = _app(())
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "No session here." in shown(app))
        await pilot.press("enter", "f", "p", "down")
        assert "Nothing practised yet: at home, enter plays a pattern." in shown(app)
        assert "0 sessions" not in shown(app)


async def test_the_history_is_saved_as_a_picture(tmp_path: Path) -> None:
    """What is listed is drawn, in the folder of the sessions."""
    app = _app(folder=tmp_path)
    async with app.run_test(size=(120, 40), notifications=True) as pilot:
        await wait_until(pilot, lambda: "fastest pass: " in shown(app))
        await pilot.press("x")
        await wait_until(pilot, lambda: "Picture saved" in shown(app))
    assert "Doubles [b]" in (tmp_path / "history.svg").read_text()


@pytest.fixture
def _utc(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Let local time be that of one place, whatever the machine's is."""
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.usefixtures("_utc")
@pytest.mark.parametrize("size", SIZES)
async def test_how_the_history_looks(size: tuple[int, int]) -> None:
    """Curve, calendar, trends and list on the day after the last session."""
    screen = HistoryScreen(
        HistoryRequest(Path("/tmp")),
        look=lambda _folder, _report: FolderSessions(ENTRIES),
        now=lambda: FIRST + timedelta(40),
    )
    app = Opened(screen)
    async with app.run_test(size=size) as pilot:
        await wait_until(pilot, lambda: "fastest pass: " in shown(app))
        assert await drawn(pilot, "history", size) == kept("history", size)


def test_the_curve_has_a_point_a_session_and_open_ends() -> None:
    """A ladder that never failed has no upper end; without a ladder there is no line."""
    never_failed = SessionEntry(
        **{
            name: getattr(ENTRIES[0], name)
            for name in SessionEntry.__slots__
            if name not in ("rungs", "path")
        },
        path=Path("x"),
        rungs=((80.0, True), (81.0, True)),
    )
    drawn = curve_of((never_failed,), FIRST + timedelta(days=1))
    assert drawn.ceiling[0][3] is None
    assert "at least" in drawn.heading
    assert len(curve_of(ENTRIES[::2], FIRST + timedelta(days=60)).fastest) == 20


def test_rungs_and_goals_are_drawn_by_signs_of_their_own() -> None:
    """Clean, not clean and both in one place differ; a goal is a line across with its name."""
    moment = FIRST
    rungs = ((moment, 80.0, True), (moment, 100.0, False), (moment + timedelta(9), 90.0, True))
    both = ((moment + timedelta(5), 85.0, True), (moment + timedelta(5), 85.1, False))
    curve = Curve()
    curve.drawn = DrawnCurve(
        "fastest clean 90",
        "Singles",
        ((moment, 100.0), (moment + timedelta(9), 90.0)),
        rungs=rungs + both,
        goals=(("Encore", 95.0), ("Far away", 200.0)),
    )
    text = [line_text(line) for line in curve.draw_lines(70, 16)]
    assert text[:2] == ["Singles", "fastest clean 90"]
    body = "\n".join(text[2:-1])
    assert [body.count(sign) for sign in "●×⊗"] == [2, 1, 1]
    (goal,) = (line for line in text if "Encore 95" in line)
    assert goal.count("╌") > 50
    assert "↑ Far away 200" in text[2]
    assert text[-1].split("●")[1].startswith(" clean")


def test_a_long_ladder_is_a_staircase() -> None:
    """Fifty-nine rungs are a dozen lines: a column a rung, clean or not by its sign."""
    rungs = [(60.0 + step // 2, step % 5 != 4) for step in range(59)]
    lines = staircase(rungs)
    assert len(lines) <= STAIR_ROWS
    assert max(map(len, lines)) <= 79
    drawn = "".join(lines)
    assert (drawn.count("●"), drawn.count("×")) == (48, 11)
    columns = [
        next(row for row in range(len(lines)) if lines[row][8:].ljust(60)[at] != " ")
        for at in range(59)
    ]
    assert columns == sorted(columns, reverse=True)
    assert staircase([]) == []
    assert staircase([(60.0, True)]) == ["   60 │ ●"]


def test_dots_are_those_of_the_braille_standard() -> None:
    """Unicode 16, block 2800: dots 1 to 3 and 7 on the left, 4 to 6 and 8 on the right."""
    for (x, y), dot in {
        (0, 0): 0x01,
        (0, 1): 0x02,
        (0, 2): 0x04,
        (1, 0): 0x08,
        (1, 1): 0x10,
        (1, 2): 0x20,
        (0, 3): 0x40,
        (1, 3): 0x80,
    }.items():
        sheet = BrailleSheet(1, 1)
        sheet.set(x, y, "plain")
        assert line_text(sheet.lines()[0]) == chr(0x2800 + dot)


def test_a_line_joins_its_ends_and_nothing_is_drawn_outside() -> None:
    """Both ends are set, every column between has a dot, dots outside are dropped."""
    sheet = BrailleSheet(5, 2)
    sheet.line((0, 0), (9, 7), "plain")
    sheet.set(-1, 3, "plain")
    sheet.set(4, 99, "plain")
    drawn = [line_text(line) for line in sheet.lines()]
    assert all(any(row[column] != " " for row in drawn) for column in range(5))


def test_more_minutes_make_a_longer_bar() -> None:
    """A bar grows by eighths of a column, fills the longest week, and shows a minute."""
    assert [minute_bar(share, 4) for share in (0.0, 0.001, 0.25, 0.5, 0.53, 1.0)] == [
        "",
        "▏",
        "█",
        "██",
        "██▏",
        "████",
    ]


def test_a_week_says_its_minutes_and_days() -> None:
    """One day is said in the singular, an empty week without a number."""
    assert week_words(PractisedWeek(FIRST.date(), 84.2, 3)) == "84 min, 3 days"
    assert week_words(PractisedWeek(FIRST.date(), 10.0, 1)) == "10 min, 1 day"
    assert week_words(PractisedWeek(FIRST.date(), 0.0, 0)) == "no practice"


async def test_several_players_are_named_with_the_key_that_chooses() -> None:
    """The heading says who is in the list; one alone says nothing of it."""
    app = _app((*ENTRIES, _entry(50, player="Ben")))
    async with app.run_test(size=(120, 40)) as pilot:
        await wait_until(pilot, lambda: "players: Ada, Ben (p: one alone)" in shown(app))
        await pilot.press("p")
        await wait_until(pilot, lambda: "only Ben" in shown(app))
        assert "players:" not in shown(app)


async def test_a_session_without_a_players_name_says_so() -> None:
    """p has nobody to choose there, and says it."""
    app = _app((_entry(50, player=""),))
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await wait_until(pilot, lambda: "1 session" in shown(app))
        await pilot.press("p")
        await wait_until(pilot, lambda: "This session has no player's name." in shown(app))
        assert "1 session, " in shown(app)
        assert "only" not in shown(app)


async def test_sessions_without_a_stroke_are_marked() -> None:
    """Nothing played, or still running, stands in place of tempo and time."""
    empty, running = _entry(41), replace(_entry(42), finished=False)
    app = _app((replace(empty, strikes=0), running))
    async with app.run_test(size=(120, 40)) as pilot:
        await wait_until(pilot, lambda: "nothing played" in shown(app))
        assert "still running, or cut off" in shown(app)
        assert "10 min" not in shown(app)


@pytest.mark.parametrize("columns", [44, 60, 137])
def test_names_in_wide_characters_push_nothing_out(columns: int) -> None:
    """Each row of the curve has its columns, also where a rung is drawn over a goal's name."""
    wide = "深夜の太鼓練習 大変速い曲"
    rungs = tuple((FIRST + timedelta(days=day), 80.0 + day, day % 2 == 0) for day in range(20))
    fastest = tuple((when, tempo) for when, tempo, _ in rungs)
    curve = Curve()
    curve.drawn = DrawnCurve("clean", wide, fastest, (), rungs, ((wide, 99.0), (wide, 300.0)))
    lines = [fit_line(line, columns) for line in curve.draw_lines(columns, 12)]
    assert {line_width(line) for line in lines} == {columns}
    assert any("深" in line_text(line) and "↑" in line_text(line) for line in lines)


def test_a_sign_over_half_of_a_wide_one_leaves_the_row_its_columns() -> None:
    """The other half becomes blank."""
    for column in range(4):
        sheet = BrailleSheet(6, 1)
        sheet.write(0, 1, "深x", "plain")
        sheet.put(0, column, "●", "plain")
        assert line_width(sheet.lines()[0]) == 6


@pytest.mark.parametrize("columns", [0, 1, 2, 7, 15])
def test_a_shortened_name_fits_by_its_columns(columns: int) -> None:
    """Wide characters count as two."""
    for text in ("深夜の太鼓練習 大変", "Fives and threes, the snare", "深"):
        assert text_width(shortened(text, columns)) <= max(1, columns)
