"""The line of the hands: a sticking over a path at one note value, a rhythm or a climb.

The sticking goes round step by step and the path stop by stop, each in its own time: a stroke of
the hands takes the next stop (or the stop of its beat or bar), a rest and a foot take none. Grace
strokes fall on the drum of their main stroke.

The parts of a path come in all orders, or in a random choice that the same seed repeats.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import cycle, islice
from random import Random
from typing import TYPE_CHECKING, TypeVar

from trainer.errors import BadInput
from trainer.pattern.language.spelling import Spot, Stop, Stroke, mirrored, rolled_value
from trainer.pattern.model import MAX_STROKES, NOTE_VALUES, Bar, Level, Limb, Meter, Note, NoteValue

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterator, Sequence


MAX_PARTS = 64
"""More parts than anybody can keep apart, and still quickly counted."""

Part = TypeVar("Part", bound="Hashable")


def order_count(parts: Sequence[Part]) -> int:
    """Return how many different orders the parts have; equal parts exchanged count once."""
    total = math.factorial(len(parts))
    for same in Counter(parts).values():
        total //= math.factorial(same)
    return total


def chosen_orders(
    parts: Sequence[Part], wanted: int | None, seed: int = 0
) -> list[tuple[Part, ...]]:
    """Return `wanted` different orders drawn by a seed, or all of them where it is None.

    All orders come sorted by the places the parts have in the text, the written order first, as
    `itertools.permutations` gives them. Raises BadInput with the count when there are too many to
    write out, or fewer than wanted.
    """
    if len(parts) > MAX_PARTS:
        raise BadInput(
            f"{len(parts)} parts have more orders than can be counted",
            fix=f"take at most {MAX_PARTS} parts",
        )
    possible = order_count(parts)
    if wanted is not None and wanted > possible:
        raise BadInput(
            f"{wanted} orders are too many: {len(parts)} parts have only {possible}",
            fix=f"write {possible} or fewer",
        )
    asked = possible if wanted is None else wanted
    if asked * len(parts) > MAX_STROKES:
        every = "every order of " if wanted is None else ""
        raise BadInput(
            f"{every}{len(parts)} parts makes {_number(asked)} orders, more than fit a pattern",
            fix="take fewer parts, or a number of orders with a seed",
        )
    places = [list(parts).index(part) for part in parts]
    found = (
        _random_orders(places, wanted, Random(seed))
        if wanted is not None
        else _all_orders(sorted(places))
    )
    return [tuple(parts[place] for place in order) for order in found]


def _number(count: int) -> str:
    return str(count) if count < 10**18 else f"{float(count):.1e}"


def _all_orders(order: list[int]) -> list[tuple[int, ...]]:
    """Return every different order of sorted numbers, in dictionary order."""
    found = [tuple(order)]
    while True:
        turn = len(order) - 2
        while turn >= 0 and order[turn] >= order[turn + 1]:
            turn -= 1
        if turn < 0:
            return found
        other = len(order) - 1
        while order[other] <= order[turn]:
            other -= 1
        order[turn], order[other] = order[other], order[turn]
        order[turn + 1 :] = reversed(order[turn + 1 :])
        found.append(tuple(order))


def _random_orders(places: list[int], wanted: int, dice: Random) -> list[tuple[int, ...]]:
    """Draw different orders; only `random()` is used, whose numbers Python promises to keep."""
    drawn: dict[tuple[int, ...], None] = {}
    while len(drawn) < wanted:
        order = list(places)
        for last in range(len(order) - 1, 0, -1):
            pick = int(dice.random() * (last + 1))
            order[last], order[pick] = order[pick], order[last]
        drawn[tuple(order)] = None
    return list(drawn)


SNARE = Stop(Spot("snare"), Spot("snare"))
ALTERNATING = (Stroke("R"), Stroke("L"))
_FEET = {"K": ("kick", Limb.RF), "H": ("pedal", Limb.LF)}
_HANDS = {"R": Limb.RH, "L": Limb.LH}
_SWAP = str.maketrans("RL", "LR")


@dataclass(frozen=True, slots=True)
class Hands:
    """What the hands play.

    `values` is the rhythm of the steps, going round (one value: an even line), or with `climb` the
    value of each bar. `order_count` is None for the path as written, 0 for all its orders, else how
    many of them a seed draws; each is played `each` times. `shift` moves the figure by steps.
    """

    sticking: tuple[Stroke, ...] = ALTERNATING
    values: tuple[NoteValue, ...] = (NOTE_VALUES["16"],)
    climb: bool = False
    path: tuple[tuple[Stop, ...], ...] = ((SNARE,),)
    per: str = "stroke"
    order_count: int | None = None
    each: int = 1
    seed: int = 0
    shift: int = 0

    def mirrored(self) -> Hands:
        """Return the same line with the hands exchanged; every stop keeps its drum for each."""
        return replace(self, sticking=mirrored(self.sticking))

    def is_figure(self) -> bool:
        """Return whether the sticking is a figure that one hand leads, as a five stroke roll is.

        R L, R R L L or a paradiddle are none: exchanging the hands only begins them elsewhere.
        """
        who = "".join(stroke.who for stroke in self.sticking)
        return not self.climb and len(who) > 2 and who.translate(_SWAP) not in who + who

    def led_by_both(self) -> Hands:
        """Return the line with its figure led by each hand in turn."""
        return replace(self, sticking=self.sticking + mirrored(self.sticking))

    def with_accents_moved(self, by: int) -> Hands:
        """Return the line with accents and ghosts so many strokes later; hands and drums stay."""
        strokes = [stroke for stroke in self.sticking if stroke.who != "-"]
        levels = (strokes[(at - by) % len(strokes)].level for at in range(len(strokes)))
        moved = (
            stroke if stroke.who == "-" else replace(stroke, level=next(levels))
            for stroke in self.sticking
        )
        return replace(self, sticking=tuple(moved))

    def with_accents(self, levels: Sequence[Level]) -> Hands:
        """Return the line with its loudness from a line of its own, which goes round step by step.

        Raises BadInput where both take too long to come round together.
        """
        count = math.lcm(len(self.sticking), len(levels))
        if count > MAX_STROKES:
            raise BadInput(
                f"sticking and accents come round together only after {count} steps",
                where="hands.accents",
                fix="write a shorter line",
            )
        steps = zip(self.sticking * (count // len(self.sticking)), cycle(levels), strict=False)
        louder = (
            stroke if stroke.who == "-" else replace(stroke, level=level) for stroke, level in steps
        )
        return replace(self, sticking=tuple(louder))

    def round_length(self) -> Fraction:
        """Return how long sticking and rhythm take to come round together, in quarter notes."""
        once = sum((value.length for value in self.values), Fraction(0))
        return once * math.lcm(len(self.sticking), len(self.values)) / len(self.values)

    def round_strokes(self) -> int:
        """Return how many stops of the path that round takes."""
        count = math.lcm(len(self.sticking), len(self.values))
        return self.stops_taken(count)

    def stops_taken(self, steps: int) -> int:
        """Return how many stops of the path so many steps of the sticking take."""
        rounds, rest = divmod(steps, len(self.sticking))
        taken = [_takes_stop(stroke) for stroke in self.sticking]
        return sum(taken) * rounds + sum(taken[:rest])

    def orders(self) -> list[tuple[tuple[Stop, ...], ...]]:
        """Return the orders of the path's parts that are played."""
        if self.order_count is None:
            return [self.path]
        wanted = self.order_count or None
        found = chosen_orders(self.path, wanted, self.seed)
        stops = len(found) * self.each * sum(map(len, self.path))
        if stops > MAX_STROKES:
            raise BadInput(
                f"{len(found)} orders make {stops} strokes, more than {MAX_STROKES}",
                fix="take fewer parts, or a number of orders with a seed",
            )
        return found

    def stops(self) -> list[Stop]:
        """Return one round of the whole path, orders and repeats written out."""
        return [
            stop
            for order in self.orders()
            for _ in range(self.each)
            for part in order
            for stop in part
        ]


def rounds(hands: Hands, meters: Sequence[Meter]) -> tuple[Fraction, Fraction]:
    """Return how long the sticking and how long the path take to come round, in quarter notes.

    The meters go round bar by bar. A climb comes round with its last bar; its sticking and path
    run on through it.
    """
    if hands.climb:
        return _climb_round(hands, meters)
    sticking, strokes = hands.round_length(), hands.round_strokes()
    size = len(hands.stops())
    if hands.per == "stroke":
        return sticking, sticking * (math.lcm(strokes, size) // strokes if strokes else 1)
    bars = sum((meter.length for meter in meters), Fraction(0))
    units = len(meters) if hands.per == "bar" else sum(meter.beats for meter in meters)
    return sticking, bars * math.lcm(units, size) / units


def step_count(hands: Hands, bars: Sequence[Bar]) -> int:
    """Return how many steps fill the bars, without laying them out."""
    if hands.climb:
        return sum(
            int(bar.meter.length / value.length)
            for bar, value in zip(bars, cycle(hands.values), strict=False)
        )
    mean = sum((v.length for v in hands.values), Fraction(0)) / len(hands.values)
    return math.ceil((bars[-1].end - bars[0].start) / mean)


@dataclass(frozen=True, slots=True)
class LaidHands:
    """The notes of the hands, in no order; where an order of the path begins; stops never struck.

    Grace strokes follow their main stroke.
    """

    notes: tuple[Note, ...] = ()
    marks: tuple[tuple[Fraction, str], ...] = ()
    missed: tuple[Stop, ...] = ()


def lay_hands(hands: Hands, bars: Sequence[Bar]) -> LaidHands:
    """Return the line of the hands laid out over the bars."""
    places = list(_places(hands, bars))
    strokes = list(islice(cycle(hands.sticking), len(places)))
    path = hands.stops()
    if hands.per == "stroke":
        turning = cycle(enumerate(path))
        stops = [next(turning) if _takes_stop(stroke) else (-1, SNARE) for stroke in strokes]
    else:
        stops = [(unit % len(path), path[unit % len(path)]) for unit in _units(hands, bars, places)]
    turn = hands.shift % len(places)
    strokes = strokes[-turn:] + strokes[:-turn]
    if hands.per == "stroke":
        stops = stops[-turn:] + stops[:-turn]
    notes = tuple(
        note
        for (beat, value), stroke, (_, stop) in zip(places, strokes, stops, strict=True)
        for note in _notes(beat, value.name, stroke, stop)
    )
    struck = {at for stroke, (at, _) in zip(strokes, stops, strict=True) if _takes_stop(stroke)}
    missed = dict.fromkeys(stop for at, stop in enumerate(path) if at not in struck)
    marks = _marks(hands, places, [at for at, _ in stops])
    return LaidHands(notes, tuple(marks), tuple(missed))


def _climb_round(hands: Hands, meters: Sequence[Meter]) -> tuple[Fraction, Fraction]:
    """Return the length of a climb, and of as many climbs as it takes to reach every stop."""
    count = math.lcm(len(hands.values), len(meters))
    bars = [meters[index % len(meters)] for index in range(count)]
    once = sum((meter.length for meter in bars), Fraction(0))
    stops = len(hands.stops())
    if hands.per != "stroke":
        units = count if hands.per == "bar" else sum(meter.beats for meter in bars)
        return once, once * math.ceil(stops / units)
    steps = sum(
        int(meter.length / value.length)
        for meter, value in zip(bars, cycle(hands.values), strict=False)
    )
    if not hands.stops_taken(len(hands.sticking)):
        return once, once
    climbs = 1
    while (taken := hands.stops_taken(climbs * steps)) < stops:
        # Each step takes one stop at most, so this never goes beyond the last climb that is needed.
        climbs += max(1, (stops - taken) // steps)
    return once, once * climbs


def _takes_stop(stroke: Stroke) -> bool:
    return stroke.who in "RLB"


def _places(hands: Hands, bars: Sequence[Bar]) -> Iterator[tuple[Fraction, NoteValue]]:
    """Yield each step's beat and note value."""
    if hands.climb:
        for bar, value in zip(bars, cycle(hands.values), strict=False):
            for step in range(int(bar.meter.length / value.length)):
                yield bar.start + step * value.length, value
        return
    beat, end = bars[0].start, bars[-1].end
    for value in cycle(hands.values):
        if beat >= end:
            return
        yield beat, value
        beat += value.length


def _units(
    hands: Hands, bars: Sequence[Bar], places: Sequence[tuple[Fraction, NoteValue]]
) -> Iterator[int]:
    """Yield the number of the bar or beat each step falls in, counted from the first bar."""
    index, before = 0, 0
    for beat, _ in places:
        while beat >= bars[index].end:
            before += bars[index].meter.beats
            index += 1
        bar = bars[index]
        within = int((beat - bar.start) / bar.meter.beat)
        yield index if hands.per == "bar" else before + within


def _notes(beat: Fraction, value: str, stroke: Stroke, stop: Stop) -> Iterator[Note]:
    if stroke.who in _FEET:
        voice, limb = _FEET[stroke.who]
        yield Note(beat, voice, limb, stroke.level, value=value)
        return
    for who in {"B": "RL", "-": ""}.get(stroke.who, stroke.who):
        spot = stop.right if who == "R" else stop.left
        main = Note(beat, spot.voice, _HANDS[who], stroke.level, spot.zone, value, buzz=stroke.buzz)
        yield from _rolled(main, stroke.slashes, stop) if stroke.slashes else (main,)
        before = stop.graces or spot
        soft = Note(beat, before.voice, None, Level.NORMAL, before.zone, value)
        for place, other in enumerate(stroke.graces):
            yield replace(soft, limb=_HANDS[other], grace=len(stroke.graces) - place)


def _rolled(main: Note, slashes: int, stop: Stop) -> Iterator[Note]:
    """Yield the strokes that a stroke with slashes means: doubles, begun by its own hand."""
    value = rolled_value(NOTE_VALUES[main.value], slashes)
    assert value
    for at in range(2**slashes):
        first = at % 4 < 2
        hand = main.limb if first else (Limb.LH if main.limb is Limb.RH else Limb.RH)
        spot = stop.right if hand is Limb.RH else stop.left
        level = Level.NORMAL if at and main.level is Level.ACCENT else main.level
        yield replace(
            main,
            beat=main.beat + at * value.length,
            limb=hand,
            voice=spot.voice,
            zone=spot.zone,
            level=level,
            value=value.name,
        )


def _marks(
    hands: Hands, places: Sequence[tuple[Fraction, NoteValue]], stops: Sequence[int]
) -> list[tuple[Fraction, str]]:
    """Return the beat at which each order begins, with its drums in words."""
    if hands.order_count is None:
        return []
    size = hands.each * sum(map(len, hands.path))
    titles = [", ".join(map(_drums, order)) for order in hands.orders()]
    marks: list[tuple[Fraction, str]] = []
    last = -1
    for (beat, _), at in zip(places, stops, strict=True):
        if at >= 0 and at != last and at % size == 0:
            marks.append((beat, titles[at // size]))
        last = at if at >= 0 else last
    return marks


def _drums(part: Sequence[Stop]) -> str:
    """Return the drums of a part of the path in words, each once: `snare tom1`."""
    return " ".join(dict.fromkeys(map(str, part)))
