"""A simulated player: a source of hits that plays what is expected, with faults of its own.

Seeded, so that the same targets bring the same strikes. Times are seconds, levels are MIDI
velocities. What was meant by each strike is kept in `truth`, for tests. The player's faults and
their sizes are invented and describe nobody. `simulated_take` plays a pattern for about half a
minute in simulated time and judges it like any other take.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass, field, replace
from random import Random
from typing import TYPE_CHECKING, Any

from trainer.kit.hits import Controllers, Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.kit.voices import CHOKE, CHOKED, VOICES, full_zone
from trainer.midi.hit_source import HitSource
from trainer.pattern.model import Level, Limb
from trainer.practice.course import Course, Pass, pattern_seconds
from trainer.practice.matcher import judge

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from fractions import Fraction

    from trainer.kit.model import Kit
    from trainer.midi.hit_source import SourceEvent
    from trainer.pattern.model import Pattern
    from trainer.practice.course import Target
    from trainer.practice.outcomes import Judged


BOUNCE_GAP_S = 0.030
"""From one bounce of a buzz stroke to the next (our own choice)."""

VELOCITY = {Level.ACCENT: 112, Level.NORMAL: 84, Level.GHOST: 36}


@dataclass(frozen=True, slots=True)
class Traits:
    """How a player plays. Times are seconds (plus is late), shares are 0 to 1.

    `bias_s` is a steady offset, `jitter_s` the standard deviation of every stroke, `drift_s` that
    of a slow wander, `limb_drift_s` that of a wander of each limb for itself. `lag_s` and `weak` go
    by limb (a weak limb is this much softer and less even), `unison_lag_s` too, for strokes with a
    hand's on the same beat; `slow_moves` by the two voices a hand moves between, in that order.
    `value_lag_s` goes by note value; `change_lag_s` by the two note values that the hands go from
    and to: each further stroke keeps half of it. `miss`, `wrong_pad`, `double` and `rim` are shares
    of strokes, `stray` of strokes played for nothing. `power` is a factor by limb. `tiring` is how
    much jitter grows, as a factor, in a minute of playing. A limb requested more than `limit`
    strokes a second misses more and plays less evenly.
    """

    bias_s: float = 0.0
    jitter_s: float = 0.0
    drift_s: float = 0.0
    limb_drift_s: float = 0.0
    lag_s: Mapping[Limb, float] = field(default_factory=dict)
    weak: Mapping[Limb, float] = field(default_factory=dict)
    unison_lag_s: Mapping[Limb, float] = field(default_factory=dict)
    slow_moves: Mapping[tuple[str, str], float] = field(default_factory=dict)
    value_lag_s: Mapping[str, float] = field(default_factory=dict)
    change_lag_s: Mapping[tuple[str, str], float] = field(default_factory=dict)
    miss: float = 0.0
    wrong_pad: float = 0.0
    stray: float = 0.0
    double: float = 0.0
    rim: float = 0.0
    power: Mapping[Limb, float] = field(default_factory=dict)
    power_jitter: float = 0.0
    tiring: float = 0.0
    limit: float | None = None


EXACT_TRAITS = Traits()
"""A player without faults."""

WORKING_TRAITS = Traits(
    bias_s=-0.004,
    jitter_s=0.008,
    drift_s=0.004,
    lag_s={Limb.LH: 0.005, Limb.LF: 0.007},
    weak={Limb.LH: 0.15},
    slow_moves={("snare", "floor"): 0.009, ("floor", "tom2"): 0.012},
    miss=0.012,
    wrong_pad=0.008,
    stray=0.005,
    double=0.006,
    rim=0.010,
    power_jitter=7.0,
    tiring=0.04,
)
"""A player who keeps hands in shape between two theatre runs: sound, with a few things to fix."""


@dataclass(frozen=True, slots=True)
class Meant:
    """What a strike really was: the target it was meant for (None: for none) and what it became."""

    strike: Strike
    target: int | None
    became: str


class SimulatedPlayer(HitSource):
    """Plays the targets it has to expect."""

    name = "simulated player"

    def __init__(self, kit: Kit, seed: int = 0, traits: Traits = WORKING_TRAITS) -> None:
        self.kit, self.traits = kit, traits
        self.truth: list[Meant] = []
        self._random = Random(seed)
        self._to_come: list[tuple[float, int, Meant]] = []
        self._made = 0
        self._wander_s = 0.0
        # Dice of their own, so that this habit changes no other stroke.
        self._limb_random = Random(f"limbs of {seed}")
        self._limb_wander_s: dict[Limb | None, float] = {}
        self._hands: set[tuple[int, Fraction]] = set()
        self._at: tuple[int, Fraction] | None = None
        self._value, self._change_s = "", 0.0
        self._last: dict[Limb | None, Target] = {}
        self._began_s: float | None = None

    def expect(self, targets: Sequence[Target]) -> None:
        """Get ready to play these; an empty sequence means: stop, what was to come is off."""
        if not targets:
            self._to_come.clear()
            self._last.clear()
            self._value, self._change_s = "", 0.0
        hands = (one for one in targets if not VOICES[one.note.voice].foot)
        self._hands = {(one.pass_index, one.note.beat) for one in hands}
        for target in targets:
            self._prepare(target)

    def due(self) -> float:
        """Return when the next strike comes, infinity for never."""
        return self._to_come[0][0] if self._to_come else float("inf")

    def poll(self, now_s: float) -> list[SourceEvent]:
        """Return the strikes made by `now_s`."""
        made: list[SourceEvent] = []
        while self._to_come and self._to_come[0][0] <= now_s:
            meant = heapq.heappop(self._to_come)[2]
            self.truth.append(meant)
            made.append(meant.strike)
        return made

    def quality(self) -> dict[str, Any]:
        """Return what these stamps are worth: they are exact."""
        return {"system": "simulated", "stamped": "exactly"}

    def close(self) -> None:
        """Stop playing."""
        self._to_come.clear()

    def _prepare(self, target: Target) -> None:
        """Decide what becomes of one target. Every target draws the same count of numbers."""
        draw = [self._random.random() for _ in range(5)]
        normal = [self._random.gauss(0.0, 1.0) for _ in range(3)]
        traits, limb = self.traits, target.note.limb
        strain = self._strain(target)
        time_s = target.time_s + self._offset_s(target, normal, strain)
        velocity = self._velocity(target, normal[2])
        voice, zone, became = target.note.voice, target.note.zone, "played"
        if draw[0] < traits.miss * strain:
            became = "missed"
        elif draw[1] < traits.wrong_pad * strain and not (VOICES[voice].foot or zone == CHOKE):
            voice, zone, became = neighbour(self.kit, voice, draw[4]), "", "wrong pad"
        elif draw[1] > 1.0 - traits.rim and not zone and "rim" in VOICES[voice].zones:
            zone, became = "rim", "rim"
        if became != "missed":
            self._strike(time_s, voice, zone, velocity, target.index, became)
            if draw[2] < traits.double:
                later = time_s + 0.010 + 0.012 * draw[4]
                self._strike(later, voice, zone, velocity * 0.4, target.index, "double")
            if target.until_s is not None:
                self._bounce(target, time_s, velocity)
        if draw[3] < traits.stray:
            other = neighbour(self.kit, voice, draw[4])
            self._strike(time_s + 0.07 + 0.1 * draw[4], other, "", 40.0, None, "stray")
        if target.note.grace == 0:
            self._last[limb] = target

    def _bounce(self, target: Target, time_s: float, velocity: float) -> None:
        """Let a buzz stroke bounce, softer and softer, until just before it is over."""
        assert target.until_s is not None
        last_s = target.until_s - BOUNCE_GAP_S
        later = time_s + BOUNCE_GAP_S
        while later < last_s:
            velocity *= 0.8
            self._strike(later, target.note.voice, "", velocity, target.index, "bounce")
            later += BOUNCE_GAP_S

    def _strain(self, target: Target) -> float:
        """Return how much harder than usual a stroke is: 1 within the player's limit."""
        last, limit = self._last.get(target.note.limb), self.traits.limit
        if last is None or limit is None or target.note.grace:
            return 1.0
        asked = 1.0 / max(target.time_s - last.time_s, 0.001)
        return max(1.0, (asked / limit) ** 4)

    def _offset_s(self, target: Target, normal: list[float], strain: float) -> float:
        """Return how far from its target a stroke falls."""
        traits, limb = self.traits, target.note.limb
        if self._began_s is None:
            self._began_s = target.time_s
        self._wander_s = 0.98 * self._wander_s + 0.2 * traits.drift_s * normal[0]
        spread = traits.jitter_s * strain
        spread *= 1.0 + traits.tiring * (target.time_s - self._began_s) / 60.0
        offset_s = traits.bias_s + self._wander_s
        if limb is not None:
            spread *= 1.0 + traits.weak.get(limb, 0.0)
            offset_s += traits.lag_s.get(limb, 0.0)
        offset_s += self._limb_wander(limb) + self._habits_s(target)
        if target.note.grace:
            spread *= 0.5
        return offset_s + spread * normal[1]

    def _limb_wander(self, limb: Limb | None) -> float:
        """Return how far a limb has wandered off on its own."""
        drift_s = self.traits.limb_drift_s
        if drift_s == 0.0:
            return 0.0
        step_s = 0.2 * drift_s * self._limb_random.gauss(0.0, 1.0)
        self._limb_wander_s[limb] = 0.98 * self._limb_wander_s.get(limb, 0.0) + step_s
        return self._limb_wander_s[limb]

    def _habits_s(self, target: Target) -> float:
        """Return what comes from where a stroke is: its move, its note value, its unison."""
        traits, note = self.traits, target.note
        offset_s = traits.value_lag_s.get(note.value, 0.0)
        if not VOICES[note.voice].foot:
            offset_s += self._after_change_s(target)
        elif note.limb is not None and (target.pass_index, note.beat) in self._hands:
            offset_s += traits.unison_lag_s.get(note.limb, 0.0)
        last = self._last.get(note.limb)
        if last is not None:
            offset_s += traits.slow_moves.get((last.note.voice, note.voice), 0.0)
        return offset_s

    def _after_change_s(self, target: Target) -> float:
        """Return what a hand's stroke keeps of the last change of note value."""
        value, before = target.note.value, self._value
        here = (target.pass_index, target.note.beat)
        if here != self._at:  # Graces and unisons go with the stroke they belong to.
            self._change_s *= 0.5
            if value != before:
                self._change_s = self.traits.change_lag_s.get((before, value), 0.0)
        self._at, self._value = here, value
        return self._change_s

    def _velocity(self, target: Target, normal: float) -> float:
        limb = target.note.limb
        power = 1.0
        if limb is not None:
            power = self.traits.power.get(limb, 1.0) - self.traits.weak.get(limb, 0.0)
        if target.note.grace:
            power *= 0.55
        return (
            VELOCITY[target.note.level] * power + self.traits.power_jitter * normal + target.louder
        )

    def _strike(
        self,
        time_s: float,
        voice: str,
        zone: str,
        velocity: float,
        target: int | None,
        became: str,
    ) -> None:
        note = self.kit.note(voice, full_zone(voice, zone))
        if note is None:
            return
        heard_s = time_s + self.kit.latency_s
        struck = 0 if zone == CHOKE else max(1, min(127, round(velocity)))
        strike = Strike(heard_s, note, struck)
        heapq.heappush(self._to_come, (heard_s, self._made, Meant(strike, target, became)))
        self._made += 1


def neighbour(kit: Kit, voice: str, draw: float) -> str:
    """Return one of the two voices of the kit that hands reach most easily from a voice.

    `draw` (0 to 1) picks which. Where they are comes from `trainer.kit.voices`.
    """
    here = VOICES[voice].place

    def distance(name: str) -> float:
        place = VOICES[name].place
        return (place[0] - here[0]) ** 2 + (place[1] - here[1]) ** 2

    played = {pad.voice for pad in kit.notes.values()}
    others = [one for one in played if one != voice and not VOICES[one].foot]
    near = sorted(others, key=lambda one: (distance(one), one))[:2]
    return near[int(draw * len(near))] if near else voice


_CHOKING = tuple(note for note, pad in GENERAL_MIDI.notes.items() if pad.voice in CHOKED)
CHOKING_KIT = replace(GENERAL_MIDI, controllers=Controllers(chokes=_CHOKING))
"""General MIDI that sends chokes as well."""

TAKE_S = 30.0
MOST_PASSES = 64
COUNT_IN_S = 1.0


def simulated_take(pattern: Pattern, seed: int = 1, traits: Traits = WORKING_TRAITS) -> Judged:
    """Return what became of some half a minute at the pattern's own tempo.

    Whole passes as many as fill it best; a pattern longer than that is cut off there.
    """
    length_s = pattern_seconds(pattern, pattern.tempo)
    count = max(1, min(MOST_PASSES, round(TAKE_S / length_s)))
    end_s = COUNT_IN_S + TAKE_S if length_s > TAKE_S else None
    passes = tuple(
        Pass(index, pattern.tempo, COUNT_IN_S + index * length_s, end_s=end_s)
        for index in range(count)
    )
    course = Course(pattern, passes)
    player = SimulatedPlayer(CHOKING_KIT, seed, traits)
    player.expect(course.targets())
    made = player.poll(float("inf"))
    return judge(course, [one for one in made if isinstance(one, Strike)], CHOKING_KIT)
