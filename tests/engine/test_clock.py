"""The session's clock, real and simulated."""

from __future__ import annotations

import time

from trainer.engine import clock
from trainer.engine.clock import POLL_S, RealClock, SimulatedClock


def test_it_never_waits_longer_than_the_kit_may_wait() -> None:
    """However far off the next thing is, the loop gets to listen again soon."""
    real = RealClock()
    waits = []
    for _ in range(50):
        before = real.now()
        real.wait_until(before + 60.0)
        waits.append(real.now() - before)

    assert sorted(waits)[len(waits) // 2] < 5 * POLL_S


def test_it_wakes_at_a_due_time_and_not_before() -> None:
    """A due time a little ahead is met from above, never early."""
    real = RealClock()
    for _ in range(50):
        due_s = real.now() + 0.000_7
        while real.now() < due_s:
            real.wait_until(due_s)
        assert real.now() >= due_s


def test_a_turn_that_takes_long_is_told_once() -> None:
    """A loop that was held up hears for how long, and only once."""
    real = RealClock()
    real.wait_until(0.0)
    time.sleep(clock.STALL_S + 0.1)
    real.wait_until(0.0)

    assert clock.STALL_S < real.lost_s() < clock.STALL_S + 1.0
    assert real.lost_s() == 0.0


def test_sleep_of_the_machine_counts_as_lost(monkeypatch) -> None:
    """A suspend counts, although perf_counter may have stood still meanwhile."""
    real = RealClock()
    real.wait_until(0.0)
    asleep_s = clock._asleep_s()
    monkeypatch.setattr(clock, "_asleep_s", lambda: asleep_s + 3600.0)
    real.wait_until(0.0)

    assert real.lost_s() > 3600.0


def test_simulated_time_jumps_to_what_comes_first() -> None:
    """The next thing due or the next strike, whichever is earlier, and never backwards."""
    strikes = [2.5]
    simulated = SimulatedClock(lambda: strikes[0])
    simulated.wait_until(0.5)
    assert simulated.now() == 0.5
    simulated.wait_until(0.2)
    assert simulated.now() == 0.5
    simulated.wait_until(0.9)
    simulated.wait_until(1.8)
    simulated.wait_until(9.0)
    assert simulated.now() == 2.5


def test_simulated_time_goes_on_when_nothing_is_due() -> None:
    """With nothing to come it moves on in small steps, so that commands are heard."""
    simulated = SimulatedClock(lambda: float("inf"))
    simulated.wait_until(float("inf"))

    assert 0 < simulated.now() <= clock.IDLE_S
