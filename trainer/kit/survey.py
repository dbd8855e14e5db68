"""What is wrong with a kit: doubles, crosstalk, power and latency measured; the page of the check.

For the survey the player plays single strokes, one pad at a time, well apart. A *stroke group* is
everything the kit sends within `GROUP_S` of a stroke that follows `APART_S` of quiet. Its loudest
note is the stroke; a softer note of the same voice after it is a double, a softer note of another
voice is crosstalk (which may come a scan before). A rule is proposed only for what happened at
least `ENOUGH` times. Rules leave some room beyond what was seen, `ROOM_S` of time and `ROOM_RATIO`
of velocity, because a minute does not hold the worst case.

Stated error, on simulated kits: the time of a rule within 3 ms and its ratio within 0.12 of the
longest and loudest that the kit does, in 95 of 100 kits; latency within 4 ms, in 95 of 100 takes
of 40 strokes where the player's spread is 10 ms. Latency is seconds, plus is late.

The check is one page about a kit: what is set, what is missing and what looks unlikely, each with
what to do.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING

from trainer.kit.hits import LONGEST_MASK_S, CrosstalkRule, DoubleRule, FilterRules, PowerCurve
from trainer.kit.learning import PLACES_TO_LEARN, place_name
from trainer.kit.voices import VOICES

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from trainer.kit.hits import Strike
    from trainer.kit.model import Kit, Pad


APART_S = 0.15
GROUP_S = 0.060
CROSSTALK_S = 0.015
LEAST_TIMES = 3
ROOM_S, ROOM_RATIO = 0.0015, 0.05
LOUDEST_RATIO = 0.95

MAD_TO_SD = 1.482602218505602
"""Median absolute deviation to standard deviation of a normal law, 1 / Phi^-1(3/4)."""


@dataclass(frozen=True, slots=True)
class ArtefactCount:
    """How often something happened in how many strokes, how late and how loud at most."""

    strokes: int
    times: int
    longest_s: float
    loudest: float

    @property
    def share(self) -> float:
        """Per stroke, 0 to 1."""
        return self.times / self.strokes if self.strokes else 0.0


@dataclass(frozen=True, slots=True)
class Survey:
    """Doubles by voice, and crosstalk by (struck, shaken) voices, as they were seen."""

    doubles: dict[str, ArtefactCount]
    crosstalk: dict[tuple[str, str], ArtefactCount]

    def rules(self) -> FilterRules:
        """Return the filter these counts request."""
        doubles = {
            voice: DoubleRule(_rule_time(one, LONGEST_MASK_S), _rule_ratio(one))
            for voice, one in self.doubles.items()
            if one.times >= LEAST_TIMES
        }
        crosstalk = tuple(
            CrosstalkRule(struck, shaken, _rule_time(one, CROSSTALK_S), _rule_ratio(one))
            for (struck, shaken), one in self.crosstalk.items()
            if one.times >= LEAST_TIMES
        )
        return FilterRules(doubles, crosstalk)


@dataclass(frozen=True, slots=True)
class LatencyEstimate:
    """How late hits came: the median in seconds (plus is late), its 95% interval, the count.

    It holds the kit's lateness and the player's own habit together; strokes with a click cannot
    separate the two.
    """

    median_s: float
    low_s: float
    high_s: float
    spread_s: float
    count: int


def survey_strikes(strikes: Sequence[Strike], kit: Kit) -> Survey:
    """Return what single strokes, pad by pad, show of a kit's doubles and crosstalk."""
    strokes: dict[str, int] = defaultdict(int)
    doubles: dict[str, list[tuple[float, float]]] = defaultdict(list)
    crosstalk: dict[tuple[str, str], list[tuple[float, float]]] = defaultdict(list)
    for group in _groups(strikes):
        stroke = max(group, key=lambda one: one.velocity)
        struck = kit.pad(stroke.note)
        if struck is None:
            continue
        strokes[struck.voice] += 1
        for one in group:
            other = kit.pad(one.note)
            if one is stroke or other is None:
                continue
            late, ratio = one.time_s - stroke.time_s, one.velocity / stroke.velocity
            if other.voice == struck.voice and late > 0:
                doubles[struck.voice].append((late, ratio))
            elif other.voice != struck.voice and abs(late) <= CROSSTALK_S:
                crosstalk[struck.voice, other.voice].append((abs(late), ratio))
    return Survey(
        {voice: _count(seen, strokes[voice]) for voice, seen in doubles.items()},
        {pair: _count(seen, strokes[pair[0]]) for pair, seen in crosstalk.items()},
    )


def power_curve(
    soft: Sequence[int], normal: Sequence[int], hard: Sequence[int]
) -> PowerCurve | None:
    """Return a pad's curve from the velocities of soft, normal and hard strokes.

    None where the medians do not rise: the pad, or the player, does not separate them.
    """
    if not (soft and normal and hard):
        return None
    one, two, three = median(soft), median(normal), median(hard)
    return PowerCurve(one, two, three) if 1 <= one < two < three <= 127 else None


def estimate_latency(offsets_s: Iterable[float]) -> LatencyEstimate | None:
    """Return the constant part of how late hits came; None with fewer than 8 strokes.

    The interval is that of the median by order statistics (binomial), sound for any law of the
    offsets; `spread_s` is the scaled median absolute deviation.
    """
    found = sorted(offsets_s)
    count = len(found)
    if count < 8:
        return None
    middle = median(found)
    half = 1.96 * math.sqrt(count) / 2
    low = max(0, math.floor(count / 2 - half))
    high = min(count - 1, math.ceil(count / 2 + half))
    spread = MAD_TO_SD * median(abs(one - middle) for one in found)
    return LatencyEstimate(middle, found[low], found[high], spread, count)


def stroke_velocities(strikes: Iterable[Strike], kit: Kit) -> dict[Pad, list[int]]:
    """Return the velocities of single strokes by pad, doubles and crosstalk left out."""
    found: dict[Pad, list[int]] = defaultdict(list)
    for group in _groups(list(strikes)):
        stroke = max(group, key=lambda one: one.velocity)
        pad = kit.pad(stroke.note)
        if pad:
            found[pad].append(stroke.velocity)
    return dict(found)


def _groups(strikes: Sequence[Strike]) -> Iterator[list[Strike]]:
    """Yield stroke groups; what comes too soon after another stroke to be single is left out."""
    group: list[Strike] = []
    last_s = -math.inf
    for one in sorted(strikes, key=lambda strike: strike.time_s):
        if one.time_s - last_s > APART_S:
            if group:
                yield group
            group = [one]
        elif group and one.time_s - group[0].time_s <= GROUP_S:
            group.append(one)
        last_s = one.time_s
    if group:
        yield group


def _count(seen: list[tuple[float, float]], strokes: int) -> ArtefactCount:
    return ArtefactCount(
        strokes, len(seen), max(late for late, _ in seen), max(ratio for _, ratio in seen)
    )


def _rule_time(one: ArtefactCount, longest_s: float) -> float:
    return min(longest_s, one.longest_s + ROOM_S)


def _rule_ratio(one: ArtefactCount) -> float:
    return min(LOUDEST_RATIO, one.loudest + ROOM_RATIO)


UNUSUAL_LATENCY_S = 0.030
"""A kit later than this is unusual: modules and interfaces take some 3 to 20 ms (common practice;
Schultz and van Vugt 2016 measured 9 to 16 ms on one)."""


def check_page(kit: Kit, rivals: Sequence[str] = ()) -> Iterator[str]:
    """Yield the lines of the page. `rivals` are kits that name a port this one names too."""
    yield f"{kit.title} ({kit.name})"
    yield f"Ports: {', '.join(kit.ports) or 'none named, so it is not chosen automatically'}"
    yield f"Latency: {kit.latency_s * 1000:.1f} ms" + ("" if kit.latency_s else ", not set")
    yield ""
    yield "Pads:"
    yield from _pad_lines(kit)
    if kit.without:
        yield f"Without: {', '.join(sorted(kit.without))}"
    yield ""
    yield from _filter_lines(kit)
    yield from _controller_lines(kit)
    yield ""
    faults = list(kit_warnings(kit, rivals))
    yield "To fix:" if faults else "Nothing to fix."
    yield from (f"  {fault}" for fault in faults)


def _pad_lines(kit: Kit) -> Iterator[str]:
    by_pad: dict[Pad, list[int]] = defaultdict(list)
    for note, pad in sorted(kit.notes.items()):
        by_pad[pad].append(note)
    for pad, notes in by_pad.items():
        star = "*" if kit.own.intersection(notes) else " "
        numbers = ", ".join(map(str, notes))
        yield f" {star} {place_name(pad):<28} note {numbers}{_curve_text(kit, pad)}"
    for pad, note in kit.same.items():
        other = kit.notes.get(note)
        as_other = f", like the {place_name(other)}: same note for both" if other else ""
        yield f" = {place_name(pad):<28} sends note {note}{as_other}"
    rest = "the rest: General MIDI" if kit.general_midi else "any other note: unknown"
    yield f"  (*: learned or written by hand; {rest})"


def kit_warnings(kit: Kit, rivals: Sequence[str] = ()) -> Iterator[str]:
    """Yield what is missing or unlikely, each with what to do."""
    yield from _missing_pads(kit)
    if rivals:
        first = min(*rivals, kit.name)
        yield f"{', '.join(rivals)} names the same port; {first} is used. Choose with --kit NAME"
    if kit.latency_s > UNUSUAL_LATENCY_S:
        yield f"{kit.latency_s * 1000:.0f} ms of latency is a lot: measure it with a cable"
    if kit.latency_s < 0:
        yield "The latency is negative: no hit arrives before it is played. Measure it again"
    for voice, rule in kit.rules.doubles.items():
        if rule.softer > 0.85:
            yield (
                f"Double triggers on the {voice} are nearly as loud as strokes: "
                "raise its threshold or mask time in the module"
            )


def _missing_pads(kit: Kit) -> Iterator[str]:
    """Yield the drums without a note, and those not learned where others were."""
    known, own = set(kit.notes.values()), {kit.notes[note].voice for note in kit.own}
    drums = [
        pad
        for pad in PLACES_TO_LEARN
        if pad.voice not in kit.without
        and next(one for one in PLACES_TO_LEARN if one.voice == pad.voice) == pad
    ]
    for pad in drums:
        if pad not in known:
            yield f"No note for the {place_name(pad)}: trainer kit learn {kit.name}"
    guessed = [VOICES[pad.voice] for pad in drums if pad in known and pad.voice not in own]
    if own and guessed:
        yield (
            f"Not learned, read as General MIDI: {', '.join(one.title for one in guessed)}. "
            f"If the kit has them: trainer kit learn {kit.name}. "
            f'If it lacks one, write into its file: without = ["{guessed[-1].name}"]'
        )


def _curve_text(kit: Kit, pad: Pad) -> str:
    curve = kit.power.get(pad)
    return f", power {curve.soft:g} {curve.normal:g} {curve.hard:g}" if curve else ""


def _controller_lines(kit: Kit) -> Iterator[str]:
    controllers = kit.controllers
    if controllers.pedal:
        ends = f"{controllers.pedal.closed} closed, {controllers.pedal.open} open"
        zones = "; it decides between open and closed" if controllers.pedal.zones else ""
        yield f"Hi-hat pedal: controller {controllers.pedal.controller}, {ends}{zones}"
    for voice, number in controllers.places.items():
        yield f"Place of strokes on the {voice}: controller {number}"
    if controllers.chokes:
        yield f"Chokes: notes {', '.join(map(str, controllers.chokes))}"
    if not controllers:
        yield "Controllers: none learned (trainer kit controllers)"


def _filter_lines(kit: Kit) -> Iterator[str]:
    if not kit.rules and kit.surveyed:
        yield "Filter: not needed, no double triggers or crosstalk found"
        return
    if not kit.rules:
        yield "Filter: none yet (trainer kit survey measures it)"
        return
    yield "Filter:"
    for voice, rule in kit.rules.doubles.items():
        yield f"  {voice}: a softer note within {rule.within_s * 1000:.0f} ms is a double trigger"
    for one in kit.rules.crosstalk:
        yield (
            f"  {one.struck} shakes {one.shaken}: a soft note within "
            f"{one.within_s * 1000:.0f} ms is crosstalk"
        )
