"""The simulated player: seeded, faulty in known ways, and honest about it."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from statistics import correlation, fmean, stdev

import pytest

from trainer.kit.model import GENERAL_MIDI
from trainer.midi.simulated_player import (
    EXACT_TRAITS,
    WORKING_TRAITS,
    SimulatedPlayer,
    Traits,
    neighbour,
)
from trainer.pattern.model import Bar, Level, Limb, Meter, Note, Pattern
from trainer.practice.course import Pass, pass_targets

BARS = 100
HANDS = Pattern(
    "hands",
    "Sixteenths, hand to hand",
    bars=tuple(Bar(Fraction(4 * bar), Meter()) for bar in range(BARS)),
    notes=tuple(
        Note(
            Fraction(k, 4),
            ("snare", "floor")[k // 8 % 2],
            (Limb.RH, Limb.LH)[k % 2],
            Level.ACCENT if k % 4 == 0 else Level.NORMAL,
        )
        for k in range(16 * BARS)
    ),
)
TARGETS = pass_targets(HANDS, Pass(0, 90.0, 3.0), 0)


def _played(traits: Traits, seed: int = 3, kit=GENERAL_MIDI) -> SimulatedPlayer:
    player = SimulatedPlayer(kit, seed, traits)
    player.expect(TARGETS)
    player.poll(float("inf"))
    return player


def _offsets(player: SimulatedPlayer, **of: object) -> list[float]:
    return [
        meant.strike.time_s - TARGETS[meant.target].time_s
        for meant in player.truth
        if meant.became == "played"
        and all(getattr(TARGETS[meant.target].note, key) == value for key, value in of.items())
    ]


def test_a_player_without_faults_plays_what_is_written() -> None:
    """Every target once, on the dot, on the ordinary zone of its drum."""
    player = _played(EXACT_TRAITS)

    assert [one.strike.time_s for one in player.truth] == [target.time_s for target in TARGETS]
    assert {one.strike.note for one in player.truth} == {38, 43}


def test_the_same_seed_plays_the_same_and_another_does_not() -> None:
    """Seeds make takes repeatable."""
    first, again, other = (
        [one.strike for one in _played(WORKING_TRAITS, seed).truth] for seed in (3, 3, 4)
    )

    assert first == again
    assert first != other


def test_how_often_it_is_listened_to_changes_nothing() -> None:
    """Polling in small steps gives the strikes of one long poll, in time order."""
    player = SimulatedPlayer(GENERAL_MIDI, 3, WORKING_TRAITS)
    player.expect(TARGETS)
    made = []
    for step in range(20_000):
        made += player.poll(step * 0.02)

    assert made == [one.strike for one in _played(WORKING_TRAITS).truth]
    assert made == sorted(made, key=lambda one: one.time_s)


def test_lag_bias_and_jitter_are_as_asked() -> None:
    """A left hand 10 ms behind, everything 5 ms early, spread 8 ms: measured on 1,600 strokes."""
    player = _played(Traits(bias_s=-0.005, jitter_s=0.008, lag_s={Limb.LH: 0.010}))
    right, left = _offsets(player, limb=Limb.RH), _offsets(player, limb=Limb.LH)

    # Three standard errors of a mean of 800 and of a standard deviation of 800.
    assert fmean(right) == pytest.approx(-0.005, abs=3 * 0.008 / 800**0.5)
    assert fmean(left) == pytest.approx(0.005, abs=3 * 0.008 / 800**0.5)
    assert stdev(right) == pytest.approx(0.008, rel=3 / 1600**0.5)


def test_a_slow_move_is_late_on_arrival_only() -> None:
    """Only the first stroke of a hand after the slow move is late."""
    player = _played(Traits(slow_moves={("snare", "floor"): 0.015}))
    late = [offset for offset in _offsets(player) if offset > 0.010]

    assert len(late) == 2 * BARS  # one a hand and bar
    assert len(_offsets(player, voice="snare")) == 8 * BARS
    assert max(_offsets(player, voice="snare")) == 0.0


def test_a_change_of_note_value_is_made_good_over_the_next_strokes() -> None:
    """The first stroke is early, each further one by half of that; graces go with their stroke."""
    written = (
        Note(Fraction(0), "snare", Limb.RH, value="8"),
        *(
            Note(Fraction(1, 2) + Fraction(k, 4), "snare", Limb.RH, grace=grace, value="16")
            for k in range(3)
            for grace in (1, 0)
        ),
    )
    bar = Pattern("change", "Eighth, sixteenths", (Bar(Fraction(0), Meter()),), written)
    targets = pass_targets(bar, Pass(0, 60.0, 1.0), 0)
    player = SimulatedPlayer(GENERAL_MIDI, 1, Traits(change_lag_s={("8", "16"): -0.016}))
    player.expect(targets)
    early = [
        round(1000 * (targets[one.target].time_s - strike.time_s))
        for strike in player.poll(9.0)
        for one in player.truth
        if one.strike is strike
    ]

    assert early == [0, 16, 16, 8, 8, 4, 4]


def test_a_foot_may_be_late_under_a_hand_only_and_a_note_value_everywhere() -> None:
    """The habits of unisons and note values touch their own strokes and no others."""
    written = (
        Note(Fraction(0), "snare", Limb.RH, value="4"),
        Note(Fraction(0), "kick", Limb.RF, value="8"),
        Note(Fraction(1, 2), "kick", Limb.RF, value="8"),
    )
    bar = Pattern("foot", "Kick under a hand", (Bar(Fraction(0), Meter()),), written)
    targets = pass_targets(bar, Pass(0, 60.0, 1.0), 0)
    habits = Traits(unison_lag_s={Limb.RF: 0.010}, value_lag_s={"4": -0.004})
    player = SimulatedPlayer(GENERAL_MIDI, 1, habits)
    player.expect(targets)
    player.poll(9.0)
    late = {one.target: one.strike.time_s - targets[one.target].time_s for one in player.truth}

    assert [late[index] for index in range(3)] == pytest.approx([-0.004, 0.010, 0.0])


def test_limbs_that_wander_each_for_itself_leave_the_other_dice_alone() -> None:
    """The wander is as wide as asked and differs from limb to limb; nothing else changes."""
    exact, player = _played(EXACT_TRAITS), _played(Traits(limb_drift_s=0.010))
    right, left = _offsets(player, limb=Limb.RH), _offsets(player, limb=Limb.LH)

    assert [one.strike.note for one in player.truth] == [one.strike.note for one in exact.truth]
    assert 0.005 < stdev(right) < 0.015
    assert 0.005 < stdev(left) < 0.015
    assert abs(correlation(right, left)) < 0.5


def test_a_weak_hand_is_softer() -> None:
    """The weak hand's strokes have that much less velocity."""
    player = _played(Traits(weak={Limb.LH: 0.25}))
    normal = {
        limb: {
            one.strike.velocity
            for one in player.truth
            if TARGETS[one.target].note.limb == limb
            and TARGETS[one.target].note.level == Level.NORMAL
        }
        for limb in (Limb.RH, Limb.LH)
    }
    assert normal == {Limb.RH: {84}, Limb.LH: {63}}


def test_accents_are_louder_than_the_rest() -> None:
    """Power goes by the written level."""
    player = _played(EXACT_TRAITS)
    by_level = {TARGETS[one.target].note.level: one.strike.velocity for one in player.truth}

    assert by_level == {Level.ACCENT: 112, Level.NORMAL: 84}


def test_faults_come_as_often_as_asked() -> None:
    """Shares of misses, wrong pads, strays, doubles and rims hold within 3 standard errors."""
    share = 0.05
    traits = Traits(miss=share, wrong_pad=share, stray=share, double=share, rim=share)
    became = Counter(one.became for one in _played(traits).truth)
    count = len(TARGETS)
    error = 3 * (count * share * (1 - share)) ** 0.5

    for kind in ("wrong pad", "stray", "double", "rim"):
        assert became[kind] == pytest.approx(count * share, abs=error + count * share**2 * 2)
    settled = sum(became[kind] for kind in ("played", "wrong pad", "rim"))
    assert count - settled == pytest.approx(count * share, abs=error)


def test_the_kit_s_latency_delays_every_strike() -> None:
    """On a kit 12 ms late every strike is stamped 12 ms later."""
    player = _played(EXACT_TRAITS, kit=replace(GENERAL_MIDI, latency_s=0.012))

    assert {round(one, 9) for one in _offsets(player)} == {0.012}


def test_tiring_widens_the_spread_with_time() -> None:
    """Half again as much jitter each minute: the last bars are played less evenly."""
    player = _played(Traits(jitter_s=0.006, tiring=0.5))
    offsets = _offsets(player)

    assert stdev(offsets[-400:]) > 1.5 * stdev(offsets[:400])


def test_beyond_its_limit_a_player_breaks_down() -> None:
    """Asked for twice the strokes a second a hand can do, the spread grows and strokes fail."""
    within = _played(Traits(jitter_s=0.004, miss=0.01, limit=4.0))
    beyond = _played(Traits(jitter_s=0.004, miss=0.01, limit=2.0))

    assert len(within.truth) > len(beyond.truth) + 50
    assert stdev(_offsets(beyond)) > 3 * stdev(_offsets(within))


def test_what_was_to_come_is_off_after_an_empty_expectation() -> None:
    """A pause stops the player at once."""
    player = SimulatedPlayer(GENERAL_MIDI, 3, EXACT_TRAITS)
    player.expect(TARGETS)
    player.poll(TARGETS[9].time_s)
    player.expect(())

    assert player.poll(float("inf")) == []
    assert player.due() == float("inf")


def test_grace_strokes_are_played_before_their_main_stroke_and_softly() -> None:
    """A flam gives two strikes, the small one first."""
    flam = Pattern(
        "flam",
        "One flam",
        bars=(Bar(Fraction(0), Meter()),),
        notes=(
            Note(Fraction(0), "snare", Limb.LH, grace=1, value="4"),
            Note(Fraction(0), "snare", Limb.RH, value="4"),
        ),
    )
    player = SimulatedPlayer(GENERAL_MIDI, 1, EXACT_TRAITS)
    player.expect(pass_targets(flam, Pass(0, 60.0, 1.0), 0))
    grace, main = player.poll(2.0)

    assert grace.time_s == pytest.approx(main.time_s - 0.030)
    assert grace.velocity < main.velocity


def test_a_neighbour_is_a_near_drum_for_a_hand() -> None:
    """Who misses the snare lands on the hi-hat or a near tom, never on a pedal."""
    near = {neighbour(GENERAL_MIDI, "snare", draw) for draw in (0.0, 0.25, 0.5, 0.75, 0.99)}

    assert near <= {"tom0", "tom1", "tom2", "hihat", "tambourine", "cowbell"}
    assert "snare" not in near
