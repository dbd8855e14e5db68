"""Forecasts: the interval holds the level of a day to come, and little evidence makes no date."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest

from trainer.measure.ceiling import RungOutcome
from trainer.measure.figure import is_clear
from trainer.measure.forecast import DayCeiling, Forecast, day_ceilings, forecast, week_off

PLAYERS = 200


def weeks(
    dice: random.Random, gain: float, form: float, lost: float = 0.0, count: int = 20
) -> tuple[list[DayCeiling], float]:
    """Ceilings every other day, with a week off after each fourth; and the level on the last one.

    `gain` a session, `form` of a day and what a week off loses are shares of the level.
    """
    log_level, day, made = math.log(dice.uniform(80, 200)), 0.0, []
    for place in range(count):
        if place:
            off = lost > 0 and place % 4 == 0
            day += 7.0 if off else 2.0
            log_level += gain - lost * off
        sd = dice.uniform(0.015, 0.04)
        made.append(DayCeiling(day, log_level + dice.gauss(0, math.hypot(sd, form)), sd))
    return [DayCeiling(one.day - day, one.log_tempo, one.sd) for one in made], log_level


@pytest.mark.parametrize("gain", [0.0, 0.001, 0.002, 0.005])
@pytest.mark.parametrize("form", [0.0, 0.02, 0.04])
def test_the_level_four_weeks_on_is_in_its_interval(gain: float, form: float) -> None:
    """Still, learning and form that changes by the day: 90% at least, less three errors."""
    dice, held = random.Random(5), []
    for _ in range(PLAYERS):
        days, log_level = weeks(dice, gain, form)
        found = forecast(days)
        assert isinstance(found, Forecast)
        one = found.tempo_on(28.0)
        held.append(one.low <= math.exp(log_level + 14 * gain) <= one.high)

    assert np.mean(held) >= 0.90 - 3 * math.sqrt(0.9 * 0.1 / PLAYERS)


def test_the_window_holds_the_day_a_learner_gets_there() -> None:
    """A goal 6% up at 0.5% a session: reached after 24 days; the window says so in 9 of 10."""
    dice, held = random.Random(6), []
    for _ in range(PLAYERS):
        days, log_level = weeks(dice, 0.005, 0.02)
        found = forecast(days)
        assert isinstance(found, Forecast)
        first, last = found.window(1.06 * math.exp(log_level))
        due = 2 * math.log(1.06) / 0.005
        held.append(first is not None and first <= due and (last is None or due <= last))

    assert np.mean(held) >= 0.90 - 3 * math.sqrt(0.9 * 0.1 / PLAYERS)


def test_a_still_player_is_promised_no_day() -> None:
    """Without any gain there is no day on which 10% more is sure, in 19 of 20."""
    dice, sure = random.Random(7), []
    for _ in range(PLAYERS):
        days, log_level = weeks(dice, 0.0, 0.02)
        found = forecast(days)
        assert isinstance(found, Forecast)
        sure.append(found.window(1.1 * math.exp(log_level))[1] is not None)

    assert np.mean(sure) <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / PLAYERS)


def test_what_a_week_off_costs_holds_its_truth_and_is_found() -> None:
    """A loss of 6% a gap is found in most; where nothing is lost hardly ever."""
    dice = random.Random(8)
    lost = [week_off(weeks(dice, 0.004, form, 0.06, 40)[0]) for form in (0.0, 0.01) * PLAYERS]
    none = [week_off(weeks(dice, 0.004, form, 1e-9, 40)[0]) for form in (0.0, 0.01) * PLAYERS]

    error = math.sqrt(0.05 * 0.95 / len(none))
    truth = 100 * math.expm1(-0.06)
    assert np.mean([is_clear(one) and one.value < 0 for one in lost]) >= 0.9
    assert np.mean([one.low <= truth <= one.high for one in lost]) >= 0.95 - 3 * error
    assert np.mean([is_clear(one) for one in none]) <= 0.05 + 3 * error


def test_too_little_makes_no_forecast() -> None:
    """No session, few sessions, or a few days: said what is missing; a bound is no ceiling."""
    days, _ = weeks(random.Random(1), 0.002, 0.0)

    assert forecast([]) == "needs 6 ladders with a ceiling, has 0"
    assert forecast(days[:5]) == "needs 6 ladders with a ceiling, has 5"
    assert forecast(days[:6]) == "needs 14 days of ladders, has 10"
    assert week_off([]).value is None
    assert day_ceilings([(0.0, [RungOutcome(100.0, True)] * 5), (0.0, [])]) == []


def test_a_goal_that_is_reached_already_is_today() -> None:
    """Below the level: the window begins and ends on day 0."""
    days, log_level = weeks(random.Random(2), 0.002, 0.01)
    found = forecast(days)

    assert isinstance(found, Forecast)
    assert found.window(0.5 * math.exp(log_level)) == (0, 0)
