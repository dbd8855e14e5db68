"""Ceilings over a folder's sessions."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from trainer.actions.json_documents import ceilings_document
from trainer.actions.routine import PlayedBlock
from trainer.archive.ceilings import LadderResult, climb_of, climbs, ladder_start
from trainer.archive.session_list import RungConditions, SessionEntry, strictness_words
from trainer.measure.ceiling import RungOutcome, ceiling
from trainer.measure.clean import DEFAULT_TOLERANCE
from trainer.practice.events import Finished
from trainer.practice.routine import Block
from trainer.show.history_words import (
    ceiling_words,
    conditions_words,
    ladder_start_words,
    practice_lines,
)

NOW = datetime(2026, 6, 30, 12, tzinfo=UTC)


def _entry(
    days_ago: float, rungs: str, top: float, player: str = "A", pattern: str = "p"
) -> SessionEntry:
    """A session whose rungs end at `top`, two BPM apart; `c` is a clean one."""
    tempos = [top - 2 * (len(rungs) - 1 - place) for place in range(len(rungs))]
    return SessionEntry(
        path=Path("x.jsonl"),
        started=NOW - timedelta(days=days_ago),
        pattern=pattern,
        title=pattern.upper(),
        player=player,
        finished=True,
        seconds=60.0,
        passes=len(rungs),
        strikes=100,
        tempos=None,
        rungs=tuple((tempo, one == "c") for tempo, one in zip(tempos, rungs, strict=True)),
        figures={},
    )


GROWING = [_entry(60 - 10 * week, "ccccff", 90 + 6 * week) for week in range(6)]


def test_each_player_and_pattern_has_a_climb_of_its_own() -> None:
    """Rungs of others, and sessions without rungs, do not count."""
    found = climbs(
        [
            *GROWING,
            _entry(1, "cc", 200, player="B"),
            _entry(1, "ff", 60, pattern="q"),
            _entry(0, "", 0),
        ]
    )

    assert {(one.player, one.pattern) for one in found} == {("A", "p"), ("B", "p"), ("A", "q")}


def test_the_curve_of_a_growing_player_rises() -> None:
    """Each later point of the curve comes from the rungs played until then."""
    climb = climb_of(GROWING, "a", "p")
    assert climb is not None
    tempos = [one.half.tempo for _, one in climb.curve()]

    assert len(tempos) == 6
    assert tempos == sorted(tempos)
    assert len(climb.curve(points=3)) == 3
    assert climb.curve(points=3)[-1] == climb.curve()[-1]


def test_a_ladder_starts_below_the_ceiling() -> None:
    """The start is a whole tempo a tenth below that of three clean in four."""
    climb = climb_of(GROWING, "A", "p")
    found = climb.ceiling(NOW) if climb else None
    assert found is not None

    assert ladder_start(found) == round(0.9 * found.three_quarters.tempo)
    assert ", 90% interval)" in ceiling_words(found)


def test_a_start_says_how_far_below_the_ceiling_it_is() -> None:
    """The share stands in the sentence, and it is that of the two tempos in it."""
    climb = climb_of(GROWING, "A", "p")
    found = climb.ceiling(NOW) if climb else None
    assert found is not None
    start = ladder_start(found)
    reported = ladder_start_words(found, start)

    tempo, share, ceiling = re.findall(
        r"at (\d+) BPM, (\d+)% below your ceiling of (\d+)", reported
    )[0]
    assert float(tempo) == start
    assert abs(float(tempo) / float(ceiling) - (1 - float(share) / 100)) < 0.01
    assert "edge of this ladder's range" in ladder_start_words(found, start - 5)


def test_an_unbounded_ceiling_is_reported_as_a_bound() -> None:
    """Nothing failed: at least; the open end is null in JSON."""
    climb = climb_of([_entry(1, "ccc", 100)], "A", "p")
    assert climb is not None
    found = climb.ceiling(NOW)
    assert found is not None

    assert "at least" in ceiling_words(found)
    reported = json.loads(json.dumps(ceilings_document([climb], NOW), allow_nan=False))
    assert reported[0]["half"]["high"] is None
    assert reported[0]["half"]["low"] == reported[0]["half"]["tempo"]


def test_a_practice_ends_with_a_bound_where_only_a_bound_is_known() -> None:
    """A ladder of clean rungs alone has no ceiling yet, so its block names none."""
    climb = climb_of([_entry(1, "ccc", 100)], "A", "p")
    assert climb is not None
    result = LadderResult((), None, climb.ceiling(NOW))
    block = PlayedBlock(Block("ladder", 10.0, "roll"), Finished(None, {}), 60.0, result)
    lines = list(practice_lines("Evening", [block]))

    assert lines[:2] == ["Evening: 1 block, 60 seconds played.", "Ladder, roll: no verdict."]
    assert lines[2].startswith("  clean up to at least ")


def test_no_ladder_no_climb() -> None:
    """A player who climbed nothing has no ceiling."""
    assert climb_of([_entry(1, "", 0)], "A", "p") is None


def test_a_loose_ladder_says_nothing_of_a_tight_one() -> None:
    """Rungs of another strictness, length or input have a ceiling of their own."""
    loose = RungConditions("rehearsal", 0, "pads")
    kinds = [loose, replace(loose, strictness="studio"), replace(loose, passes=4)]
    entries = [
        replace(_entry(9 - day, "ccff", 300 - 60 * day), conditions=one)
        for day, one in enumerate([*kinds, replace(loose, input="keys")])
    ]

    assert [one.conditions for one in climbs(entries)] == [one.conditions for one in entries]
    tight, last = climb_of(entries, "A", "p", kinds[1]), climb_of(entries, "A", "p")
    assert tight is not None
    assert last is not None
    assert (tight.entries, last.entries) == (tuple(entries[1:2]), tuple(entries[3:]))
    assert climb_of(entries, "A", "p", replace(loose, strictness="stage")) is None


def test_strictness_in_short_names_what_was_changed() -> None:
    """A level as it is goes by its name; a figure set otherwise stands beside it; none is empty."""
    usual = DEFAULT_TOLERANCE.to_dict()

    assert strictness_words(usual) == DEFAULT_TOLERANCE.level
    assert strictness_words(usual | {"gap_ms": 11.5}) == f"{DEFAULT_TOLERANCE.level} gap_ms=11.5"
    assert strictness_words({}) == ""


def test_a_label_in_capitals_is_the_same_player() -> None:
    """Sessions of "Jo" and of "jo" are one climb, under the label used last."""
    found = climbs([_entry(2, "cc", 90, player="Jo"), _entry(1, "ff", 94, player="jo")])

    assert [(one.player, len(one.entries)) for one in found] == [("jo", 2)]


def test_a_pause_of_months_widens_the_ceiling_and_leaves_it_where_it_was() -> None:
    """What was known still is the best guess, within a step of the grid, but less surely so."""
    climb = climb_of(GROWING, "A", "p")
    assert climb is not None
    now, later = climb.ceiling(NOW), climb.ceiling(NOW + timedelta(days=300))
    assert now is not None
    assert later is not None

    assert abs(later.half.tempo / now.half.tempo - 1) < 0.03
    assert later.half.low < now.half.low
    assert later.half.high > now.half.high


def test_sessions_beyond_memory_change_nothing() -> None:
    """The ceiling of a long history is that of its last sessions."""
    many = [_entry(100 - day, "ccff", 100) for day in range(60)]
    whole, last = climb_of(many, "A", "p"), climb_of(many[20:], "A", "p")
    assert whole is not None
    assert last is not None

    assert whole.ceiling(NOW) == last.ceiling(NOW)


def test_the_curve_agrees_with_the_ceiling_at_each_moment() -> None:
    """Adding session by session gives what all rungs so far give at once."""
    climb = climb_of(GROWING, "A", "p")
    assert climb is not None
    for points in (2, 4, 24):
        for when, found in climb.curve(points):
            whole = climb.ceiling(when)
            assert whole is not None
            assert (found.half, found.three_quarters) == (whole.half, whole.three_quarters)
            assert found.rungs == whole.rungs


def test_ladders_that_only_conditions_keep_apart_are_named_by_them() -> None:
    """Level, passes and input in words; what is not known is left out."""
    assert conditions_words(RungConditions("solid", 4, "TD pads")) == (
        "solid, 4 passes a rung, on TD pads"
    )
    assert conditions_words(RungConditions("tight", 1)) == "tight, 1 pass a rung"
    assert conditions_words(RungConditions()) == "nothing known of its conditions"


def test_a_ladder_does_not_start_below_what_was_clean() -> None:
    """The slowest clean tempo of the last session is the floor, unless the ceiling is lower."""
    found = ceiling([RungOutcome(100.0 + at, at < 4) for at in range(8)])

    assert found is not None
    start = ladder_start(found)
    assert ladder_start(found, start + 3) == start + 3
    assert ladder_start(found, start - 3) == start
    assert ladder_start(found, 399.0) == round(found.half.tempo)
