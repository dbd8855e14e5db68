"""What a player asks of a live session: pause, restart, tempo, end, by keys and by pads."""

from __future__ import annotations

from live_stage import CRASH, PATTERN, SNARE, Stage

from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.kit.voices import VOICES
from trainer.practice.course import Course
from trainer.practice.events import (
    CONTINUE_COMMANDS,
    BeatStarted,
    HitJudged,
    IdleHit,
    PassCut,
    PassEnded,
    PassStarted,
    Resumed,
    Tally,
    TempoChosen,
    pad_names,
)
from trainer.practice.plan import SessionOptions


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


def test_pads_that_go_on_are_named_as_people_say_them() -> None:
    """Each pad once, by its voice's title; a note the kit does not know by its number."""
    crash = [note for note, pad in GENERAL_MIDI.notes.items() if pad.voice == "crash"]
    table = {**dict.fromkeys(crash, "next"), 3: "toggle", 38: "restart"}

    assert pad_names(table, GENERAL_MIDI, CONTINUE_COMMANDS) == f"{VOICES['crash'].title} or note 3"
    assert pad_names({38: "restart"}, GENERAL_MIDI, CONTINUE_COMMANDS) == ""
