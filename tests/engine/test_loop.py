"""The loop in simulated time: what it writes down, and how it meets trouble."""

from __future__ import annotations

import select
from dataclasses import replace
from fractions import Fraction
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.handmade import pattern
from trainer.archive.session_file import open_session
from trainer.archive.summary import judge_session, session_summary
from trainer.engine.job import Engine
from trainer.engine.loop import MOST_AT_ONCE
from trainer.engine.process import LocalHandle
from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.midi.click import SilentClick
from trainer.midi.hit_source import Control
from trainer.midi.simulated_player import CHOKING_KIT, EXACT_TRAITS, SimulatedPlayer
from trainer.pattern.model import Limb, Note
from trainer.practice.events import (
    Command,
    Event,
    Finished,
    HitJudged,
    Notice,
    PassEnded,
    Paused,
    Resumed,
    Tally,
    TargetMissed,
)
from trainer.practice.plan import SessionOptions

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.archive.session import Session
    from trainer.engine.job import Job
    from trainer.midi.hit_source import SourceEvent


def _play(job: Job) -> tuple[list[Event], Session]:
    """Play a job to its end in simulated time."""
    events: list[Event] = []
    Engine(job, events.extend).run()
    return events, open_session(job_file(events))


def job_file(events: list[Event]) -> Path:
    """Return where the session was saved."""
    finished = events[-1]
    assert isinstance(finished, Finished)
    assert finished.path
    return Path(finished.path)


class Troubled(SimulatedPlayer):
    """Loses its connection for a while: what is played meanwhile is never heard."""

    def __init__(self, gone_s: float, back_s: float) -> None:
        super().__init__(GENERAL_MIDI, 5, EXACT_TRAITS)
        self.gone_s, self.back_s = gone_s, back_s
        self.now_s = 0.0

    @property
    def lost(self) -> bool:
        """True between the two seconds."""
        return self.gone_s <= self.now_s < self.back_s

    def poll(self, now_s: float) -> list[SourceEvent]:
        """Return what is heard."""
        self.now_s = now_s
        made = super().poll(now_s)
        return [] if self.lost else made


class ToldLate(Troubled):
    """Is gone for four seconds before its system tells, as a busy JACK server does."""

    @property
    def lost(self) -> bool:
        """True from four seconds after it went."""
        return self.gone_s + 4.0 <= self.now_s < self.back_s

    def poll(self, now_s: float) -> list[SourceEvent]:
        """Return what is heard: nothing while it is gone."""
        made = super().poll(now_s)
        return [] if self.gone_s <= now_s < self.back_s else made


class FakeClick(SilentClick):
    """A click that is always 3 ms late, and remembers what it was asked for."""

    name = "fake"

    def __init__(self) -> None:
        self.sent: list[tuple[str, float]] = []

    def send(self, kind: str, due_s: float) -> float:
        """Note it down."""
        self.sent.append((kind, due_s))
        return due_s + 0.003


class LostClick(FakeClick):
    """A click whose port goes away after the third one and is back after the sixth."""

    @property
    def lost(self) -> bool:
        """True in between."""
        return 3 <= len(self.sent) < 6


def test_a_kit_that_was_gone_for_seconds_before_it_was_reported_has_missed_nothing(
    make_job: Callable[..., Job],
) -> None:
    """Whole passes went by unheard; the live counts and the file take them back."""
    source = ToldLate(5.3, 12.0)
    events, session = _play(make_job(passes=6, source=source, simulated=True, tempo=120.0))

    assert sum(isinstance(one, TargetMissed) for one in events) > 0
    assert session.summary["counts"]["missed"] == 0
    last = [one for one in events if isinstance(one, Tally)][-1]
    assert (last.missed, last.played) == (0, session.summary["counts"]["played"])
    assert source.truth[-1].strike.time_s > 12.0


def test_a_click_that_went_away_is_reported_and_playing_goes_on(
    make_job: Callable[..., Job],
) -> None:
    """Once when it goes and once when it is back; nothing pauses, nothing is cut."""
    events, session = _play(make_job(passes=2, tempo=60.0, simulated=True, click=LostClick()))

    reported = [one.text for one in events if isinstance(one, Notice) and "click" in one.text]
    assert reported == [
        "the click (fake) is gone; playing continues",
        "the click (fake) is back",
    ]
    assert not [mark for mark in session.marks if mark.kind != "silent"]


def test_the_saved_session_gives_the_live_outcomes_and_numbers(
    make_job: Callable[..., Job],
) -> None:
    """What was reported live as final, what is saved and what is judged again are the same."""
    events, session = _play(make_job(passes=8, tempo=110.0, simulated=True))
    again = judge_session(session)

    live_hits = {one.hit: one for one in events if isinstance(one, HitJudged) and one.final}
    assert [live_hits[hit.index].outcome for hit in again.hits] == list(again.hit_outcome)
    assert [live_hits[hit.index].target for hit in again.hits] == list(again.hit_target)
    for one in live_hits.values():
        if one.target is not None:
            assert one.offset_s == again.offset_s(one.target)
    missed = {one.target for one in events if isinstance(one, TargetMissed)}
    assert missed == {k for k, what in enumerate(again.target_outcome) if what == "missed"}
    assert events[-1].summary == session.summary == session_summary(session)


def test_all_strikes_and_clicks_are_written_down(make_job: Callable[..., Job]) -> None:
    """The file has every strike the player made and every click, with its lateness."""
    job = make_job(passes=2, simulated=True, click=FakeClick())
    _, session = _play(job)

    assert list(session.strikes) == [one.strike for one in job.source.truth]
    assert len(session.clicks) == len(job.click.sent) == 12
    assert {round(one.late_s, 9) for one in session.clicks} == {0.003}
    assert [kind for kind, _ in job.click.sent] == ["accent", "beat", "beat", "beat"] * 3


def test_targets_move_with_a_late_click_and_read_back_the_same(
    make_job: Callable[..., Job],
) -> None:
    """A click 3 ms late moves the targets, live and when the file is judged again."""
    source = SimulatedPlayer(GENERAL_MIDI, 5, EXACT_TRAITS)
    events, session = _play(make_job(source=source, click=FakeClick(), simulated=True))

    assert [round(one.click_late_s, 9) for one in session.passes] == [0.003] * 4
    offsets = {one.offset_s for one in events if isinstance(one, HitJudged)}
    assert offsets == {0.0}
    assert events[-1].summary == session_summary(session)


def test_an_unplugged_kit_pauses_and_takes_up_again_by_itself(
    make_job: Callable[..., Job],
) -> None:
    """Nothing in the gap is missed, all of it is in the file, and the passes are played."""
    events, session = _play(
        make_job(passes=2, source=Troubled(3.3, 7.0), simulated=True, tempo=120.0)
    )

    assert [mark.kind for mark in session.marks] == ["unplugged", "pause", "plugged", "resume"]
    assert [type(one) for one in events if isinstance(one, Paused | Resumed)] == [Paused, Resumed]
    assert session.summary["counts"]["missed"] == 0
    assert sum(isinstance(one, PassEnded) for one in events) == 2
    assert any(isinstance(one, Notice) and "is gone" in one.text for one in events)


def test_a_pause_of_the_player_outlasts_an_unplugging(make_job: Callable[..., Job]) -> None:
    """Who paused before the kit went away is not started by its return."""
    handle = LocalHandle(make_job(passes=None, source=Troubled(4.0, 6.0), simulated=True))
    handle.run_to(3.5)
    handle.send(Command("pause"))
    handle.run_to(60.0)

    assert handle.engine.session.paused
    handle.close()


@pytest.mark.parametrize("name", ["resume", "toggle", "restart"])
def test_nothing_begins_while_the_kit_is_gone(make_job: Callable[..., Job], name: str) -> None:
    """Asked to go on without a kit it says so, counts nothing as missed, and goes on later."""
    job = make_job(passes=2, source=Troubled(3.3, 9.0), simulated=True, tempo=120.0)
    handle = LocalHandle(job)
    handle.run_to(5.0)
    handle.send(Command(name))
    handle.run_to(8.0)

    assert handle.engine.session.paused
    handle.wait(0)
    events = handle.poll()
    assert any(
        isinstance(one, Notice) and "is gone; playing continues" in one.text for one in events
    )
    session = open_session(job_file(events))
    assert session.summary["counts"]["missed"] == 0


def test_the_player_stops_with_the_pause(make_job: Callable[..., Job]) -> None:
    """Nothing is struck in a pause, and nothing of it is missed or extra."""
    source = SimulatedPlayer(GENERAL_MIDI, 5, EXACT_TRAITS)
    handle = LocalHandle(make_job(passes=2, source=source, simulated=True, tempo=120.0))
    handle.run_to(4.0)
    handle.send(Command("pause"))
    handle.run_to(20.0)
    handle.send(Command("resume"))
    handle.wait(0)
    session = open_session(job_file(handle.poll()))

    assert not [strike for strike in session.strikes if 4.5 < strike.time_s < 20.0]
    take = judge_session(session)
    assert set(take.target_outcome) == set(take.hit_outcome) == {"played"}
    handle.close()


def test_a_handle_in_this_process_ends_like_the_other(make_job: Callable[..., Job]) -> None:
    """Its descriptor tells when events wait, and after the end it raises EOFError."""
    handle = LocalHandle(make_job(passes=1, simulated=True))
    handle.run_to(1.5)
    assert select.select([handle.fileno()], [], [], 0)[0]
    assert handle.poll()
    assert not select.select([handle.fileno()], [], [], 0)[0]
    handle.wait(0)
    assert isinstance(handle.poll()[-1], Finished)
    with pytest.raises(EOFError):
        handle.poll()
    handle.close()


def test_closing_early_saves(make_job: Callable[..., Job]) -> None:
    """A handle closed in the middle leaves a finished session."""
    job = make_job(passes=None, simulated=True)
    handle = LocalHandle(job)
    handle.run_to(8.0)
    handle.close()
    session = open_session(next(job.folder.glob("*.jsonl")))

    assert session.summary is not None
    assert session.strikes


def test_the_same_seed_gives_the_same_session(make_job: Callable[..., Job]) -> None:
    """Simulated time is repeatable to the last bit."""
    first, second = (_play(make_job(passes=3, simulated=True))[1] for _ in range(2))

    assert first.strikes == second.strikes
    assert first.summary == second.summary


class Joined(SimulatedPlayer):
    """Plays as written while other strikes come in, each bunch at once with its first one."""

    def __init__(self, *bunches: list[Strike]) -> None:
        super().__init__(GENERAL_MIDI, 5, EXACT_TRAITS)
        self.bunches = bunches

    def due(self) -> float:
        """Return when the next strike comes."""
        return min([super().due(), *(bunch[0].time_s for bunch in self.bunches)])

    def poll(self, now_s: float) -> list[SourceEvent]:
        """Return what is played, and after it what came in."""
        come = [bunch for bunch in self.bunches if bunch[0].time_s <= now_s]
        self.bunches = self.bunches[len(come) :]
        return [*super().poll(now_s), *chain(*come)]


def flooded() -> Joined:
    """Return a player beside whom another pad sends a thousand strikes."""
    return Joined([Strike(3.0 + k * 1e-5, 99, 1 + k % 127) for k in range(1000)])


def test_a_flood_of_strikes_loses_none_and_holds_up_no_click(
    make_job: Callable[..., Job],
) -> None:
    """Strikes that come faster than they are judged wait; every one is kept, none is missed."""
    job = make_job(passes=4, source=flooded(), click=FakeClick(), simulated=True)
    _, session = _play(job)

    assert len(session.strikes) == 1000 + 64
    assert set(judge_session(session).target_outcome) == {"played"}
    assert len(job.click.sent) == 4 + 16


def test_a_strike_is_written_down_when_heard(make_job: Callable[..., Job]) -> None:
    """Of a thousand strikes at once all are written in the turn they are heard, few are judged."""
    reported: list[Event] = []
    engine = Engine(make_job(passes=4, source=flooded(), simulated=True), reported.extend)
    loop = engine.loop
    loop.start()
    while loop.clock.now() < 3.0:
        loop.turn()
    reported.clear()
    loop.turn()
    written = len(engine.journal.session().strikes)
    loop.session.quit(loop.clock.now())
    engine.finish()

    assert written >= 1000
    assert sum(isinstance(one, HitJudged) and not one.final for one in reported) <= MOST_AT_ONCE


def test_a_key_in_a_flood_acts_after_what_came_before_it(make_job: Callable[..., Job]) -> None:
    """What was struck before the key, all in one moment, is part of the take, the rest is not."""
    keys = SessionOptions(pad_keys={49: "quit"})
    source = Joined([Strike(4.2, 49 if k == 500 else 38, 90) for k in range(1000)])
    events, session = _play(
        make_job(passes=2, tempo=120.0, source=source, options=keys, simulated=True)
    )

    assert sum(one.time_s == 4.2 and one.note == 38 for one in session.strikes) == 500
    assert len(session.idle) == 500
    reported = {one.hit: one.outcome for one in events if isinstance(one, HitJudged) and one.final}
    assert len(reported) == len(session.strikes)


def test_a_pad_struck_as_a_key_is_no_part_of_the_take(make_job: Callable[..., Job]) -> None:
    """It is in the file as heard and not judged, so the saved numbers are those that were shown."""
    keys = SessionOptions(pad_keys={49: "toggle"})
    # While playing, with a bounce, and in the pause.
    source = Joined(*([Strike(at, 49, 90)] for at in (4.03, 4.05, 8.0)))
    events, session = _play(
        make_job(passes=2, tempo=120.0, source=source, options=keys, simulated=True)
    )

    assert [type(one) for one in events if isinstance(one, Paused | Resumed)] == [Paused, Resumed]
    assert set(judge_session(session).hit_outcome) == {"played"}
    assert session.header.timing["shown_otherwise"] == 0


class Grabbing(SimulatedPlayer):
    """Sends its chokes as a kit does: rising pressure, and 0 when the cymbal is let go."""

    def poll(self, now_s: float) -> list[SourceEvent]:
        """Return what is heard."""
        made: list[SourceEvent] = []
        for one in super().poll(now_s):
            if isinstance(one, Strike) and not one.velocity:
                values = (64, 127, 0)
                made += [Control(one.time_s, "choke", one.note, value) for value in values]
            else:
                made.append(one)
        return made


def test_a_choke_is_judged_where_it_is_written_and_no_stroke_where_it_is_not(
    make_job: Callable[..., Job],
) -> None:
    """One of the four strokes is a grab; the same pressure without it in the pattern is nothing."""
    crash = Note(Fraction(0), "crash", Limb.RH, value="4")
    grab = Note(Fraction(2), "crash", zone="choke", value="4")
    written = replace(pattern([crash, grab]), notes=(crash, grab))
    source = Grabbing(CHOKING_KIT, 5, EXACT_TRAITS)
    events, session = _play(
        make_job(pattern=written, kit=CHOKING_KIT, source=source, simulated=True)
    )

    counts = session.summary["counts"]
    assert (counts["played"], counts["missed"], counts["extra"]) == (8, 0, 0)
    assert [one.velocity for one in session.strikes].count(0) == 4
    assert len(session.controls) == 12
    assert session.kit.choked == CHOKING_KIT.choked
    assert events[-1].summary == session_summary(session)
