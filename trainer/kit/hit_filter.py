"""The hits a kit adds automatically: double triggers and crosstalk are marked, never deleted.

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

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from trainer.kit.hits import Hit

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
        if hit.voice is None:
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
