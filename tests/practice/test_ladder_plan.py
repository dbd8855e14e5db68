"""A ladder played through a live session, in simulated time."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest

from trainer.errors import BadInput
from trainer.kit.model import GENERAL_MIDI
from trainer.pattern.model import Bar, Limb, Meter, Note, Pattern
from trainer.practice.click_figure import read_figure
from trainer.practice.events import BeatStarted, Command, PassStarted, RestStarted, RungEnded
from trainer.practice.ladder import Ladder, RungVerdict
from trainer.practice.ladder_plan import LadderPlan, LadderTimes, RungJudge, passes_a_rung
from trainer.practice.live import LiveSession
from trainer.practice.plan import SessionOptions

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trainer.practice.events import Event
    from trainer.practice.outcomes import Judged

BAR = Pattern(
    "quarters",
    "Quarters",
    (Bar(Fraction(0), Meter()),),
    tuple(Note(Fraction(k), "snare", Limb.RH, value="4") for k in range(4)),
)


def _clean_up_to(tempo: float) -> RungJudge:
    """A judge that goes by the tempo alone."""

    def judge(parts: Sequence[Judged], more: bool | None = None) -> RungVerdict:
        clean = all(part.course.passes[0].tempo <= tempo for part in parts)
        return RungVerdict(clean, () if clean else ("too fast",))

    return judge


def _climb(
    plan: LadderPlan,
    ask: Callable[[float], Command | None] = lambda _: None,
    options: SessionOptions | None = None,
) -> list[Event]:
    """Play a session of nobody's strokes to its end; the judge decides."""
    session = LiveSession(BAR, GENERAL_MIDI, plan, options=options)
    now, events = 0.0, session.start(0.0)
    while not session.over and now < 7200:
        now = max(now + 0.01, min(session.next_due(now), now + 1.0))
        command = ask(now)
        events += session.command(command, now) if command else []
        events += session.advance(now)
    assert session.over
    return events


def _rungs(events: list[Event]) -> list[tuple[float, bool]]:
    return [(one.tempo, one.clean) for one in events if isinstance(one, RungEnded)]


def test_the_ladder_climbs_fails_and_steps_back() -> None:
    """Up while clean, the same again after a failure, a step back after two; each rung counted."""
    plan = LadderPlan(BAR, Ladder(100, 10), _clean_up_to(120), 2, LadderTimes(minutes=1.5))
    events = _climb(plan)
    tempos = [tempo for tempo, _ in _rungs(events)]

    assert tempos[:6] == [100, 110, 120, 130, 130, 120]
    passes = [one for one in events if isinstance(one, PassStarted)]
    assert [one.rung for one in passes[:6]] == [0, 0, 1, 1, 2, 2]


def test_the_last_rung_ends_before_the_bell() -> None:
    """No rung is begun that would run over; the last verdict names no next tempo."""
    plan = LadderPlan(BAR, Ladder(60, 1), _clean_up_to(400), 4, LadderTimes(minutes=2))
    events = _climb(plan)
    ends = [one for one in events if isinstance(one, RungEnded)]
    last = [one for one in events if isinstance(one, PassStarted)][-1]

    assert last.start_s + 4 * 60 / last.tempo <= 120 + 1.0
    assert ends[-1].next_tempo is None
    assert all(one.next_tempo is not None for one in ends[:-1])
    assert ends[-1].seconds_left is not None
    assert ends[-1].seconds_left < plan.rung_s(61) + 3.0


def test_a_clean_top_ends_a_steady_ladder() -> None:
    """There is nothing above the top: the ladder is over once it was clean."""
    plan = LadderPlan(BAR, Ladder(100, 5, top=110), _clean_up_to(400), 1, LadderTimes(minutes=None))

    assert _rungs(_climb(plan)) == [(100, True), (105, True), (110, True)]


def test_rests_come_when_they_are_due() -> None:
    """A break of the asked length after the asked minutes, a breath between other rungs."""
    clockwork = LadderTimes(minutes=4, rest_every_minutes=1, rest_s=20)
    events = _climb(LadderPlan(BAR, Ladder(120, 1), _clean_up_to(400), 4, clockwork))
    rests = [round(one.until_s - one.time_s) for one in events if isinstance(one, RestStarted)]

    # Four minutes hold two stretches of a minute (rungs are not cut) with their breaks, and a rest.
    assert rests.count(20) == 2
    assert set(rests) == {3, 20}


def test_a_tempo_changed_by_hand_leaves_the_rung_unjudged() -> None:
    """A rung of two tempos says nothing; the ladder goes on from the new one."""
    asked: list[float] = []

    def ask(now: float) -> Command | None:
        if now > 5 and not asked:
            asked.append(now)
            return Command("tempo", 20)
        return None

    plan = LadderPlan(BAR, Ladder(100, 10), _clean_up_to(400), 4, LadderTimes(minutes=1))
    rungs = _rungs(_climb(plan, ask))

    assert asked
    assert rungs[0] == (120, True)


def test_a_pause_inside_a_rung_loses_nothing() -> None:
    """The pass that was cut off is played again, and the rung is judged on whole passes."""
    done: list[str] = []

    def ask(now: float) -> Command | None:
        for at, name in ((6.0, "pause"), (9.0, "resume")):
            if now > at and name not in done:
                done.append(name)
                return Command(name)
        return None

    plan = LadderPlan(BAR, Ladder(100, 10), _clean_up_to(400), 3, LadderTimes(minutes=1))
    events = _climb(plan, ask)

    assert done == ["pause", "resume"]
    assert [tempo for tempo, _ in _rungs(events)][:2] == [100, 110]


def test_a_rung_holds_enough_strokes() -> None:
    """Where nobody says how many passes, a rung has at least 32 strokes before the first look."""
    assert passes_a_rung(BAR) == 8


@pytest.mark.parametrize("minutes", [0, -1, float("nan"), 1e9])
def test_minutes_that_make_no_sense_are_refused(minutes: float) -> None:
    """A ladder needs some time to be played in."""
    with pytest.raises(BadInput, match="not a number of minutes"):
        LadderPlan(BAR, Ladder(60), _clean_up_to(60), 1, LadderTimes(minutes=minutes))


def _needs(passes: int) -> RungJudge:
    """A judge whose answer is open until it has seen so many passes, where more may come."""

    def judge(parts: Sequence[Judged], more: bool | None = None) -> RungVerdict:
        return RungVerdict(True, (), bool(more) and len(parts) < passes, "", 4 * len(parts))

    return judge


@pytest.mark.parametrize(("needed", "least", "most"), [(1, 8, 8), (12, 12, 14), (999, 40, 48)])
def test_a_rung_lasts_as_long_as_its_answer_needs(needed: int, least: int, most: int) -> None:
    """Eight passes hold 32 strokes; an open answer gets more without a gap, 192 strokes at most."""
    plan = LadderPlan(BAR, Ladder(240, 10), _needs(needed), None, LadderTimes(minutes=3))
    events = _climb(plan)
    first = [one for one in events if isinstance(one, PassStarted) and one.rung == 0]
    ended = next(one for one in events if isinstance(one, RungEnded))

    assert least <= len(first) <= most
    assert ended.strokes == 4 * len(first)
    gaps = [b.start_s - a.start_s for a, b in pairwise(first)]
    assert max(gaps) < 1.0 + 1e-6


def test_a_long_pass_that_leaves_the_answer_open_is_played_once_more() -> None:
    """One pass is a rung already: it is settled, then counted in again at the same tempo."""
    long = replace(
        BAR,
        bars=tuple(Bar(Fraction(4 * bar), Meter()) for bar in range(16)),
        notes=tuple(Note(Fraction(k), "snare", Limb.RH, value="4") for k in range(64)),
    )
    plan = LadderPlan(long, Ladder(240, 10), _needs(2), None, LadderTimes(minutes=3))
    session = LiveSession(long, GENERAL_MIDI, plan)
    now, events = 0.0, session.start(0.0)
    while not session.over and now < 600:
        now = max(now + 0.01, min(session.next_due(now), now + 1.0))
        events += session.advance(now)
    passes = [(one.rung, one.tempo) for one in events if isinstance(one, PassStarted)]

    assert passes[:3] == [(0, 240.0), (0, 240.0), (1, 250.0)]


def test_an_open_rung_ends_at_the_bell() -> None:
    """A rung that could still grow is decided with what there is, and nothing runs over."""
    plan = LadderPlan(BAR, Ladder(120, 10), _needs(999), None, LadderTimes(minutes=0.5))
    events = _climb(plan)
    last = [one for one in events if isinstance(one, PassStarted)][-1]

    assert [one for one in events if isinstance(one, RungEnded)]
    assert last.start_s + 2.0 <= 30.0 + 2.0 + 1.0


def test_silence_grows_from_rung_to_rung() -> None:
    """Rungs of three bars, each with its count-in, make one row; a pause begins it again."""
    options = SessionOptions(click=read_figure({"silent_bars": "1-3/4"}))
    plan = LadderPlan(BAR, Ladder(100, 1, top=103), _clean_up_to(400), 3, LadderTimes(minutes=None))

    def bars(events: list[Event]) -> str:
        beats = [one for one in events if isinstance(one, BeatStarted) and one.phase == "playing"]
        return "".join("x-"[one.silent] for one in beats if one.beat == 0)

    assert bars(_climb(plan, options=options)) == "xxx-xx--x---"

    plan = LadderPlan(BAR, Ladder(100, 1, top=102), _clean_up_to(400), 3, LadderTimes(minutes=None))
    asked = [Command("pause"), Command("resume")]

    def ask(now: float) -> Command | None:
        return asked.pop(0) if asked and now > 24 else None

    assert bars(_climb(plan, ask, options)) == "xxx-xxxxx"
