"""The text of a reading: short, signed in words, and never finer than the take allows."""

from __future__ import annotations

import random
import re

import pytest
from handmade import course, judged, levels, line, pattern, player, walk

from trainer.measure.reading import read_take
from trainer.pattern.description import value_words
from trainer.pattern.model import Level
from trainer.show.number_words import (
    beat_text,
    duration_text,
    offset_text,
    percent_text,
    rounding_step,
)
from trainer.show.reading_words import reading_lines, rounding_lines, weakness_words


def _troubled() -> dict:
    """A take with something to say in every part."""
    rng = random.Random(7)
    hands = line("snare snare snare snare snare tom1 tom1 tom1 floor floor floor floor " * 2)
    late = line("snare " * 8, value="8", start=6)
    written = levels(
        pattern(hands, late, line("kick " * 10, value="4", limbs="K")),
        lambda i, note: Level.ACCENT if i % 5 == 0 else Level.GHOST if i % 7 == 0 else Level.NORMAL,
    )

    def play(target) -> float | None:
        if rng.random() < 0.03:
            return None
        far = 15.0 if target.note.voice == "floor" and target.note.limb == "RH" else 0.0
        kick = -12.0 if target.note.voice == "kick" else 0.0
        left = 8.0 if target.note.limb == "LH" else 0.0
        return rng.gauss(far + kick + left, 6.0) + target.time_s * 0.2

    return read_take(
        judged(
            course(written, 12),
            offset_ms=play,
            outcome=lambda t: rng.choices(("played", "rim", "wrong pad"), (96, 2, 2))[0],
            velocity=lambda t: max(1, min(127, round(rng.gauss(80, 10)))),
            extras=[(5.0 + at, "extra") for at in range(5)] + [(6.3, "double")],
        )
    ).to_dict()


def test_a_troubled_take_has_25_lines_at_most() -> None:
    """The short text stays short, and the full one holds it and adds the groups."""
    summary = _troubled()
    short, full = reading_lines(summary), reading_lines(summary, full=True)

    assert len(short) <= 25
    assert full[: len(short)] == short
    assert any(text.startswith("  floor tom: mean ") for text in full)
    assert max(map(len, short)) <= 79


def test_a_withheld_group_says_why_once() -> None:
    """Where all figures of a group are withheld for one reason, it is reported once."""
    full = reading_lines(read_take(judged(course(walk(), 2))).to_dict(), full=True)

    assert "  right hand: not measured: the click was never silent" in full


def test_what_went_wrong_is_named() -> None:
    """The planted faults are reported: a late arrival, an early kick, a limp."""
    text = "\n".join(reading_lines(_troubled()))

    assert "right foot" in text
    assert re.search(r"right foot \d+ ms early", text)
    assert "right hand, high tom to floor tom:" in text
    assert "The foot" not in text
    assert "The hand last by " in text
    assert "Limp: left hand " in text


def test_a_difference_that_may_be_chance_is_not_reported() -> None:
    """An even player is shown no move, no limp and no trend."""
    text = "\n".join(
        reading_lines(read_take(judged(course(walk(), 4), offset_ms=lambda t: 1.0)).to_dict())
    )

    assert "Move" not in text
    assert "Limp" not in text
    assert "During" not in text


@pytest.mark.parametrize(("resolution", "step"), [(None, 1), (0.4, 1), (1.2, 2), (3, 5), (30, 50)])
def test_times_are_rounded_to_the_resolution(resolution: float | None, step: float) -> None:
    """Every length of time is a multiple of the step, or said to be under it; a line says why."""
    play = player(5, 9.0)
    summary = read_take(
        judged(course(walk(2), 6), offset_ms=play), resolution_ms=resolution
    ).to_dict()

    assert rounding_step(resolution) == step
    why = [line for line in reading_lines(summary) if line.startswith("Times are in steps")]
    assert why == rounding_lines(resolution)
    assert len(why) == (step > 1)
    text = "\n".join(line for line in reading_lines(summary) if line not in why)
    reported = re.findall(r"(?<!under )\b(\d+(?:\.\d+)?) ms\b(?! a minute)", text)
    assert reported or step == 50
    assert all(float(number) % step == 0 for number in reported)


def test_the_numbers_themselves_are_not_rounded() -> None:
    """A resolution changes the words only."""
    made = judged(course(walk()), offset_ms=lambda t: 1.234)
    rough, exact = (read_take(made, resolution_ms=one).to_dict() for one in (5.0, None))

    assert rough["offset"] == exact["offset"]
    assert rough["resolution_ms"] == 5.0


def test_single_phrases() -> None:
    """Signs are words, shares never claim none or all, places are counted as drummers do."""
    assert (offset_text(-4.2), offset_text(11.6), offset_text(0.3)) == (
        "4 ms early",
        "12 ms late",
        "on time",
    )
    assert (duration_text(0.2), duration_text(-7.0, 5.0)) == ("under 1 ms", "5 ms")
    assert [percent_text(one) for one in (0, 0.4, 50, 99.6, 100)] == [
        "0%",
        "under 1%",
        "50%",
        "over 99%",
        "100%",
    ]
    assert [beat_text(one) for one in ("0", "5/4", "3/2", "11/4", "1/3")] == [
        "1",
        "2e",
        "2&",
        "3a",
        "1+1/3",
    ]
    assert [value_words(one) for one in ("4", "8.", "8t", "16", "4t", "32s")] == [
        "quarters",
        "dotted 8ths",
        "8th triplets",
        "16ths",
        "quarter triplets",
        "32nd septuplets",
    ]


@pytest.mark.parametrize(
    ("kind", "name", "limb", "start", "end", "reported"),
    [
        ("move", "LH snare to tom1", "LH", "snare", "tom1", "left hand, snare to high tom"),
        ("unison", "RF with a hand", "RF", "", "", "right foot with a hand"),
        ("value", "value 16t", "", "16t", "16t", "16th triplets"),
        ("change", "8 to 16", "", "8", "16", "from 8ths to 16ths"),
        ("changes", "to shorter note values", "", "8", "32", "changes to shorter note values"),
    ],
)
def test_who_is_to_blame_is_said_as_a_drummer_says_it(
    kind: str, name: str, limb: str, start: str, end: str, reported: str
) -> None:
    """Every kind of finding has words of its own."""
    one = {"kind": kind, "name": name, "limb": limb, "start": start, "end": end}
    assert weakness_words(one) == reported
