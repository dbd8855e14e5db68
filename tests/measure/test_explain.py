"""Every number of a reading has its sentence, and no sentence is about nothing."""

from __future__ import annotations

import json
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING

from handmade import course, judged, levels, line, pattern, player, walk

from trainer.cli import run
from trainer.measure.explain import EXPLAINED, explanation, keys
from trainer.measure.reading import read
from trainer.pattern.tables import Level

if TYPE_CHECKING:
    import pytest


def _rich_summary() -> dict:
    """A summary that holds every kind of number: errors, levels, unisons, a change of value."""
    hands = line("snare tom1 " * 8) + line("snare snare " * 4, value="8", start=4)
    accented = levels(
        pattern(hands, line("kick " * 8, value="4", limbs="K")),
        lambda i, note: (Level.ACCENT, Level.GHOST, Level.NORMAL, Level.NORMAL)[i % 4],
    )
    play = player(1, 8.0)
    made = judged(
        course(accented, 4),
        offset_ms=lambda target: None if target.index % 17 == 0 else play(target),
        outcome=lambda target: "rim" if target.index % 13 == 0 else "played",
        extras=[(3.0, "extra"), (3.5, "double")],
        position=lambda target: 0.2,
    )
    return read(made).to_dict()


def test_every_number_of_a_reading_is_explained() -> None:
    """Each key of a rich summary and of an empty one has a sentence."""
    for summary in (_rich_summary(), read(judged(course(walk(), 0))).to_dict()):
        assert [key for key in keys(summary) if explanation(key) is None] == []


def test_no_sentence_is_about_nothing() -> None:
    """Each line of the table is met by a key of a rich summary."""
    found = list(keys(_rich_summary()))

    unmet = [known for known in EXPLAINED if not any(fnmatchcase(key, known) for key in found)]
    assert unmet == []


def test_the_command_tells_one_number_a_part_or_all(capsys: pytest.CaptureFixture[str]) -> None:
    """`explain` takes a key as --json names it, the head of a part, or nothing."""
    assert run(["explain", "offset.by_voice.snare.mean"]) == 0
    assert "minus is early" in " ".join(capsys.readouterr().out.split())

    assert run(["explain", "unisons", "--json"]) == 0
    assert set(json.loads(capsys.readouterr().out)) == {k for k in EXPLAINED if k[:7] == "unisons"}

    assert run(["explain"]) == 0
    assert capsys.readouterr().out.count("\n    ") >= len(EXPLAINED)


def test_an_unknown_number_is_answered_with_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    """A misspelt key is bad input, with a mend."""
    assert run(["explain", "offset.spred"]) == 2
    assert 'did you mean "offset.spread"' in capsys.readouterr().err


def test_what_counts_as_clean_is_told_with_its_grounds(capsys: pytest.CaptureFixture[str]) -> None:
    """`trainer explain clean` gives the sources and every figure of every level."""
    assert run(["explain", "clean"]) == 0
    told = capsys.readouterr().out
    for word in ("Friberg", "Hirsh", "rehearsal", "stage", "studio", "gap_ms"):
        assert word in told
