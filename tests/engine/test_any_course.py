"""Whatever the player asks and when: the session stays whole."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

import pytest

from trainer.archive.session_file import open_session
from trainer.archive.summary import judge_session, session_summary
from trainer.engine.process import LocalHandle
from trainer.kit.model import GENERAL_MIDI
from trainer.midi.simulated_player import WORKING_TRAITS, SimulatedPlayer
from trainer.practice.events import (
    BeatStarted,
    Command,
    Event,
    Finished,
    HitJudged,
    PassStarted,
    Tally,
    TargetMissed,
)
from trainer.practice.outcomes import DOUBLE, EXTRA, MISSED, PLAYED

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.engine.job import Job

ASKED = ("pause", "resume", "toggle", "restart", "tempo", "toggle", "restart")


def _play(job: Job, random: Random) -> list[Event]:
    """Play with random commands at random times, and end at a random time."""
    handle = LocalHandle(job)
    now = 0.0
    for _ in range(random.randrange(12)):
        now += random.choice([0.01, 0.2, 1.0, 3.0]) * random.random()
        handle.run_to(now)
        handle.send(Command(random.choice(ASKED), random.choice([-30.0, 7.0, 25.0])))
    handle.send(Command("resume"))
    handle.run_to(now + 8 * random.random())
    handle.send(Command("quit"))
    handle.run_to(now + 9)
    events: list[Event] = []
    while not any(isinstance(one, Finished) for one in events):
        events += handle.poll()
    handle.close()
    return events


@pytest.mark.parametrize("seed", range(80))
def test_any_course_is_whole(make_job: Callable[..., Job], seed: int) -> None:
    """The file reads back, has the targets that were live, and gives the numbers shown."""
    random = Random(seed)
    job = make_job(
        passes=random.choice([1, 3, None]),
        tempo=random.choice([40.0, 120.0, 240.0, 400.0]),
        source=SimulatedPlayer(GENERAL_MIDI, seed, WORKING_TRAITS),
        simulated=True,
    )
    events = _play(job, random)
    finished = events[-1]
    assert isinstance(finished, Finished)
    struck = any(isinstance(one, HitJudged) for one in events)
    assert finished.unplayed is not struck
    if finished.unplayed:
        assert finished.path is None
        assert not [*job.folder.iterdir()]
        return
    session = open_session(Path(str(finished.path)))
    take = judge_session(session)
    assert session.summary == finished.summary == session_summary(session)

    targets = {target.index: target for target in take.targets}
    finals = [one for one in events if isinstance(one, HitJudged) and one.final]
    assert sorted(one.hit for one in finals) == list(range(len(session.strikes)))
    for one in finals:
        if one.target is not None and take.hit_target[one.hit] == one.target:
            assert one.offset_s == take.offset_s(one.target)
            assert one.note_index == targets[one.target].note_index
            assert one.pass_index == targets[one.target].pass_index
    otherwise = session.header.timing["shown_otherwise"]
    assert otherwise <= 0.02 * len(finals) + 1

    missed = {one.target for one in events if isinstance(one, TargetMissed)}
    truly = {index for index, outcome in enumerate(take.target_outcome) if outcome == MISSED}
    assert len(truly - missed) <= otherwise
    if not otherwise:
        tally = [one for one in events if isinstance(one, Tally)][-1]
        assert (tally.played, tally.missed) == (take.target_outcome.count(PLAYED), len(truly))
        assert (tally.extra, tally.double) == tuple(map(take.hit_outcome.count, (EXTRA, DOUBLE)))
    beats = [one.time_s for one in events if isinstance(one, BeatStarted)]
    assert all(a < b for a, b in pairwise(beats))
    started = [one for one in events if isinstance(one, PassStarted)]
    assert [one.pass_index for one in started] == list(range(len(session.passes)))
