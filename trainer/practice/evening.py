"""An evening of practice: which patterns, in which order, for how long, with which rests.

What there is to choose from comes in as `Candidate`s: a pattern, why it is worth playing and what
is known of it. The plan is pure; days and ceilings are arguments. Its rules, and their grounds:

- *Warm-up*: `WARM_UP_SHARE` of the time, at most five minutes, on the pattern that was practised
  on most days, at `WARM_UP_TEMPO` of the tempo at which three rungs in four are clean (common
  practice; both figures are our own choice).
- *What pays most*: of every reason in turn (`REASONS`) the first pattern. What was practised
  lately anyway comes last.
- *Interleaved*: one pattern after the other and back, never one twice in a row where there is
  another. Skills that are practised in turn are kept better than those practised in blocks, though
  they look worse meanwhile (contextual interference: Shea and Morgan 1979, J. Exp. Psychol. Hum.
  Learn. Mem. 5:179-187, from memory). Studies of music and sport find it less regularly.
- *Spaced*: what is due again after days is a reason of its own, and days between two practices grow
  with the days it was practised on (spacing: Cepeda and others 2006, Psychol. Bull. 132:354-380,
  from memory; that review is about words and facts). The doubling is our own choice.
- *Hard enough*: each block is a ladder, which stays where four rungs in five are clean
  (`trainer.practice.ceiling_search` has its grounds). None begins above its ceiling's aim, unless a
  teacher set it there.
- *Rests*: one after `MOST_PLAYING` minutes at most, a long one every hour (common practice: some
  minutes in every half hour; the figures are our own).

Which of these rules help simulated learners, and which do not, is in tests/bench/bench_tonight.py.
Lengths are in half minutes inside, so that minutes add up.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import count, cycle, zip_longest
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput
from trainer.pattern.model import MIN_TEMPO
from trainer.practice.ladder import START_SHARE
from trainer.practice.routine import FREE, LADDER, REST, WARM_UP, Block, Routine

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import date

ASSIGNED, GOAL, WEAK, STEP, DUE, LATELY = "assigned", "goal", "weak", "step", "due", "lately"
REASONS = (ASSIGNED, GOAL, WEAK, STEP, DUE, LATELY)
"""Why a pattern is worth playing, what pays most first."""

FEWEST_MINUTES, MOST_MINUTES = 5.0, 480.0
LONG_EVENING = 120.0
"""Minutes above which the evening is better split over days (our own choice)."""

WARM_UP_SHARE, WARM_UP_TEMPO = 0.125, 0.65
MOST_PATTERNS = 6

LONG_AGO = 30.0
"""Days after which a ladder begins below the low end of what is known (our own choice)."""

_WARM_UP, _BLOCK = (2, 10), (8, 16)
"""The shortest and the longest warm-up and block of an evening, in half minutes."""

MOST_PLAYING, REST_LENGTH, LONG_REST_LENGTH, RESTS_AN_HOUR = 30, 5, 20, 4
"""In half minutes: playing without a rest, a rest, and every fourth one."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A pattern that is worth playing, why, and what is known of it.

    `about` names the goal, the way or the weakness, `finding` is the weakness itself. `margin` is
    the ceiling over what the goal needs, less one; `earliest` the first day on which it may be
    reached at the rate of the last weeks (None: not known). `need` is the tempo to be clean at,
    `most` that at which three rungs in four are clean (None: no ladder yet), `begin` where its
    ladder begins, all in BPM. `days` have passed since it was played, on `practised` days in all.
    `step` counts from 1; `back` is True where an earlier step is offered because that one got no
    faster. `settled` is a teacher's block, `text` the file of a drill that is not written yet,
    `title` the pattern's own.
    """

    reason: str
    pattern: str
    begin: float
    most: float | None = None
    about: str = ""
    margin: float | None = None
    earliest: date | None = None
    need: float | None = None
    days: float | None = None
    practised: int = 0
    step: int = 0
    back: bool = False
    finding: Mapping[str, Any] = field(default_factory=dict)
    settled: Block | None = None
    text: str = ""
    title: str = ""


@dataclass(frozen=True, slots=True)
class EveningBlock:
    """A block and what it is for (None: a rest). `number` stays its own wherever it is moved."""

    number: int
    block: Block
    candidate: Candidate | None = None

    @property
    def begin(self) -> float | None:
        """The tempo it begins at (BPM), None without one."""
        return self.block.tempo or (self.candidate.begin if self.candidate else None)


@dataclass(frozen=True, slots=True)
class Evening:
    """The blocks in order, and what else would be worth playing, the best first."""

    blocks: tuple[EveningBlock, ...]
    spare: tuple[Candidate, ...] = ()

    @property
    def minutes(self) -> float:
        """The whole evening, rests and all."""
        return sum(one.block.minutes for one in self.blocks)

    def routine(self, title: str) -> Routine:
        """Return the evening as a routine."""
        return Routine(title, tuple(one.block for one in self.blocks))


def check_minutes(minutes: float) -> float:
    """Return the minutes of an evening, or raise BadInput for a length that none can have."""
    if not FEWEST_MINUTES <= minutes <= MOST_MINUTES:
        raise BadInput(
            f"an evening of {minutes:g} minutes cannot be laid out",
            where="minutes",
            fix=f"choose {FEWEST_MINUTES:g} to {MOST_MINUTES:g}",
        )
    return minutes


def lay_out(minutes: float, candidates: Sequence[Candidate]) -> Evening:
    """Return an evening of some minutes, to the half minute; open blocks with nothing to choose.

    Candidates of one reason come in their order. Raises BadInput.
    """
    halves = round(2 * check_minutes(minutes))
    lengths, warm_up = [*_stretches(halves)], _within(round(halves * WARM_UP_SHARE), _WARM_UP)
    lengths[0] -= warm_up
    parts = [_shared(one, max(1, round(one / _within(halves // 8, _BLOCK)))) for one in lengths]
    ranked = in_order(candidates)
    chosen = ranked[: _patterns(sum(map(len, parts)))]
    turns = cycle([*chosen] or [None])
    blocks = [_block(1, WARM_UP if chosen else FREE, warm_up, _known_best(ranked))]
    for place, part in enumerate(parts):
        if place:
            blocks.append(_block(len(blocks) + 1, REST, _rest(place), None))
        for length in part:
            kind = LADDER if chosen else FREE
            blocks.append(_block(len(blocks) + 1, kind, length, next(turns)))
    return Evening(tuple(blocks), tuple(ranked[len(chosen) :]))


def _stretches(halves: int) -> list[int]:
    """Return the playing time between rests, warm-up and all: as few stretches as there can be."""
    for rests in count():
        playing = halves - sum(map(_rest, range(1, rests + 1)))
        if playing <= (rests + 1) * MOST_PLAYING:
            return _shared(playing, rests + 1)
    raise AssertionError


def _rest(place: int) -> int:
    return REST_LENGTH if place % RESTS_AN_HOUR else LONG_REST_LENGTH


def _shared(total: int, parts: int) -> list[int]:
    """Return a whole number in parts that differ by one at most, the larger ones first."""
    return [total // parts + (at < total % parts) for at in range(parts)]


def _within(number: int, ends: tuple[int, int]) -> int:
    return min(max(number, ends[0]), ends[1])


def _patterns(blocks: int) -> int:
    """Return how many patterns some blocks are for: two at least, most come up twice."""
    return min(max(min(2, blocks), -(-blocks // 2)), MOST_PATTERNS)


def in_order(candidates: Sequence[Candidate]) -> list[Candidate]:
    """Return candidates with what pays most first, each pattern once, for its best reason.

    The reasons take turns, but what was practised lately anyway is last.
    """
    rows = [[one for one in candidates if one.reason == reason] for reason in REASONS[:-1]]
    lately = [one for one in candidates if one.reason == LATELY]
    found: dict[str, Candidate] = {}
    for one in (*(one for turn in zip_longest(*rows) for one in turn if one), *lately):
        found.setdefault(one.pattern, one)
    return [*found.values()]


def _known_best(ranked: Sequence[Candidate]) -> Candidate | None:
    """Return the pattern to warm up on: not that of the first block, where there is another."""
    return max(ranked[1:] or ranked, key=lambda one: one.practised, default=None)


def _block(number: int, kind: str, halves: int, one: Candidate | None) -> EveningBlock:
    block = Block(kind, halves / 2, title=one.title if one else "")
    if one and kind == WARM_UP:
        tempo = max(MIN_TEMPO, float(round(WARM_UP_TEMPO * (one.most or one.begin))))
        source = one.settled.source if one.settled else ""
        block = replace(block, pattern=one.pattern, tempo=tempo, source=source)
    elif one and one.settled:
        block = replace(one.settled, minutes=block.minutes)
    elif one:
        block = replace(block, pattern=one.pattern, start=one.begin)
    return EveningBlock(number, block, one)


def first_tempo(
    written: float,
    most: float | None = None,
    low: float | None = None,
    slowest: float | None = None,
    days: float | None = None,
) -> float:
    """Return the tempo (whole BPM) at which a block begins.

    `most` and `low` are the tempo at which three rungs in four are clean and the low end of its
    interval, `slowest` the slowest clean tempo of the last ladder. Where nothing is known it is
    below `written`, the tempo of the pattern or of its step.
    """
    if most is None:
        return max(MIN_TEMPO, float(int(START_SHARE * written)))
    if days is not None and days >= LONG_AGO:
        return max(MIN_TEMPO, float(int(START_SHARE * min(low or most, most))))
    start = max(START_SHARE * most, min(slowest or 0.0, most))
    return max(MIN_TEMPO, float(int(start)))


def gap_days(practised: int) -> float:
    """Return after how many days a pattern is due that was practised on some days: 2, 4, 8, ..."""
    return float(min(2 ** min(practised, 5), LONG_AGO))


# Changed by hand


def without(evening: Evening, number: int) -> Evening:
    """Return the evening without a block; a rest that is then first, last or double goes too."""
    left = tuple(_tidy([one for one in evening.blocks if one.number != number]))
    if not left:
        raise BadInput("nothing would be left", fix="leave one block")
    return replace(evening, blocks=left)


def _tidy(blocks: Sequence[EveningBlock]) -> Iterator[EveningBlock]:
    played = [at for at, one in enumerate(blocks) if one.block.kind != REST]
    for at, one in enumerate(blocks[: played[-1] + 1] if played else ()):
        if one.block.kind != REST or (at > played[0] and blocks[at - 1].block.kind != REST):
            yield one


def moved(evening: Evening, number: int, by: int) -> Evening:
    """Return the evening with a block some places later, or earlier where `by` is minus."""
    rows = [*evening.blocks]
    at = _place(evening, number)
    rows.insert(min(max(at + by, 0), len(rows) - 1), rows.pop(at))
    return replace(evening, blocks=tuple(rows))


def with_minutes(evening: Evening, number: int, minutes: float) -> Evening:
    """Return the evening with a block of another length; raises BadInput."""
    if not 0.5 <= minutes <= MOST_MINUTES:
        fix = f"choose 0.5 to {MOST_MINUTES:g}"
        raise BadInput(f"a block of {minutes:g} minutes cannot be played", fix=fix)
    one = block_of(evening, number)
    return replace(
        evening, blocks=_with(evening, replace(one, block=replace(one.block, minutes=minutes)))
    )


def swapped(evening: Evening, number: int) -> Evening:
    """Return the evening with the next best pattern in a block; what was there is the last spare.

    Raises BadInput for a rest, and where nothing else is worth playing.
    """
    one = block_of(evening, number)
    if one.candidate is None or not evening.spare:
        fix = "put the cursor on another block" if evening.spare else "m lays out another evening"
        raise BadInput("there is nothing to put in its place", fix=fix)
    new = _block(number, one.block.kind, round(2 * one.block.minutes), evening.spare[0])
    blocks = _with(evening, new)
    gone = one.candidate not in [other.candidate for other in blocks]
    return Evening(blocks, (*evening.spare[1:], *[one.candidate] * gone))


def _with(evening: Evening, new: EveningBlock) -> tuple[EveningBlock, ...]:
    """Return the blocks with a new one in place of that of its number."""
    return tuple(new if old.number == new.number else old for old in evening.blocks)


def renamed(evening: Evening, old: str, new: str) -> Evening:
    """Return the evening with the drill of a name under the name it was saved by."""
    return replace(
        evening,
        blocks=tuple(
            replace(
                one,
                block=replace(one.block, pattern=new),
                candidate=replace(one.candidate, pattern=new, text=""),
            )
            if one.candidate and one.candidate.pattern == old
            else one
            for one in evening.blocks
        ),
    )


def block_of(evening: Evening, number: int) -> EveningBlock:
    """Return a block by its number; raises BadInput where it was taken out."""
    return evening.blocks[_place(evening, number)]


def _place(evening: Evening, number: int) -> int:
    numbers = [one.number for one in evening.blocks]
    if number not in numbers:
        raise BadInput("this block was taken out", fix="put the cursor on another one")
    return numbers.index(number)
