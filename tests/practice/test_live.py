"""The live session: time, strikes and commands in, events out."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING

from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.pattern.model import Bar, Meter, Note, Pattern
from trainer.practice.click_figure import read_figure
from trainer.practice.course import Course
from trainer.practice.events import (
    BarEnded,
    BeatStarted,
    Command,
    HitJudged,
    IdleHit,
    PassCut,
    PassEnded,
    PassStarted,
    Resumed,
    Tally,
    TargetMissed,
    TempoChosen,
)
from trainer.practice.live import LiveSession
from trainer.practice.plan import SessionOptions, SteadyPlan
from trainer.show.plain_text import PlainText

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.practice.course import Target
    from trainer.practice.events import Event

FOUR = Meter()
PATTERN = Pattern(
    "eights",
    "Eights on two drums",
    bars=(Bar(Fraction(0), FOUR), Bar(Fraction(4), FOUR)),
    notes=tuple(
        Note(Fraction(half, 2), "snare" if half % 4 < 2 else "tom1", value="8")
        for half in range(16)
    ),
)
SNARE, TOM, CRASH = 38, 48, 49
NOTE = {"snare": SNARE, "tom1": TOM}


class Stage:
    """A session with a player who strikes every target as `offset` says (None: leaves it out)."""

    def __init__(
        self,
        passes: int | None = 2,
        tempo: float = 120.0,
        offset: Callable[[Target], float | None] = lambda target: 0.0,
        options: SessionOptions | None = None,
        pattern: Pattern = PATTERN,
    ) -> None:
        plan = SteadyPlan(tempo, passes)
        self.session = LiveSession(pattern, GENERAL_MIDI, plan, options=options)
        self.offset = offset
        self.to_play: list[Strike] = []
        self.strikes: list[Strike] = []
        self.events: list[Event] = []
        self.now = 0.0
        self._hear(self.session.start(0.0))

    def run(self, until_s: float = 1000.0) -> Stage:
        """Go on in time, never past the session's end."""
        while not self.session.over and self.now < until_s:
            strike_s = self.to_play[0].time_s if self.to_play else until_s
            self.now = min(until_s, strike_s, max(self.now, self.session.next_due(self.now)))
            while self.to_play and self.to_play[0].time_s <= self.now:
                self.strike(self.to_play.pop(0))
            self._hear(self.session.advance(self.now))
        return self

    def strike(self, strike: Strike) -> list[Event]:
        """Strike now."""
        if self.session.judges(strike):
            self.strikes.append(strike)
            return self._hear(self.session.judge(strike))
        return self._hear(self.session.idle(strike, self.now))

    def ask(self, name: str, amount: float = 0.0) -> list[Event]:
        """Give a command now."""
        return self._hear(self.session.command(Command(name, amount), self.now))

    def of(self, kind: type) -> list:
        """Events of one kind."""
        return [event for event in self.events if isinstance(event, kind)]

    def _hear(self, events: list[Event]) -> list[Event]:
        for event in events:
            if isinstance(event, PassStarted):
                for target in self.session.targets(event.pass_index):
                    late = self.offset(target)
                    if late is not None:
                        note = NOTE[target.note.voice]
                        self.to_play.append(Strike(target.time_s + late, note, 90))
            if isinstance(event, PassCut):
                self.to_play.clear()
        self.events += events
        return events


def test_passes_follow_each_other_after_one_count_in() -> None:
    """Two passes of two bars at 120 BPM: four counts, then 16 beats without a gap."""
    stage = Stage().run()

    beats = stage.of(BeatStarted)
    assert [one.phase for one in beats] == ["count-in"] * 4 + ["playing"] * 16
    steps = {round(b.time_s - a.time_s, 9) for a, b in pairwise(beats)}
    assert steps == {0.5}
    assert [one.start_s for one in stage.of(PassStarted)] == [3.0, 7.0]


def test_a_pass_is_known_a_beat_before_it_starts() -> None:
    """The player's next targets are laid out a beat ahead, with numbers that go on."""
    stage = Stage().run(6.51)

    second = stage.of(PassStarted)[1]
    assert (second.first_target, second.target_count) == (16, 16)
    assert stage.of(BarEnded)[-1].bar == 0


def test_everything_played_counts_as_played() -> None:
    """Strokes 10 ms late give 32 played, mean +10 ms, no spread, and two clean passes."""
    stage = Stage(offset=lambda target: 0.010).run()

    tally = stage.of(Tally)[-1]
    assert (tally.played, tally.missed, tally.extra) == (32, 0, 0)
    assert abs(tally.offset_mean_s - 0.010) < 1e-9
    assert tally.offset_spread_s < 1e-9
    assert [one.clean for one in stage.of(PassEnded)] == [True, True]


def test_every_hit_is_judged_at_once_and_settled_within_a_beat() -> None:
    """A provisional outcome comes with the strike itself, the final one at most a beat later."""
    stage = Stage(passes=1)
    first_seen: dict[int, float] = {}
    while not stage.session.over:
        count = len(stage.events)
        stage.run(stage.now + 0.01)
        for event in stage.events[count:]:
            if isinstance(event, HitJudged):
                first_seen.setdefault(event.hit, event.time_s)
                assert stage.now - event.time_s <= 0.5 + 0.06
    assert len(first_seen) == 16
    finals = [one for one in stage.of(HitJudged) if one.final]
    assert sorted(one.hit for one in finals) == list(range(16))


def test_a_hit_shows_its_place_in_the_pattern() -> None:
    """Each settled hit names the note it played and the beat it fell on."""
    stage = Stage(passes=1, offset=lambda target: 0.010).run()

    finals = sorted((one for one in stage.of(HitJudged) if one.final), key=lambda one: one.hit)
    assert [one.note_index for one in finals] == list(range(16))
    assert [round(one.beat - float(PATTERN.notes[one.note_index].beat), 6) for one in finals] == [
        0.02
    ] * 16


def test_a_bar_shows_what_was_missed_on_which_drum() -> None:
    """A stroke left out is missed, once, in its bar and on its drum."""
    stage = Stage(passes=1, offset=lambda target: None if target.index == 10 else 0.0).run()

    first, second = stage.of(BarEnded)
    assert (first.played, first.missed) == (8, {})
    assert (second.played, second.missed) == (7, {"tom1": 1})
    assert [one.note_index for one in stage.of(TargetMissed)] == [10]
    assert not stage.of(PassEnded)[0].clean


def test_the_zone_that_came_is_reported_with_the_hit_and_with_the_bar() -> None:
    """Heads where rims are written stay played, and say so in both; plain text says it too."""
    rims = tuple(replace(one, zone="rim" * (one.voice == "snare")) for one in PATTERN.notes)
    stage = Stage(passes=1, pattern=replace(PATTERN, notes=rims)).run()

    finals = [one for one in stage.of(HitJudged) if one.final]
    assert {one.voice: one.instead for one in finals} == {"snare": "head for rim", "tom1": ""}
    assert {one.outcome for one in finals} == {"played"}
    bars = stage.of(BarEnded)
    assert [one.zones for one in bars] == [{"head for rim": 4}] * 2
    plain = PlainText(PATTERN, 1, every_hit=True)
    reported = [text for one in stage.events for text in plain.lines(one)]
    assert sum(text.endswith("on time, head for rim.") for text in reported) == 8
    assert sum("; head for rim x4." in text for text in reported) == 2


def test_nothing_in_a_pause_counts_as_missed() -> None:
    """A pause cuts the pass after the last stroke; on resume it continues with its bar."""
    stage = Stage(passes=1).run(5.1)
    stage.to_play.clear()
    stage.run(5.4)
    stage.ask("pause")
    stage.run(60.0)
    stage.ask("resume")
    stage.run()

    tally = stage.of(Tally)[-1]
    assert (tally.missed, tally.extra) == (0, 0)
    assert len(stage.of(PassStarted)) == 2
    assert [one.pass_index for one in stage.of(PassEnded)] == [1]
    assert tally.played == 9 + 8


def _continued(pause_s: float, tempo: float = 120.0) -> list[BeatStarted]:
    """Return the beats after a pause in a pass of two bars, which begins at 3 s."""
    stage = Stage(passes=1, tempo=tempo).run(pause_s)
    stage.ask("pause")
    stage.run(pause_s + 10.0)
    count = len(stage.events)
    stage.ask("resume")
    stage.run()
    bars = (one.bar for one in stage.events[count:] if getattr(one, "phase", "") == "playing")
    assert stage.of(Resumed)[-1].bar == next(bars)
    return [one for one in stage.events[count:] if isinstance(one, BeatStarted)]


def test_a_pause_continues_with_the_bar_it_was_in_after_a_count_in() -> None:
    """Paused in the second bar, only that is played; in the first one, both are."""
    second, first = _continued(5.9), _continued(3.9)
    assert [one.phase for one in second] == ["count-in"] * 4 + ["playing"] * 4
    assert {one.bar for one in second if one.phase == "playing"} == {1}
    assert [one.bar for one in first if one.phase == "playing"] == [0] * 4 + [1] * 4


def test_who_puts_the_sticks_down_first_continues_where_the_strokes_stopped() -> None:
    """The pause comes a bar after the last stroke; nothing of the bar before it is left out."""
    stage = Stage(passes=1, offset=lambda target: 0.0 if target.index < 5 else None).run(5.9)
    stage.ask("pause")
    stage.run(8.0)
    stage.ask("resume")
    stage.run(8.1)
    assert stage.of(Resumed)[-1].bar == 0


def test_a_restart_after_a_pause_begins_with_the_first_bar() -> None:
    """Whoever wants the whole pattern again gets it."""
    stage = Stage(passes=1).run(5.9)
    stage.ask("pause")
    stage.run(8.0)
    count = len(stage.events)
    stage.ask("restart")
    stage.run()
    bars = [one.bar for one in stage.events[count:] if getattr(one, "phase", "") == "playing"]
    assert bars == [0] * 4 + [1] * 4


def test_a_tempo_says_when_it_takes_effect() -> None:
    """With the pass after the one that runs; in a pause with the count-in to come."""
    stage = Stage(passes=3).run(5.0)
    stage.ask("tempo", 10.0)
    stage.run(5.1)
    assert stage.of(TempoChosen)[-1] == TempoChosen(130.0, 7.0)
    begun = [one for one in stage.run().of(PassStarted) if one.tempo == 130.0]
    assert begun[0].start_s == 7.0
    paused = Stage(passes=3).run(5.0)
    paused.ask("pause")
    paused.run(6.0)
    paused.ask("tempo", 10.0)
    assert paused.run(6.1).of(TempoChosen)[-1].at_s is None


def test_misses_that_were_reported_are_taken_back_by_the_cut() -> None:
    """Who stops playing and pauses a bar later has missed nothing."""
    stage = Stage(passes=1, offset=lambda target: 0.0 if target.index < 4 else None).run(6.5)
    assert stage.of(Tally)[-1].missed > 0
    stage.ask("pause")
    stage.run(8.0)

    assert stage.session.tally().missed == 0


def test_a_count_in_comes_after_every_resume() -> None:
    """After a pause the beats begin with a count-in of the whole bar."""
    stage = Stage(passes=1).run(5.0)
    stage.ask("pause")
    stage.run(6.0)
    count = len(stage.events)
    stage.ask("resume")
    stage.run()

    beats = [one for one in stage.events[count:] if isinstance(one, BeatStarted)]
    assert [one.phase for one in beats[:5]] == ["count-in"] * 4 + ["playing"]


def test_a_pause_in_the_count_in_repeats_the_count_in() -> None:
    """Nothing was laid out yet, so no pass is cut and none is lost."""
    stage = Stage(passes=1).run(1.6)
    stage.ask("pause")
    stage.run(3.0)
    stage.ask("resume")
    stage.run()

    assert not stage.of(PassCut)
    assert stage.of(Tally)[-1].played == 16


def test_a_restart_takes_the_new_tempo_at_once() -> None:
    """Up 20 BPM and restart: the pass begins again, counted in, at 140."""
    stage = Stage(passes=1).run(4.0)
    stage.ask("tempo", 20)
    stage.ask("restart")
    stage.run()

    assert [one.tempo for one in stage.of(PassStarted)] == [120.0, 140.0]
    assert stage.of(BeatStarted)[-1].tempo == 140.0


def test_a_new_tempo_holds_from_the_next_pass_on() -> None:
    """The running pass keeps its tempo; the next follows it without a gap, faster."""
    stage = Stage(passes=2).run(4.0)
    stage.ask("tempo", 20)
    stage.run()

    first, second = stage.of(PassStarted)
    assert (first.tempo, second.tempo) == (120.0, 140.0)
    assert second.start_s == 7.0


def test_quitting_settles_what_was_played() -> None:
    """What was played before the end is kept, what was not reached is not missed."""
    stage = Stage(passes=None).run(5.05)
    stage.ask("quit")

    tally = stage.of(Tally)[-1]
    assert (tally.played, tally.missed) == (9, 0)
    assert stage.session.over


def test_nothing_begins_after_the_end() -> None:
    """Once it is over, time brings no more passes, even where one was about to be laid out."""
    stage = Stage(passes=None).run(6.45)
    stage.ask("quit")

    assert stage.session.advance(6.55) == []
    assert len(stage.session.passes) == 1


def test_the_same_passes_and_strikes_have_the_same_targets() -> None:
    """Through pauses and cuts, the course lays out exactly the targets that were live."""
    stage = Stage(passes=2).run(5.3)
    stage.ask("pause")
    stage.run(9.0)
    stage.ask("resume")
    stage.run()

    course = Course(PATTERN, tuple(stage.session.passes)).targets()
    judged = {one.target: one.time_s for one in stage.of(HitJudged) if one.final}
    assert judged == {target.index: target.time_s for target in course}


def test_strokes_while_nothing_is_asked_are_not_judged() -> None:
    """Warming up in the count-in and noodling in a pause is heard, shown and not counted."""
    stage = Stage(passes=1).run(1.2)
    stage.strike(Strike(1.2, SNARE, 80))
    stage.run(4.1)
    stage.ask("pause")
    stage.run(5.0)
    stage.strike(Strike(5.0, 3, 80))

    idle = stage.of(IdleHit)
    assert [one.voice for one in idle] == ["snare", None]
    assert stage.session.tally().extra == 0


def test_bars_without_click_come_after_each_other_in_turn() -> None:
    """With 1 of 2 bars silent, every second bar since the count-in has no click."""
    stage = Stage(options=SessionOptions(click=read_figure({"silent_bars": "1/2"}))).run()

    silent = [one.silent for one in stage.of(BeatStarted) if one.phase == "playing"]
    assert silent == ([False] * 4 + [True] * 4) * 2


def test_a_pad_outside_the_pattern_acts_as_a_key_at_any_time() -> None:
    """The crash, not in the pattern, pauses while playing and goes on when struck again."""
    stage = Stage(passes=1, options=SessionOptions(pad_keys={CRASH: "toggle"})).run(4.1)
    stage.strike(Strike(4.1, CRASH, 90))
    assert stage.session.paused
    stage.run(5.0)
    stage.strike(Strike(5.0, CRASH, 90))

    assert not stage.session.paused
    assert stage.session.tally().extra == 0


def test_next_goes_on_from_a_pause_and_only_from_there() -> None:
    """A pad that means "next" ends a pause; while something is played there is no next."""
    stage = Stage(passes=1, options=SessionOptions(pad_keys={CRASH: "next"})).run(4.1)
    stage.strike(Strike(4.1, CRASH, 90))
    assert not stage.session.paused
    stage.ask("pause")
    stage.run(6.0)
    stage.strike(Strike(6.0, CRASH, 90))

    assert not stage.session.paused
    assert len(stage.of(Resumed)) == 1


def test_a_pad_of_the_pattern_acts_as_a_key_only_while_nothing_is_asked() -> None:
    """The snare is music while playing and a key in a pause; a double trigger is one press."""
    stage = Stage(passes=1, options=SessionOptions(pad_keys={SNARE: "toggle"})).run(4.1)
    assert not stage.session.paused
    stage.ask("pause")
    stage.run(6.0)
    stage.strike(Strike(6.0, SNARE, 90))
    stage.strike(Strike(6.02, SNARE, 30))

    assert not stage.session.paused


def test_targets_are_counted_from_the_click_as_it_was_sent() -> None:
    """A click that is always 2 ms late moves the targets of the coming pass by 2 ms."""
    stage = Stage(passes=2).run(2.4)
    for _ in range(4):
        stage.session.click_sent(0.002)
    stage.run()

    assert stage.session.passes[0].click_late_s == 0.002
    assert abs(stage.session.tally().offset_mean_s) < 1e-12
    assert stage.of(PassStarted)[1].start_s == 7.0


def test_the_books_are_empty_at_the_end() -> None:
    """After many passes nothing of the earlier ones is kept open."""
    stage = Stage(passes=50).run()

    assert not stage.session._ledger.books
    assert not stage.session._ledger._open_hits
    assert not stage.session._ledger._open_targets
