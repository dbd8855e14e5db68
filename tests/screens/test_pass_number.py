"""Which of the asked passes it is, as the screen and the lines of text tell it."""

from __future__ import annotations

from stage import beat, pattern

from trainer.practice.events import HitJudged, PassCut, PassStarted, TargetMissed
from trainer.practice.outcomes import PLAYED
from trainer.show.board import Board
from trainer.show.plain_text import PlainText
from trainer.show.session_progress import SessionProgress


def _hit(pass_index: int) -> HitJudged:
    at = {"voice": "snare", "zone": "", "outcome": PLAYED, "target": 0, "offset_s": 0.0}
    return HitJudged(0, 0.0, 38, 80, **at, final=True, pass_index=pass_index, note_index=0)


def test_a_pass_that_was_broken_off_is_not_counted() -> None:
    """After a pause in the second of three passes, the second is played again."""
    progress = SessionProgress(Board(pattern()), 90.0, 3)
    plain = PlainText(pattern(), 3, every_hit=True)
    cut, again = PassCut(1, 5.0, "pressed"), PassStarted(2, 0, 90.0, 9.0, 24, 12)
    for event in (PassStarted(1, 0, 90.0, 4.0, 12, 12), cut, again):
        progress.hear(event)
        plain.lines(event)
    progress.hear(beat(0, pass_index=2))
    assert progress.pass_number == 2
    assert plain.lines(_hit(2))[0] == "Pass 2 of 3 at 90 BPM."


def test_a_stroke_reported_before_the_last_pass_is_settled_stands_in_its_own_pass() -> None:
    """The last strokes of a pass are settled after the first of the next one were heard."""
    plain = PlainText(pattern(), 2, every_hit=True)
    plain.lines(PassStarted(0, 0, 90.0, 0.0, 0, 12))
    plain.lines(PassStarted(1, 0, 90.0, 4.0, 12, 12))
    assert plain.lines(_hit(0))[0] == "Pass 1 of 2 at 90 BPM."
    assert plain.lines(_hit(1))[0] == "Pass 2 of 2 at 90 BPM."
    assert plain.lines(TargetMissed(11, 0, 0)) == ["  kick: missed."]
