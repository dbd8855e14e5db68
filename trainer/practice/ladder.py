"""The rules of a tempo ladder: where to go after a rung that was clean, or was not.

Two rules, both pure: a `Ladder` says what the player chose, a `Standing` where they are, and
`after(ladder, standing, clean)` gives the next standing. Tempos are BPM.

- *steady*: one step up when clean; when not, the same tempo again; after two failures in a row one
  step back.
- *adaptive*: up-down after Levitt 1971 (J. Acoust. Soc. Am. 49:467-477): up after 1, 2 or 3 clean
  rungs in a row, down after one that was not, with the step halved at each reversal until it
  reaches `smallest`. Such a ladder settles where the chance to be clean is 0.5 ** (1 / n): 50,
  70.7 or 79.4 %.

Neither leaves the range from `bottom` to `top`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from trainer.errors import BadInput
from trainer.practice.course import MAX_TEMPO, MIN_TEMPO, check_tempo

STEADY, ADAPTIVE = "steady", "adaptive"
RULES = (STEADY, ADAPTIVE)
FAILURES_TO_STEP_BACK = 2
MAX_STEP = 100.0

START_SHARE = 0.90
"""A ladder that is not told where to start begins at this share of the tempo at which three rungs
in four are clean, which is itself below the ceiling: low enough to begin with a few clean ones. Our
own choice."""


@dataclass(frozen=True, slots=True)
class Ladder:
    """What the player chose. `clean_to_rise` counts clean rungs in a row (adaptive only)."""

    start: float
    step: float = 1.0
    top: float = MAX_TEMPO
    bottom: float = MIN_TEMPO
    rule: str = STEADY
    clean_to_rise: int = 1
    smallest: float = 0.5


@dataclass(frozen=True, slots=True)
class Standing:
    """Where on the ladder the player stands: the tempo of the rung to play, and what led there.

    `run` counts clean rungs (above 0) or failed ones (below 0) in a row at this tempo; `heading` is
    +1 after a step up, -1 after a step down, 0 before the first; `reversals` are the tempos at
    which the heading turned.
    """

    tempo: float
    step: float
    run: int = 0
    heading: int = 0
    reversals: tuple[float, ...] = ()


def check(ladder: Ladder) -> Ladder:
    """Return the ladder, or raise BadInput for one that cannot move or leaves the range."""
    check_tempo(ladder.start)
    check_tempo(ladder.top)
    if not 0 < ladder.step <= MAX_STEP:
        raise BadInput(
            f"a ladder cannot move in steps of {ladder.step:g} BPM",
            mend=f"choose a step above 0 and at most {MAX_STEP:g}, 1 or 2 for instance",
        )
    if ladder.top < ladder.start:
        raise BadInput(
            f"the top of the ladder, {ladder.top:g} BPM, is below its start, {ladder.start:g} BPM",
            mend="choose a higher top or a lower start",
        )
    if ladder.rule not in RULES:
        raise BadInput(
            f'there is no ladder rule "{ladder.rule}"', mend="choose " + " or ".join(RULES)
        )
    if ladder.clean_to_rise not in (1, 2, 3):
        raise BadInput(
            f"{ladder.clean_to_rise} clean rungs to go up is not a choice", mend="choose 1, 2 or 3"
        )
    return ladder


def begin(ladder: Ladder) -> Standing:
    """Return the standing on the first rung."""
    return Standing(ladder.start, ladder.step)


def after(ladder: Ladder, standing: Standing, clean: bool) -> Standing:
    """Return the next standing once the rung at `standing.tempo` was clean, or was not."""
    run = _run(standing.run, clean)
    if ladder.rule == STEADY:
        up, down = clean, run <= -FAILURES_TO_STEP_BACK
    else:
        up, down = run >= ladder.clean_to_rise, not clean
    if up:
        return _move(ladder, standing, 1)
    if down:
        return _move(ladder, standing, -1)
    return replace(standing, run=run)


def _run(run: int, clean: bool) -> int:
    if clean:
        return max(run, 0) + 1
    return min(run, 0) - 1


def _move(ladder: Ladder, standing: Standing, heading: int) -> Standing:
    turned = standing.heading not in (0, heading)
    step = standing.step
    if turned and ladder.rule == ADAPTIVE:
        step = max(step / 2, min(ladder.smallest, ladder.step))
    tempo = min(max(standing.tempo + heading * step, ladder.bottom), ladder.top)
    return Standing(
        tempo=tempo,
        step=step,
        heading=heading,
        reversals=(*standing.reversals, standing.tempo) if turned else standing.reversals,
    )
