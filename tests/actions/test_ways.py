"""Ways through the patterns: where a player is on them, and that nobody is left without a step."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from trainer import cli
from trainer.actions.ways import (
    STUCK_AFTER,
    WayState,
    find_way,
    rate_of,
    state_of_way,
    states_among,
    way_practised_last,
)
from trainer.archive.session_list import RungConditions, SessionEntry
from trainer.errors import BadInput
from trainer.file_system import shipped_folder, user_folder
from trainer.pattern.library import load_pattern
from trainer.pattern.ways import Way, known_ways, read_way

START = datetime(2026, 3, 1, 18, tzinfo=UTC)
WAYS = known_ways()[0]

ONE = """
title = "One way"
[[step]]
pattern = "single-stroke-roll"
why = "first"
tempo = 100
[[step]]
pattern = "single-paradiddle"
why = "second"
tempo = 90
[[step]]
pattern = "flam"
why = "third"
tempo = 80
back = "single-stroke-roll"
"""


def entry(
    pattern: str, clean: float | None, day: float = 0, strictness: str = "solid"
) -> SessionEntry:
    """Return a session of a pattern in which something was clean up to a tempo."""
    return SessionEntry(
        path=Path("one.jsonl"),
        started=START + timedelta(days=day),
        pattern=pattern,
        title=pattern,
        player="",
        finished=True,
        seconds=600.0,
        passes=8,
        strikes=100,
        tempos=(60.0, 120.0),
        rungs=(),
        figures={},
        conditions=RungConditions(strictness),
        clean_tempo=clean,
    )


def state(*entries: SessionEntry) -> WayState:
    """Return where a player is on the one way of a folder of the player's own."""
    folder = user_folder("ways")
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "one.toml").write_text(ONE)
    return next(one for one in states_among(entries).ways if one.way.name == "one")


def test_without_history_the_first_step_is_next() -> None:
    """Nothing is clean, nothing is stuck."""
    one = state()
    assert (one.place, one.here and one.here.step.pattern) == (0, "single-stroke-roll")
    assert not any(step.passed or step.stuck for step in one.steps)


def test_a_step_is_passed_at_its_tempo_and_strictly_enough() -> None:
    """Loose does not count, tight does; one below the tempo is not enough."""
    assert state(entry("single-stroke-roll", 99)).place == 0
    assert state(entry("single-stroke-roll", 120, strictness="loose")).place == 0
    assert state(entry("single-stroke-roll", 100)).place == 1
    assert state(entry("single-stroke-roll", 100, strictness="tight gap_ms=5")).place == 1


def test_whoever_is_ahead_is_not_sent_back() -> None:
    """A later step that is clean carries over the ones before it; at the end there is none."""
    assert state(entry("single-paradiddle", 95)).place == 2
    done = state(entry("flam", 80))
    assert (done.place, done.here) == (None, None)


def test_a_step_that_gets_no_faster_offers_its_way_back() -> None:
    """After so many sessions without a faster clean tempo; a faster one ends it."""
    slow = [entry("single-stroke-roll", 60, day) for day in range(STUCK_AFTER + 1)]
    assert not state(*slow[:-1]).steps[0].stuck
    assert state(*slow).steps[0].stuck
    assert not state(*slow, entry("single-stroke-roll", 70, 9)).steps[0].stuck
    never = [entry("flam", None, day) for day in range(STUCK_AFTER)]
    assert state(*never).steps[2].stuck
    assert state().steps[2].step.back == "single-stroke-roll"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "has no steps"),
        ('title = "x"\n[[step]]\npattern = "flam"\n', "why is missing"),
        (ONE.replace("tempo = 90", "tempo = 9e9"), "is not a number"),
        (ONE + "colour = 3\n", "unknown key"),
        ("[step]\n", "not a list"),
    ],
)
def test_a_faulty_way_is_refused_with_its_place(text: str, words: str) -> None:
    """Every fault at once, in words."""
    with pytest.raises(BadInput, match=words):
        read_way(text, "one")


def test_a_faulty_file_hides_no_other_way(capsys: pytest.CaptureFixture[str]) -> None:
    """It is named below the ways that can be read."""
    folder = user_folder("ways")
    folder.mkdir(parents=True)
    (folder / "broken.toml").write_text("[[step")
    assert cli.run(["way"]) == 0
    reported = capsys.readouterr().out
    assert "broken.toml" in reported
    assert all(one.title in reported for one in WAYS)


@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.name)
def test_every_shipped_way_leads_somewhere(way: Way) -> None:
    """Each step is a shipped pattern under the name its sessions have; the way back is one too.

    Along a way the strokes a second never fall by more than a fifth: a step may be slower where it
    asks for something new, but not as slow as a beginning.
    """
    assert len(way.steps) >= 4
    assert way.about.endswith(".")
    shipped = {path.stem for path in shipped_folder("patterns").glob("*.toml")}
    rates = []
    for step in way.steps:
        assert step.why.endswith(".")
        assert load_pattern(step.pattern).name == step.pattern
        assert step.pattern.split()[0] in shipped
        assert not step.back or load_pattern(step.back).name == step.back
        rates.append(rate_of(step) or 0.0)
    assert all(after >= 0.6 * before for before, after in pairwise(rates))
    assert rates[-1] > rates[0]


@pytest.mark.parametrize("habit", ["steady", "bad days", "forgets", "goes back"])
@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.name)
def test_learners_of_any_talent_reach_the_end_or_are_shown_the_way_back(
    way: Way, seed: int, habit: str
) -> None:
    """Assumed: a speed in strokes a second that grows to an own limit, and days that differ.

    Some have an evening in four on which little is clean, some lose a tenth in a pause every two
    weeks, some practise the way back for three evenings when it is offered.

    Whoever can play faster than the last step reaches the end; whoever cannot is shown the way
    back on the step that is too fast, with a pattern to go back to.
    """
    rng = np.random.default_rng(seed)
    rates = {step: rate_of(step) or 1.0 for step in way.steps}
    for talent in (0.7, 1.05, 1.3):
        limit, speed = talent * max(rates.values()), 0.6 * min(rates.values())
        sessions: list[SessionEntry] = []
        offered = set()
        back = 0
        for evening in range(300):
            here = state_of_way(way, sessions).here
            if here is None:
                break
            if here.stuck:
                offered.add(here.step)
                back = back or (4 if habit == "goes back" and evening % 10 == 0 else 0)
            today = speed * rng.normal(1.0, 0.03)
            if habit == "bad days" and rng.random() < 0.25:
                today *= 0.8
            if habit == "forgets" and evening % 14 == 13:
                speed *= 0.9
            back = max(0, back - 1)
            clean = here.step.tempo * today / rates[here.step]
            name = here.step.back if back and here.step.back else here.step.pattern
            sessions.append(entry(name, round(clean, 1), evening))
            speed += 0.04 * (limit - speed)
        last = state_of_way(way, sessions).here
        kept = 0.875 if habit == "forgets" else 1.0  # what two weeks bring back of the limit
        if kept * talent > 1:
            assert last is None
        else:
            assert last is None or (last.step in offered and last.step.back)


def test_the_words_of_a_way(capsys: pytest.CaptureFixture[str]) -> None:
    """A line for all, each step of one, and JSON; what does not exist is refused in words."""
    state()
    assert cli.run(["way"]) == 0
    assert "One way: step 1 of 3, single-stroke-roll at 100 BPM" in capsys.readouterr().out
    assert cli.run(["way", "one"]) == 0
    shown = capsys.readouterr().out
    assert ">  1. single-stroke-roll" in shown
    assert "clean at 100 BPM" in shown
    assert "Clean means clean at solid or tight." in shown
    assert shown.count("if it does not get there: single-stroke-roll") == 2
    assert all(len(line) <= 79 for line in shown.splitlines())
    assert cli.run(["way", "nowhere"]) == 2
    assert "there is no way" in capsys.readouterr().err
    with pytest.raises(BadInput):
        find_way(user_folder("recordings"), "")


def test_the_way_practised_last_is_the_one_of_the_last_session_on_any() -> None:
    """None without history; a pattern that is on no way changes nothing."""
    assert way_practised_last(()) is None
    state()
    played = [entry("single-paradiddle", 50, 0), entry("lesson-25", 60, 1)]
    found = way_practised_last(played)
    assert found is not None
    assert found.steps[found.place or 0].step.pattern
    assert "single-paradiddle" in {one.step.pattern for one in found.steps}
    assert way_practised_last(played[1:]) is None


def test_a_step_that_names_no_lead_is_passed_with_either_hand() -> None:
    """A player who set a lead plays patterns under a longer name; a named lead is wanted."""
    one = read_way(ONE, "one")
    led = [entry("single-stroke-roll lead=left", 104)]
    assert state_of_way(one, led).place == 1
    named = read_way(ONE.replace('"single-stroke-roll"\nwhy', '"flamacue lead=left"\nwhy'), "one")
    assert state_of_way(named, [entry("flamacue lead=right", 104)]).place == 0
    assert state_of_way(named, [entry("flamacue lead=left", 104)]).place == 1
