"""The reading's statistics against SciPy, NumPy and the standard library's `statistics`.

SciPy 1.17: `scipy.stats.theilslopes`, `t`, `chi2`, `poisson`, `circmean`, `circstd`,
`binomtest(...).proportion_ci("wilson")`. Worked Theil-Sen numbers are SciPy's, for inputs small
enough to check by hand.
"""

from __future__ import annotations

import random
import statistics
from fractions import Fraction

import numpy as np
import pytest
from handmade import course, judged, line, pattern, player, walk
from scipy import stats

from trainer.measure import figure, threshold
from trainer.measure.reading import read_take
from trainer.measure.trend import robust_slope


@pytest.mark.parametrize("free", [1, 2, 3, 4, 7, 12, 30, 200])
def test_t_quantiles_are_scipys(free: int) -> None:
    """Within 0.2 % at 95 % two-sided, exact for one and two degrees of freedom."""
    assert threshold.t_quantile(0.975, free) == pytest.approx(stats.t.ppf(0.975, free), rel=2e-3)
    if free < 3:
        assert threshold.t_quantile(0.975, free) == pytest.approx(
            stats.t.ppf(0.975, free), rel=1e-9
        )


@pytest.mark.parametrize("p", [0.0001, 0.001, 0.025, 0.5, 0.975, 0.98, 0.999, 0.9999])
@pytest.mark.parametrize("free", [1, 1.5, 2, 3, 4, 7.3, 20, 100, 999])
def test_chi_square_quantiles_are_scipys(p: float, free: float) -> None:
    """Both tails, from one degree of freedom on."""
    assert threshold.chi2_quantile(p, free) == pytest.approx(stats.chi2.ppf(p, free), rel=1e-8)


@pytest.mark.parametrize("p", [0.0001, 0.025, 0.9999])
@pytest.mark.parametrize("free", [1000, 1100, 30000])
def test_chi_square_quantiles_of_many_are_near_scipys(p: float, free: float) -> None:
    """Where the cube root stands alone, it is within the stated 0.005 %."""
    assert threshold.chi2_quantile(p, free) == pytest.approx(stats.chi2.ppf(p, free), rel=5e-5)


@pytest.mark.parametrize("expected", [0.0, 0.066, 0.43, 3.0, 17.0, 140.0])
def test_the_room_for_counts_is_the_poisson_quantile(expected: float) -> None:
    """The least count that chance exceeds at most once in fifty."""
    wanted = stats.poisson.ppf(0.98, expected) if expected else 0

    assert threshold.room_for_count(expected, 0.02) == wanted


@pytest.mark.parametrize(("part", "count"), [(0, 9), (1, 9), (30, 400), (9, 9)])
def test_shares_have_wilsons_interval(part: int, count: int) -> None:
    """SciPy's Wilson interval, in per cent."""
    found = figure.share(part, count)
    wanted = stats.binomtest(part, count).proportion_ci(0.95, "wilson")

    assert found.low == pytest.approx(100 * wanted.low, abs=1e-9)
    assert found.high == pytest.approx(100 * wanted.high, abs=1e-9)


def test_mean_and_spread_of_few_strokes_have_the_textbook_interval() -> None:
    """Below 20 strokes nothing is known of their memory: plain t, and chi-square for the spread."""
    values = np.array([-20.0, -10, -5, 0, 5, -15, 10, -25, -10, 0])
    found, around = figure.mean(values, "ms"), figure.spread(values, "ms")
    low, high = stats.t.interval(0.95, 9, values.mean(), stats.sem(values))

    assert (found.low, found.high) == (pytest.approx(low, rel=2e-3), pytest.approx(high, rel=2e-3))
    assert around.value == pytest.approx(statistics.stdev(values))
    wanted = np.sqrt(9 * values.var(ddof=1) / stats.chi2.ppf([0.975, 0.025], 9))
    assert (around.low, around.high) == pytest.approx(tuple(wanted), rel=0.01)


def test_the_worked_theil_sen_slopes() -> None:
    """y = 2 + 0.5 x with one wild point keeps 0.5; six rough points give 1.05 (0.8 to 1.3)."""
    x = np.arange(10.0)
    y = 2 + 0.5 * x
    y[7] = 40
    wild = robust_slope([(x, y)], "")
    rough = robust_slope([(np.arange(1.0, 7), np.array([1.0, 2.1, 2.9, 4.2, 4.8, 6.3]))], "")

    assert (wild.value, wild.low, wild.high) == pytest.approx((0.5, 0.5, 0.5))
    assert (rough.value, rough.low, rough.high) == pytest.approx((1.05, 0.8, 1.3))


@pytest.mark.parametrize("seed", range(5))
def test_trends_of_few_points_are_scipys_theil_slopes(seed: int) -> None:
    """Slope and interval, ties in both variables included; too few points to tell their memory."""
    rng = np.random.default_rng(seed)
    x = np.sort(rng.integers(0, 14, 19)).astype(float)
    y = np.round(0.3 * x + rng.normal(0, 3, 19))
    found = robust_slope([(x, y)], "")
    wanted = stats.theilslopes(y, x)

    assert found.value == pytest.approx(wanted.slope)
    assert (found.low, found.high) == pytest.approx((wanted.low_slope, wanted.high_slope))


def test_drift_of_one_pass_is_scipys_theil_slope() -> None:
    """Offsets in ms against seconds, in ms a minute; never narrower than SciPy's."""
    laid = course(pattern(line("snare " * 48, value="4")))
    play = player(4, 6.0)
    made = judged(laid, offset_ms=lambda t: play(t) + 0.8 * t.time_s)
    offsets = [1000 * made.offset_s(t.index) for t in made.targets]
    wanted = stats.theilslopes(offsets, [t.time_s for t in made.targets])
    found = read_take(made).offset.drift

    assert found.value == pytest.approx(60 * wanted.slope)
    assert found.low <= 60 * wanted.low_slope + 1e-9
    assert found.high >= 60 * wanted.high_slope - 1e-9


def test_a_player_who_wanders_does_not_drift() -> None:
    """Offsets with a memory of 0.8: SciPy's interval claims a trend in most takes, ours in few."""
    x = np.arange(60.0)
    ours = theirs = 0
    for seed in range(200):
        rng = np.random.default_rng(seed)
        y = np.empty(60)
        y[0] = rng.normal()
        for at in range(1, 60):
            y[at] = 0.8 * y[at - 1] + 0.6 * rng.normal()
        found, wanted = robust_slope([(x, y)], ""), stats.theilslopes(y, x)
        ours += found.low > 0 or found.high < 0
        theirs += wanted.low_slope > 0 or wanted.high_slope < 0

    assert ours < theirs / 2


def test_offsets_by_group_are_plain_statistics() -> None:
    """Mean and standard deviation of each voice as the standard library has them."""
    made = judged(course(walk(2), 4), offset_ms=player(9, 8.0, -3.0))
    found = read_take(made).offset.by_voice
    for voice in ("snare", "tom1", "kick", "pedal"):
        values = [1000 * made.offset_s(t.index) for t in made.targets if t.note.voice == voice]
        assert found[voice].mean.value == pytest.approx(statistics.fmean(values))
        assert found[voice].spread.value == pytest.approx(statistics.stdev(values))
        assert found[voice].mean.count == len(values)


def test_the_interval_is_no_narrower_than_the_textbooks() -> None:
    """Memory can only widen an interval; strokes without any leave it about as it was."""
    rng = np.random.default_rng(1)
    values = rng.normal(0, 8, 300)
    found = figure.mean(values, "ms")
    low, high = stats.t.interval(0.95, 299, values.mean(), stats.sem(values))

    assert found.low <= low + 1e-3
    assert found.high >= high - 1e-3
    assert found.high - found.low <= 1.4 * (high - low)


def test_offsets_agree_with_circular_statistics_while_they_are_small() -> None:
    """The asynchronies of a worked example: circular mean -6.997 ms, ours -7.0 (SciPy, T 500 ms).

    On the circle of one interval the two part company only where offsets fill much of it; a player
    who can be read at all is far from that, so plain means are used and no circular ones.
    """
    values = np.array([-20.0, -10, -5, 0, 5, -15, 10, -25, -10, 0])
    circle = {"high": 250.0, "low": -250.0}

    assert stats.circmean(values, **circle) == pytest.approx(-6.996667, abs=1e-6)
    assert figure.mean(values, "ms").value == pytest.approx(
        stats.circmean(values, **circle), abs=0.01
    )
    ours = figure.spread(values, "ms").value * np.sqrt(9 / 10)
    assert ours == pytest.approx(stats.circstd(values, **circle), abs=0.01)


def test_evenness_is_the_deviation_of_the_intervals() -> None:
    """Intervals taken from the times played, with NumPy."""
    laid = course(pattern(line("snare " * 32)))
    made = judged(laid, offset_ms=player(6, 7.0))
    times = np.array([hit.time_s for hit in made.hits]) * 1000

    assert read_take(made).evenness.spread.value == pytest.approx(np.std(np.diff(times), ddof=1))


def test_power_unevenness_is_the_pooled_deviation() -> None:
    """Square root of the pooled variance of the voices, as textbooks pool it."""
    rng = random.Random(2)
    made = judged(course(walk(2)), velocity=lambda t: rng.randint(60, 110))
    by_voice: dict[str, list[int]] = {}
    for target, hit in zip(made.targets, made.target_hit, strict=True):
        by_voice.setdefault(target.note.voice, []).append(made.hits[hit or 0].velocity)
    free = sum(len(one) - 1 for one in by_voice.values())
    pooled = sum((len(one) - 1) * statistics.variance(one) for one in by_voice.values()) / free

    assert read_take(made).power.uneven.value == pytest.approx(pooled**0.5)


def test_a_robust_scale_finds_no_fault_in_normal_spreads() -> None:
    """On normal offsets the spread equals SciPy's scaled median absolute deviation closely."""
    laid = course(pattern(line("snare " * 64)), 20)
    made = judged(laid, offset_ms=player(3, 8.0))
    offsets = [1000 * made.offset_s(t.index) for t in made.targets]
    wanted = stats.median_abs_deviation(offsets, scale="normal")

    assert read_take(made).offset.spread.value == pytest.approx(wanted, rel=0.06)


def test_lope_is_the_difference_of_the_mean_intervals() -> None:
    """Mean right-to-left minus mean left-to-right interval, from the times played."""
    laid = course(pattern(line("snare " * 65, start=Fraction(0))))
    play = player(8, 5.0)
    made = judged(laid, offset_ms=lambda t: play(t) + 7.0 * (t.note.limb == "LH"))
    gaps = np.diff(np.array([hit.time_s for hit in made.hits]) * 1000)

    assert read_take(made).evenness.lope.value == pytest.approx(
        gaps[0::2].mean() - gaps[1::2].mean(), abs=0.5
    )
