"""Strokes in plain Python: what the verdict between rungs is made of, and must not load."""

from __future__ import annotations

import subprocess
import sys

import pytest
from handmade import course, judged, line, pattern, player, walk

from trainer.measure.clean import clean_verdict, strokes_verdict
from trainer.measure.stroke import count_hits, interval_errors, judged_strokes


def test_the_verdict_needs_no_arrays() -> None:
    """Importing the verdict in a fresh process loads neither NumPy nor anything of the screens."""
    code = (
        "import sys, trainer.measure.clean, trainer.measure.clean;"
        "print([m for m in ('numpy', 'textual', 'mido', 'rtmidi') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert done.stdout.strip() == "[]"


def test_a_verdict_can_be_built_from_strokes_and_counts() -> None:
    """The loop may hand over strokes and hit counts without a whole take."""
    made = judged(course(walk(), 2), offset_ms=player(2, 15.0), extras=[(2.2, "extra")])

    assert strokes_verdict(judged_strokes(made), count_hits(made)) == clean_verdict(made)


def test_feet_are_reported_by_limb_else_by_voice() -> None:
    """A kick without a limb is a foot's stroke, a snare without one a hand's."""
    from dataclasses import replace

    written = pattern(line("snare kick " * 4))
    bare = replace(written, notes=tuple(replace(note, limb=None) for note in written.notes))
    parts = {one.note.voice: one.part for one in judged_strokes(judged(course(bare)))}

    assert parts == {"snare": "hands", "kick": "feet"}


def test_both_hands_at_once_count_by_the_first_in_order() -> None:
    """A left hand that flams behind the right does not make the right uneven."""
    both = [*line("snare " * 8, limbs="R"), *line("tom1 " * 8, limbs="L")]
    made = judged(
        course(pattern(both)), offset_ms=lambda t: 10.0 if t.note.voice == "tom1" else 0.0
    )

    assert interval_errors(judged_strokes(made)) == pytest.approx([0.0] * 7, abs=1e-9)
