"""Thresholds of hearing and figures of professionals, against the papers they come from.

Friberg and Sundberg 1995 (abstract read): 6 ms below 240 ms between tones, 2.5 % from 240 to 1000.
Hirsh 1959, after Watson 2004 (abstract read; Hirsh himself from memory): order from about 20 ms.
Fujii and others 2011 (abstract read): at 60 and 120 BPM the right hand of professionals errs by
about 2 ms on average, the left hand and the right foot come about 10 ms early.
"""

from __future__ import annotations

import random
from statistics import NormalDist

import pytest
from handmade import course, judged, line, pattern

from trainer.measure.clean import STRICTNESS_LEVELS, clean_verdict
from trainer.measure.reading import read_take
from trainer.measure.threshold import ORDER_THRESHOLD_MS, just_noticeable_ms


@pytest.mark.parametrize(
    ("interval", "least"), [(1000, 25.0), (500, 12.5), (300, 7.5), (250, 6.25), (150, 6.0)]
)
def test_the_just_noticeable_displacement(interval: float, least: float) -> None:
    """Friberg and Sundberg 1995: the larger of 6 ms and 2.5 % of the interval."""
    assert just_noticeable_ms(interval) == pytest.approx(least)


def test_the_order_of_two_sounds_is_heard_from_20_ms() -> None:
    """Hirsh 1959: the flam threshold, and what share of normal gaps each level keeps below it."""
    assert ORDER_THRESHOLD_MS == 20.0
    kept = {
        name: NormalDist(0, one.gap_ms).cdf(ORDER_THRESHOLD_MS)
        - NormalDist(0, one.gap_ms).cdf(-ORDER_THRESHOLD_MS)
        for name, one in STRICTNESS_LEVELS.items()
    }
    assert kept["tight"] == pytest.approx(0.95, abs=0.01)
    assert kept["solid"] == pytest.approx(0.85, abs=0.01)
    assert kept["loose"] == pytest.approx(0.68, abs=0.01)


@pytest.mark.parametrize("tempo", [60.0, 120.0])
def test_a_professional_is_clean_on_stage(tempo: float) -> None:
    """Mean errors of Fujii's professionals, with 6 ms of jitter (ours), in an ordinary groove."""
    rng = random.Random(11)
    means = {"hihat": 2.0, "snare": -10.0, "kick": -10.0}
    groove = pattern(
        line("hihat " * 8, value="8", limbs="R"),
        line("- snare - snare", value="4", limbs="L"),
        line("kick - kick -", value="4", limbs="K"),
    )
    made = judged(
        course(groove, 16, tempo), offset_ms=lambda t: rng.gauss(means[t.note.voice], 6.0)
    )

    assert clean_verdict(made, STRICTNESS_LEVELS["solid"]).reasons() == ()
    assert read_take(made).unisons.by_limbs["RH+RF"].mean.value == pytest.approx(12.0, abs=3.0)
