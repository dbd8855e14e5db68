"""Judged takes built by hand, so that each measure is tested apart from the matcher."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.kit.hits import Hit
from trainer.pattern.model import NOTE_VALUES, Bar, Level, Limb, Meter, Note, Pattern
from trainer.practice.course import Course, Pass, seconds_per_quarter
from trainer.practice.outcomes import Judged

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trainer.practice.course import Target


def line(voices: str, *, value: str = "16", limbs: str = "RL", start: Fraction = Fraction(0)):
    """Notes of one note value: a voice for each word of `voices`, limbs in turn (`-` is a rest)."""
    names = {"R": Limb.RH, "L": Limb.LH, "K": Limb.RF, "H": Limb.LF}
    length = NOTE_VALUES[value].length
    return [
        Note(start + at * length, voice, names[limbs[at % len(limbs)]], value=value)
        for at, voice in enumerate(voices.split())
        if voice != "-"
    ]


def pattern(*lines: list[Note], bars: int | None = None) -> Pattern:
    """A pattern in 4/4 from lines of notes, as many bars as they need."""
    notes = sorted((note for one in lines for note in one), key=lambda n: (n.beat, n.voice))
    end = max((note.beat for note in notes), default=Fraction(0))
    count = bars or int(end // 4) + 1
    grid = tuple(Bar(Fraction(4 * bar), Meter()) for bar in range(count))
    return Pattern("made", "made by hand", grid, tuple(notes))


def walk(bars: int = 1) -> Pattern:
    """Sixteenths by fives and threes on four drums, with kick and pedal on the quarters."""
    hands = " ".join(["snare"] * 5 + ["tom1"] * 3 + ["tom2"] * 5 + ["floor"] * 3)
    feet = " ".join(["kick"] * 4), " ".join(["- pedal"] * 2)
    return pattern(
        line(" ".join([hands] * bars)),
        line(" ".join([feet[0]] * bars), value="4", limbs="K"),
        line(" ".join([feet[1]] * bars), value="4", limbs="H"),
    )


def course(one: Pattern, passes: int = 1, tempo: float = 100.0, rungs: bool = False) -> Course:
    """The pattern played several times in a row at one tempo."""
    length = float(one.length) * seconds_per_quarter(one, tempo)
    return Course(
        one,
        tuple(Pass(i, tempo, 2.0 + i * length, rung=i if rungs else 0) for i in range(passes)),
    )


def judged(
    laid: Course,
    *,
    offset_ms: Callable[[Target], float | None] = lambda target: 0.0,
    velocity: Callable[[Target], int] = lambda target: 90,
    outcome: Callable[[Target], str] = lambda target: "played",
    extras: Sequence[tuple[float, str]] = (),
    position: Callable[[Target], float | None] = lambda target: None,
) -> Judged:
    """A take where each target is hit `offset_ms` off (None: missed), and `extras` came besides.

    `extras` are pairs of a time in seconds and a hit outcome.
    """
    targets = laid.targets()
    due = [(offset_ms(target), target) for target in targets]
    made = [(t.time_s + ms / 1000, t, outcome(t)) for ms, t in due if ms is not None]
    made += [(time_s, None, name) for time_s, name in extras]
    made.sort(key=lambda row: row[0])
    hits = tuple(
        Hit(index, time_s, 38, velocity(t), t.note.voice, _zone(t, name), position(t))
        if t
        else Hit(index, time_s, 38, 60, "snare")
        for index, (time_s, t, name) in enumerate(made)
    )
    hit_of = {t.index: index for index, (_, t, _) in enumerate(made) if t}
    of_target = {t.index: name for _, t, name in made if t}
    return Judged(
        course=laid,
        targets=targets,
        hits=hits,
        target_outcome=tuple(
            "played" if of_target.get(t.index) == "rim" else of_target.get(t.index, "missed")
            for t in targets
        ),
        target_hit=tuple(hit_of.get(t.index) for t in targets),
        hit_outcome=tuple(name for *_, name in made),
        hit_target=tuple(t.index if t else None for _, t, _ in made),
    )


def _zone(target: Target, outcome: str) -> str:
    return "rim" if outcome == "rim" else target.note.zone


def player(seed: int, jitter_ms: float, mean_ms: float = 0.0) -> Callable[[Target], float]:
    """A player whose every stroke is off by normal chance."""
    rng = random.Random(seed)
    return lambda target: rng.gauss(mean_ms, jitter_ms)


def levels(one: Pattern, level: Callable[[int, Note], Level]) -> Pattern:
    """The pattern with each note's level replaced."""
    notes = tuple(replace(note, level=level(i, note)) for i, note in enumerate(one.notes))
    return replace(one, notes=notes)
