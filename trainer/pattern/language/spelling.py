"""Stickings, paths, note values and grids as drummers spell them, read into plain values.

Every reader takes one text and returns tuples, or raises BadInput (Faults for several) that says
which parts of the text it could not read and where in it they stand; the caller adds the place of
the text. Repeats (`R*4`, `[R L R R]*2`) are counted before
they are written out, so a large number costs nothing.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, TypeVar

from trainer.checked import nearest, shortened
from trainer.errors import BadInput
from trainer.kit.voices import VOICES
from trainer.pattern.language.faults import TextFaults
from trainer.pattern.model import MAX_STROKES, NOTE_VALUES, SIGNS, ZONE_SIGNS, Level, Sign

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from trainer.pattern.model import NoteValue

T = TypeVar("T")
MAX_DEPTH = 8
_GAP = " \t\r\n,|"
_TIMES = re.compile(r"\*(\d+)")
_STROKE = re.compile(r"(>?)(\(?)([lr]{0,2})(>?)([RLBKH-])(\)?)")
_GHOSTS = re.compile(r"\(([^()]*[A-Z][^()]*[A-Z][^()]*)\)")
_GHOST = re.compile(r"[lr]{0,2}[RLBKH]")
_MENDS = {
    "a stroke": "write R, L, B (both), K (kick), H (hi-hat foot) or - (rest), such as R L >R (L)",
    "a drum": "write drums with blanks between them, such as snare*2 tom1",
    "a note value": "write note values with blanks between them, such as 8 16",
}
_WORD = re.compile(r"[^\s,|\[\]*]+")


@dataclass(frozen=True, slots=True)
class Stroke:
    """One step of a sticking.

    `who` is R, L, B (both hands), K (kick), H (hi-hat pedal) or `-` (rest); `graces` are the hands
    of its grace strokes, in the order they are played.
    """

    who: str
    level: Level = Level.NORMAL
    graces: str = ""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place to strike: a voice and a zone on it (empty: the ordinary one)."""

    voice: str
    zone: str = ""

    def __str__(self) -> str:
        return f"{self.voice}:{self.zone}" if self.zone else self.voice


@dataclass(frozen=True, slots=True)
class Stop:
    """One stop of a path: where the right and the left hand strike."""

    right: Spot
    left: Spot

    def __str__(self) -> str:
        return str(self.right) if self.right == self.left else f"{self.right}+{self.left}"


def sticking(text: str) -> tuple[Stroke, ...]:
    """Return the steps of a sticking such as `R L (R) lR >L`; blanks are for the eye."""
    text = _GHOSTS.sub(_each_ghost, text)
    wrong = TextFaults("step")
    found = _each(_parts(text, _STROKE, "a stroke", wrong), _stroke, wrong)
    wrong.tell()
    strokes = [stroke for part in found for stroke in part]
    if not strokes:
        raise BadInput("the sticking is empty", mend="write at least one stroke, such as R L")
    return tuple(strokes)


def row_hands(text: str) -> tuple[Stroke, ...]:
    """Return the hands written below a grid: R, L, B or - for each step, nothing else."""
    strokes = sticking(text)
    wrong = TextFaults("step")
    for place, stroke in enumerate(strokes):
        wrong.count(place)
        if stroke.who in "KH" or stroke.graces or stroke.level != Level.NORMAL:
            fault = BadInput(
                "below a grid only R, L, B and - say which hand strikes",
                mend="write accents, ghosts, flams and feet into the grid",
            )
            wrong.add(fault, place)
    wrong.tell()
    return strokes


def mirrored(strokes: Iterable[Stroke]) -> tuple[Stroke, ...]:
    """Return the same sticking with the hands exchanged; feet stay."""
    swap = str.maketrans("RLrl", "LRlr")
    return tuple(
        replace(stroke, who=stroke.who.translate(swap), graces=stroke.graces.translate(swap))
        for stroke in strokes
    )


def path(text: str) -> tuple[tuple[Stop, ...], ...]:
    """Return the parts of a path such as `snare*5 tom2*3 floor:rim`, each with all its stops.

    A part is a drum with its repeats, or a group in square brackets; orders exchange whole parts.
    `hihat+snare` sends the right hand to the first and the left hand to the second.
    """
    wrong = TextFaults("drum")
    parts = _parts(text, _WORD, "a drum", wrong)
    found = _each(parts, lambda match: _stop(match[0]), wrong)
    wrong.tell()
    if not found:
        raise BadInput("the path is empty", mend="name at least one drum, such as snare")
    return tuple(tuple(part) for part in found)


def values(text: str) -> tuple[NoteValue, ...]:
    """Return note values such as `8 8t 16*2`."""
    wrong = TextFaults("value")
    parts = _parts(text, _WORD, "a note value", wrong)
    found = _each(parts, lambda match: value(match[0]), wrong)
    wrong.tell()
    if not found:
        raise BadInput("no note value is given", mend="write one, such as 16")
    return tuple(one for part in found for one in part)


def value(text: str) -> NoteValue:
    """Return one note value by its name."""
    if text not in NOTE_VALUES:
        raise BadInput(
            f'"{shortened(text)}" is not a note value',
            mend="use 1 2 4 8 16 32 64, with . (dotted), t (triplet), q (5 in 4) or s (7 in 4)",
        )
    return NOTE_VALUES[text]


def spot(text: str) -> Spot:
    """Return a voice with its zone, such as `snare` or `snare:rim`."""
    voice, _, zone = text.partition(":")
    if voice not in VOICES:
        raise BadInput(f'there is no voice "{shortened(voice)}"', mend=nearest(voice, VOICES))
    zones = VOICES[voice].zones
    if ":" in text and zone not in zones:
        raise BadInput(
            f'the {voice} has no zone "{shortened(zone)}"', mend=f"it has {', '.join(zones)}"
        )
    return Spot(voice, "" if zone == zones[0] else zone)


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
    for at, mark in enumerate(text):
        if mark == "|":
            lines.append(len(cells))
        if mark in _GAP:
            continue
        wrong.count(at)
        cells.append(signs.get(mark))
        if mark not in "-." and mark not in signs:
            fault = BadInput(
                f'"{mark}" is not a sign of a grid on the {voice}',
                mend=f"use - for a rest, or one of {' '.join(signs)}",
            )
            wrong.add(fault, at)
    wrong.tell()
    if not cells:
        raise BadInput("the grid is empty", mend="write one sign a step, such as x--x")
    return Cells(tuple(cells), tuple(lines))


def _each_ghost(match: re.Match[str]) -> str:
    """Return `[(R) (L)]` for `(R L)`, so that brackets around several strokes ghost each."""
    return f"[{_GHOST.sub(lambda one: f'({one[0]})', match[1])}]"


def _stroke(match: re.Match[str]) -> Stroke:
    accent, opened, graces, late_accent, who, closed = match.groups()
    accent = accent or late_accent
    spelled = shortened(match[0])
    if bool(opened) != bool(closed):
        raise BadInput(f'"{spelled}" has half a pair of brackets', mend="write a ghost as (R)")
    if accent and opened:
        raise BadInput(f'"{spelled}" is an accent and a ghost at once', mend="keep one of the two")
    if (accent or opened) and who == "-":
        raise BadInput("a rest can be neither accent nor ghost", mend="write a plain -")
    if graces and (who not in "RL" or graces[-1] == who.lower()):
        raise BadInput(
            f'the grace stroke of "{spelled}" must come from the other hand',
            mend="write a flam as lR or rL, a drag as llR or rrL",
        )
    level = Level.ACCENT if accent else Level.GHOST if opened else Level.NORMAL
    return Stroke(who, level, graces.upper())


def _stop(text: str) -> Stop:
    right, plus, left = text.partition("+")
    one = _hand_spot(right)
    return Stop(one, _hand_spot(left) if plus else one)


def _hand_spot(text: str) -> Spot:
    found = spot(text)
    if VOICES[found.voice].foot:
        raise BadInput(
            f"a foot plays the {found.voice}, so it cannot stand in the path of the hands",
            mend="write it under [feet], or as K or H in the sticking",
        )
    return found


def _each(
    parts: list[list[re.Match[str]]], read: Callable[[re.Match[str]], T], wrong: TextFaults
) -> list[list[T]]:
    """Return each part's words read, every word of the text once; what is wrong is kept."""
    known: dict[int, T | None] = {}
    for match in (match for part in parts for match in part):
        if match.start() not in known:
            known[match.start()] = wrong.reading(partial(read, match), match.start())
    read_parts = ([known[match.start()] for match in part] for part in parts)
    return [[one for one in part if one is not None] for part in read_parts]


def _parts(
    text: str, word: re.Pattern[str], what: str, wrong: TextFaults
) -> list[list[re.Match[str]]]:
    """Split a text into its outermost parts, each with repeats and groups written out.

    Words that cannot be read are kept in `wrong` and passed over.
    """
    stack: list[list[list[re.Match[str]]]] = [[]]
    sizes = [0]
    at = 0
    while at < len(text):
        if text[at] in _GAP:
            at += 1
            continue
        if text[at] == "[":
            if len(stack) > MAX_DEPTH:
                raise BadInput(f"brackets are nested more than {MAX_DEPTH} deep")
            stack.append([])
            sizes.append(0)
            at += 1
            continue
        if text[at] == "]":
            if len(stack) == 1:
                wrong.add(BadInput("a ] closes no bracket", mend="write groups as [R L R R]*2"))
                at += 1
                continue
            items = [match for part in stack.pop() for match in part]
            sizes.pop()
            at += 1
        else:
            wrong.count(at)
            match = word.match(text, at)
            items = [match] if match else []
            end = match.end() if match else _alien_end(text, at, word)
            if not match:
                words = f'"{shortened(text[at:end])}" is not {what}'
                wrong.add(BadInput(words, mend=_MENDS[what]), at)
            at = end
        times = _TIMES.match(text, at)
        at = times.end() if times else at
        count = _times(times[1] if times else "1")
        sizes[-1] += len(items) * count
        _within(sizes[-1])
        stack[-1].append(items * count)
    if len(stack) > 1:
        wrong.add(BadInput("a [ is never closed", mend="write groups as [R L R R]*2"))
    return stack[0]


def _alien_end(text: str, at: int, word: re.Pattern[str]) -> int:
    """Return where the characters end that begin no word."""
    end = at + 1
    while end < len(text) and text[end] not in _GAP + "[]*" and not word.match(text, end):
        end += 1
    return end


def _times(digits: str) -> int:
    if len(digits) > 7 or not 1 <= int(digits) <= MAX_STROKES:
        raise BadInput(
            f"a repeat of {shortened(digits)} times is out of range",
            mend=f"choose one from 1 to {MAX_STROKES}",
        )
    return int(digits)


def _within(count: int) -> None:
    if count > MAX_STROKES:
        raise BadInput(
            f"written out this has {count} strokes, more than {MAX_STROKES}",
            mend="repeat it fewer times",
        )
