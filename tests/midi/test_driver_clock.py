"""The driver clock from written sequences: strokes at known times, read late, with every fault.

`Take` writes what a driver and a busy reader make of strokes: the reader looks each millisecond
and is held up by up to 5 ms (or more) at random; the driver tells differences of its own clock.
"""

import random
from dataclasses import dataclass, field
from itertools import pairwise

import pytest

from trainer.midi.timing import SETTLED, DriverClock

LOOK_S = 0.001


@dataclass
class Take:
    """Strokes (seconds), and how the driver and the reader treat them."""

    strokes: list[float]
    seed: int = 1
    stall_s: float = 0.005
    drift: float = 0.0
    step_s: float = 0.0
    repeats: bool = False
    lost: frozenset[int] = frozenset()
    slept: dict[int, float] = field(default_factory=dict)

    def stamps(self) -> list[tuple[float, float]]:
        """Return (true time, stamp) of each stroke."""
        clock = DriverClock(repeats=self.repeats)
        return [(at, clock.stamp(*row)) for at, row in zip(self.strokes, self.rows(), strict=True)]

    def rows(self):
        """Return (difference, time of reading, time the queue was last empty) of each stroke."""
        rng = random.Random(self.seed)
        looks = self._looks(rng)
        empty, look = 0.0, next(looks)
        last = reported = None
        rows = []
        for i, at in enumerate(self.strokes):
            while look < at:
                empty, look = look, next(looks)
            here = self._driver(i, at)
            delta = 0.0 if last is None else here - last
            if self.repeats and i and at - self.strokes[i - 1] < 0.0005:
                delta = reported
            last, reported = here, delta
            rows.append((0.0 if i in self.lost else round(delta, 9), look, empty))
        return rows

    def _looks(self, rng):
        now = 0.0
        while True:
            now += LOOK_S
            if rng.random() < 0.03:
                now += rng.uniform(0, self.stall_s)
            yield now

    def _driver(self, i, at):
        time = 500.0 + at * (1 + self.drift) + sum(s for j, s in self.slept.items() if j <= i)
        return time // self.step_s * self.step_s if self.step_s else time


def strokes(count, rate=20.0, seed=2, unison=0.25, apart=0.0):
    """Uneven strokes, a quarter of them unisons whose second follows `apart` seconds later."""
    rng = random.Random(seed)
    found, at = [], 1.0
    while len(found) < count:
        at += rng.uniform(0.6, 1.4) / rate
        found.append(at)
        if rng.random() < unison:
            found.append(at + apart)
    return found


def errors(take, warm=80):
    """Sorted distances in ms of stamp minus truth from their median, after a warm-up."""
    found = sorted((stamp - at) * 1e3 for at, stamp in take.stamps()[warm:])
    middle = found[len(found) // 2]
    return sorted(abs(e - middle) for e in found)


def gap_errors(take, warm=80):
    """Sorted errors in ms of the gap inside each unison, after a warm-up."""
    found = take.stamps()[warm:]
    return sorted(
        abs((b - a) - (tb - ta)) * 1e3 for (ta, a), (tb, b) in pairwise(found) if tb - ta < 0.003
    )


def part(values, share):
    """The value that a share of the sorted values stay within."""
    return values[min(len(values) - 1, int(share * len(values)))]


def test_stalls_of_the_reader_do_not_reach_the_stamps():
    """With stalls up to 5 ms a stamp is within 0.1 ms at the 99th percentile, all within 0.3."""
    late = errors(Take(strokes(3000)))
    assert part(late, 0.99) < 0.1
    assert late[-1] < 0.3


def test_long_stalls_do_not_reach_the_stamps():
    """A reader held up by as much as 60 ms still stamps within 0.1 ms at the 99th percentile."""
    assert part(errors(Take(strokes(3000), stall_s=0.060)), 0.99) < 0.1


@pytest.mark.parametrize("apart", [0.0, 0.0008, 0.002])
def test_gap_of_a_unison_is_the_drivers(apart):
    """The gap inside a unison is right within 0.05 ms, read together or not."""
    assert part(gap_errors(Take(strokes(2000, apart=apart))), 0.99) < 0.05


def test_repeated_differences_of_a_packet_count_once():
    """Where a packet's messages repeat its difference, stamps and gaps stay as good as without."""
    take = Take(strokes(3000), repeats=True)
    assert part(errors(take), 0.99) < 0.1
    assert part(gap_errors(take), 0.99) < 0.05


def test_repeats_are_believed_where_the_driver_is_sound():
    """Without that fault, two strokes may follow at exactly the same distance."""
    clock = DriverClock()
    for i in range(10):
        clock.stamp(0.05, 0.05 * i, 0.05 * i - 0.001)
    together = [clock.stamp(0.05, 0.7, 0.46) for _ in range(3)]
    assert together == pytest.approx([0.5, 0.55, 0.6])


@pytest.mark.parametrize("step_ms", [1, 4, 10])
def test_coarse_clock_is_found_and_stamps_stay_within_its_step(step_ms):
    """A driver that counts whole ms is noticed, and stamps stay within half of its step."""
    take = Take(strokes(1500), step_s=step_ms / 1e3)
    clock = DriverClock()
    for row in take.rows():
        clock.stamp(*row)
    assert clock.resolution_s * 1e3 == step_ms
    assert part(errors(take), 0.95) < step_ms / 2


def test_unison_on_a_coarse_clock():
    """On a clock of whole ms the gap of a unison is off by less than that ms, mostly by none."""
    gaps = gap_errors(Take(strokes(2000), step_s=0.001, repeats=True))
    assert part(gaps, 0.9) < 0.05
    assert part(gaps, 0.99) < 1.0


@pytest.mark.parametrize("drift", [1e-4, -1e-4])
@pytest.mark.parametrize("rate", [1.0, 20.0])
def test_drift_is_followed_fast_or_slow(drift, rate):
    """A clock off by 100 millionths stays within 0.3 ms, at one stroke a second or at twenty."""
    take = Take(strokes(2000 if rate > 1 else 600, rate=rate), drift=drift)
    assert part(errors(take), 0.99) < 0.3


def test_drift_is_measured():
    """The drift reported is the clock's own, within 20 millionths."""
    clock = DriverClock()
    for row in Take(strokes(2000), drift=1e-4).rows():
        clock.stamp(*row)
    assert clock.drift == pytest.approx(-1e-4, abs=2e-5)


def test_first_difference_does_not_matter():
    """The first difference is no distance to anything; a stamp is never later than reading."""
    for first in (0.0, 5.0, -1.0, float("nan")):
        assert DriverClock().stamp(first, 100.0, 99.999) <= 100.0


@pytest.mark.parametrize("slept", [-3600.0, -0.3, 0.3, 3600.0])
def test_sleep_of_the_computer_costs_no_stamp(slept):
    """When one clock runs on through a sleep, the next stroke is stamped right at once."""
    take = Take(strokes(400), slept={200: slept})
    found = take.stamps()
    assert all(abs(stamp - at) < 0.007 for at, stamp in found)
    assert all(abs(stamp - at) < 0.002 for at, stamp in found[300:])


def test_lost_difference_heals_within_a_moment():
    """After a lost difference only the next few stamps are off, then all is well."""
    lost = frozenset({200})
    found = Take(strokes(400, unison=0.0), lost=lost).stamps()
    off = [i for i, (at, stamp) in enumerate(found) if abs(stamp - at) > 0.007]
    assert all(200 <= i < 204 for i in off)


def test_stamp_is_never_later_than_reading_nor_out_of_order():
    """Whatever differences come, no stamp lies after its reading."""
    rng = random.Random(9)
    clock, now = DriverClock(repeats=True), 0.0
    for _ in range(5000):
        empty, now = now, now + rng.choice([1e-4, 1e-3, 0.01, 1.0])
        delta = rng.choice([0.0, now - empty, 1e-3, -5.0, 1e6, float("inf"), float("nan")])
        assert clock.stamp(delta, now, empty) <= now


def test_settled_only_after_enough_moments():
    """The clock is not settled until it has heard enough, and again after a restart."""
    clock = DriverClock()
    reported = []
    for i in range(SETTLED + 1):
        reported.append(clock.settled)
        clock.stamp(0.1, 0.1 * i, 0.1 * i - 0.001)
    assert reported == [False] * SETTLED + [True]
    clock.restart()
    assert not clock.settled
