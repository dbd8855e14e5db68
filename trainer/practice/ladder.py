"""The tempo ladder: the rules for the next rung, and the ladder as the plan of a session.

All rules are pure: a `Ladder` says what the player chose, and from where the player is on it and
whether the rung was clean follows the next rung. Tempos are BPM.

- *aimed*: what all rungs say about the ceiling decides (`trainer.practice.ceiling_search`): a
  ladder that knows no ceiling looks for it, one that does is played where four rungs in five are
  clean. It moves by `step` at most, halved at each turn, down to 1 BPM.
- *steady*: one step up when clean; when not, the same tempo again; after two failures in a row one
  step back. In the long run some three rungs in ten are clean.
- *adaptive*: up-down after Levitt 1971 (J. Acoust. Soc. Am. 49:467-477): up after 1, 2 or 3 clean
  rungs in a row, down after one that was not, with the step halved at each reversal until it
  reaches `smallest`. Such a ladder settles where the chance to be clean is 0.5 ** (1 / n): 50,
  70.7 or 79.4%.
- *longer*: the tempo stays. A clean rung makes the next one twice as long, another one half.

None leaves the range from `bottom` to `top`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from trainer.errors import BadInput
from trainer.pattern.model import MAX_TEMPO, MIN_TEMPO
from trainer.practice.ceiling_search import KnownCeiling, aimed_tempo
from trainer.practice.course import check_tempo

AIMED, STEADY, ADAPTIVE, LONGER = "aimed", "steady", "adaptive", "longer"
LADDER_RULES = (AIMED, STEADY, ADAPTIVE, LONGER)
FAILURES_TO_STEP_BACK = 2
MAX_STEP = 100.0

AIMED_STEP, STEADY_STEP = 8.0, 1.0
"""The largest step of an aimed ladder, and the step of the others, unless the player chooses."""

START_SHARE = 0.90
"""Without a start a ladder begins at this share of the tempo at which three rungs
in four are clean, which is itself below the ceiling: low enough to begin with a few clean ones. Our
own choice."""


@dataclass(frozen=True, slots=True)
class Ladder:
    """What the player chose. `clean_to_rise` counts clean rungs in a row (adaptive only).

    `known` is the ceiling of former days (aimed only).
    """

    start: float
    step: float = 1.0
    top: float = MAX_TEMPO
    bottom: float = MIN_TEMPO
    rule: str = STEADY
    clean_to_rise: int = 1
    smallest: float = 0.5
    known: KnownCeiling | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """Where on the ladder the player is: the tempo of the rung to play, and what led there.

    `run` counts clean rungs (above 0) or failed ones (below 0) in a row at this tempo; `heading` is
    +1 after a step up, -1 after a step down, 0 before the first; `reversals` are the tempos at
    which the heading turned; `played` are the rungs so far (aimed only) as tempo and clean; `times`
    is how many times longer than the first a rung is (longer only).
    """

    tempo: float
    step: float
    run: int = 0
    heading: int = 0
    reversals: tuple[float, ...] = ()
    played: tuple[tuple[float, bool], ...] = ()
    times: int = 1


@dataclass(frozen=True, slots=True)
class RungVerdict:
    """A rung's verdict: clean or not, and what failed in words, worst first.

    `undecided` is True where more strokes may still decide either way. `tightest` is what came
    closest to its limit in a clean rung. `strokes` is how many were written.
    """

    clean: bool
    failed: tuple[str, ...] = ()
    undecided: bool = False
    tightest: str = ""
    strokes: int = 0


def chosen_rule(rule: str | None, step: float | None) -> tuple[str, float]:
    """Return rule and step where the player left one or both open.

    A step alone means steps of that size, and so the steady rule.
    """
    rule = rule or (AIMED if step is None else STEADY)
    return rule, step or (AIMED_STEP if rule == AIMED else STEADY_STEP)


def check_ladder(ladder: Ladder) -> Ladder:
    """Return the ladder, or raise BadInput for one that cannot move or leaves the range."""
    check_tempo(ladder.start)
    check_tempo(ladder.top)
    if not 0 < ladder.step <= MAX_STEP:
        raise BadInput(
            f"a ladder cannot move in steps of {ladder.step:g} BPM",
            fix=f"choose a step above 0 and at most {MAX_STEP:g}, 1 or 2 for instance",
        )
    if ladder.top < ladder.start:
        raise BadInput(
            f"the top of the ladder, {ladder.top:g} BPM, is below its start, {ladder.start:g} BPM",
            fix="choose a higher top or a lower start",
        )
    if ladder.rule not in LADDER_RULES:
        raise BadInput(
            f'there is no ladder rule "{ladder.rule}"', fix="choose " + " or ".join(LADDER_RULES)
        )
    if ladder.clean_to_rise not in (1, 2, 3):
        raise BadInput(
            f"{ladder.clean_to_rise} clean rungs to go up is not a choice", fix="choose 1, 2 or 3"
        )
    return ladder


def first_standing(ladder: Ladder) -> Standing:
    """Return where a ladder begins: on its first rung."""
    return Standing(ladder.start, ladder.step)


def next_standing(ladder: Ladder, standing: Standing, clean: bool) -> Standing:
    """Return where a ladder is next, once the rung was clean or was not."""
    run = _run_after(standing.run, clean)
    if ladder.rule == AIMED:
        return _aimed(ladder, standing, clean)
    if ladder.rule == LONGER:
        times = min(MOST_TIMES, 2 * standing.times) if clean else max(1, standing.times // 2)
        return replace(standing, run=run, times=times)
    if ladder.rule == STEADY:
        up, down = clean, run <= -FAILURES_TO_STEP_BACK
    else:
        up, down = run >= ladder.clean_to_rise, not clean
    if up:
        return _moved(ladder, standing, 1)
    if down:
        return _moved(ladder, standing, -1)
    return replace(standing, run=run)


def _run_after(run: int, clean: bool) -> int:
    if clean:
        return max(run, 0) + 1
    return min(run, 0) - 1


def _aimed(ladder: Ladder, standing: Standing, clean: bool) -> Standing:
    """Return the ladder at the tempo that the aim calls for, a step away at most."""
    played = (*standing.played, (standing.tempo, clean))
    goal = aimed_tempo(played, ladder.known)
    away = goal - standing.tempo
    heading = (away > 0) - (away < 0)
    step = standing.step
    if standing.heading and heading == -standing.heading:
        step = max(step / 2, min(STEADY_STEP, ladder.step))
    tempo = standing.tempo + _whole(min(step, max(-step, away)), step)
    tempo = min(max(tempo, ladder.bottom), ladder.top)
    return Standing(tempo, step, heading=heading or standing.heading, played=played)


def _whole(move: float, step: float) -> float:
    """Return a move in whole BPM, or in tenths where steps are smaller, no further than a step."""
    unit = 1.0 if step >= 1.0 else 0.1
    return unit * (
        round(move / unit) if abs(round(move / unit)) * unit <= step else int(move / unit)
    )


MOST_TIMES = 64
"""How many times longer than the first a rung may become."""


def _moved(ladder: Ladder, standing: Standing, heading: int) -> Standing:
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


STROKES_A_RUNG = 64
"""Strokes from which on a stretch at one tempo is read like a rung."""
