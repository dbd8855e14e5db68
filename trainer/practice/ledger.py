"""The books of a live session: what is still open, and the counts of each bar, pass and the whole.

Verdicts go in, events come out. A pass's book is closed when every target of it is settled and no
hit inside it is open any more; what a closed book held is forgotten, so memory stays flat.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import deque
from dataclasses import replace
from typing import TYPE_CHECKING

from trainer.pattern.as_played import played_places
from trainer.pattern.model import bar_of
from trainer.practice.course import (
    Course,
    Pass,
    beat_at,
    beat_time,
    early_s,
    pass_end,
    pass_targets,
    seconds_per_quarter,
)
from trainer.practice.events import HitJudged, TargetMissed
from trainer.practice.outcomes import EXTRA, MISSED, PLAYED, RIM, Judged, RunningCounts, wrong_zone

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.kit.hits import Hit
    from trainer.pattern.model import Pattern
    from trainer.practice.course import Target
    from trainer.practice.events import BarEnded
    from trainer.practice.outcomes import Verdict
    from trainer.practice.plan import Step

TAIL_S = 0.060
"""A bar is reported this long after its end at the earliest: a late double still belongs to it."""

MOST_UNPLAYED = 64
"""So many passes without a stroke are remembered, should it turn out that the kit was gone."""


def piece_from(pattern: Pattern, one: Pass, bar: int) -> Pass:
    """Return the piece of a pass that begins with a bar, its grace strokes included."""
    if bar == 0:
        return one
    start = pattern.bars[bar].start
    due = [target.time_s for target in pass_targets(pattern, one, 0) if target.note.beat >= start]
    first_s = min([beat_time(pattern, one, start), *due])
    return replace(one, from_s=first_s - JUST_BEFORE_S)


def laid_out(pattern: Pattern, step: Step, index: int, first_s: float, click_late_s: float) -> Pass:
    """Return the pass of a step whose first beat falls on `first_s`, in its first bar to play."""
    before = played_places(pattern).at(pattern.bars[step.from_bar].start)
    start_s = first_s - before * seconds_per_quarter(pattern, step.tempo)
    whole = Pass(index, step.tempo, start_s, step.rung, click_late_s=click_late_s)
    return piece_from(pattern, whole, step.from_bar)


JUST_BEFORE_S = 1e-6
"""A piece begins this long before its first stroke, so that the stroke belongs to it."""


class BarLayout:
    """Where a pattern's bars end (quarter notes), where they begin and end as played, and in which
    bar each note is.

    Counted once in exact fractions and kept as floats: fractions are slow, and books ask often.
    """

    def __init__(self, pattern: Pattern) -> None:
        self.pattern = pattern
        at = played_places(pattern).at
        self.written_ends = [float(bar.end) for bar in pattern.bars]
        self.starts = [at(bar.start) for bar in pattern.bars]
        self.ends = [at(bar.end) for bar in pattern.bars]
        self.bar_of_note = [bar_of(pattern, note.beat) for note in pattern.notes]


class PassBook:
    """One pass: its step, its targets, its settled hits, and the counts of its bars."""

    def __init__(self, layout: BarLayout, one: Pass, step: Step, targets: Sequence[Target]) -> None:
        pattern = layout.pattern
        self.layout, self.one, self.step = layout, one, step
        self.quarter_s = seconds_per_quarter(pattern, one.tempo)
        self.end_s = pass_end(pattern, one)
        self.opens_s = one.begins_s - early_s(self.quarter_s)
        self.closes_s = self.end_s + TAIL_S
        self.targets = list(targets)
        self.hits: list[Hit] = []
        self.verdicts: list[Verdict] = []
        self.counts = RunningCounts()
        self.bars = [RunningCounts() for _ in pattern.bars]
        self.bar_targets = [0] * len(pattern.bars)
        for target in targets:
            self.bar_targets[self.bar(target)] += 1
        self.open_in_bar = list(self.bar_targets)
        # Bars before the piece that is played were reported with the piece before it.
        ends = map(self.bar_end_s, range(len(self.bars)))
        self.bars_reported = sum(one.left_out(end) for end in ends)
        self.continues_at: int | None = None

    def bar(self, target: Target) -> int:
        """Return the bar a target is written in."""
        return self.layout.bar_of_note[target.note_index]

    def beat_at(self, time_s: float) -> float:
        """Return the beat (quarter notes from the pattern's start) a second falls on."""
        return beat_at(self.layout.pattern, self.one, time_s)

    def bar_at(self, time_s: float) -> int:
        """Return the bar a second falls in, the first or last one for times outside the pass."""
        ends = self.layout.written_ends
        return min(bisect_right(ends, self.beat_at(time_s)), len(ends) - 1)

    @property
    def again(self) -> Step:
        """The step as it is played again after a cut: from its start, or where it continues."""
        return replace(self.step, from_bar=self.continues_at or 0)

    def stopped_in(self, at_s: float, now_s: float) -> int:
        """Return the bar in which the player stopped: that of the first stroke due since `at_s`.

        Who puts the sticks down before pausing is a bar further by then; who has not played for
        longer stopped where the pause came.
        """
        paused_in = self.bar_at(now_s)
        due = (self.bar(target) for target in self.targets if target.time_s >= at_s)
        stopped = next(due, paused_in)
        return stopped if paused_in - 1 <= stopped <= paused_in else paused_in

    def bar_start_s(self, bar: int) -> float:
        """Return when a bar begins."""
        return self.one.start_s + self.layout.starts[bar] * self.quarter_s

    def bar_end_s(self, bar: int) -> float:
        """Return when a bar ends as written."""
        return self.one.start_s + self.layout.ends[bar] * self.quarter_s

    def listens(self, time_s: float) -> bool:
        """Return True where a hit belongs to this pass: from half a beat before it to its tail."""
        return self.opens_s <= time_s < self.closes_s

    def cut(self, at_s: float) -> list[Target]:
        """Break the pass off; return the targets due at or after `at_s`, which it loses."""
        self.one = replace(self.one, end_s=at_s)
        self.end_s = self.closes_s = min(self.end_s, at_s)
        lost = [target for target in self.targets if target.time_s >= at_s]
        self.targets = self.targets[: len(self.targets) - len(lost)]
        return lost

    def settle(self, verdict: Verdict, target: Target | None, hit: Hit | None) -> None:
        """Enter one final verdict."""
        self.verdicts.append(verdict)
        if hit is not None:
            self.hits.append(hit)
        bar = self.bar(target) if target else self.bar_at(hit.time_s) if hit else 0
        self.counts.add(verdict, target)
        self.bars[bar].add(verdict, target)
        if target is not None and hit is not None:
            self.bars[bar].add_zone(target.note, hit)
        if target is not None:
            self.open_in_bar[bar] -= 1

    def judged(self) -> Judged:
        """Return the pass as a judged take of its own, targets and hits numbered from 0."""
        new_target = {target.index: count for count, target in enumerate(self.targets)}
        new_hit = {hit.index: count for count, hit in enumerate(self.hits)}
        target_outcome = [MISSED] * len(new_target)
        target_hit: list[int | None] = [None] * len(new_target)
        hit_outcome = [EXTRA] * len(new_hit)
        hit_target: list[int | None] = [None] * len(new_hit)
        for one in self.verdicts:
            if one.hit is None:
                continue
            hit_outcome[new_hit[one.hit]] = one.outcome
            if one.target is not None:
                place = new_target[one.target]
                hit_target[new_hit[one.hit]] = place
                target_hit[place] = new_hit[one.hit]
                target_outcome[place] = PLAYED if one.outcome == RIM else one.outcome
        return Judged(
            Course(self.layout.pattern, (self.one,)),
            tuple(replace(target, index=new) for new, target in enumerate(self.targets)),
            tuple(replace(hit, index=new) for new, hit in enumerate(self.hits)),
            tuple(target_outcome),
            tuple(target_hit),
            tuple(hit_outcome),
            tuple(hit_target),
        )


class Ledger:
    """All open books, and the counts since the session began."""

    def __init__(self, pattern: Pattern) -> None:
        self._layout = BarLayout(pattern)
        self.total = RunningCounts()
        self.books: deque[PassBook] = deque()
        self._unheard: deque[PassBook] = deque(maxlen=MOST_UNPLAYED)
        self._pieces: list[Judged] = []
        self.targets = 0
        self.heard_s = float("-inf")
        self._open_targets: dict[int, Target] = {}
        self._open_hits: dict[int, Hit] = {}

    def begin(self, one: Pass, step: Step, targets: Sequence[Target]) -> None:
        """Open the book of a pass."""
        self.books.append(PassBook(self._layout, one, step, targets))
        self._open_targets.update((target.index, target) for target in targets)
        self.targets += len(targets)

    def hit(self, hit: Hit) -> None:
        """Take in a hit that will be judged."""
        self._open_hits[hit.index] = hit
        self.heard_s = max(self.heard_s, hit.time_s)

    def enter(self, verdict: Verdict) -> HitJudged | TargetMissed | None:
        """Enter a verdict; return what is to be reported, None when its target was taken back."""
        target = None if verdict.target is None else self._open_targets.get(verdict.target)
        if verdict.hit is None:
            if target is None:
                return None
            self._settle(verdict, target, None)
            return TargetMissed(target.index, target.pass_index, target.note_index)
        hit = self._open_hits[verdict.hit]
        if target is not None:
            self.heard_s = max(self.heard_s, target.time_s)
        book = self._settle(verdict, target, hit) if verdict.final else self._book(target, hit)
        return HitJudged(
            hit=hit.index,
            time_s=hit.time_s,
            note=hit.note,
            velocity=hit.velocity,
            voice=hit.voice,
            zone=hit.zone,
            outcome=verdict.outcome,
            target=verdict.target,
            offset_s=verdict.offset_s,
            final=verdict.final,
            pass_index=book.one.index,
            note_index=None if target is None else target.note_index,
            beat=book.beat_at(hit.time_s),
            instead="" if target is None else wrong_zone(target.note, hit),
        )

    def _settle(self, verdict: Verdict, target: Target | None, hit: Hit | None) -> PassBook:
        book = self._book(target, hit)
        book.settle(verdict, target, hit)
        self.total.add(verdict, target)
        if target is not None:
            del self._open_targets[target.index]
        if hit is not None:
            del self._open_hits[hit.index]
        return book

    def _book(self, target: Target | None, hit: Hit | None) -> PassBook:
        """Return the book a target belongs to, else the one the hit's time falls in."""
        for book in reversed(self.books):
            if target is not None:
                if book.one.index == target.pass_index:
                    return book
            elif hit is not None and book.one.begins_s <= hit.time_s:
                return book
        return self.books[0]

    def cut(self, at_s: float, now_s: float, *, continued: bool = False) -> list[PassBook]:
        """Take back every target due at or after a second; return the books this cuts short.

        A pass that is over by `now_s` and has no such target stays whole. `continued` lets the
        first one continue with the bar in which the player stopped; otherwise none does any more.
        """
        cut: list[PassBook] = []
        if not continued:
            self._pieces.clear()
            for book in self.books:
                book.continues_at = None
        for book in self.books:
            whole = book.targets[-1:] and book.targets[-1].time_s < at_s
            if book.end_s <= (max(at_s, now_s) if whole else at_s):
                continue
            if continued and not cut:
                book.continues_at = max(book.step.from_bar, book.stopped_in(at_s, now_s))
            self._lose(book, at_s)
            cut.append(book)
        return cut

    def pieces_before(self, one: Pass) -> tuple[Judged, ...]:
        """Return the earlier pieces of a pass that is over, and forget them."""
        found = tuple(self._pieces) if one.from_s is not None else ()
        self._pieces.clear()
        return found

    def _take_back(self, book: PassBook, target: Target) -> None:
        bar = book.bar(target)
        book.bar_targets[bar] -= 1
        if self._open_targets.pop(target.index, None) is not None:
            book.open_in_bar[bar] -= 1
        else:
            for counts in (book.counts, book.bars[bar], self.total):
                counts.take_back(target)

    def bars_over(self, now_s: float) -> list[BarEnded]:
        """Return the bars that are over and settled, each reported once, in order."""
        reported: list[BarEnded] = []
        for book in self.books:
            while book.bars_reported < len(book.bars) and self._bar_over(book, now_s):
                bar = book.bars_reported
                book.bars_reported += 1
                if book.bar_start_s(bar) < book.end_s:
                    targets = book.bar_targets[bar]
                    reported.append(book.bars[bar].bar_ended(book.one.index, bar, targets))
            if book.bars_reported < len(book.bars):
                break
        return reported

    def _bar_over(self, book: PassBook, now_s: float) -> bool:
        bar = book.bars_reported
        end_s = min(book.bar_end_s(bar), book.end_s)
        if now_s < end_s + TAIL_S or book.open_in_bar[bar]:
            return False
        if bar == len(book.bars) - 1:
            end_s += TAIL_S
        return not any(hit.time_s < end_s for hit in self._open_hits.values())

    def close(self) -> list[PassBook]:
        """Return the books whose bars have all been reported, and forget them."""
        closed = []
        while self.books and self.books[0].bars_reported == len(self.books[0].bars):
            closed.append(book := self.books.popleft())
            if book.continues_at is not None:
                self._pieces.append(book.judged())
        self._unheard.extend(closed)
        while self._unheard and self._unheard[0].end_s <= self.heard_s:
            self._unheard.popleft()
        return closed

    def cut_unheard(self, at_s: float) -> list[PassBook]:
        """Take back what was missed at or after a second in passes that are over; return those.

        A kit may be gone for seconds before its system reports it.
        """
        cut = [book for book in self._unheard if book.targets and book.targets[-1].time_s >= at_s]
        self._unheard.clear()
        for book in cut:
            self._lose(book, at_s)
        return cut

    def _lose(self, book: PassBook, at_s: float) -> None:
        lost = book.cut(at_s)
        for target in lost:
            self._take_back(book, target)
        self.targets -= len(lost)
