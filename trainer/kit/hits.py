"""What a kit sends, stroke by stroke: strikes, hits and the power curve of a pad.

A `Strike` is one raw note-on with the driver's time; a `Hit` is the same strike read through the
kit, with the kit's latency taken out. Times are seconds on the session's clock (0 = its start).

Pads and zones answer differently: one gives velocity 60 for a stroke that another calls 90. A
`PowerCurve` holds what a pad sent for soft, normal and hard strokes; power maps these onto the
reference velocities, with straight lines between them, so that equal strokes have equal power on
every pad. Without a curve, power is the velocity itself. Power runs from 0 to 127 like velocity.

`Controllers` is what a kit sends apart from notes: how far the hi-hat is open (0 closed, 1 open),
the place of a strike, chokes. Numbers and directions differ from kit to kit (common practice:
controller 4 for the pedal, 16 to 19 for places, pressure on a note for a choke), so they are
learned in `trainer.kit.learning`.

The hits a kit adds automatically: double triggers and crosstalk are marked, never deleted.

A *double* is a second, softer note of the same pad so soon after a stroke that no hand played it.
A *crosstalk* is a soft note of one pad because another, struck pad shook it. Two numbers measured
on the kit separate both from real strokes: a time and a ratio of velocities. A flam's second
stroke is louder than its first and a drag's strokes are alike, so a rule with a ratio below one
leaves them alone.

The rules look back only, so a live hit is marked as it arrives and a replay marks the same hits. On
some kits the shaken pad sends its note a scan or two before the struck one; `LOOK_AHEAD_S` is how
far a reading of the whole take looks ahead for the louder note.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.kit.voices import CHOKE

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence


@dataclass(frozen=True, slots=True)
class Strike:
    """One raw note-on from any maker of hits, or a choke: a cymbal grabbed, with velocity 0.

    `time_s` is in seconds on the session's clock (0 = the session's start), as the driver stamped
    it, before any latency is taken out. `position` is 0 (middle) to 1 (edge) where the kit says so;
    `pedal` the last value (0 to 127) of the hi-hat pedal's controller, None before the first. A
    session file has that as lines of its own.
    """

    time_s: float
    note: int
    velocity: int
    position: float | None = None
    pedal: int | None = None


@dataclass(frozen=True, slots=True)
class Hit:
    """A strike read through the kit.

    `time_s` has the kit's latency taken out (that is the time offsets are counted from). `voice`
    is None for a note the kit does not know; such hits are shown and count as extra. `flag` is
    empty, or what the filter found: `double` or `crosstalk`. Flagged hits are kept and marked.
    `power` is the velocity through the pad's own curve (0 to 127), alike on every pad; None where
    nobody read it through one, then `strength` is the velocity itself. `zones` are all zones of
    the voice that the kit can send, empty where that is not known. `half` is True on a hi-hat that
    is neither closed nor wide open.
    """

    index: int
    time_s: float
    note: int
    velocity: int
    voice: str | None
    zone: str = ""
    position: float | None = None
    flag: str = ""
    power: float | None = None
    zones: frozenset[str] = frozenset()
    half: bool = False

    @property
    def strength(self) -> float:
        """How hard the stroke was, 0 to 127, to be compared across pads."""
        return float(self.velocity) if self.power is None else self.power


REFERENCE_POWER = (40.0, 80.0, 115.0)
"""What a soft, a normal and a hard stroke are worth. Our own choice; only differences matter."""

LOUDEST_VELOCITY = 127.0


@dataclass(frozen=True, slots=True)
class PowerCurve:
    """The velocities one pad sends for soft, normal and hard strokes, rising."""

    soft: float
    normal: float
    hard: float

    def power(self, velocity: float) -> float:
        """Return the power of a velocity (both 0 to 127)."""
        sent = (0.0, self.soft, self.normal, self.hard, max(LOUDEST_VELOCITY, self.hard + 1.0))
        worth = (0.0, *REFERENCE_POWER, LOUDEST_VELOCITY)
        place = min(max(bisect_right(sent, velocity), 1), len(sent) - 1)
        low, high = sent[place - 1], sent[place]
        share = (velocity - low) / (high - low)
        return worth[place - 1] + share * (worth[place] - worth[place - 1])


OPEN_FROM = 0.5
"""How far the hi-hat must be open for a stroke on it to count as open: half of what was learned
(no source; modules with a note for each have a threshold of their own)."""


HALF_OPEN = (0.2, 0.8)
"""How far the hi-hat is open where it counts as half open (no source): between closed and wide."""


@dataclass(frozen=True, slots=True)
class Pedal:
    """The controller of the hi-hat pedal, and its value when closed and when open.

    `zones` is True where one note means closed and open strokes: the pedal then shows which.
    """

    controller: int
    closed: int
    open: int
    zones: bool = False

    def opening(self, value: int) -> float:
        """Return how far open it is at a value: 0 closed, 1 open."""
        return min(1.0, max(0.0, (value - self.closed) / (self.open - self.closed)))

    def is_half(self, value: int) -> bool:
        """Return whether the hi-hat is half open at a value."""
        return HALF_OPEN[0] <= self.opening(value) <= HALF_OPEN[1]

    def zone(self, value: int) -> str:
        """Return the hi-hat's zone at a value: `closed` or `open`."""
        return "open" if self.opening(value) >= OPEN_FROM else "closed"


@dataclass(frozen=True, slots=True)
class Controllers:
    """What was learned: the pedal, the place controller of voices, the notes that mean a choke."""

    pedal: Pedal | None = None
    places: Mapping[str, int] = field(default_factory=dict)
    chokes: tuple[int, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.pedal or self.places or self.chokes)


NO_CONTROLLERS = Controllers()


def checked_pedal(controller: int, closed: int, up: int, *, zones: bool) -> Pedal:
    """Return a pedal; BadInput for one that is closed and open at the same value."""
    if closed == up:
        raise BadInput("is closed and open at the same value", fix="learn the pedal again")
    return Pedal(controller, closed, up, zones)


DOUBLE_FLAG, CROSSTALK_FLAG = "double", "crosstalk"

LONGEST_MASK_S = 0.020
"""No mask is longer: the strokes of a buzz are some 15 ms apart, those of flams and fast doubles
30 ms and more, so a longer one would take real strokes (common practice, no source)."""

LOOK_AHEAD_S = 0.003


@dataclass(frozen=True, slots=True)
class DoubleRule:
    """A hit on the same voice within `within_s`, at most `softer` times as hard as the last."""

    within_s: float
    softer: float


@dataclass(frozen=True, slots=True)
class CrosstalkRule:
    """A hit on `shaken` within `within_s` of one on `struck`, at most `softer` times as hard."""

    struck: str
    shaken: str
    within_s: float
    softer: float


@dataclass(frozen=True, slots=True)
class FilterRules:
    """All rules of a kit: doubles by voice, crosstalk by pair of voices."""

    doubles: Mapping[str, DoubleRule]
    crosstalk: tuple[CrosstalkRule, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.doubles or self.crosstalk)


NO_FILTER_RULES = FilterRules({})


class HitFilter:
    """Marks hits as they come, in time order; a marked hit never marks another."""

    def __init__(self, rules: FilterRules) -> None:
        self._doubles = rules.doubles
        self._by_shaken: dict[str, list[CrosstalkRule]] = {}
        for rule in rules.crosstalk:
            self._by_shaken.setdefault(rule.shaken, []).append(rule)
        self._last: dict[str, Hit] = {}

    def mark(self, hit: Hit) -> Hit:
        """Return the hit, flagged where a rule says that no hand made it."""
        if hit.voice is None or hit.zone == CHOKE:
            return hit
        flag = self._flag(hit, hit.voice)
        if flag:
            return replace(hit, flag=flag)
        self._last[hit.voice] = hit
        return hit

    def _flag(self, hit: Hit, voice: str) -> str:
        double = self._doubles.get(voice)
        if double and _soon_and_softer(hit, self._last.get(voice), double.within_s, double.softer):
            return DOUBLE_FLAG
        for rule in self._by_shaken.get(voice, ()):
            if _soon_and_softer(hit, self._last.get(rule.struck), rule.within_s, rule.softer):
                return CROSSTALK_FLAG
        return ""


def mark_early_crosstalk(hits: Sequence[Hit], rules: FilterRules) -> Iterable[Hit]:
    """Return the hits of a whole take, with crosstalk that spoke before its cause flagged too."""
    pairs = {(rule.struck, rule.shaken): rule for rule in rules.crosstalk}
    for place, hit in enumerate(hits):
        yield (
            replace(hit, flag=CROSSTALK_FLAG)
            if _comes_before_its_cause(hits, place, pairs)
            else hit
        )


def _comes_before_its_cause(
    hits: Sequence[Hit], place: int, pairs: Mapping[tuple[str, str], CrosstalkRule]
) -> bool:
    """True where a louder hit on a pad that shakes this one's follows at once."""
    hit = hits[place]
    if hit.flag or hit.voice is None or not pairs:
        return False
    for later in hits[place + 1 : place + 8]:
        if later.time_s - hit.time_s > LOOK_AHEAD_S:
            return False
        rule = pairs.get((later.voice or "", hit.voice))
        if rule and not later.flag and hit.velocity <= rule.softer * later.velocity:
            return True
    return False


def _soon_and_softer(hit: Hit, before: Hit | None, within_s: float, softer: float) -> bool:
    return (
        before is not None
        and 0 <= hit.time_s - before.time_s <= within_s
        and hit.velocity <= softer * before.velocity
    )
