"""What is measured on a kit against what the kit was made to do."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from noisy_kit import Faults, made_faults, singles, through

from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI, HitReader, Kit, Pad
from trainer.kit.survey import estimate_latency, power_curve, stroke_velocities, survey_strikes
from trainer.measure.reading import read_take
from trainer.midi.simulated_player import SimulatedPlayer, Traits
from trainer.pattern.library import load_pattern
from trainer.practice.course import Course, Pass, pass_end
from trainer.practice.matcher import judge


def _rules_fit(seed: int) -> bool:
    """True where every rule measured is within 3 ms and 0.12 of what the kit does at most."""
    dice = Random(seed)
    faults = made_faults(dice)
    rules = survey_strikes(
        [one for one, _ in through(singles(dice), faults, dice)], GENERAL_MIDI
    ).rules()
    crosstalk = {(one.struck, one.shaken): one for one in rules.crosstalk}
    if set(rules.doubles) != set(faults.doubles) or set(crosstalk) != set(faults.crosstalk):
        return False
    rows = [(rules.doubles[voice], made) for voice, made in faults.doubles.items()]
    rows += [(crosstalk[pair], made) for pair, made in faults.crosstalk.items()]
    return all(
        abs(rule.within_s - made[2]) < 0.003 and abs(rule.softer - made[4]) < 0.12
        for rule, made in rows
    )


def test_measured_rules_come_out_within_the_stated_error_in_95_of_100_kits() -> None:
    """Doubles and crosstalk of made kits, from four minutes of single strokes."""
    assert sum(_rules_fit(seed) for seed in range(100)) >= 95


def test_a_kit_without_faults_gets_no_rules() -> None:
    """Nothing seen, nothing marked."""
    assert not survey_strikes(singles(Random(1)), GENERAL_MIDI).rules()


def test_the_filter_marks_what_the_kit_made_and_leaves_strokes() -> None:
    """Of a made kit's own notes 90 % or more are marked, of strokes by hand under 0.5 %."""
    made = hands = marked_made = marked_hands = 0
    for seed in range(20):
        dice = Random(seed)
        faults = made_faults(dice)
        rules = survey_strikes(
            [one for one, _ in through(singles(dice), faults, dice)], GENERAL_MIDI
        ).rules()
        reader = HitReader(replace(GENERAL_MIDI, rules=rules), {"snare", "tom1", "tom2", "floor"})
        for strike, by_hand in through(singles(dice), faults, dice):
            flag = reader.read(strike).flag
            made, hands = made + (not by_hand), hands + by_hand
            marked_made += bool(flag) and not by_hand
            marked_hands += bool(flag) and by_hand

    assert marked_made >= 0.90 * made
    assert marked_hands <= 0.005 * hands


def test_latency_is_measured_within_four_ms_in_95_of_100_takes() -> None:
    """Forty strokes with the click, a player with a spread of 10 ms and a stray now and then."""
    good = covered = 0
    for seed in range(100):
        dice = Random(seed)
        true = dice.uniform(0.002, 0.020)
        offsets = [dice.gauss(true, 0.010) for _ in range(40)]
        offsets += [dice.uniform(-0.2, 0.2) for _ in range(2)]
        found = estimate_latency(offsets)
        assert found is not None
        good += abs(found.median_s - true) < 0.004
        covered += found.low_s <= true <= found.high_s

    assert good >= 95
    assert covered >= 90


def test_too_few_strokes_give_no_latency() -> None:
    """Seven strokes are not enough to set a kit by."""
    assert estimate_latency([0.01] * 7) is None


def test_power_curves_need_three_different_strengths() -> None:
    """Medians that do not rise, or a missing strength, give no curve."""
    curve = power_curve([30, 35, 28], [70, 75, 71], [110, 120, 127])

    assert curve is not None
    assert (curve.soft, curve.normal, curve.hard) == (30, 71, 120)
    assert power_curve([70], [60], [110]) is None
    assert power_curve([], [60], [110]) is None


def _learned(faults: Faults, dice: Random) -> Kit:
    """The kit as a player would set it: rules and curves measured, latency by a cable."""
    rules = survey_strikes(
        [one for one, _ in through(singles(dice), faults, dice)], GENERAL_MIDI
    ).rules()
    sent: list[dict[Pad, list[int]]] = []
    for level in (45, 84, 118):
        strokes = [replace(one, velocity=level) for one in singles(dice, each=12)]
        sent.append(
            stroke_velocities([one for one, _ in through(strokes, faults, dice)], GENERAL_MIDI)
        )
    power = {}
    for pad in sent[0]:
        curve = power_curve(*(one.get(pad, []) for one in sent))
        if curve:
            power[pad] = curve
    return replace(GENERAL_MIDI, rules=rules, power=power, latency_s=faults.latency)


@pytest.mark.parametrize("seed", range(5))
def test_with_all_faults_at_once_the_judge_reads_like_the_clean_kit(seed: int) -> None:
    """Doubles, crosstalk, latency and curves together: offsets within 1 ms, outcomes within 1 %."""
    dice = Random(100 + seed)
    pattern = load_pattern("fives-and-threes")
    passes: list[Pass] = []
    start_s = 1.0
    while start_s < 90:
        passes.append(Pass(len(passes), 100.0, start_s))
        start_s = pass_end(pattern, passes[-1])
    course = Course(pattern, tuple(passes))
    player = SimulatedPlayer(GENERAL_MIDI, seed, Traits(jitter_s=0.008, miss=0.01, wrong_pad=0.01))
    player.expect(course.targets())
    clean = [made for made in player.poll(1e9) if isinstance(made, Strike)]
    faults = made_faults(dice)
    kit = _learned(faults, dice)
    noisy = [one for one, _ in through(clean, faults, dice)]
    one, other = judge(course, clean, GENERAL_MIDI), judge(course, noisy, kit)
    figures, figures_noisy = read_take(one).to_dict(), read_take(other).to_dict()

    same = sum(a == b for a, b in zip(one.target_outcome, other.target_outcome, strict=True))
    assert same >= 0.99 * len(one.targets)
    for name in ("mean", "spread"):
        clean_ms, noisy_ms = (
            figures["offset"][name]["value"],
            figures_noisy["offset"][name]["value"],
        )
        assert abs(clean_ms - noisy_ms) < 1.0
    # The curves differ by pad; read through them, equal strokes stay as even as on the clean kit.
    assert (
        abs(figures["power"]["uneven"]["value"] - figures_noisy["power"]["uneven"]["value"]) < 2.0
    )
    extra = other.hit_outcome.count("extra") - one.hit_outcome.count("extra")
    assert extra <= 0.01 * len(one.hits)
