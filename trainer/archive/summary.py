"""The summary of a session, judged again from its raw strikes.

Live sessions, replay, recovery and assessing all use this, so their numbers agree to the last bit.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import replace
from itertools import groupby
from operator import itemgetter
from typing import TYPE_CHECKING, Any

from trainer.archive.session import START_FITTED
from trainer.errors import BadInput
from trainer.measure.clean import fastest_clean_tempo, read_tolerance
from trainer.practice.course import pass_end, pass_targets
from trainer.practice.matcher import judge
from trainer.typed_json import Plain, encode, reader

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.archive.session import Session
    from trainer.measure.clean import Tolerance
    from trainer.practice.course import Pass
    from trainer.practice.outcomes import Judged

read_plain = reader(Plain)


def judge_session(session: Session) -> Judged:
    """Return every outcome of a session, judged with its own kit and passes."""
    return judge(session.course(), session.strikes, session.kit)


def session_summary(session: Session) -> dict[str, Any]:
    """Return the reading of a session as the summary that is saved and shown."""
    return summary_of(session, judge_session(session))


def summary_of(session: Session, take: Judged) -> dict[str, Any]:
    """Return the reading of a session's judged take, as the plain values that files carry."""
    # The reading needs numpy, which must not be loaded while somebody plays.
    from trainer.measure.reading import read_take

    resolution = session.header.timing.get("resolution_ms")
    if not isinstance(resolution, (int, float)) or not 0 < resolution < 1000:
        resolution = None
    reading = read_take(
        take,
        resolution_ms=resolution,
        silent=silent_stretches(session),
        start_fitted=session.header.timing.get(START_FITTED) is True,
        allowed=allowed_in(session),
    )
    return read_plain(encode(reading.to_dict()))


def clean_tempo(session: Session, take: Judged) -> float | None:
    """Return the fastest tempo (BPM) of a session that was clean by its own tolerance."""
    allowed = allowed_in(session)
    if allowed is None:
        return None
    rungs = [(rung.tempo, rung.clean) for rung in session.rungs]
    return fastest_clean_tempo(take, rungs, allowed)


def allowed_in(session: Session) -> Tolerance | None:
    """Return what counted as clean in a session; None where its file cannot say it to us."""
    try:
        return read_tolerance(session.header.tolerance)
    except BadInput:  # a later version may allow for more than is known here
        return None


def silent_stretches(session: Session) -> list[tuple[float, float]]:
    """Return where the click was left out on purpose, as (start, end) in seconds.

    A stretch goes from the first silent beat to the next click, or to the end of the last pass.
    """
    silent = [(mark.time_s, False) for mark in session.marks if mark.kind == "silent"]
    beats = sorted(silent + [(click.time_s, True) for click in session.clicks])
    ends = [pass_end(session.pattern, one) for one in session.passes]
    found: list[tuple[float, float]] = []
    for sounds, group in groupby([*beats, (max(ends, default=0.0), True)], key=itemgetter(1)):
        first_s = next(group)[0]
        if found and sounds:
            found[-1] = (found[-1][0], first_s)
        elif not sounds:
            found.append((first_s, first_s))
    return found


def summary_differences(saved: Any, fresh: Any, place: str = "") -> Iterator[str]:
    """Name every value that two summaries both have and do not agree on.

    What only one of them has was measured by only one version of the program. Numbers agree where
    they are the same to six digits: versions may add them up in another order.
    """
    if isinstance(saved, dict) and isinstance(fresh, dict):
        for key in saved.keys() & fresh.keys():
            yield from summary_differences(
                saved[key], fresh[key], f"{place}.{key}" if place else key
            )
    elif isinstance(saved, list) and isinstance(fresh, list) and len(saved) == len(fresh):
        for index, pair in enumerate(zip(saved, fresh, strict=True)):
            yield from summary_differences(*pair, f"{place}.{index}")
    elif isinstance(saved, float) and isinstance(fresh, float):
        if not math.isclose(saved, fresh, rel_tol=1e-6, abs_tol=1e-9):
            yield place
    elif saved != fresh:
        yield place


def cut_short(session: Session) -> Session:
    """Return a session that was cut off as it should be judged: up to its last stroke.

    Strokes that were due after the last one that was heard were never due, unless something
    later in the file proves that the pass was over. A last stroke that came early keeps its target.
    """
    if session.summary is not None or not session.passes:
        return session
    last = session.passes[-1]
    end = pass_end(session.pattern, last)
    later = [one.time_s for one in session.marks] + [one.time_s for one in session.rungs]
    heard = max((one.time_s for one in session.strikes), default=-math.inf) - session.kit.latency_s
    if max([heard, *later]) >= end:
        return session
    cut = replace(last, end_s=_after_last_stroke(session, last, heard))
    return replace(session, passes=(*session.passes[:-1], cut))


def _after_last_stroke(session: Session, last: Pass, heard: float) -> float:
    due = [target.time_s for target in pass_targets(session.pattern, last, 0)]
    count = bisect_right(due, heard)
    if count == 0:
        return min([last.begins_s, *due])
    early = count < len(due) and due[count] - heard < heard - due[count - 1]
    return math.nextafter(due[count] if early else heard, math.inf)
