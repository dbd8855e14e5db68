"""Builders of headers, strikes and journals with good defaults, for tests of saved sessions."""

from __future__ import annotations

from datetime import UTC, datetime
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.archive.journal import Journal
from trainer.archive.session import RungResult, SentClick, SessionHeader, SessionMark
from trainer.file_system import user_folder
from trainer.kit.hits import Strike
from trainer.midi.hit_source import Control
from trainer.pattern.model import Bar, Limb, Meter, Note, Pattern
from trainer.practice.course import Pass, pattern_seconds

if TYPE_CHECKING:
    from pathlib import Path

STARTED = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)

Rungs = tuple[tuple[float, bool], ...]
RUNGS: Rungs = (
    *((100.0, True), (104.0, True), (108.0, True)),
    *((112.0, False), (108.0, True), (112.0, False)),
)
"""Tempos (BPM) of a ladder, and whether each was clean."""


def pattern(name: str = "between-runs") -> Pattern:
    """Return one bar of sixteenths, hand to hand from the snare to the floor tom."""
    notes = [
        Note(Fraction(step, 4), "snare" if step < 8 else "floor", Limb.LH if step % 2 else Limb.RH)
        for step in range(16)
    ]
    return Pattern(name, "Between two runs", (Bar(Fraction(0), Meter()),), tuple(notes))


def header(name: str = "between-runs", player: str = "Ada") -> SessionHeader:
    """Return a header that uses every field."""
    return SessionHeader(
        pattern(name), STARTED, player=player, source="test", tolerance={"name": "x"}, course={}
    )


def strikes(start_s: float, count: int = 16, tempo: float = 120.0) -> list[Strike]:
    """Return the strokes of one pass, each 3 ms late, with times no short decimal can hold.

    The pedal stands at 90, as `play` says first of all.
    """
    times = (start_s + index * 15.0 / tempo + 0.003 + 1e-9 / 3 for index in range(count))
    return [
        Strike(time_s, 38 if index < 8 else 43, 90 + index, pedal=90)
        for index, time_s in enumerate(times)
    ]


def play(journal: Journal, passes: int = 2) -> list[Strike]:
    """Write passes of strikes into a journal, with one line of every other kind, at once."""
    played = []
    journal.control(Control(0.1, "control", 4, 90))
    journal.idle(Strike(0.2, 38, 64))
    journal.click(SentClick(0.5, 0.0007))
    for index in range(passes):
        one = Pass(index, 120.0, 2.0 + 2.0 * index, rung=index)
        journal.pass_started(one)
        for strike in strikes(one.start_s):
            journal.strike(strike)
            played.append(strike)
        journal.rung(RungResult(index, 120.0, index == 0, () if index == 0 else ("late",), 4.0))
    journal.mark(SessionMark("unplugged", 6.5, "the kit is gone"))
    journal.cut(passes - 1, 3.0 + 2.0 * (passes - 1))
    return played


def saved(folder: Path, passes: int = 2) -> Path:
    """Return the path of a finished session."""
    journal = Journal(folder, header())
    play(journal, passes)
    path = journal.finish({"hits": {"played": 32}})
    assert path is not None
    return path


def climbed(
    played: Pattern,
    started: datetime,
    rungs: Rungs = RUNGS,
    *,
    source: str = "Pad box",
    player: str = "",
    advice: tuple[dict[str, object], ...] = (),
) -> Path:
    """Write a session of the player's with a ladder; return its file."""
    header = SessionHeader(
        played, started, player=player, source=source, tolerance={"level": "solid"}, course={}
    )
    journal = Journal(user_folder("recordings"), header)
    start_s = 2.0
    for index, (tempo, clean) in enumerate(rungs):
        one = Pass(index, tempo, start_s, rung=index)
        start_s += pattern_seconds(played, tempo)
        journal.pass_started(one)
        for strike in strikes(one.start_s, 4, tempo):
            journal.strike(strike)
        journal.rung(RungResult(index, tempo, clean, () if clean else ("late",), 4.0))
    summary = {
        "hits": {"played": 4 * len(rungs)},
        "tempo_high": max(tempo for tempo, _ in rungs),
        "tempo_low": min(tempo for tempo, _ in rungs),
        "clean": {"clean": False},
        "advice": list(advice),
    }
    path = journal.finish(summary)
    assert path
    return path
