"""Bar lines from changes of meter, for files that only say where a meter begins."""

from __future__ import annotations

from fractions import Fraction

from trainer.errors import BadInput
from trainer.pattern.model import Bar, Meter
from trainer.pattern.tables import MAX_BARS

_SHORT_UNITS = (1, 2, 4, 8, 16, 32, 64)

Change = tuple[Fraction, Meter]
"""A beat in quarter notes and the meter from there on."""


def lay_bars(
    changes: list[Change], last: Fraction, end: Fraction
) -> tuple[tuple[Bar, ...], list[str]]:
    """Return bars that hold a last beat, and what was assumed about them.

    They go on to `end` where that is a bar line (a loop that ends in rests). Without a change at
    the start the meter is 4/4. Raises BadInput for more bars than a pattern may have.
    """
    waiting = sorted(changes, key=lambda change: change[0], reverse=True)
    bars: list[Bar] = []
    told: list[str] = []
    start, meter = Fraction(0), Meter()
    while True:
        while waiting and waiting[-1][0] <= start:
            meter = waiting.pop()[1]
        rests = start < end and (bool(waiting) or (end - start) % meter.length == 0)
        if start > last and not rests:
            return tuple(bars), told
        if len(bars) >= MAX_BARS:
            raise BadInput(
                f"the file has more than {MAX_BARS:,} bars", mend="cut it into shorter files"
            )
        short = short_meter(waiting[-1][0] - start, meter) if waiting else None
        if short:
            told.append(f"meter: bar {len(bars) + 1} is cut short by a change of meter")
        bars.append(Bar(start, short or meter))
        start = bars[-1].end


def short_meter(room: Fraction, meter: Meter) -> Meter | None:
    """Return the meter of a bar with less room than its meter asks; None where it has enough.

    None as well where no note value fills the room: the change then waits for the bar line.
    """
    if not 0 < room < meter.length:
        return None
    for unit in _SHORT_UNITS:
        beats = room * unit / 4
        if unit >= meter.unit and beats.denominator == 1:
            return Meter(int(beats), unit)
    return None
