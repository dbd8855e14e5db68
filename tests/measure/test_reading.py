"""The reading as a whole: what it holds for plain and for strange takes."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from handmade import course, judged, line, pattern, player, walk

from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.measure.clean import clean_verdict
from trainer.measure.reading import read_take
from trainer.pattern.model import Limb
from trainer.practice.matcher import judge
from trainer.show.number_words import offset_text, rounding_step
from trainer.show.reading_words import reading_lines


def test_a_take_equal_to_its_course_reads_zero() -> None:
    """Every stroke on its target: nothing missed, no offset, no spread."""
    summary = read_take(judged(course(walk(2), 3))).to_dict()

    assert summary["counts"]["played"] == summary["counts"]["targets"] == 3 * (32 + 8 + 4)
    assert summary["counts"]["errors"]["value"] == 0.0
    assert summary["offset"]["mean"]["value"] == pytest.approx(0.0, abs=1e-9)
    assert summary["offset"]["spread"]["value"] == pytest.approx(0.0, abs=1e-9)


def test_minus_is_early() -> None:
    """Strokes 4 ms before their targets have an offset of -4 ms and are reported as early."""
    summary = read_take(judged(course(walk()), offset_ms=lambda target: -4.0)).to_dict()

    assert summary["offset"]["mean"]["value"] == pytest.approx(-4.0)
    assert any("4 ms early" in text for text in reading_lines(summary))


@pytest.mark.parametrize("strokes", [0, 1, 2, 5])
def test_few_strokes_are_no_crash_and_no_nan(strokes: int) -> None:
    """A reading of hardly anything is valid JSON without NaN, and says so in words."""
    made = judged(course(walk()), offset_ms=lambda target: 1.0 if target.index < strokes else None)
    summary = read_take(made).to_dict()

    json.dumps(summary, allow_nan=False)
    assert reading_lines(summary, full=True)
    if strokes < 3:
        assert summary["offset"]["mean"]["value"] is None
        assert "needs 3" in summary["offset"]["mean"]["why"]


def test_a_pattern_without_notes_reads() -> None:
    """No target at all is a reading that says nothing was asked for."""
    summary = read_take(judged(course(pattern([], bars=1)))).to_dict()

    assert summary["counts"]["targets"] == 0
    assert reading_lines(summary)[-1] == "No stroke was due: nothing to measure."


def test_groups_split_by_voice_limb_value_step_and_bar() -> None:
    """A lag of one voice shows in that voice's groups alone."""
    one = pattern(line("snare tom1 " * 8), line("kick " * 4, value="4", limbs="K"))
    late = judged(
        course(one, 3), offset_ms=lambda target: 10.0 if target.note.voice == "kick" else 0.0
    )
    offset = read_take(late).offset

    assert offset.by_voice["kick"].mean.value == pytest.approx(10.0)
    assert offset.by_limb["RF"].mean.value == pytest.approx(10.0)
    assert offset.by_value["4"].mean.value == pytest.approx(10.0)
    assert offset.by_voice["snare"].mean.value == pytest.approx(0.0, abs=1e-9)
    assert offset.by_step["1/4"].mean.value == pytest.approx(0.0, abs=1e-9)
    assert set(offset.by_bar) == {"0"}


def test_times_are_never_reported_finer_than_they_were_taken() -> None:
    """With a resolution of 3 ms a lateness of 7 ms is said in steps of 5 ms."""
    assert rounding_step(3.0) == 5.0
    assert offset_text(7.0, rounding_step(3.0)) == "5 ms late"
    assert offset_text(-1.0, rounding_step(3.0)) == "on time"

    summary = read_take(judged(course(walk()), offset_ms=lambda target: 7.0), resolution_ms=3.0)
    assert any("5 ms late" in text for text in reading_lines(summary.to_dict()))


def test_the_interval_of_the_mean_covers_the_truth() -> None:
    """Of 200 players who are 3 ms late on average, 90 % or more have 3 ms in their interval."""
    laid = course(walk())
    means = [
        read_take(judged(laid, offset_ms=player(seed, 8.0, 3.0))).offset.mean for seed in range(200)
    ]

    covered = sum(one.low <= 3.0 <= one.high for one in means if one.low and one.high)
    assert covered >= 180


def test_grace_strokes_are_counted_but_not_timed() -> None:
    """A flam's grace stroke 20 ms off says nothing about time, evenness, power or unisons."""
    main = line("snare " * 8, value="8", limbs="R")
    graces = [replace(note, limb=Limb.LH, grace=1) for note in main]
    made = judged(
        course(pattern(main, graces), 2),
        offset_ms=lambda target: 20.0 if target.note.grace else 0.0,
        velocity=lambda target: 20 if target.note.grace else 90,
    )
    found = read_take(made)

    assert (found.counts.targets, found.counts.played) == (32, 32)
    assert found.offset.mean.count == 16
    assert found.offset.mean.value == pytest.approx(0.0, abs=1e-9)
    assert found.power.mean.value == 90.0
    assert found.unisons.by_kind == {}
    assert clean_verdict(made).clean


def test_strikes_that_were_judged_read_like_outcomes_made_by_hand() -> None:
    """From strikes through the kit and the matcher to the same numbers as the truth has."""
    laid = course(walk(2), 4)
    truth = judged(laid, offset_ms=player(5, 6.0, 12.0))
    strikes = [
        Strike(hit.time_s, GENERAL_MIDI.note(hit.voice or "") or 0, hit.velocity)
        for hit in truth.hits
    ]
    found, wanted = (
        read_take(one).to_dict() for one in (judge(laid, strikes, GENERAL_MIDI), truth)
    )

    assert found["counts"] == wanted["counts"]
    for part in ("offset", "evenness", "unisons", "moves", "power", "staying", "sources"):
        assert found[part] == wanted[part]
