"""Beats, and the figure that the click plays on and between them.

A figure says how many clicks a beat has, also in turn; which beats have one; which are accented;
how late after the beat all of it is, for a click on the offbeat; how it swings; and which bars are
silent. In the count-in every beat clicks, on time. Written figures are texts, read here.

Kinds of click: `accent`, `beat`, and `sub` between beats. MIDI and the sound card play the same.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from itertools import accumulate
from random import Random
from typing import TYPE_CHECKING, TypeVar

from trainer.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

COUNT_IN, PLAYING = "count-in", "playing"

ACCENT_CLICK, BEAT_CLICK, BETWEEN_CLICK = "accent", "beat", "sub"
"""Kinds of click: on the bar's first beat, on another beat, between beats."""


@dataclass(frozen=True, slots=True)
class DueClick:
    """A click: when it is due and of which kind. A silent one is left out on purpose."""

    time_s: float
    kind: str
    silent: bool = False


@dataclass(frozen=True, slots=True)
class Beat:
    """One beat: its time, its bar and number in it from 0, how many the bar has, how long it is.

    Where a beat holds `pairs` of swung strokes, `share` is what the first of two has. One `inside`
    a group of beats does not begin it. It is `quarters` quarter notes long.
    """

    time_s: float
    phase: str
    bar: int
    beat: int
    beats: int
    length_s: float
    inside: bool = False
    pairs: int = 0
    share: float = 0.5
    quarters: float = 1.0

    @property
    def kind(self) -> str:
        """The kind of click that the pattern's meter gives this beat."""
        return BETWEEN_CLICK if self.inside else BEAT_CLICK if self.beat else ACCENT_CLICK


@dataclass(frozen=True, slots=True)
class SilentBars:
    """The bars in which the click is silent.

    The last `first` of every `of` bars, each time one more, up to `most`. Or each bar with a
    `chance` of 0 to 1: `seed` says which. Bars count on from rung to rung of a ladder, since a rung
    alone is often shorter than `of` bars and the silence would never grow. After a pause or a
    restart they begin again.
    """

    first: int = 0
    of: int = 1
    most: int = 0
    chance: float = 0.0
    seed: int = 0

    def silent(self, bar: int, laid_out: int) -> bool:
        """Return True for a bar: the how many-th since the turn began, and of all, from 0."""
        if self.chance:
            return Random(f"{self.seed} {laid_out}").random() < self.chance
        turn, place = divmod(bar, self.of)
        return place >= self.of - min(self.first + turn, self.most)


@dataclass(frozen=True, slots=True)
class ClickFigure:
    """What the click plays. Beats count from 1 here, as players count them.

    `parts` are clicks to a beat and for how many bars, in turn. `on` are the beats that click, all
    where it is empty. `accents` are the accented beats, None for the meter's own; `groups` accent
    the first of each group, in bars of as many beats or, with several parts, of as many clicks.
    `late` is in quarter notes, `swing` the share of two clicks that the first one has (None: the
    pattern's own).
    """

    parts: tuple[tuple[int, int], ...] = ((1, 1),)
    on: frozenset[int] = frozenset()
    accents: frozenset[int] | None = None
    groups: tuple[int, ...] = ()
    late: Fraction = Fraction(0)
    swing: float | None = None
    silent: SilentBars = field(default_factory=SilentBars)

    def clicks(self, beat: Beat, bar: int, *, silent: bool) -> list[DueClick]:
        """Return the clicks of a beat, in order. `bar` counts the bars since the turn began."""
        counting = beat.phase == COUNT_IN
        if self.on and beat.beat + 1 not in self.on and not counting:
            return []
        parts = self._parts(0 if counting else bar)
        late_s = 0.0 if counting else float(self.late) / beat.quarters * beat.length_s
        start_s = beat.time_s + late_s
        after = [self._place(beat, k, parts) * beat.length_s for k in range(parts)]
        return [
            DueClick(start_s + after_s, self._kind(beat, k, parts), silent)
            for k, after_s in enumerate(after)
        ]

    def fits(self, beats: int) -> bool:
        """Return whether a bar of so many beats has any click, and is as long as the groups."""
        clicks = {beats} | {beats * parts for parts, _ in self.parts}
        heard = not self.on or min(self.on) <= beats
        return heard and (not self.groups or sum(self.groups) in clicks)

    def _parts(self, bar: int) -> int:
        """Return the clicks to a beat in a bar."""
        ends = [*accumulate(bars for _, bars in self.parts)]
        place = bar % ends[-1]
        return next(parts for (parts, _), end in zip(self.parts, ends, strict=True) if place < end)

    def _kind(self, beat: Beat, k: int, parts: int) -> str:
        """Return the kind of the k-th of a beat's clicks."""
        starts = set(accumulate((0, *self.groups[:-1])))
        if self.groups and sum(self.groups) == beat.beats * parts:
            plain = BETWEEN_CLICK if k else BEAT_CLICK
            return ACCENT_CLICK if beat.beat * parts + k in starts else plain
        if k:
            return BETWEEN_CLICK
        accents = self.accents
        if self.groups and sum(self.groups) == beat.beats:
            accents = frozenset(start + 1 for start in starts)
        if accents is None:
            return beat.kind
        return ACCENT_CLICK if beat.beat + 1 in accents else BEAT_CLICK

    def _place(self, beat: Beat, k: int, parts: int) -> float:
        """Return which part of the beat is over at the k-th of `parts` clicks."""
        pairs, share = (beat.pairs, beat.share) if self.swing is None else (parts // 2, self.swing)
        even = k / parts
        if not pairs or parts % (2 * pairs):
            return even
        pair, inside = divmod(even * pairs, 1.0)
        second = inside >= 0.5
        moved = (2 * inside - second) * (1 - share if second else share)
        return (pair + moved + second * share) / pairs


# Figures as texts

MOST_PARTS, MOST_BARS, MOST_BEATS = 8, 1000, 64
LATEST = Fraction(1, 2)

FIGURE_TEXTS = {
    "click_parts": "1 to 8, or in turn: 1x4,4x4 (one click a beat for 4 bars, then four)",
    "click_on": "beats from 1 up: 2,4",
    "click_accents": "beats from 1 up: 1,3; groups of beats: 3+3+2; or none",
    "click_late": "a note value up to 1/2: 1/8",
    "click_swing": "50 (even) to 75: 67",
    "silent_bars": "1/4 (the last of every 4 bars), 1-3/4 (then the last 2, then 3) or 30%",
}
"""The texts that make a figure, by name, and how each is written."""

Read = TypeVar("Read")


def read_figure(
    texts: Mapping[str, str], seed: int = 0, named: Callable[[str], str] = str
) -> ClickFigure:
    """Return the figure that texts say; those that are empty or missing change nothing.

    `seed` chooses the bars that are silent by chance. `named` gives the name under which a fault
    of a text is reported. Raises BadInput.
    """

    def read(name: str, reader: Callable[[str], Read], otherwise: Read) -> Read:
        text = texts.get(name, "").strip()
        if not text:
            return otherwise
        try:
            return reader(text)
        except (ValueError, ZeroDivisionError):
            raise BadInput(
                f'"{text[:40]}" is not understood',
                where=named(name),
                fix=f"write {FIGURE_TEXTS[name]}",
            ) from None

    no_accents: tuple[frozenset[int] | None, tuple[int, ...]] = (None, ())
    accents, groups = read("click_accents", _accents, no_accents)
    figure = ClickFigure(
        read("click_parts", _parts, ((1, 1),)),
        read("click_on", _beats, frozenset()),
        accents,
        groups,
        read("click_late", _late, Fraction(0)),
        read("click_swing", _swing, None),
        read("silent_bars", lambda text: _silent(text, seed), SilentBars()),
    )
    if figure.swing is not None and all(parts % 2 for parts, _ in figure.parts):
        raise BadInput(
            "a swing needs two clicks to a beat",
            where=named("click_swing"),
            fix=f"set {named('click_parts')} to 2",
        )
    return figure


def _within(text: str, least: int, most: int) -> int:
    """Return a whole number in bounds; raises ValueError."""
    if not (text.isascii() and text.isdecimal() and len(text) < 6 and least <= int(text) <= most):
        raise ValueError
    return int(text)


def _parts(text: str) -> tuple[tuple[int, int], ...]:
    turns = [turn.strip().partition("x") for turn in text.split(",")]
    return tuple(
        (_within(parts, 1, MOST_PARTS), _within(bars, 1, MOST_BARS) if cross else 1)
        for parts, cross, bars in turns
    )


def _beats(text: str) -> frozenset[int]:
    return frozenset(_within(one.strip(), 1, MOST_BEATS) for one in text.split(","))


def _accents(text: str) -> tuple[frozenset[int] | None, tuple[int, ...]]:
    if text == "none":
        return frozenset(), ()
    if "+" in text:
        return None, tuple(_within(one.strip(), 1, MOST_BEATS) for one in text.split("+"))
    return _beats(text), ()


def _late(text: str) -> Fraction:
    over, _, under = text.partition("/")
    found = Fraction(_within(over, 1, 99), _within(under, 1, 999))
    if found > LATEST:
        raise ValueError
    return 4 * found


def _swing(text: str) -> float:
    return _within(text.removesuffix("%"), 50, 75) / 100


def _silent(text: str, seed: int) -> SilentBars:
    if text.endswith("%"):
        return SilentBars(chance=_within(text[:-1], 1, 99) / 100, seed=seed)
    silent, _, of_text = text.partition("/")
    first_text, grows, most_text = silent.partition("-")
    of = _within(of_text, 2, MOST_BARS)
    first = _within(first_text, 1, of - 1)
    return SilentBars(first, of, _within(most_text, first, of - 1) if grows else first)
