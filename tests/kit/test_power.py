"""Velocity through a pad's curve."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.kit.hits import LOUDEST_VELOCITY, REFERENCE_POWER, PowerCurve, Strike
from trainer.kit.model import HitReader, Kit, Pad

CURVES = st.lists(st.floats(1, 127), min_size=3, max_size=3, unique=True).map(
    lambda sent: PowerCurve(*sorted(sent))
)


@given(CURVES)
def test_soft_normal_and_hard_read_alike_on_every_pad(curve: PowerCurve) -> None:
    """The three measured strokes come out at the reference, silence at 0, and never above 127."""
    sent = (curve.soft, curve.normal, curve.hard)

    assert [curve.power(one) for one in sent] == pytest.approx(list(REFERENCE_POWER))
    assert curve.power(0) == 0
    assert curve.power(127) <= LOUDEST_VELOCITY


@given(CURVES, st.floats(0, 127), st.floats(0, 127))
def test_harder_never_reads_softer(curve: PowerCurve, one: float, other: float) -> None:
    """Power rises with velocity."""
    low, high = sorted((one, other))

    assert curve.power(low) <= curve.power(high) + 1e-9


def test_the_reader_takes_the_curve_of_the_pad_that_was_struck() -> None:
    """A pad with a curve is read through it, any other pad keeps its velocity."""
    kit = Kit(power={Pad("snare", "head"): PowerCurve(20, 50, 90)})
    reader = HitReader(kit, {"snare", "tom1"})

    assert reader.read(Strike(0.0, 38, 50)).power == 80
    assert reader.read(Strike(0.1, 48, 50)).power == 50
