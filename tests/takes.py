"""Made takes with known truth: who was meant by every hit, because we made it.

A maker of its own, apart from the simulated player of the product, so that the matcher is not
judged by a player that shares its ideas. Everything is drawn from one seeded generator.
"""

from __future__ import annotations

import gc
import tracemalloc
from dataclasses import dataclass, field, replace
from fractions import Fraction

import numpy as np

from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.kit.voices import VOICES
from trainer.pattern.model import NOTE_VALUES, Bar, Level, Limb, Meter, Note, Pattern, note_order
from trainer.practice.course import Course, Pass
from trainer.practice.matcher import LiveTake

HANDS = (Limb.RH, Limb.LH)
DRUMS = ("snare", "tom1", "tom2", "floor", "hihat", "ride")


@dataclass(frozen=True)
class Player:
    """How a made player plays. Seconds and shares; `limb_lag` adds to single limbs."""

    jitter: float = 0.009
    wander: float = 0.012
    wander_kind: str = "ar"
    wander_memory: float = 3.0
    lag: float = 0.031
    miss: float = 0.02
    wrong: float = 0.02
    stray: float = 0.02
    double: float = 0.06
    double_delay: tuple[float, float] = (0.008, 0.035)
    double_level: tuple[float, float] = (0.3, 0.7)
    even_velocity: bool = False
    limb_lag: dict[Limb, float] = field(default_factory=dict)
    wrong_anywhere: bool = False
    stray_anywhere: bool = True
    stops: int = 0


@dataclass(frozen=True)
class Take:
    """A made take: the course, its strikes in time order, and the target meant by each or None."""

    course: Course
    strikes: tuple[Strike, ...]
    truth: tuple[int | None, ...]


def pattern(notes: list[Note], quarters: int, title: str = "made") -> Pattern:
    """Return a pattern of the notes, in bars of 4/4 (the last one shorter where needed)."""
    bars = [
        Bar(Fraction(start), Meter(min(4, quarters - start))) for start in range(0, quarters, 4)
    ]
    return Pattern(title, title, tuple(bars), tuple(sorted(notes, key=note_order)))


def run(start: int, quarters: int, value: str, voices: list[str], grace: int = 0) -> list[Note]:
    """Return hand strokes of one note value; `voices` is gone through round and round."""
    step, found = NOTE_VALUES[value].length, []
    for count in range(int(quarters / step)):
        beat, voice, limb = start + count * step, voices[count % len(voices)], HANDS[count % 2]
        level = Level.ACCENT if count % 4 == 0 else Level.NORMAL
        found.append(Note(beat, voice, limb, level, value=value))
        if grace and count % grace == 0:
            found.append(Note(beat, voice, HANDS[1 - count % 2], Level.GHOST, value=value, grace=1))
    return found


def feet(quarters: int, every: Fraction = Fraction(1), hat: str = "pedal") -> list[Note]:
    """Return kick and hi-hat together at every such distance."""
    beats = [count * every for count in range(int(quarters / every))]
    return [Note(beat, "kick", Limb.RF, value="4") for beat in beats] + [
        Note(beat, hat, Limb.LF, value="4") for beat in beats
    ]


WALKED = ("snare", "tom2", "floor", "ride")


def fives_and_threes(order: tuple[str, ...] = WALKED) -> list[str]:
    """Return the drums of a bar of sixteenths: five on the first, three on the next, and so on."""
    return [drum for place, drum in enumerate(order) for _ in range(3 if place % 2 else 5)]


def walk(order: tuple[str, ...] = WALKED, hat: str = "pedal") -> Pattern:
    """Fives and threes in sixteenths on four drums, feet in unison on the quarters."""
    return pattern(run(0, 12, "16", fives_and_threes(order)) + feet(12, hat=hat), 12, "walk")


def single_walk() -> Pattern:
    """One sixteenth on each of five drums in turn, feet on the eighths."""
    notes = run(0, 15, "16", [*WALKED, "tom1"]) + feet(15, Fraction(1, 2))
    return pattern(notes, 15, "single walk")


def climb(
    values: tuple[str, ...] = ("8", "16", "8t", "16q", "16t", "32"), move: int = 3
) -> Pattern:
    """A bar of each note value around four drums, feet on the quarters."""
    notes = feet(4 * len(values))
    for bar, value in enumerate(values):
        notes += run(4 * bar, 4, value, [d for d in WALKED for _ in range(move)])
    return pattern(notes, 4 * len(values), "climb")


def roll(value: str = "16") -> Pattern:
    """One drum only."""
    return pattern(run(0, 8, value, ["snare"]), 8, f"roll {value}")


def flams() -> Pattern:
    """Sixteenths around the drums with a flam on every fourth stroke."""
    return pattern(run(0, 12, "16", fives_and_threes(), grace=4) + feet(12), 12, "flams")


def groove() -> Pattern:
    """Eighths on the hi-hat, backbeat, ghosts, a kick that moves: four voices, many unisons."""
    notes = run(0, 8, "8", ["hihat"])
    for beat in (1, 3, 5, 7):
        notes.append(Note(Fraction(beat), "snare", Limb.LH, Level.ACCENT))
        notes.append(Note(beat + Fraction(3, 4), "snare", Limb.LH, Level.GHOST))
    for place in ("0", "3/2", "5/2", "4", "11/2", "27/4"):
        notes.append(Note(Fraction(place), "kick", Limb.RF))
    return pattern(notes, 8, "groove")


def lay(one: Pattern, tempo: float, seconds: float, start_s: float = 2.0) -> Course:
    """Return a course of as many passes as fill the seconds."""
    length = float(one.length) * 60.0 / tempo
    passes = max(1, round(seconds / length))
    return Course(one, tuple(Pass(n, tempo, start_s + n * length) for n in range(passes)))


def phase(rng: np.random.Generator, times: np.ndarray, player: Player) -> np.ndarray:
    """Return how late the player is at each time, before jitter: lag and wander, in seconds."""
    grid = np.arange(times[0] - 1.0, times[-1] + 1.0, 0.05)
    if player.wander_kind == "sine":
        period = rng.uniform(4.0, 15.0)
        moved = np.sqrt(2) * np.sin(2 * np.pi * grid / period + rng.uniform(0, 6.3))
    elif player.wander_kind == "walk":
        # A random walk that is as far out as stated after ten seconds, pulled back at its bounds.
        moved, at = np.zeros(len(grid)), 0.0
        for n, step in enumerate(rng.normal(0, np.sqrt(0.05 / 10.0), len(grid))):
            at = float(np.clip(at + step, -2, 2))
            moved[n] = at
    else:
        keep = np.exp(-0.05 / player.wander_memory)
        moved = np.empty(len(grid))
        moved[0] = rng.normal()
        for n, noise in enumerate(rng.normal(0, np.sqrt(1 - keep**2), len(grid) - 1)):
            moved[n + 1] = keep * moved[n] + noise
    return player.lag + player.wander * np.interp(times, grid, moved)


def neighbours(voice: str, pool: tuple[str, ...]) -> list[str]:
    """Return the two pads of the pool nearest to a voice, feet among feet."""
    x, y = VOICES[voice].place
    others = [v for v in pool if v != voice and VOICES[v].foot == VOICES[voice].foot]
    others.sort(key=lambda v: (VOICES[v].place[0] - x) ** 2 + (VOICES[v].place[1] - y) ** 2)
    return others[:2]


def make(course: Course, player: Player, seed: int) -> Take:
    """Return the take of a player on a course."""
    rng = np.random.default_rng(seed)
    targets = course.targets()
    times = np.array([target.time_s for target in targets])
    when = times + phase(rng, times, player) + rng.normal(0, player.jitter, len(times))
    # A grace stroke hangs on its main stroke: hand and hand leave together.
    for index, target in enumerate(targets):
        if target.note.grace:
            main = next(
                n
                for n in range(index + 1, len(targets))
                if targets[n].note.grace == 0 and targets[n].note.voice == target.note.voice
            )
            when[index] = times[index] + when[main] - times[main] + rng.normal(0, 0.005)
    when += [player.limb_lag.get(target.note.limb, 0.0) for target in targets]
    silent = rng.random(len(times)) < player.miss
    for _ in range(player.stops):
        begin = rng.uniform(times[0], times[-1])
        silent |= (times > begin) & (times < begin + rng.uniform(1.0, 5.0))
    used = tuple(sorted({target.note.voice for target in targets}))
    pads = (*DRUMS, "kick", "pedal", "crash") if player.wrong_anywhere else (*used, "kick", "pedal")
    level = {Level.ACCENT: 110, Level.NORMAL: 85, Level.GHOST: 40}
    made: list[tuple[float, int, int, int | None]] = []
    for index, target in enumerate(targets):
        if silent[index]:
            continue
        voice = target.note.voice
        # A foot hardly ever lands on another pedal.
        wrong = player.wrong * (0.1 if VOICES[voice].foot else 1.0)
        if rng.random() < wrong and (near := neighbours(voice, pads)):
            voice = near[int(rng.integers(len(near)))]
        note = GENERAL_MIDI.note(voice)
        assert note is not None
        loud = 90 if player.even_velocity else level[target.note.level] + rng.normal(0, 9)
        made.append((when[index], note, int(np.clip(loud, 1, 127)), index))
        if rng.random() < player.double:
            softer = 1.0 if player.even_velocity else rng.uniform(*player.double_level)
            again = when[index] + rng.uniform(*player.double_delay)
            made.append((again, note, int(np.clip(loud * softer, 1, 127)), None))
    made += _strays(rng, times, player, used)
    made.sort(key=lambda one: one[0])
    strikes = tuple(Strike(float(time), note, velocity) for time, note, velocity, _ in made)
    return Take(course, strikes, tuple(one[3] for one in made))


def _strays(
    rng: np.random.Generator, times: np.ndarray, player: Player, used: tuple[str, ...]
) -> list[tuple[float, int, int, None]]:
    voices = (*DRUMS, "crash") if player.stray_anywhere else used
    notes = [GENERAL_MIDI.note(voice) for voice in voices]
    if player.stray_anywhere:
        notes += [60, 75]
    count = rng.poisson(player.stray * len(times))
    return [
        (
            float(rng.uniform(times[0], times[-1]) + player.lag),
            int(notes[int(rng.integers(len(notes)))] or 38),
            90 if player.even_velocity else int(rng.integers(15, 110)),
            None,
        )
        for _ in range(count)
    ]


def draw_player(rng: np.random.Generator) -> Player:
    """Return a player anywhere in the stated ranges."""
    limb = rng.choice([-1, 1], 4) * rng.uniform(0, 0.012, 4)
    late = rng.uniform(0.005, 0.020)
    delay = (late, late) if rng.random() < 0.3 else (0.005, rng.uniform(0.025, 0.040))
    return Player(
        jitter=rng.uniform(0.006, 0.012),
        wander=rng.uniform(0.008, 0.015),
        wander_kind=str(rng.choice(["ar", "walk", "sine"])),
        wander_memory=rng.uniform(1.0, 6.0),
        lag=rng.uniform(0.028, 0.035),
        miss=rng.uniform(0.01, 0.05),
        wrong=rng.uniform(0.01, 0.05),
        stray=rng.uniform(0.01, 0.05),
        double=rng.uniform(0.02, 0.15),
        double_delay=delay,
        even_velocity=bool(rng.random() < 0.3),
        limb_lag={one: float(limb[n]) for n, one in enumerate(Limb)} if rng.random() < 0.6 else {},
        wrong_anywhere=bool(rng.random() < 0.5),
        stray_anywhere=bool(rng.random() < 0.6),
    )


KINDS = {
    "walk": lambda rng: walk(tuple(rng.permutation(WALKED)), str(rng.choice(["pedal", "hihat"]))),
    "single walk": lambda rng: single_walk(),
    "climb": lambda rng: climb(move=int(rng.choice([1, 3]))),
    "roll": lambda rng: roll(str(rng.choice(["8", "16"]))),
    "flams": lambda rng: flams(),
    "groove": lambda rng: groove(),
}


def draw(kind: str, seed: int, seconds: float = 60.0, **changes: object) -> Take:
    """Return a take of a kind (a key of KINDS), player and tempo drawn from the seed."""
    rng = np.random.default_rng([seed, len(kind)])
    one = KINDS[kind](rng)
    slow, fast = (90.0, 130.0) if kind == "climb" else (90.0, 180.0)
    course = lay(one, rng.uniform(slow, fast), seconds)
    return make(course, replace(draw_player(rng), **changes), seed)  # type: ignore[arg-type]


STEADY = {"miss": 0.0, "wrong": 0.0, "stray": 0.0, "double": 0.0}
"""What to draw a player with who does nothing wrong."""


def share_right(
    take: Take, hit_target: tuple[int | None, ...], among: list[bool] | None = None
) -> float:
    """Return the share of hits, all or some, with the right target, or rightly none."""
    rows = zip(take.truth, hit_target, among or [True] * len(hit_target), strict=True)
    right = [one == other for one, other, counts in rows if counts]
    return sum(right) / max(1, len(right))


def plain(take: Take) -> list[bool]:
    """Return for each hit whether its truth is plain: nobody who saw the hits could doubt it.

    It is on its own drum, nearer to its note than to any other note (after the take's middle lag,
    half the way to the next being the limit), and within that distance no note was left out and
    nothing was added or struck on a wrong drum.
    """
    targets = take.course.targets()
    times = np.array([one.time_s for one in targets])
    moments = np.unique(times.round(6))
    gaps = np.diff(moments, prepend=-np.inf, append=np.inf)
    at = np.searchsorted(moments, times.round(6))
    half = np.minimum(np.minimum(gaps[at], gaps[at + 1]), 1.0) / 2
    pads = [GENERAL_MIDI.pad(strike.note) for strike in take.strikes]
    own = [
        bool(pad and one is not None and pad.voice == targets[one].note.voice)
        for pad, one in zip(pads, take.truth, strict=True)
    ]
    meant = [0 if one is None else one for one in take.truth]
    struck = np.array([one.time_s for one in take.strikes])
    late = struck - times[meant]
    lag = float(np.median(late[own]))
    left_out = np.setdiff1d(np.arange(len(times)), [one for one in take.truth if one is not None])
    odd = np.concatenate([times[left_out], struck[np.logical_not(own)] - lag, [np.inf]])
    near = np.abs(odd[None, :] - (struck - lag)[:, None]).min(axis=1)
    return list(np.array(own) & (np.abs(late - lag) < half[meant]) & (near > half[meant]))


def memory_of_matching(strokes: int, note: int | None = None) -> list[int]:
    """Return the bytes held after every half minute of a walk that is judged live.

    Every stroke is on the dot, or a note that the kit does not know halfway to the next. What only
    waits to be collected is not held.
    """
    targets = lay(walk(), 150.0, 30.0).targets()
    length_s = targets[-1].time_s - targets[0].time_s + 1.0
    one = LiveTake(GENERAL_MIDI, walk())
    held = []
    tracemalloc.start()
    for part in range(strokes // len(targets) + 1):
        later = part * length_s
        one.begin([replace(due, time_s=due.time_s + later) for due in targets])
        for due in targets:
            time_s = due.time_s + later + (0.05 if note else 0.0)
            one.strike(Strike(time_s, note or GENERAL_MIDI.note(due.note.voice) or 0, 90))
            one.settle(time_s)
        gc.collect()
        held.append(tracemalloc.get_traced_memory()[0])
    tracemalloc.stop()
    return held
