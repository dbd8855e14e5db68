"""What was shown live, compared with the whole judged again."""

from __future__ import annotations

from trainer.practice.course import Course
from trainer.practice.outcomes import Judged, LiveVerdicts, Verdict


def _judged(outcomes: tuple[str, ...], targets: tuple[int | None, ...]) -> Judged:
    return Judged(Course(None, ()), (), (), (), (), outcomes, targets)


def test_the_same_is_no_difference() -> None:
    """Finals that the whole take confirms are not counted, whatever was provisional before."""
    shown = LiveVerdicts()
    shown.add(Verdict(0, None, "extra", None, final=False))
    shown.add(Verdict(1, 3, "rim", 0.01, final=True))
    shown.add(Verdict(0, 2, "played", 0.0, final=True))
    shown.add(Verdict(None, 4, "missed", None, final=True))

    assert shown.differences(_judged(("played", "rim"), (2, 3))) == 0


def test_another_outcome_or_target_is_one_difference() -> None:
    """Each hit counts once: by its outcome, by its target, or because it was never settled."""
    shown = LiveVerdicts()
    for hit in range(3):
        shown.add(Verdict(hit, hit, "played", 0.0, final=True))

    assert shown.differences(_judged(("extra", "played", "played", "played"), (None, 2, 2, 3))) == 3
