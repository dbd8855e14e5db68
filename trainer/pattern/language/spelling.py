"""Stickings, paths, note values and grids as drummers spell them, read into plain values.

Every reader takes one text and returns tuples, or raises BadInput (Faults for several) that says
which parts of the text it could not read and where in it they are; the caller adds the place of
the text. Repeats (`R x4`, `|: R L R R :| x2`) are read by `trainer.pattern.language.repeats`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, TypeVar

from trainer.checked import shortened
from trainer.errors import BadInput
from trainer.kit.voices import VOICES, place_named, place_text
from trainer.pattern.language.faults import TextFaults
from trainer.pattern.language.old_spelling import refuse_old
from trainer.pattern.language.repeats import RepeatReader, is_gap, times_end, word_end
from trainer.pattern.model import (
    MOST_GRACES,
    NOTE_VALUES,
    OLD_SIGNS,
    SIGNS,
    ZONE_SIGNS,
    Level,
    Sign,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from trainer.pattern.model import NoteValue

T = TypeVar("T")
_WHO, _GRACE, _BUZZ, _SLASH = "RLBKH-", "lr", "z", "/"
_STROKE_SIGNS = f"{_WHO}{_GRACE}{_BUZZ}{_SLASH}>()"
MOST_SLASHES = 2
_STROKE_MEND = "write R, L, B (both), K (kick), H (hi-hat foot) or - (rest), such as >R (L) zR /L"


@dataclass(frozen=True, slots=True)
class Stroke:
    """One step of a sticking.

    `who` is R, L, B (both hands), K (kick), H (hi-hat pedal) or `-` (rest); `graces` are the hands
    of its grace strokes, in the order they are played. A `buzz` bounces until the next step. Each
    of the `slashes` makes twice as many strokes of it.
    """

    who: str
    level: Level = Level.NORMAL
    graces: str = ""
    buzz: bool = False
    slashes: int = 0


PLAIN_STROKES = {who: Stroke(who) for who in _WHO}


@dataclass(frozen=True, slots=True)
class Spot:
    """A place to strike: a voice and a zone on it (empty: the ordinary one)."""

    voice: str
    zone: str = ""

    def __str__(self) -> str:
        return place_text(self.voice, self.zone)


@dataclass(frozen=True, slots=True)
class Stop:
    """One stop of a path: where the right and the left hand strike.

    `graces` is where grace strokes before it are struck, None for the same place.
    """

    right: Spot
    left: Spot
    graces: Spot | None = None

    def __str__(self) -> str:
        main = str(self.right) if self.right == self.left else f"{self.right}+{self.left}"
        return f"{self.graces}~{main}" if self.graces else main


def sticking(text: str) -> tuple[Stroke, ...]:
    """Return the steps of a sticking such as `R L (R) lR >L`; blanks are for the eye."""
    refuse_old(text)
    wrong = TextFaults("step")
    reader = RepeatReader(text, partial(_read_stroke, text, wrong), wrong, brackets=True)
    strokes = [stroke for part in reader.parts() for stroke in part]
    wrong.show()
    if not strokes:
        raise BadInput("the sticking is empty", fix="write at least one stroke, such as R L")
    return tuple(strokes)


_ACCENTS = {">": Level.ACCENT, "-": Level.NORMAL, ".": Level.NORMAL, "g": Level.GHOST}


def accents(text: str) -> tuple[Level, ...]:
    """Return the loudness of each step from a line such as `>--->--g`; repeats as in a sticking."""
    wrong = TextFaults("step")

    def read_sign(at: int, _: str) -> tuple[int, Level | None]:
        fault = BadInput(
            f'"{shortened(text[at])}" is no accent',
            fix="write > for one, - for none, g for a ghost",
        )
        if text[at] not in _ACCENTS:
            wrong.add(fault, at)
        return at + 1, _ACCENTS.get(text[at])

    found = [level for part in RepeatReader(text, read_sign, wrong).parts() for level in part]
    wrong.show()
    if not found:
        raise BadInput("no accent is written", fix="write > for one, - for none, such as >---")
    return tuple(found)


def row_hands(text: str) -> tuple[Stroke, ...]:
    """Return the hands written below a grid: R, L, B or - for each step, nothing else."""
    strokes = sticking(text)
    wrong = TextFaults("step")
    for place, stroke in enumerate(strokes):
        wrong.count(place)
        if stroke.who in "KH" or stroke != PLAIN_STROKES[stroke.who]:
            fault = BadInput(
                "below a grid only R, L, B and - say which hand strikes",
                fix="write accents, ghosts, flams and feet into the grid",
            )
            wrong.add(fault, place)
    wrong.show()
    return strokes


def mirrored(strokes: Iterable[Stroke]) -> tuple[Stroke, ...]:
    """Return the same sticking with the hands exchanged; feet stay."""
    swap = str.maketrans("RLrl", "LRlr")
    return tuple(
        replace(stroke, who=stroke.who.translate(swap), graces=stroke.graces.translate(swap))
        for stroke in strokes
    )


def path(text: str) -> tuple[tuple[Stop, ...], ...]:
    """Return the parts of a path such as `snare x5, tom2 x3, floor/rim`, each with all its stops.

    Orders exchange whole parts: what is between commas, or without any comma each drum or
    group with its repeats. `hihat+snare` sends the right hand to the first and the left hand to
    the second.
    """
    found = _words(text, "drum", _stop)
    if not found:
        raise BadInput("the path is empty", fix="name at least one drum, such as snare")
    return tuple(tuple(part) for part in found)


def values(text: str) -> tuple[NoteValue, ...]:
    """Return note values such as `8 8t 16 x2`."""
    found = _words(text, "value", value)
    if not found:
        raise BadInput("no note value is given", fix="write one, such as 16")
    return tuple(one for part in found for one in part)


def value(text: str) -> NoteValue:
    """Return one note value by its name."""
    if text not in NOTE_VALUES:
        raise BadInput(
            f'"{shortened(text)}" is not a note value',
            fix="use 1 2 4 8 16 32 64, with . (dotted), t (triplet), q (5 in 4), s (7 in 4) or "
            "a ratio such as 16(5/3)",
        )
    return NOTE_VALUES[text]


def rolled_value(value: NoteValue, slashes: int) -> NoteValue | None:
    """Return the value of the strokes that slashes make of one of a value, None where none fits."""
    length = value.length / 2**slashes
    kind = (value.actual, value.normal)
    alike = (one for one in NOTE_VALUES.values() if (one.actual, one.normal) == kind)
    plain = (one for one in alike if one.length == length)
    return min(plain, key=lambda one: one.dots, default=None)


def spot(text: str) -> Spot:
    """Return a voice with its zone, such as `snare` or `snare/rim`."""
    voice, zone = place_named(text)
    return Spot(voice, "" if zone == VOICES[voice].zones[0] else zone)


@dataclass(frozen=True, slots=True)
class Cells:
    """A grid's cells, None for a rest, and the steps before which a bar line is written."""

    cells: tuple[Sign | None, ...]
    lines: tuple[int, ...] = ()


def grid(text: str, voice: str) -> Cells:
    """Return the cells of a row such as `x-x-|X-o-` on a voice."""
    cells: list[Sign | None] = []
    lines = []
    wrong = TextFaults("step")
    signs = SIGNS | {mark: sign for (name, mark), sign in ZONE_SIGNS.items() if name == voice}
    if VOICES[voice].foot:
        signs = {mark: sign for mark, sign in signs.items() if not sign.buzz}
    for at, mark in enumerate(text):
        if mark == "|":
            lines.append(len(cells))
        if is_gap(mark):
            continue
        wrong.count(at)
        cells.append(signs.get(mark))
        if mark not in "-." and mark not in signs:
            wrong.add(_no_sign(mark, voice, " ".join(signs)), at)
    wrong.show()
    if not cells:
        raise BadInput("the grid is empty", fix="write one sign a step, such as x--x")
    return Cells(tuple(cells), tuple(lines))


def _no_sign(mark: str, voice: str, known: str) -> BadInput:
    """Return the fault of a character of a grid that means nothing on a voice."""
    now = OLD_SIGNS.get((voice, mark))
    return BadInput(
        f'"{mark}" is not a sign of a grid on the {voice}',
        fix=f"write {now} for a cross-stick" if now else f"use - for a rest, or one of {known}",
    )


def _read_stroke(text: str, wrong: TextFaults, at: int, brackets: str) -> tuple[int, Stroke | None]:
    """Return where the stroke at a character ends, and the stroke."""
    if text[at] in _WHO and not brackets:
        return at + 1, PLAIN_STROKES[text[at]]
    first = _while_in(text, at, ">", 1)
    graces = _while_in(text, first, _GRACE, MOST_GRACES)
    second = _while_in(text, graces, ">", 1)
    buzz = _while_in(text, second, _BUZZ, 1)
    who = _while_in(text, buzz, _SLASH, MOST_SLASHES)
    if text[who : who + 1] not in _WHO or who >= len(text):
        end = _alien_end(text, at)
        fault = BadInput(f'"{shortened(text[at:end])}" is not a stroke', fix=_STROKE_MEND)
        wrong.add(fault, at)
        return end, None
    accented = first > at or second > graces or brackets == ">("
    spelled = brackets + text[at : who + 1]
    marks = buzz > second, who - buzz
    read = partial(_stroke, spelled, text[first:graces], accented, bool(brackets), marks)
    return who + 1, wrong.reading(read, at)


def _while_in(text: str, at: int, signs: str, most: int) -> int:
    """Return where up to `most` of some signs end that begin at a character."""
    end = at
    while end < len(text) and end - at < most and text[end] in signs:
        end += 1
    return end


def _alien_end(text: str, at: int) -> int:
    """Return where characters end that begin no stroke."""
    end = at + 1
    while end < len(text) and not (
        is_gap(text[end])
        or text[end] in _STROKE_SIGNS
        or text[end : end + 2] == ":|"
        or times_end(text, end)
    ):
        end += 1
    return end


def _stroke(
    spelled: str, graces: str, accented: bool, soft: bool, marks: tuple[bool, int]
) -> Stroke:
    """Return a stroke as it is spelled; `marks` are whether it is a buzz, and its slashes."""
    who = spelled[-1]
    buzz, slashes = marks
    if buzz and slashes:
        raise BadInput(
            f'"{shortened(spelled)}" is a buzz and measured strokes at once',
            fix="keep the z or the slash",
        )
    if (buzz and who not in "RLB") or (slashes and who not in "RL"):
        raise BadInput(
            f'"{shortened(spelled)}" cannot be rolled', fix="write zR, zB, /R or //L, a hand's roll"
        )
    if accented and soft:
        raise BadInput(
            f'"{shortened(spelled)}" is an accent and a ghost at once', fix="keep one of the two"
        )
    if accented and who == "-":
        raise BadInput("a rest can be neither accent nor ghost", fix="write a plain -")
    if graces and (who not in "RL" or graces[-1] == who.lower()):
        raise BadInput(
            f'the grace stroke of "{shortened(spelled)}" must come from the other hand',
            fix="write a flam as lR or rL, a drag as llR or rrL, a ruff as lrlR",
        )
    level = Level.ACCENT if accented else Level.NORMAL
    level = Level.GHOST if soft and who != "-" else level
    return Stroke(who, level, graces.upper(), buzz, slashes)


def _stop(text: str) -> Stop:
    graces, tilde, main = text.partition("~")
    right, plus, left = (main if tilde else text).partition("+")
    one = _hand_spot(right)
    return Stop(one, _hand_spot(left) if plus else one, _hand_spot(graces) if tilde else None)


def _hand_spot(text: str) -> Spot:
    found = spot(text)
    if VOICES[found.voice].foot:
        raise BadInput(
            f"a foot plays the {found.voice}, so it cannot be in the path of the hands",
            fix="write it under [feet], or as K or H in the sticking",
        )
    return found


def _words(text: str, unit: str, read: Callable[[str], T]) -> list[list[T]]:
    """Return the parts of a text of words between gaps, each word read, repeats written out."""
    refuse_old(text)
    wrong = TextFaults(unit)

    def read_word(at: int, _: str) -> tuple[int, T | None]:
        end = max(word_end(text, at), at + 1)
        return end, wrong.reading(partial(read, text[at:end]), at)

    parts = RepeatReader(text, read_word, wrong).parts()
    wrong.show()
    return parts
