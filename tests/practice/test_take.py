"""A take judged whole and live."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.pattern.model import Bar, Meter, Note, Pattern
from trainer.practice.course import Course, Pass
from trainer.practice.matcher import LiveTake, judge

BAR = Pattern(
    "four",
    "Four on the snare",
    bars=(Bar(Fraction(0), Meter()),),
    notes=tuple(Note(Fraction(beat), "snare", value="4") for beat in range(4)),
)
COURSE = Course(BAR, (Pass(0, 120.0, 1.0),))


def test_a_take_equal_to_its_course_is_all_played() -> None:
    """Every target struck on the dot is played with offset 0."""
    strikes = [Strike(target.time_s, 38, 90) for target in COURSE.targets()]

    judged = judge(COURSE, strikes, GENERAL_MIDI)

    assert judged.target_outcome == ("played",) * 4
    assert [judged.offset_s(index) for index in range(4)] == [0.0] * 4
    assert judged.hit_target == (0, 1, 2, 3)


def test_no_strikes_leave_every_target_missed() -> None:
    """A take without a strike misses everything and crashes nothing."""
    judged = judge(COURSE, [], GENERAL_MIDI)

    assert judged.target_outcome == ("missed",) * 4


def test_live_finals_name_every_hit_and_missed_target_once() -> None:
    """Live, each hit gets one final verdict and each missed target one."""
    live = LiveTake(GENERAL_MIDI, BAR)
    live.begin(COURSE.targets())
    finals = []
    for second in (1.01, 1.52, 2.51):
        hit, verdicts = live.strike(Strike(second, 38, 90))
        assert verdicts[0].hit == hit.index
        finals += [one for one in verdicts if one.final]
    finals += live.settle(3.5) + live.finish()

    assert sorted(one.hit for one in finals if one.hit is not None) == [0, 1, 2]
    assert [one.target for one in finals if one.hit is None] == [2]


def test_a_late_kit_loses_no_stroke_to_the_clock() -> None:
    """However late a kit sends, asking what is settled gives no target up before its hit is in."""
    kit = replace(GENERAL_MIDI, latency_s=0.2)
    live = LiveTake(kit, BAR)
    live.begin(COURSE.targets())
    finals = []
    for target in COURSE.targets():
        finals += live.settle(target.time_s + 0.2)
        finals += live.strike(Strike(target.time_s + 0.2, 38, 90))[1]
    finals += live.finish()

    reported = {one.hit: one for one in finals if one.final}
    assert [(reported[n].target, reported[n].outcome) for n in range(4)] == [
        (n, "played") for n in range(4)
    ]
    assert all(abs(one.offset_s or 0.0) < 1e-9 for one in reported.values())
