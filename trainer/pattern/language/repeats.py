"""Texts with repeats, read from left to right in one go.

A text is words between blanks, commas and bar lines. `x4` repeats the word before it, `|: ... :|`
what is between (twice, as on paper, or as often as `x3` behind it says), and where a sticking
is read, round brackets hold what is soft. A repeat is counted before it is written out, so a large
number costs nothing; each character is looked at a bounded number of times.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import chain, pairwise
from typing import TYPE_CHECKING, Generic, TypeVar

from trainer.checked import shortened
from trainer.errors import BadInput
from trainer.pattern.model import MAX_STROKES

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.pattern.language.faults import TextFaults

T = TypeVar("T")
MAX_DEPTH = 8
TIMES = "x×"
_ENDS = {"|:": ":|", "(": ")", ">(": ")"}


@dataclass(slots=True)
class _Group(Generic[T]):
    """A group that is open: its words so far, and those with a comma before them.

    `brackets` are the round ones around its words. `size` counts all that is in it. `last` is the
    word that a repeat behind it would repeat, or None; `fresh` is True where the next stroke
    begins a word.
    """

    opened: str = ""
    brackets: str = ""
    words: list[list[T]] = field(default_factory=list)
    commas: list[int] = field(default_factory=list)
    size: int = 0
    last: list[T] | None = None
    fresh: bool = True

    def add(self, items: list[T]) -> None:
        """Put items behind the last word, or begin a new one with them."""
        self.size += len(items)
        _check_size(self.size)
        if self.fresh or self.last is None:
            self.words.append(items)
        else:
            self.words[-1] += items
        self.last, self.fresh = self.words[-1], False

    def repeat(self, times: int) -> None:
        """Write the last word out."""
        assert self.last is not None
        self.size += len(self.last) * (times - 1)
        _check_size(self.size)
        self.last *= times
        self.last, self.fresh = None, True

    def gap(self, sign: str) -> None:
        """Take note of a blank, or of a comma or bar line, over which nothing is repeated."""
        self.fresh = True
        if not sign.isspace():
            self.last = None
        if sign == "," and self.words:
            self.commas.append(len(self.words))

    def parts(self) -> list[list[T]]:
        """Return what is between commas, else the words."""
        if not self.commas:
            return self.words
        edges = pairwise([0, *self.commas, len(self.words)])
        return [self.joined(first, last) for first, last in edges if first < last]

    def joined(self, first: int = 0, last: int | None = None) -> list[T]:
        """Return what is in some words, or in all."""
        return [*chain.from_iterable(self.words[first:last])]


class RepeatReader(Generic[T]):
    """Reads one text; faults are kept in `wrong`.

    `word` reads the word that begins at a character and returns where it ends and what it means,
    None where it cannot be read. It gets the round brackets around the word: none, `(`, or `>(`
    where an accent is before them.
    """

    def __init__(
        self,
        text: str,
        word: Callable[[int, str], tuple[int, T | None]],
        wrong: TextFaults,
        *,
        brackets: bool = False,
    ) -> None:
        self.text, self.word, self.wrong = text, word, wrong
        self.brackets = brackets
        self.at = 0
        self.open: list[_Group[T]] = [_Group()]

    def parts(self) -> list[list[T]]:
        """Return the outermost parts of the text, each with all its repeats written out.

        Parts are what is between commas; in a text without commas every word and every group
        is a part.
        """
        while self.at < len(self.text):
            self._step()
        for group in self.open[1:]:
            fix = f"write {_ENDS[group.opened]} behind it"
            self.wrong.add(BadInput(f"a {group.opened} is never closed", fix=fix))
        return self.open[0].parts()

    def _step(self) -> None:
        sign, two = self.text[self.at], self.text[self.at : self.at + 2]
        if two == "|:" or (self.brackets and two == ">("):
            self._begin(two)
        elif self.brackets and sign == "(":
            self._begin(sign)
        elif two == ":|" or (self.brackets and sign == ")"):
            self._end(two if two == ":|" else sign)
        elif is_gap(sign):
            self.open[-1].gap(sign)
            self.at += 1
        elif end := times_end(self.text, self.at):
            self._times(end)
        else:
            self.wrong.count(self.at)
            self.at, item = self.word(self.at, self.open[-1].brackets)
            self.open[-1].add([] if item is None else [item])

    def _begin(self, opened: str) -> None:
        if len(self.open) > MAX_DEPTH:
            raise BadInput(
                f"groups are nested more than {MAX_DEPTH} deep", fix="write some of them out"
            )
        around = self.open[-1]
        around.fresh |= opened == "|:"
        self.open.append(_Group(opened, around.brackets if opened == "|:" else opened))
        self.at += len(opened)

    def _end(self, sign: str) -> None:
        self.at += len(sign)
        if _ENDS.get(self.open[-1].opened) != sign:
            begin = "|:" if sign == ":|" else "("
            self.wrong.add(BadInput(f"a {sign} closes no {begin}", fix=f"write {begin} before it"))
            return
        inside = self.open.pop().joined()
        around = self.open[-1]
        around.add(inside)
        if sign == ":|" and not times_end(self.text, _blanks_end(self.text, self.at)):
            around.repeat(2)

    def _times(self, end: int) -> None:
        times = _number(self.text[self.at + 1 : end].strip())
        if self.open[-1].last is None:
            words = f'nothing is before "{shortened(self.text[self.at : end])}" to be repeated'
            self.wrong.add(BadInput(words, fix="write it behind a word or a group"))
        else:
            self.open[-1].repeat(times)
        self.at = end


def is_gap(sign: str) -> bool:
    """Return whether a character is between words."""
    return sign.isspace() or sign in ",|"


def times_end(text: str, at: int) -> int:
    """Return where a repeat (`x4`, `x 4`) that begins at a character ends, 0 where none does."""
    if at >= len(text) or text[at] not in TIMES:
        return 0
    first = end = _blanks_end(text, at + 1)
    while end < len(text) and "0" <= text[end] <= "9":
        end += 1
    return end if end > first else 0


def _blanks_end(text: str, at: int) -> int:
    while at < len(text) and text[at].isspace():
        at += 1
    return at


def word_end(text: str, at: int) -> int:
    """Return where a word of a path or of note values ends: at a gap, or at its own `x4`."""
    end = at
    while end < len(text) and not is_gap(text[end]) and text[end : end + 2] != ":|":
        end += 1
    digits = end
    while digits > at and "0" <= text[digits - 1] <= "9":
        digits -= 1
    stuck = digits < end and digits - 1 > at and text[digits - 1] in TIMES
    return digits - 1 if stuck else end


def _number(digits: str) -> int:
    if len(digits) > 7 or not 1 <= int(digits) <= MAX_STROKES:
        raise BadInput(
            f"a repeat of {shortened(digits)} times is out of range",
            fix=f"choose one from 1 to {MAX_STROKES}",
        )
    return int(digits)


def _check_size(count: int) -> None:
    if count > MAX_STROKES:
        raise BadInput(
            f"written out this has {count} strokes, more than {MAX_STROKES}",
            fix="repeat it fewer times",
        )
