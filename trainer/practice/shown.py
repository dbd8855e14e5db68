"""What was shown live as final, kept small, to be compared with the whole session judged again.

The live matcher settles each stroke within a beat; the saved summary is judged with the whole take
at hand. Where the two differ, the player is told how often.
"""

from __future__ import annotations

from array import array
from typing import TYPE_CHECKING

from trainer.practice.outcomes import HIT_OUTCOMES

if TYPE_CHECKING:
    from trainer.practice.outcomes import Judged, Verdict

_CODE = {outcome: code for code, outcome in enumerate(HIT_OUTCOMES)}
_NONE = -1


class Shown:
    """The final outcome and target of every hit by its index: five bytes a hit."""

    def __init__(self) -> None:
        self._outcome = array("b")
        self._target = array("i")

    def add(self, verdict: Verdict) -> None:
        """Note a final verdict on a hit; missed targets follow from the hits."""
        if verdict.hit is None or not verdict.final:
            return
        missing = verdict.hit + 1 - len(self._outcome)
        if missing > 0:
            self._outcome.extend([_NONE] * missing)
            self._target.extend([_NONE] * missing)
        self._outcome[verdict.hit] = _CODE[verdict.outcome]
        self._target[verdict.hit] = _NONE if verdict.target is None else verdict.target

    def differences(self, judged: Judged) -> int:
        """Return how many hits have another outcome or target than was shown."""
        return sum(
            self._of(hit) != (_CODE[outcome], _NONE if target is None else target)
            for hit, (outcome, target) in enumerate(
                zip(judged.hit_outcome, judged.hit_target, strict=True)
            )
        )

    def _of(self, hit: int) -> tuple[int, int]:
        if hit >= len(self._outcome):
            return (_NONE, _NONE)
        return (self._outcome[hit], self._target[hit])
