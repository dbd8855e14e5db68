"""Tonight's practice: what counts as evidence, what is passed over, and what is written."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import pytest
from sessions import RUNGS, Rungs, climbed, pattern

from trainer.actions.tonight import (
    FIRST_MINUTES,
    USUAL_MINUTES,
    Tonight,
    TonightRequest,
    keep_evening,
    plan_tonight,
    save_evening,
)
from trainer.archive import goals
from trainer.archive.ceilings import Climb
from trainer.archive.routines import RoutineProgressFile, load_routine
from trainer.errors import BadInput
from trainer.file_system import user_folder
from trainer.pattern.library import catalogue, is_name_taken, load_pattern
from trainer.practice.evening import ASSIGNED, DUE, GOAL, LATELY, STEP, WEAK, Candidate
from trainer.practice.routine import FREE_PLAY, LADDER, RoutineProgress
from trainer.show.session_words import evening_lines

if TYPE_CHECKING:
    from pathlib import Path

NOW = datetime(2026, 3, 30, 19, tzinfo=UTC)


def play(name: str, days: float = 1.0, rungs: Rungs = RUNGS, **more: Any) -> Path:
    """Write a session of a pattern with a ladder, some days ago; return its file."""
    played = pattern(name) if name in (FREE_PLAY, "gone") else load_pattern(name)
    return climbed(played, NOW - timedelta(days=days), rungs, **more)


def tonight(minutes: float | None = None, port: str = "", player: str = "") -> Tonight:
    """Return the plan of the player's own folder."""
    return plan_tonight(TonightRequest(user_folder("recordings"), port, player, minutes), NOW)


def reasons(found: Tonight) -> dict[str, str]:
    """Return the reason of each pattern that is played in a ladder, or worth it."""
    played = [one.candidate for one in found.evening.blocks if one.block.kind == LADDER]
    return {one.pattern: one.reason for one in (*played, *found.evening.spare) if one}


def candidate(found: Tonight, pattern: str) -> Candidate:
    """Return what is known of one pattern."""
    played = [one.candidate for one in found.evening.blocks if one.candidate]
    return next(one for one in (*played, *found.evening.spare) if one.pattern == pattern)


def test_a_newcomer_begins_with_the_first_steps() -> None:
    """A short evening; hands alone come first, below the tempo of their step."""
    found = tonight()
    assert found.first
    assert found.evening.minutes == FIRST_MINUTES
    first = next(one for one in found.evening.blocks if one.block.kind == LADDER)
    assert first.block.pattern == "hands-eighths-and-sixteenths"
    assert first.begin == 67
    assert set(reasons(found).values()) == {STEP}


def test_one_session() -> None:
    """What was played yesterday is not due yet; its way continues."""
    play("two-drums-fours", 1)
    found = tonight()
    assert not found.first
    assert found.evening.minutes == USUAL_MINUTES
    assert reasons(found)["two-drums-fours"] == LATELY
    assert STEP in reasons(found).values()


def test_a_pattern_that_is_due_again() -> None:
    """After two days where it was practised on one; after eight, where on three."""
    play("flam-tap", 2.5)
    for days in (9, 7, 3):
        play("single-paradiddle", days)
    found = reasons(tonight())
    assert found["flam-tap"] == DUE
    assert found["single-paradiddle"] == LATELY


@pytest.mark.parametrize("port", ["Pad box", "keys"])
def test_kinds_of_input_are_not_mixed(port: str) -> None:
    """Nor do sessions of the simulated player ever count."""
    play("flam-tap", 5, source="Pad box")
    play("single-paradiddle", 5, source="keys")
    play("single-ratamacue", 5, source="simulated player")
    own, other = "flam-tap", "single-paradiddle"
    if port == "keys":
        own, other = other, own
    found = reasons(tonight(port=port))
    assert found[own] == DUE
    assert not {other, "single-ratamacue"} & set(found)


def test_only_sessions_elsewhere_are_said() -> None:
    """A plan for the kit says that there is nothing on it."""
    play("flam-tap", source="keys")
    found = tonight(port="Pad box")
    assert found.first
    assert found.elsewhere
    assert any("--port" in line for line in evening_lines(found))


def test_players_of_one_folder_are_not_mixed() -> None:
    """Without a name it is the player of the last session."""
    play("flam-tap", 9, player="Ada")
    play("single-paradiddle", 8, player="Ben")
    assert "flam-tap" not in reasons(tonight())
    assert reasons(tonight(player="ADA"))["flam-tap"] == DUE


def test_only_open_blocks() -> None:
    """They say nothing about patterns, and are no fault."""
    play(FREE_PLAY)
    found = tonight()
    assert not found.passed_over
    assert set(reasons(found).values()) == {STEP}


def test_the_limit_of_a_goal() -> None:
    """What is far from the goal comes; what is safe does not; a fixed pattern needs no ladder."""
    play("two-drums-fours", 1)
    play("flam-tap", 1)
    goals.add(goals.Goal("Overture", 152, "16", pattern="two-drums-fours"))
    goals.add(goals.Goal("Slow", 30, "8", pattern="flam-tap"))
    goals.add(goals.Goal("New", 80, "16", pattern="single-paradiddle"))
    goals.add(goals.Goal("Hers", 80, "16", player="Ada", pattern="single-ratamacue"))
    found = tonight()
    assert reasons(found)["two-drums-fours"] == GOAL
    assert reasons(found)["single-paradiddle"] == GOAL
    assert reasons(found)["flam-tap"] == LATELY
    assert "single-ratamacue" not in reasons(found)
    one = candidate(found, "two-drums-fours")
    assert one.need == 152
    assert one.margin is not None
    assert -0.4 < one.margin < -0.2


def test_a_goal_says_the_earliest_day() -> None:
    """Where the ladders of weeks allow a forecast; with one session there is none."""
    goals.add(goals.Goal("Overture", 152, "16", pattern="two-drums-fours"))
    play("two-drums-fours", 1)
    assert candidate(tonight(), "two-drums-fours").earliest is None
    for week in range(1, 8):
        slower = tuple((tempo - 4 * week, clean) for tempo, clean in RUNGS * 2)
        play("two-drums-fours", 1 + 4 * week, slower)
    one = candidate(tonight(), "two-drums-fours")
    assert one.earliest
    assert NOW.date() < one.earliest < NOW.date() + timedelta(days=200)
    assert any("at the earliest" in line for line in evening_lines(tonight()))


def test_a_goal_of_any_pattern_takes_the_fastest() -> None:
    """The pattern that comes nearest is its limit."""
    play("two-drums-fours", 1)
    play("flam-tap", 1, tuple((tempo / 2, clean) for tempo, clean in RUNGS))
    goals.add(goals.Goal("Overture", 152, "16"))
    assert reasons(tonight())["two-drums-fours"] == GOAL


def test_all_goals_reached() -> None:
    """Then there is no goal in the evening."""
    play("two-drums-fours", 1)
    goals.add(goals.Goal("Slow", 40, "16"))
    assert GOAL not in reasons(tonight()).values()


def test_a_damaged_file_of_goals_is_named_and_passed_over() -> None:
    """The evening is laid out all the same."""
    play("two-drums-fours", 5)
    goals.path().write_text("[[goal]]\nname = 3\n")
    found = tonight()
    assert any("goals.toml" in why for why in found.passed_over)
    assert reasons(found)["two-drums-fours"] == DUE
    assert any(line.startswith("Passed over:") for line in evening_lines(found))


def test_sessions_that_cannot_be_read_are_named() -> None:
    """They are left out, and the others count."""
    play("flam-tap", 9)
    (user_folder("recordings") / "odd.jsonl").write_text("no session")
    found = tonight()
    assert reasons(found)["flam-tap"] == DUE
    assert any("odd.jsonl" in why for why in found.passed_over)


def test_patterns_that_are_gone_are_named() -> None:
    """They are in the history, but cannot be played any more."""
    play("gone", 9)
    found = tonight()
    assert "gone" not in reasons(found)
    assert any("gone" in why for why in found.passed_over)


def test_patterns_that_do_not_fit_the_kit_are_named() -> None:
    """A kit without anything like a snare plays none of them: an open evening."""
    kits = user_folder("kits")
    kits.mkdir(parents=True)
    (kits / "small.toml").write_text('ports = ["Pad box"]\nwithout = ["snare"]\n')
    play("flam-tap", 9)
    found = tonight(port="Pad box")
    assert "flam-tap" not in reasons(found)
    assert any("your kit lacks" in why for why in found.passed_over)


FINDING = {
    "kind": "move",
    "name": "LH snare to floor",
    "limb": "LH",
    "start": "snare",
    "end": "floor",
    "faults": ["late"],
    "cost": 0.1,
    "evidence": ["12 ms late"],
}


def test_the_weakest_point_has_a_drill() -> None:
    """It is written once the evening is saved, and not twice; a drill has no drill of its own."""
    play("two-drums-fours", 2, advice=(FINDING,))
    found = tonight()
    assert reasons(found)["drill-lh-snare-to-floor"] == WEAK
    assert not is_name_taken("drill-lh-snare-to-floor")
    saved = load_routine(keep_evening(found.evening, NOW))
    assert is_name_taken("drill-lh-snare-to-floor")
    assert "drill-lh-snare-to-floor" in [one.pattern for one in saved.blocks]
    play("drill-lh-snare-to-floor", 1, advice=({**FINDING, "name": "LH", "kind": "hand"},))
    assert "drill-lh" not in reasons(tonight())
    assert candidate(tonight(), "drill-lh-snare-to-floor").text == ""


def test_a_weakness_of_long_ago_is_forgotten() -> None:
    """After a month another one may be the weakest."""
    play("two-drums-fours", 40, advice=(FINDING,))
    assert WEAK not in reasons(tonight()).values()


def test_history_of_long_ago_begins_low() -> None:
    """After a year a ladder begins well below what it would have begun at."""
    play("flam-tap", 400)
    late = candidate(tonight(), "flam-tap")
    soon = plan_tonight(TonightRequest(user_folder("recordings")), NOW - timedelta(days=398))
    early = candidate(soon, "flam-tap")
    assert late.begin < early.begin - 10


ASSIGNMENT = """
title = "A week"
word = "Slow first."
week = {week}
[[block]]
kind = "ladder"
pattern = "flam-tap"
minutes = 15
aim = 90
[[block]]
kind = "warm-up"
pattern = "single-paradiddle"
tempo = 60
minutes = 5
"""


def assign(week: str, text: str = ASSIGNMENT) -> None:
    """Put an assignment for the week of a day among the player's routines."""
    folder = user_folder("routines")
    folder.mkdir(parents=True)
    (folder / "week.toml").write_text(text.format(week=week))


@pytest.mark.parametrize(
    ("week", "due"), [("2026-03-30", True), ("2026-03-18", True), ("2026-02-18", False)]
)
def test_an_assignment_has_its_place(week: str, due: bool) -> None:
    """That of this week, or of the last two; one of long ago is over."""
    assign(week)
    (user_folder("routines") / "broken.toml").write_text("week = [")
    found = tonight(40)
    assert any("broken.toml" in why for why in found.passed_over)
    assert (reasons(found).get("flam-tap") == ASSIGNED) == due
    if due:
        assert candidate(found, "single-paradiddle").reason == ASSIGNED
        blocks = [one.block for one in found.evening.blocks]
        assert next(one for one in blocks if one.pattern == "flam-tap").aim == 90


CARRIED = """
[[pattern]]
file = "our-own.toml"
text = '''
title = "Ours"
hands = "RLRL"
'''
"""


def test_an_assignment_that_carries_its_pattern() -> None:
    """What the evening is saved as opens it, wherever the pattern came from."""
    assign("2026-03-30", ASSIGNMENT.replace("flam-tap", "our-own") + CARRIED)
    found = tonight(20)
    assert not found.passed_over
    assert candidate(found, "our-own").reason == ASSIGNED
    blocks = load_routine(save_evening(found.evening, "mine")).blocks
    assert "Ours" in {load_pattern(one.opened).title for one in blocks if one.pattern}


def test_an_aim_that_is_reached_is_not_due() -> None:
    """Clean at 108 where 90 was assigned."""
    assign("2026-03-30")
    play("flam-tap", 0.1)
    assert reasons(tonight())["flam-tap"] == LATELY


def test_a_saved_evening_is_the_same_routine() -> None:
    """Written, read again, and never over another file."""
    play("two-drums-fours", 5)
    evening = tonight().evening
    path = save_evening(evening, "mine")
    assert load_routine(path).blocks == evening.routine("mine").blocks
    with pytest.raises(BadInput, match="already"):
        save_evening(evening, "mine")
    first, second = keep_evening(evening, NOW), keep_evening(evening, NOW)
    assert first != second
    assert load_routine(first) == load_routine(second)


def test_an_evening_that_was_begun_is_offered() -> None:
    """Until it is finished, and only on its day."""
    path = keep_evening(tonight().evening, NOW)
    assert tonight().begun is None
    kept = RoutineProgressFile(path, load_routine(path))
    kept.keep(RoutineProgress(2))
    assert tonight().begun == path
    assert any("trainer routine" in line for line in evening_lines(tonight()))
    tomorrow = NOW + timedelta(days=1)
    assert plan_tonight(TonightRequest(user_folder("recordings")), tomorrow).begun is None


def test_reading_changes_nothing() -> None:
    """A plan alone writes no routine and no drill."""
    play("two-drums-fours", 2, advice=(FINDING,))
    tonight()
    home = user_folder("x").parent
    assert sorted(path.name for path in home.iterdir()) == ["cache", "recordings"]


def test_few_ceilings_are_worked_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """As many as the evening may need, not one for every pattern that was ever climbed."""
    for at, name in enumerate(one.name for one in catalogue()[:30]):
        play(name, 3 + at)
    worked_out: list[str] = []
    slow = Climb.ceiling

    def counted(climb: Climb, now: datetime) -> object:
        worked_out.append(climb.pattern)
        return slow(climb, now)

    monkeypatch.setattr(Climb, "ceiling", counted)
    tonight()
    assert 1 <= len(worked_out) < 16
    assert len(set(worked_out)) == len(worked_out)
