"""Figures about time: delays in bins, the step stamps come in, and what can be trusted."""

import random

import pytest

from trainer.midi.timing import Delays, stamp_period_s, trusted_ms


def test_shares_of_delays_are_right_within_a_bin():
    """Median and 99th percentile differ from sorting all by less than a bin of 20 microseconds."""
    rng = random.Random(1)
    delays = [rng.expovariate(1 / 0.002) for _ in range(5000)]
    found = Delays(delays)
    for part in (0.5, 0.99):
        assert found.share(part) == pytest.approx(sorted(delays)[int(part * 5000) - 1], abs=2.5e-5)
    assert found.worst_s == max(delays)


def test_no_delays_say_nothing():
    """Without a delay every figure is None, never 0 and never NaN."""
    assert Delays().to_dict() == {
        "count": 0,
        "median_ms": None,
        "p99_ms": None,
        "worst_ms": None,
    }


def test_early_counts_as_on_time_and_long_ones_are_kept():
    """A delay below 0 counts as 0; one beyond the last bin is given by the worst."""
    found = Delays([-0.001, 2.0])
    assert found.to_dict() == {"count": 2, "median_ms": 0.02, "p99_ms": 100.0, "worst_ms": 2000.0}


@pytest.mark.parametrize("period", [64 / 48000, 256 / 44100, 512 / 48000])
def test_period_of_a_server_shows_in_the_stamps(period):
    """Stamps near whole periods give the period away, in spite of 0.1 ms of jitter."""
    rng = random.Random(2)
    at, stamps = 0.0, []
    for _ in range(100):
        at += rng.uniform(0.03, 0.3)
        stamps.append(-(-at // period) * period + rng.uniform(0, 1e-4))
    assert stamp_period_s(stamps) == pytest.approx(period)


def test_a_player_shows_no_period():
    """Strokes of a steady player, even an exact one, and too few strokes come in no period."""
    rng = random.Random(3)
    for _ in range(50):
        stamps = [i * 0.1277 + rng.gauss(0, rng.uniform(0, 0.01)) for i in range(128)]
        assert stamp_period_s(stamps) == 0.0
    assert stamp_period_s([0.0, 64 / 48000]) == 0.0


def test_trust_is_the_coarsest_of_step_and_reading():
    """A settled clock is trusted to its step, an unsettled one no finer than its late readings."""
    late = Delays([0.003] * 100)
    assert trusted_ms(0.001, True, late) == 1.0
    assert trusted_ms(0.001, False, late) == 3.0
    assert trusted_ms(0.0, True, late) == 0.1
