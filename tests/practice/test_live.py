"""The live session: time, strikes and commands in, events out."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from live_stage import PATTERN, Stage

from trainer.practice.click_figure import read_figure
from trainer.practice.events import (
    BarEnded,
    BeatStarted,
    HitJudged,
    PassEnded,
    PassStarted,
    Tally,
    TargetMissed,
)
from trainer.practice.plan import SessionOptions
from trainer.show.plain_text import PlainText


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


def test_bars_without_click_come_after_each_other_in_turn() -> None:
    """With 1 of 2 bars silent, every second bar since the count-in has no click."""
    stage = Stage(options=SessionOptions(click=read_figure({"silent_bars": "1/2"}))).run()

    silent = [one.silent for one in stage.of(BeatStarted) if one.phase == "playing"]
    assert silent == ([False] * 4 + [True] * 4) * 2


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
