"""An evening laid out: minutes add up, patterns take turns, rests come, nothing begins too fast."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.errors import BadInput
from trainer.practice import evening as change
from trainer.practice.evening import (
    ASSIGNED,
    DUE,
    GOAL,
    LATELY,
    MOST_PATTERNS,
    MOST_PLAYING,
    REASONS,
    STEP,
    WARM_UP_TEMPO,
    WEAK,
    Candidate,
    first_tempo,
    gap_days,
    in_order,
    lay_out,
)
from trainer.practice.routine import FREE, LADDER, REST, WARM_UP, Block, missing_rests


def known(reason: str, name: str, most: float | None = 100.0, practised: int = 3) -> Candidate:
    """Return a candidate with a ladder that begins where it may."""
    return Candidate(reason, name, first_tempo(90.0, most), most, practised=practised)


MINUTES = st.floats(5, 480)
CANDIDATES = st.lists(
    st.builds(
        known,
        st.sampled_from(REASONS),
        st.sampled_from("abcdefgh"),
        st.none() | st.floats(40, 300),
        st.integers(0, 9),
    ),
    max_size=12,
)
FIVE = tuple(known(reason, reason) for reason in (GOAL, WEAK, STEP, DUE, LATELY))


@given(MINUTES, CANDIDATES)
def test_minutes_add_up(minutes: float, candidates: list[Candidate]) -> None:
    """To the half minute, and no block is empty."""
    evening = lay_out(minutes, candidates)
    assert evening.minutes == round(2 * minutes) / 2
    assert all(one.block.minutes >= 1 for one in evening.blocks)


@given(MINUTES, CANDIDATES)
def test_no_pattern_comes_twice_in_a_row_where_there_is_another(
    minutes: float, candidates: list[Candidate]
) -> None:
    """Nor after a rest, and the warm-up is another than the first ladder."""
    evening = lay_out(minutes, candidates)
    played = [one.block.pattern for one in evening.blocks if one.block.kind != REST]
    several = len({one.pattern for one in candidates}) > 1
    if several and minutes >= 8:
        assert all(one != other for one, other in pairwise(played))
    if not candidates:
        assert {one.block.kind for one in evening.blocks} <= {FREE, REST}


@given(MINUTES, CANDIDATES)
def test_a_rest_comes_in_time(minutes: float, candidates: list[Candidate]) -> None:
    """Never more than the most without one, never two together, none first or last."""
    evening = lay_out(minutes, candidates)
    played = 0.0
    kinds = [one.block.kind for one in evening.blocks]
    for one in evening.blocks:
        played = 0.0 if one.block.kind == REST else played + one.block.minutes
        assert played <= MOST_PLAYING / 2
    assert (REST, REST) not in pairwise(kinds)
    assert REST not in (kinds[0], kinds[-1])
    assert not missing_rests(evening.routine("evening"))


@given(MINUTES, CANDIDATES)
def test_nothing_begins_above_what_is_clean(minutes: float, candidates: list[Candidate]) -> None:
    """A ladder begins at three in four at most, and the warm-up well below it."""
    for one in lay_out(minutes, candidates).blocks:
        if one.candidate and one.candidate.most:
            share = WARM_UP_TEMPO if one.block.kind == WARM_UP else 1.0
            assert one.begin is not None
            assert one.begin <= max(20.0, share * one.candidate.most + 0.5)


def test_what_pays_most_takes_turns() -> None:
    """One of every reason before a second of any; what was practised lately is last."""
    several = [known(GOAL, "g1"), known(GOAL, "g2"), known(DUE, "d"), known(LATELY, "l")]
    several += [known(ASSIGNED, "a"), known(WEAK, "g1")]
    assert [one.pattern for one in in_order(several)] == ["a", "g1", "d", "g2", "l"]


def test_an_evening_of_40_minutes() -> None:
    """Warm-up on what was practised on most days, three patterns that take turns, two rests."""
    evening = lay_out(40, (*FIVE[:4], known(LATELY, "well known", practised=20)))
    said = [(one.block.kind, one.block.pattern) for one in evening.blocks]
    assert said == [
        (WARM_UP, "well known"),
        (LADDER, GOAL),
        (REST, ""),
        (LADDER, WEAK),
        (LADDER, STEP),
        (REST, ""),
        (LADDER, GOAL),
        (LADDER, WEAK),
    ]
    assert [one.pattern for one in evening.spare] == [DUE, "well known"]


def test_short_and_long() -> None:
    """Five minutes are one pattern without a rest; five hours have a long rest every hour."""
    short = lay_out(5, FIVE)
    assert [one.block.kind for one in short.blocks] == [WARM_UP, LADDER]
    rests = [one.block.minutes for one in lay_out(300, FIVE).blocks if one.block.kind == REST]
    assert rests[:5] == [2.5, 2.5, 2.5, 10.0, 2.5]
    many = [known(GOAL, str(at)) for at in range(40)]
    names = {one.block.pattern for one in lay_out(300, many).blocks if one.block.kind == LADDER}
    assert len(names) == MOST_PATTERNS


@pytest.mark.parametrize("minutes", [4.9, 481, -3, 0, float("nan"), float("inf")])
def test_lengths_that_are_none(minutes: float) -> None:
    """Refused in words."""
    with pytest.raises(BadInput, match="cannot be laid out"):
        lay_out(minutes, FIVE)


def test_a_teachers_block_stays_as_it_was_set() -> None:
    """Its tempo, step and aim; only the minutes are the evening's."""
    settled = Block(LADDER, 20, "rolls", start=120, step=2, aim=130, click=(("click_on", "2,4"),))
    one = Candidate(ASSIGNED, "rolls", 120, 100.0, settled=settled)
    block = next(b.block for b in lay_out(20, [one]).blocks if b.block.kind == LADDER)
    assert (block.start, block.step, block.aim, block.click) == (120, 2, 130, settled.click)
    assert block.minutes < 10


def test_where_a_ladder_begins() -> None:
    """A tenth below three in four, never below what was clean last, low after a long time."""
    assert first_tempo(100) == 90
    assert first_tempo(100, 200, 150, None, 3) == 180
    assert first_tempo(100, 200, 150, 190, 3) == 190
    assert first_tempo(100, 200, 150, 240, 3) == 200
    assert first_tempo(100, 200, 150, 190, 400) == 135
    assert first_tempo(20) == first_tempo(1) == 20


def test_days_between_two_practices_double() -> None:
    """2, 4, 8, 16 and then 30."""
    assert [gap_days(days) for days in (1, 2, 3, 4, 5, 50)] == [2, 4, 8, 16, 30, 30]


def test_changed_by_hand() -> None:
    """Taken out, moved, longer, swapped; the numbers stay with the blocks."""
    evening = lay_out(40, FIVE)
    numbers = [one.number for one in evening.blocks]
    assert [one.number for one in change.moved(evening, 2, 1).blocks] == [1, 3, 2, *numbers[3:]]
    assert change.moved(evening, 1, -1) == evening
    assert change.with_minutes(evening, 2, 20).minutes == 40 + 20 - evening.blocks[1].block.minutes
    fewer = change.without(change.without(evening, 4), 5)
    assert [one.number for one in fewer.blocks] == [1, 2, 3, 7, 8]
    swapped = change.swapped(evening, 5)
    assert swapped.blocks[4].block.pattern == DUE
    assert [one.pattern for one in swapped.spare] == [LATELY, STEP]
    assert [one.pattern for one in change.swapped(evening, 2).spare] == [LATELY]


def test_changes_that_cannot_be_made() -> None:
    """A rest has nothing to swap, the last block stays, minutes stay in range."""
    evening = lay_out(5, FIVE[:1])
    with pytest.raises(BadInput, match="nothing to put"):
        change.swapped(evening, 2)
    with pytest.raises(BadInput, match="nothing to put"):
        change.swapped(lay_out(40, FIVE), 3)
    with pytest.raises(BadInput, match="cannot be played"):
        change.with_minutes(evening, 2, 0)
    with pytest.raises(BadInput, match="nothing would be left"):
        change.without(change.without(evening, 1), 2)
    fewer = change.without(lay_out(40, FIVE), 2)
    for how in (change.swapped, lambda one, at: change.moved(one, at, 1), change.block_of):
        with pytest.raises(BadInput, match="was taken out"):
            how(fewer, 2)


@given(CANDIDATES, st.lists(st.integers(1, 12), max_size=12))
def test_a_rest_never_stays_alone(candidates: list[Candidate], out: list[int]) -> None:
    """Whatever is taken out, rests stay between what is played."""
    evening = lay_out(60, candidates)
    for number in out:
        try:
            evening = change.without(evening, number)
        except BadInput:
            break
    kinds = [one.block.kind for one in evening.blocks]
    assert (REST, REST) not in pairwise(kinds)
    assert REST not in (kinds[0], kinds[-1])
