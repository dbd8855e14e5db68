"""The result of a ladder, from its session and the sessions before it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

from sessions import STARTED, header, saved

from trainer.actions.json_documents import ladder_document
from trainer.archive.ceilings import ladder_result_among, read_ladder_result
from trainer.archive.session import RungResult, Session
from trainer.archive.session_list import SessionEntry, conditions_of
from trainer.show.history_words import ladder_lines

if TYPE_CHECKING:
    from pathlib import Path

RUNGS = (
    RungResult(0, 80.0, clean=True),
    RungResult(1, 82.0, clean=True),
    RungResult(
        2, 84.0, clean=False, failed=("spread 21 ms, allowed 18", "missed strokes 3, allowed 1")
    ),
    RungResult(3, 84.0, clean=False, failed=("wrong pads 2, allowed 1",)),
    RungResult(4, 82.0, clean=True),
)
SESSION = Session(header(), rungs=RUNGS)


def _entry(path: Path, days: float, rungs: tuple[tuple[float, bool], ...]) -> SessionEntry:
    return SessionEntry(
        path=path,
        started=STARTED + timedelta(days=days),
        pattern=SESSION.pattern.name,
        title="",
        player=SESSION.header.player,
        finished=True,
        seconds=60.0,
        passes=1,
        strikes=100,
        tempos=None,
        rungs=rungs,
        figures={},
        conditions=conditions_of(SESSION.header),
    )


def test_the_course_is_reported_with_clean_rungs_in_a_row_as_one(tmp_path: Path) -> None:
    """Each rung that was not clean has its line and what failed."""
    own = _entry(tmp_path, 0, tuple((one.tempo, one.clean) for one in RUNGS))
    reported = list(ladder_lines(ladder_result_among(SESSION, [own])))

    assert reported[:-1] == [
        "Ladder: 5 rungs at 80 to 84 BPM, 3 clean.",
        "  80 to 82 BPM clean",
        "  84 BPM not clean: spread 21 ms, allowed 18; missed strokes 3, allowed 1.",
        "  84 BPM not clean: wrong pads 2, allowed 1.",
        "  82 BPM clean",
        "Before: no ladder yet.",
    ]
    assert reported[-1].startswith("Now: ceiling 84 BPM (")


def test_the_ceiling_before_knows_nothing_of_this_ladder_or_later_ones(tmp_path: Path) -> None:
    """Before: earlier sessions. After: with this one. Later sessions and other players are out."""
    own = _entry(tmp_path, 0, tuple((one.tempo, one.clean) for one in RUNGS))
    earlier = _entry(tmp_path, -7, ((60.0, True), (66.0, False), (64.0, False)))
    later = _entry(tmp_path, 7, ((150.0, True), (160.0, False)))
    other = replace(_entry(tmp_path, -1, ((200.0, True), (210.0, False))), player="Ben")
    alone = ladder_result_among(SESSION, [earlier, own])
    found = ladder_result_among(SESSION, [other, earlier, own, later])

    assert found == alone
    assert found.before is not None
    assert found.after is not None
    assert 60 < found.before.half.tempo < 66
    assert found.before.half.tempo < found.after.half.tempo < 90
    reported = ladder_document(found)
    assert [one["tempo"] for one in reported["rungs"]] == [80.0, 82.0, 84.0, 84.0, 82.0]
    assert reported["ceiling_before"]["tempo"] < reported["ceiling_after"]["tempo"]


def test_a_saved_session_is_read_with_its_folder(tmp_path: Path) -> None:
    """A session file with rungs has a ladder; a file that is gone has none, and is no fault."""
    path = saved(tmp_path)
    found = read_ladder_result(path)

    assert found is not None
    assert [one.clean for one in found.rungs] == [True, False]
    assert found.before is None
    assert read_ladder_result(tmp_path / "gone.jsonl") is None
    assert read_ladder_result(None) is None
    assert list(ladder_lines(None)) == []
