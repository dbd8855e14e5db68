"""The session's clock, real and simulated."""

from __future__ import annotations

import os
import sys
import threading
import time

import pytest

from trainer.engine import clock
from trainer.engine.clock import POLL_S, RealClock, SimulatedClock


class Machine:
    """Stands for the machine's counter: a sleep takes as long as asked, or longer where held up."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.now_s, self.held_s = 1000.0, 0.0
        self.slept: list[float] = []
        monkeypatch.setattr(time, "perf_counter", lambda: self.now_s)
        monkeypatch.setattr(time, "sleep", self._sleep)

    def _sleep(self, seconds: float) -> None:
        self.slept.append(seconds)
        self.now_s += seconds + self.held_s


@pytest.fixture
def machine(monkeypatch: pytest.MonkeyPatch) -> Machine:
    """Return a machine in simulated time."""
    return Machine(monkeypatch)


def test_it_never_waits_longer_than_the_kit_may_wait(machine: Machine) -> None:
    """However far off the next thing is, the loop gets to listen again soon."""
    real = RealClock()
    for ahead_s in (60.0, 1.0, 1.5 * POLL_S, POLL_S):
        real.wait_until(real.now() + ahead_s)

    assert len(machine.slept) == 4
    assert max(machine.slept) == POLL_S
    assert machine.slept[-1] < POLL_S


def test_it_wakes_at_a_due_time_and_not_before() -> None:
    """A due time a little ahead is met from above, never early."""
    real = RealClock()
    for _ in range(50):
        due_s = real.now() + 0.000_7
        while real.now() < due_s:
            real.wait_until(due_s)
        assert real.now() >= due_s


def test_a_turn_that_takes_long_is_reported_once(machine: Machine) -> None:
    """A loop that was held up hears for how long, and only once; a little is not worth it."""
    real = RealClock()
    machine.now_s += 1.0
    real.wait_until(0.0)
    machine.now_s += 0.9 * clock.STALL_S
    real.wait_until(0.0)
    assert real.lost_s() == 0.0

    machine.held_s = 3.0
    real.wait_until(real.now() + 60.0)
    assert real.lost_s() == pytest.approx(3.0 + POLL_S)
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


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux is asked")
@pytest.mark.parametrize("priority", ["", "usual"])
def test_all_threads_go_first_for_as_long_as_asked_and_no_longer(
    priority: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where permitted and wanted every thread is scheduled first inside, and as before after."""
    monkeypatch.setenv("TRAINER_PRIORITY", priority)
    end = threading.Event()
    beside = threading.Thread(target=end.wait)
    beside.start()
    threads = [0, beside.native_id or 0]
    before = [os.sched_getscheduler(one) for one in threads]
    with clock.ahead_of_others() as permitted:
        inside = [os.sched_getscheduler(one) for one in threads]
    after = [os.sched_getscheduler(one) for one in threads]
    end.set()
    beside.join()
    assert not (permitted and priority)
    assert inside == ([os.SCHED_FIFO] * 2 if permitted else before)
    assert after == before


def test_a_refusal_changes_nothing_and_is_no_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who may not go first plays on as before."""

    def refuse(*_: object) -> None:
        raise PermissionError

    monkeypatch.setenv("TRAINER_PRIORITY", "")
    monkeypatch.setattr(os, "sched_setscheduler", refuse, raising=False)
    with clock.ahead_of_others() as permitted:
        assert not permitted
