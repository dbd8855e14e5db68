"""The two timing models against the numbers of their papers and reference packages.

Silent click: Wing and Kristofferson 1973, Percept. Psychophys. 14:5-12 (model as restated by Doumas
and Wing 2007, J. Exp. Psychol. Hum. Percept. Perform. 33:442-455); the worked series were computed
with NumPy from the model's formulas. Click on: Vorberg and Schulze 2002, J. Math. Psychol.
46:56-87, and the bounded least squares of Jacoby, Tishby and others 2015, Timing Time Percept.
3:52-87, with the parameters of their reference package (timekeeper 10 ms, hand 5 ms).
"""

from __future__ import annotations

import numpy as np
import pytest

from trainer.measure import phase_correction
from trainer.measure import timekeeper as wing

SERIES_B = np.array([512.0, 508, 488, 488, 496, 516, 484, 508])
SERIES_C = np.array([500.0, 512, 494, 506, 488, 510, 498, 492])


def _intervals(rng: np.random.Generator, count: int, vc: float, vm: float) -> np.ndarray:
    delay = rng.normal(0, np.sqrt(vm), count + 1)
    return 500 + rng.normal(0, np.sqrt(vc), count) + np.diff(delay)


def _offsets(rng: np.random.Generator, count: int, a: float, vt: float, vm: float) -> np.ndarray:
    """Offsets of the linear phase correction model, written out step by step."""
    delay = rng.normal(0, np.sqrt(vm), count + 101)
    clock = rng.normal(0, np.sqrt(vt), count + 100)
    made, now = [], 0.0
    for at in range(count + 100):
        now = (1 - a) * now + clock[at] + delay[at + 1] - delay[at]
        made.append(now)
    return np.array(made[100:])


def _uncorrected(g0: float, g1: float) -> tuple[float, float]:
    """The variances of timekeeper and hand from autocovariances, without any correction of bias."""
    return g0 + 2 * g1, -g1


def test_the_worked_series() -> None:
    """Intervals around 500 ms with g0 136 and g1 -32: hand variance 32, timekeeper variance 72."""
    g0, g1 = wing.autocovariances([SERIES_B - SERIES_B.mean()])

    assert (g0, g1) == pytest.approx((136.0, -32.0))
    assert _uncorrected(g0, g1) == pytest.approx((72.0, 32.0))
    assert wing.misfit_reason(g1 / g0) == ""


def test_the_series_that_is_not_admissible() -> None:
    """A correlation of -0.576 is outside the model: said so, instead of a variance of -10."""
    g0, g1 = wing.autocovariances([SERIES_C - SERIES_C.mean()])

    assert (g0, g1) == pytest.approx((66.0, -38.0))
    assert _uncorrected(g0, g1)[0] == pytest.approx(-10.0)
    assert wing.misfit_reason(g1 / g0).startswith("the model does not fit: neighbouring intervals")

    found = wing.two_level([np.tile(SERIES_C, 4), np.tile(SERIES_C, 4)])
    assert found.timekeeper.value is None
    assert "outside -0.5 to 0" in found.hand.why


@pytest.mark.parametrize(
    ("count", "degree", "hand", "timekeeper"),
    [
        (16, 0, 42.205, 122.309),
        (32, 0, 39.237, 132.957),
        (64, 0, 37.653, 138.427),
        (128, 0, 36.835, 141.201),
        (16, 1, 49.563, 97.748),
        (32, 1, 43.321, 120.077),
        (64, 1, 39.798, 131.834),
    ],
)
def test_the_bias_of_short_runs(count: int, degree: int, hand: float, timekeeper: float) -> None:
    """Population 144 and 36: what the plain estimator gives on average, mean or line taken out."""
    g0, g1 = wing.expected_autocovariances(count, degree) @ [144.0, 36.0]

    assert _uncorrected(g0, g1) == pytest.approx((timekeeper, hand), abs=1e-3)


def test_the_bias_is_undone() -> None:
    """Over many runs of 16 the corrected variances average 144 and 36."""
    rng = np.random.default_rng(1)
    at = np.arange(16) - 7.5
    found = []
    for _ in range(3000):
        run = _intervals(rng, 16, 144, 36)
        run -= run.mean()
        found.append(
            wing.unbiased_variances(
                *wing.autocovariances([run - at * (at @ run) / (at @ at)]), [16]
            )
        )

    assert np.mean(found, axis=0) == pytest.approx([144, 36], rel=0.06)


def test_the_share_of_runs_outside_the_model() -> None:
    """Of plain correlations with n = 32, 16 % lie outside -0.5 to 0 although the model is true."""
    rng = np.random.default_rng(2)
    outside = 0
    for _ in range(4000):
        run = _intervals(rng, 32, 144, 36)
        g0, g1 = wing.autocovariances([run - run.mean()])
        outside += wing.misfit_reason(g1 / g0) != ""

    assert outside / 4000 == pytest.approx(0.16, abs=0.02)


def test_a_drift_does_no_harm() -> None:
    """40 ms of drift over 64 intervals would turn the hand's variance into about -93; not here."""
    rng = np.random.default_rng(3)
    runs = [_intervals(rng, 64, 144, 36) + np.linspace(0, 40, 64) for _ in range(10)]
    plain = [_uncorrected(*wing.autocovariances([run - run.mean()]))[1] for run in runs]
    found = wing.two_level(runs)

    assert np.mean(plain) == pytest.approx(-93, abs=25)
    assert found.hand.value == pytest.approx(6.0, abs=1.5)
    assert found.timekeeper.value == pytest.approx(12.0, abs=1.5)


def test_intervals_of_the_silent_model_cover_the_truth() -> None:
    """Of 100 players, at least 85 have their timekeeper inside its interval."""
    rng = np.random.default_rng(4)
    found = [
        wing.two_level([_intervals(rng, 32, 144, 36) for _ in range(4)]).timekeeper
        for _ in range(100)
    ]
    reported = [one for one in found if one.value is not None]

    assert len(reported) >= 90
    assert sum(one.low <= 12 <= one.high for one in reported) >= 0.85 * len(reported)


@pytest.mark.parametrize(
    ("a", "g0", "g1", "vm", "vc"),
    [
        (0.25, 257.143, 167.857, 47.32, 83.93),
        (0.5, 166.667, 58.333, 79.17, 58.33),
        (1.0, 150.0, -25.0, 200.0, -50.0),
    ],
)
def test_the_silent_model_is_wrong_while_the_click_sounds(
    a: float, g0: float, g1: float, vm: float, vc: float
) -> None:
    """Autocovariances of the click model (timekeeper 100, hand 25), and what 4.1 makes of them."""
    rng = np.random.default_rng(5)
    made = _offsets(rng, 200_000, a, 100.0, 25.0)
    found = wing.autocovariances([made - made.mean()])
    steps = np.diff(made)

    assert found == pytest.approx((g0, g1), abs=4)
    wrong = _uncorrected(*wing.autocovariances([steps - steps.mean()]))
    assert wrong == pytest.approx((vc, vm), abs=3)


@pytest.mark.parametrize(
    ("count", "mean", "deviation", "hand"),
    [(30, 0.64, 0.20, 2.6), (100, 0.54, 0.15, 3.6), (300, 0.52, 0.12, 4.0)],
)
def test_phase_correction_has_the_bias_and_scatter_of_the_reference(
    count: int, mean: float, deviation: float, hand: float
) -> None:
    """True correction 0.5, timekeeper 10, hand 5: mean and deviation over runs, hand on average."""
    rng = np.random.default_rng(6)
    made = np.array([_offsets(rng, count, 0.5, 100.0, 25.0) for _ in range(400)])
    found = phase_correction.fit_runs([made])

    assert found.correction.mean() == pytest.approx(mean, abs=0.03)
    assert found.correction.std() == pytest.approx(deviation, abs=0.03)
    assert np.sqrt(found.hand).mean() == pytest.approx(hand, abs=0.5)


def test_phase_correction_keeps_its_bounds() -> None:
    """The hand never varies more than the timekeeper, and neither is negative."""
    rng = np.random.default_rng(7)
    made = np.array([_offsets(rng, 100, 0.5, 100.0, 25.0) for _ in range(300)])
    found = phase_correction.fit_runs([made])

    assert (found.hand >= -1e-9).all()
    assert (found.hand <= found.timekeeper + 1e-9).all()


def test_the_fit_is_that_of_the_method_written_out() -> None:
    """Twenty rounds with the tridiagonal matrix inverted outright end at the same figures."""
    rng = np.random.default_rng(8)
    run = _offsets(rng, 60, 0.5, 100.0, 25.0)
    x, y = (run - run.mean())[:-1], np.diff(run)
    k11, k12, slope = 1.0, 0.0, 0.0
    for _ in range(20):
        band = k11 * np.eye(59) + k12 * (np.eye(59, k=1) + np.eye(59, k=-1))
        inverse = np.linalg.inv(band)
        slope = (x @ inverse @ y) / (x @ inverse @ x)
        rest = y - slope * x
        k11 = rest @ rest / 59
        k12 = min(0.0, max(rest[1:] @ rest[:-1] / 59, -k11 / 3))
    found = phase_correction.fit_runs([run[np.newaxis]])

    assert found.correction[0] == pytest.approx(-slope)
    assert found.hand[0] == pytest.approx(-k12)
    assert found.timekeeper[0] == pytest.approx(k11 + 2 * k12)


def test_its_interval_covers_the_truth() -> None:
    """Of 40 players with 200 strokes, at least 34 have the true correction in their interval."""
    rng = np.random.default_rng(9)
    found = [
        phase_correction.phase_correction([_offsets(rng, 200, 0.5, 100.0, 25.0)]).correction
        for _ in range(40)
    ]

    assert sum(one.low <= 0.5 <= one.high for one in found) >= 34
