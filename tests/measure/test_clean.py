"""Clean or not: fair to good players, plain about the rest, and about too few strokes."""

from __future__ import annotations

import json
import math
import random
import re
import tomllib
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from handmade import course, judged, levels, line, pattern, player, walk
from hypothesis import given
from hypothesis import strategies as st

from trainer.errors import Faults
from trainer.measure.clean import (
    FALSE_ALARM_SHARE,
    STRICTNESS_LEVELS,
    CleanCheck,
    clean_verdict,
    fastest_clean_tempo,
    read_tolerance,
    strokes_verdict,
)
from trainer.pattern.model import Level
from trainer.practice.course import Course, Pass, seconds_per_quarter

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.practice.course import Target


def test_the_course_itself_is_clean_on_every_level() -> None:
    """A take without any fault passes the strictest level."""
    for level in STRICTNESS_LEVELS.values():
        assert clean_verdict(judged(course(walk(), 2)), level).clean


def test_a_good_player_is_clean_and_a_sloppy_one_is_not() -> None:
    """On the middle level at 100 BPM: 6 ms of jitter passes, 14 ms does not."""
    laid = course(walk(4), 2)
    good = [clean_verdict(judged(laid, offset_ms=player(seed, 6.0))).clean for seed in range(40)]
    sloppy = [clean_verdict(judged(laid, offset_ms=player(seed, 14.0))).clean for seed in range(40)]

    assert sum(good) >= 39
    assert sum(sloppy) == 0


def test_a_failure_says_what_and_by_how_much() -> None:
    """The worst failure comes first, with its figure, its unit and what is allowed."""
    found = clean_verdict(judged(course(walk(4)), offset_ms=player(1, 25.0)))

    assert not found.clean
    assert any(
        text.startswith("hands spread ") and " ms, limit " in text for text in found.reasons()
    )
    assert [one.excess for one in found.failed] == sorted(
        (one.excess for one in found.failed), reverse=True
    )


def test_few_strokes_are_not_called_unclean_by_chance() -> None:
    """A player exactly at a limit fails that check about once in fifty at most, few or many."""
    limit = STRICTNESS_LEVELS["solid"].spread_times * 6.0
    for bars in (1, 4):
        laid = course(walk(bars))
        failed = 0
        for seed in range(400):
            found = clean_verdict(judged(laid, offset_ms=player(seed, limit)))
            failed += any(one.name == "spread.hands.16" for one in found.failed)

        assert failed / 400 <= 2.5 * FALSE_ALARM_SHARE


def test_a_spread_well_over_the_limit_always_fails() -> None:
    """A fifth over the limit is caught in every long rung: the room for chance is small there."""
    laid = course(walk(4), 12)
    jitter = 1.2 * STRICTNESS_LEVELS["solid"].spread_times * 6.0
    for seed in range(10):
        failed = clean_verdict(judged(laid, offset_ms=player(seed, jitter))).failed
        assert "spread.hands.16" in [one.name for one in failed]


def test_one_miss_in_a_short_pass_is_let_go_but_two_are_not() -> None:
    """In 22 strokes one miss is within chance on the middle level; two are not."""
    laid = course(walk())

    def missing(count: int) -> bool:
        rng = random.Random(3)
        gone = set(rng.sample(range(22), count))
        return clean_verdict(
            judged(laid, offset_ms=lambda target: None if target.index in gone else 0.0)
        ).clean

    assert missing(1)
    assert not missing(2)


def test_nothing_played_and_nothing_asked_are_not_clean() -> None:
    """Silence is no reason to go up a rung."""
    assert not clean_verdict(judged(course(walk()), offset_ms=lambda target: None)).clean
    assert not clean_verdict(judged(course(walk(), 0))).clean


def test_doubles_are_the_kits_and_strays_the_players() -> None:
    """Double triggers never make a take unclean; as many stray strokes do."""
    laid = course(walk())
    times = [2.0 + n * 0.1 for n in range(10)]

    assert clean_verdict(judged(laid, extras=[(t, "double") for t in times])).clean
    strays = clean_verdict(judged(laid, extras=[(t, "extra") for t in times]))
    assert strays.reasons()[0].startswith("10 stray strokes, limit ")


def test_a_constant_lag_is_clean() -> None:
    """A kit or a player late by 40 ms throughout is not punished."""
    assert clean_verdict(judged(course(walk()), offset_ms=lambda target: 40.0)).clean


def test_a_table_overrides_a_level() -> None:
    """A `[clean]` table takes a level by name and any figure besides."""
    made = read_tolerance({"level": "tight", "gap_ms": 12})

    assert made.gap_ms == 12.0
    assert made.spread_times == STRICTNESS_LEVELS["tight"].spread_times
    assert read_tolerance(made.to_dict()) == made


@pytest.mark.parametrize(
    ("former", "today"), [("rehearsal", "loose"), ("stage", "solid"), ("studio", "tight")]
)
def test_a_table_with_a_former_name_of_a_level_is_read(former: str, today: str) -> None:
    """Settings and sessions written with the old names give the level by its present name."""
    assert read_tolerance({"level": former}) == STRICTNESS_LEVELS[today]


def test_no_written_stroke_is_not_clean() -> None:
    """An empty take is not clean, and the reason has no figure."""
    assert strokes_verdict([], {}).reasons() == ("no written strokes",)


def test_one_of_a_kind_is_said_in_the_singular() -> None:
    """A single fault reads as one: "1 missed stroke"."""
    assert str(CleanCheck("missed", "missed strokes", 1, 0, "", 40)) == "1 missed stroke, limit 0"
    assert str(CleanCheck("rim", "rims", 3, 1, "", 40)) == "3 rims, limit 1"


def test_each_fault_of_a_table_is_reported_with_its_fix() -> None:
    """Unknown levels and keys and useless figures are reported together, each with its line."""
    text = '[clean]\nlevel = "stagy"\ngap = 3\nrim_percent = "few"\npower_steps = nan\n'
    with pytest.raises(Faults) as caught:
        read_tolerance(tomllib.loads(text)["clean"], text)

    assert str(caught.value).splitlines() == [
        "line 2, clean.level: stagy is not known here; write loose, solid, tight.",
        'line 3, clean.gap: unknown key; did you mean "gap_ms"?',
        "line 4, clean.rim_percent: few is not a number from 0 to 1000; write one in that range.",
        "line 5, clean.power_steps: nan is not a number from 0 to 1000; write one in that range.",
    ]


def _limbs_apart(seed: int, jitter: float, gap: float) -> Callable[[Target], float]:
    """A player whose strokes jitter and whose feet stray from the hands besides."""
    rng = random.Random(seed)
    return lambda target: (
        rng.gauss(0, jitter)
        + (rng.gauss(0, gap) if target.note.voice in ("kick", "pedal") else 0.0)
    )


@pytest.mark.parametrize("tempo", [80.0, 100.0, 130.0])
def test_a_good_player_with_loose_feet_is_clean_on_stage(tempo: float) -> None:
    """6 ms of jitter and 6 ms more between limbs: clean at moderate tempo, 19 times in 20."""
    laid = course(walk(4), 2, tempo)
    clean = [
        clean_verdict(judged(laid, offset_ms=_limbs_apart(seed, 6, 6))).clean for seed in range(60)
    ]

    assert sum(clean) >= 57


def test_the_levels_are_in_order() -> None:
    """Whatever a stricter level lets pass, a looser one lets pass too."""
    loose, middle, strict = STRICTNESS_LEVELS.values()
    laid = course(walk(2))
    for jitter in (5.0, 7.0, 9.0, 11.0, 14.0, 18.0):
        made = judged(laid, offset_ms=player(int(jitter), jitter))
        clean = [clean_verdict(made, level).clean for level in (strict, middle, loose)]
        assert clean == sorted(clean)


def test_the_allowance_follows_the_note_value() -> None:
    """The same 9 ms is too much for 32nds and fine for eighths at 60 BPM on the strictest level."""
    fast = course(pattern(line("snare " * 64, value="32")), 2, 60.0)
    slow = course(pattern(line("snare " * 64, value="8")), 2, 60.0)
    strict = STRICTNESS_LEVELS["tight"]

    assert not clean_verdict(judged(fast, offset_ms=player(1, 9.0)), strict).clean
    assert clean_verdict(judged(slow, offset_ms=player(1, 9.0)), strict).clean


def test_the_note_value_that_failed_is_named() -> None:
    """In a climb only the 32nds are played badly, and the reason says so."""
    climb = pattern(
        line("snare " * 8, value="8"), line("snare " * 32, value="32", start=Fraction(4))
    )
    play = player(4, 1.0)
    made = judged(
        course(climb, 2, 60.0),
        offset_ms=lambda t: play(t) * (18.0 if t.note.value == "32" else 3.0),
    )

    found = clean_verdict(made)
    assert {one.name for one in found.failed} == {"spread.hands.32", "evenness.hands.32"}
    assert " in 32nds, limit " in found.reasons()[0]


def test_limbs_apart_fail_the_unisons() -> None:
    """A kick 25 ms late fails by its gap, reported with what is allowed."""
    made = judged(course(walk(2), 2), offset_ms=lambda t: 25.0 if t.note.voice == "kick" else 0.0)

    assert any(text.startswith("unisons apart by ") for text in clean_verdict(made).reasons())


def test_uneven_power_fails_by_part() -> None:
    """Hands that swing between 60 and 110 fail, feet that do not pass."""
    made = judged(
        course(walk(2), 2),
        velocity=lambda t: 60 + 50 * (t.note_index % 2) if t.note.limb in ("RH", "LH") else 90,
    )

    assert {one.name for one in clean_verdict(made).failed} == {"power.hands"}


def test_accents_are_not_uneven() -> None:
    """Loud accents and soft ghosts are what the page asks for."""
    accented = levels(walk(2), lambda i, note: (Level.ACCENT, Level.NORMAL, Level.GHOST)[i % 3])
    loud = {Level.ACCENT: 120, Level.NORMAL: 85, Level.GHOST: 30}

    assert clean_verdict(judged(course(accented, 2), velocity=lambda t: loud[t.note.level])).clean


def test_rims_fail_by_their_number() -> None:
    """Rims beyond the allowance fail and are reported."""
    made = judged(course(walk(), 2), outcome=lambda t: "rim" if t.index % 4 == 0 else "played")

    assert clean_verdict(made).reasons()[0].startswith("11 rims, limit ")


def test_figures_of_every_check_are_plain_values() -> None:
    """A rung's line in the record holds what was measured and allowed, clean or not."""
    figures = clean_verdict(judged(course(walk(2)))).figures()

    json.dumps(figures, allow_nan=False)
    assert {"missed", "wrong_pad", "stray", "rim", "gap", "spread.hands.16"} <= set(figures)
    assert figures["missed"]["measured"] == 0


@pytest.mark.parametrize(
    ("name", "jitter"),
    [
        ("evenness.hands.16", 6.0 * STRICTNESS_LEVELS["solid"].evenness_times),
        ("gap", STRICTNESS_LEVELS["solid"].gap_ms / math.sqrt(2)),
    ],
)
def test_a_player_at_a_limit_rarely_fails_it(name: str, jitter: float) -> None:
    """Jitter that puts intervals (or gaps) exactly at their limit fails about once in fifty."""
    laid = course(walk(2))
    failed = sum(
        any(
            one.name == name
            for one in clean_verdict(judged(laid, offset_ms=player(s, jitter))).failed
        )
        for s in range(200)
    )

    assert failed <= 3 * FALSE_ALARM_SHARE * 200


def test_a_player_at_the_limit_of_power_rarely_fails_it() -> None:
    """Velocities with exactly the spread allowed fail about once in fifty."""
    laid = course(walk(2))
    failed = 0
    for seed in range(200):
        rng = random.Random(seed)
        made = judged(laid, velocity=lambda t, rng=rng: round(rng.gauss(64, 13)))
        failed += any(one.name == "power.hands" for one in clean_verdict(made).failed)

    assert failed <= 3 * FALSE_ALARM_SHARE * 200


def test_a_single_bar_by_a_good_player_is_clean() -> None:
    """Sixteen strokes of 6 ms jitter are not called unclean by chance."""
    laid = course(walk())

    assert sum(clean_verdict(judged(laid, offset_ms=player(s, 6.0))).clean for s in range(60)) >= 58


def test_slow_strokes_get_no_more_room_than_400_ms_apart() -> None:
    """Quarters at 60 BPM can be subdivided: 25 ms of spread is too much, though 2.5 % of them."""
    slow = course(pattern(line("snare " * 64, value="4")), 2, 60.0)

    assert not clean_verdict(judged(slow, offset_ms=player(1, 25.0))).clean
    assert clean_verdict(judged(slow, offset_ms=player(1, 13.0))).clean


LADDER = ((90.0, True), (92.0, True), (94.0, False), (93.0, True))


def passes_at(*tempos: float, bars: int = 4) -> Course:
    """Return passes of the walk in a row, each at its tempo."""
    written, start_s, passes = walk(bars), 2.0, []
    for index, tempo in enumerate(tempos):
        passes.append(Pass(index, tempo, start_s))
        start_s += float(written.length) * seconds_per_quarter(written, tempo)
    return Course(written, tuple(passes))


def sloppy_above(tempo: float) -> Callable[[Target], float]:
    """Return a player who is on the beat up to a tempo and 40 ms off in turn above it."""
    return lambda target: 40.0 * (-1) ** target.index if TEMPOS[target.pass_index] > tempo else 0.0


TEMPOS = (80.0, 90.0, 100.0, 110.0)


def test_the_fastest_clean_tempo_of_a_ladder_is_its_fastest_clean_rung() -> None:
    """A faster rung that was not clean does not count, nor where the last one was."""
    take = judged(passes_at(*TEMPOS))
    assert fastest_clean_tempo(take, LADDER) == 93.0
    assert fastest_clean_tempo(take, [(94.0, False)]) is None


@pytest.mark.parametrize(("clean_to", "found"), [(200.0, 110.0), (95.0, 90.0), (50.0, None)])
def test_without_a_ladder_passes_at_one_tempo_decide(clean_to: float, found: float | None) -> None:
    """The fastest tempo whose passes together were clean."""
    assert (
        fastest_clean_tempo(judged(passes_at(*TEMPOS), offset_ms=sloppy_above(clean_to))) == found
    )


def test_few_strokes_and_cut_passes_are_no_tempo() -> None:
    """A short pass says too little until it came often enough; one that was cut says nothing."""
    assert fastest_clean_tempo(judged(passes_at(100.0, 100.0, bars=1))) is None
    assert fastest_clean_tempo(judged(passes_at(100.0, 100.0, 100.0, bars=1))) == 100.0
    laid = passes_at(100.0, 120.0)
    last = replace(laid.passes[1], end_s=laid.passes[1].start_s + 5.0)
    assert fastest_clean_tempo(judged(replace(laid, passes=(laid.passes[0], last)))) == 100.0


def test_strays_count_at_the_tempo_at_which_they_fell() -> None:
    """Four strays in the fast pass leave the slow one clean."""
    laid = passes_at(80.0, 100.0)
    at_s = laid.passes[1].start_s
    strays = [(at_s + 0.31 * count, "extra") for count in range(1, 8)]
    assert fastest_clean_tempo(judged(laid, extras=strays)) == 80.0


def test_nothing_played_is_no_tempo() -> None:
    """The emptiest take."""
    assert fastest_clean_tempo(judged(Course(walk(), ()))) is None


@given(st.floats(0.5, 200.0), st.floats(1e-5, 50.0))
def test_a_figure_that_fails_is_shown_over_its_limit(allowed: float, over: float) -> None:
    """Both have as many digits as it takes to see which is larger; so has a limit without room."""
    failing = CleanCheck("spread", "spread", allowed + over, allowed, "ms", 40)
    for check in (failing, replace(failing, limit=allowed - 0.3)):
        measured, limit = re.findall(r"[\d.]+", str(check))
        assert float(measured) > float(limit)
    assert str(replace(failing, measured=12.04, allowed=12.0)) == "spread 12.04 ms, limit 12.00"
