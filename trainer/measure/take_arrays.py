"""A judged take as arrays, one entry a target and one a hit.

Every measure works on these arrays. Times on the clock are seconds, small times milliseconds;
`offset_ms` is hit time minus target time (minus is early) and NaN where nothing was played, as is
`velocity`. NaN stays inside this package: a figure that could not be measured is None
(`trainer.measure.figure`). Voice, limb, level, note value and step are kept as codes; `names` has
the name of each code. A take without targets has empty arrays.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from trainer.kit.voices import ROW, VOICES, full_zone
from trainer.measure.stroke import is_foot_stroke, take_limits_s, unison_pairs
from trainer.pattern.as_played import hairpin_at, played_places
from trainer.pattern.model import LIMB_UNKNOWN, NOTE_VALUES, Level, Limb, bar_of
from trainer.practice.course import seconds_per_quarter
from trainer.practice.outcomes import (
    HIT_OUTCOMES,
    PLAYED,
    TARGET_OUTCOMES,
    zone_hit,
    zone_is_certain,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from trainer.pattern.model import Note, Pattern
    from trainer.practice.arrays import Bools, Floats, Ints
    from trainer.practice.outcomes import Judged


LIMBS = (*(limb.value for limb in Limb), LIMB_UNKNOWN)
LEVELS = tuple(level.value for level in Level)
ZONES = tuple(dict.fromkeys(zone for voice in VOICES.values() for zone in voice.zones))
"""The names behind the codes of limb, level and zone, in their order."""

RIGHT_HAND, LEFT_HAND, RIGHT_FOOT, LEFT_FOOT = (LIMBS.index(limb) for limb in Limb)
BOTH_HANDS, BOTH_FEET = (RIGHT_HAND, LEFT_HAND), (RIGHT_FOOT, LEFT_FOOT)


@dataclass(frozen=True, slots=True)
class TakeArrays:
    """The arrays of one take.

    Of each target: `main` (False for grace strokes), `played` (a main stroke, no choke, that landed
    on the right pad: what time and power are read from), `time_s` when it is due, `offset_ms`,
    `velocity` (1 to 127, through the pad's power curve where the kit has one), `position` (0 middle
    to 1 edge), `interval_s` (its note value in seconds), `beat` (quarter notes from the pattern's
    start), codes of `voice`, `limb`, `level`, `value`, `step` (place in its bar) and `outcome`,
    `grace`, `bar`, `foot` (True for a foot's stroke), `on_beat` (True on the written beats),
    `beat_s` (the written beat in seconds), `note` (index into the pattern's notes), `row` (which
    pass, counted from 0 in this take), `rung`, `tempo` (BPM) and `hit` (-1 for none). Of each hit:
    `hit_outcome`, `hit_voice` (-1 for a pad the kit does not know), `hit_target` (-1 for none) and
    `hit_inside` (False before the first and after the last written stroke). `zone` is the code of
    the written zone of a played target (-1 where the hit does not say), `landed` of the one it fell
    on. `louder` is how many steps of velocity the dynamics have a stroke above mf, `hairpin` which
    crescendo or diminuendo it is in (-1 for none). `unisons`, shaped (pairs, 2), are the pattern's
    notes meant to land together.
    """

    names: Mapping[str, tuple[str, ...]]
    main: Bools
    played: Bools
    time_s: Floats
    offset_ms: Floats
    velocity: Floats
    position: Floats
    interval_s: Floats
    beat: Floats
    voice: Ints
    limb: Ints
    level: Ints
    value: Ints
    step: Ints
    grace: Ints
    bar: Ints
    foot: Bools
    on_beat: Bools
    beat_s: Floats
    note: Ints
    row: Ints
    rung: Ints
    tempo: Floats
    outcome: Ints
    hit: Ints
    hit_outcome: Ints
    hit_voice: Ints
    hit_target: Ints
    hit_inside: Bools
    zone: Ints
    landed: Ints
    unisons: Ints
    louder: Floats
    hairpin: Ints

    def codes(self, key: str) -> Ints:
        """Return the codes of one column: voice, limb, level, value, step, bar, rung or row."""
        column: Ints = getattr(self, key)
        return column

    def name(self, key: str, code: int) -> str:
        """Return the name of a code; plain numbers (bar, rung, row) are their own names."""
        names = self.names.get(key)
        return str(code) if names is None else names[code]


def take_arrays(judged: Judged) -> TakeArrays:
    """Return the arrays of a judged take, in the order of its targets and hits."""
    pattern, passes, targets = judged.course.pattern, judged.course.passes, judged.targets
    rows = {one.index: row for row, one in enumerate(passes)}
    note = _ints([target.note_index for target in targets])
    row = _ints([rows[target.pass_index] for target in targets])
    quarter = _floats([seconds_per_quarter(pattern, one.tempo) for one in passes])
    names, columns = _note_columns(pattern)
    of_note: dict[str, Any] = {key: column[note] for key, column in columns.items()}
    pace = played_places(pattern).pace
    length = _floats(
        [float(NOTE_VALUES[one.value].length) * pace(one.beat) for one in pattern.notes]
    )
    time_s = _floats([target.time_s for target in targets])
    hit = _ints([-1 if one is None else one for one in judged.target_hit])
    outcome = _coded(judged.target_outcome, TARGET_OUTCOMES)
    main = of_note["grace"] == 0
    choke = _bools([target.note.choke for target in targets])
    of_note["beat_s"] = of_note["beat_s"] * quarter[row]
    zone, on = _zone_codes(judged)
    return TakeArrays(
        names=names,
        main=main,
        played=main & ~choke & (outcome == TARGET_OUTCOMES.index(PLAYED)) & (hit >= 0),
        time_s=time_s,
        offset_ms=(_of_hits([one.time_s for one in judged.hits], hit) - time_s) * 1000.0,
        velocity=np.where(choke, np.nan, _of_hits([one.strength for one in judged.hits], hit)),
        position=_of_hits([_or_nan(one.position) for one in judged.hits], hit),
        interval_s=length[note] * quarter[row],
        beat=_floats([float(one.beat) for one in pattern.notes])[note],
        note=note,
        row=row,
        rung=_ints([one.rung for one in passes])[row],
        tempo=_floats([one.tempo for one in passes])[row],
        outcome=outcome,
        hit=hit,
        hit_outcome=_coded(judged.hit_outcome, HIT_OUTCOMES),
        hit_voice=_ints([ROW[one.voice] if one.voice else -1 for one in judged.hits]),
        hit_target=_ints([-1 if one is None else one for one in judged.hit_target]),
        hit_inside=_hits_inside(judged),
        zone=zone,
        landed=on,
        louder=_floats([target.louder for target in targets]),
        unisons=_ints(unison_pairs(pattern.notes)).reshape(-1, 2),
        **of_note,
    )


def indexes_by_code(codes: Ints, which: Bools) -> list[tuple[int, Ints]]:
    """Return each code that occurs where `which` is true, with the indexes of its entries in order.

    One sort, so that many groups cost no more than few.
    """
    chosen = np.flatnonzero(which)
    order = chosen[np.argsort(codes[chosen], kind="stable")]
    found, starts = np.unique(codes[order], return_index=True)
    return list(zip(found.tolist(), np.split(order, starts[1:]), strict=True)) if len(found) else []


def _note_columns(pattern: Pattern) -> tuple[dict[str, tuple[str, ...]], dict[str, Any]]:
    """Codes of every written note, and the names of the codes; a take only looks them up."""
    notes = pattern.notes
    bars = [bar_of(pattern, note.beat) for note in notes]
    steps = [note.beat - pattern.bars[bar].start for note, bar in zip(notes, bars, strict=True)]
    values = sorted({note.value for note in notes}, key=lambda name: -NOTE_VALUES[name].length)
    step_order = sorted(set(steps))
    names: dict[str, tuple[str, ...]] = {
        "voice": tuple(ROW),
        "limb": LIMBS,
        "level": LEVELS,
        "value": tuple(values),
        "step": tuple(str(step) for step in step_order),
    }

    def column(of: Callable[[Note], str], key: str) -> Ints:
        return _coded([of(note) for note in notes], names[key])

    step_code = {step: code for code, step in enumerate(step_order)}
    return names, {
        "voice": column(lambda note: note.voice, "voice"),
        "limb": column(_limb_code, "limb"),
        "level": column(lambda note: note.level.value, "level"),
        "value": column(lambda note: note.value, "value"),
        "step": _ints([step_code[step] for step in steps]),
        "bar": _ints(bars),
        "grace": _ints([note.grace for note in notes]),
        "hairpin": _ints([hairpin_at(pattern, note.beat) for note in notes]),
        "foot": _bools([is_foot_stroke(note) for note in notes]),
        "beat_s": _floats([float(pattern.bars[bar].meter.beat) for bar in bars]),
        "on_beat": _bools(
            [
                step % pattern.bars[bar].meter.beat == 0
                for step, bar in zip(steps, bars, strict=True)
            ]
        ),
    }


def _limb_code(note: Note) -> str:
    """Return the limb that is written; of assumed hands no figure may say anything."""
    return note.written_limb.value if note.written_limb else LIMB_UNKNOWN


def _zone_codes(judged: Judged) -> tuple[Ints, Ints]:
    """Codes of the zone that is written and of the one that was hit, -1 where not known."""
    code = {zone: number for number, zone in enumerate(ZONES)}
    known: dict[tuple[int, str, frozenset[str]], tuple[int, int]] = {}
    found = [(-1, -1)] * len(judged.targets)
    for place, (target, number) in enumerate(zip(judged.targets, judged.target_hit, strict=True)):
        if number is None:
            continue
        note, hit = target.note, judged.hits[number]
        if hit.voice != note.voice:
            continue
        key = target.note_index, hit.zone, hit.zones
        if key not in known:
            written = code[full_zone(note.voice, note.zone)] if zone_is_certain(note, hit) else -1
            known[key] = written, code[zone_hit(note, hit)] if written >= 0 else -1
        found[place] = known[key]
    return _ints([one for one, _ in found]), _ints([one for _, one in found])


def _hits_inside(judged: Judged) -> Bools:
    first_s, last_s = take_limits_s(judged)
    return _bools([first_s <= hit.time_s <= last_s for hit in judged.hits])


def _coded(words: Sequence[str], names: Sequence[str]) -> Ints:
    code = {name: number for number, name in enumerate(names)}
    return _ints([code[word] for word in words])


def _of_hits(values: Sequence[float], hit: Ints) -> Floats:
    """Pick each target's value by its hit; NaN where it has none."""
    padded = _floats([*values, np.nan])
    return padded[hit]


def _or_nan(value: float | None) -> float:
    return np.nan if value is None else value


def _ints(values: Sequence[Any]) -> Ints:
    return np.array(values, dtype=np.int64)


def _bools(values: Sequence[bool]) -> Bools:
    return np.array(values, dtype=np.bool_)


def _floats(values: Sequence[float]) -> Floats:
    return np.array(values, dtype=np.float64)
