"""A page: a titled text of parts, made off the event loop, with the acts that its keys do.

A command that is text alone becomes a screen by returning a `Page`: the same functions make the
words, and the page screen draws them, scrolls them, shows how far they are and offers the acts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

ReportProgress = Callable[[str], None]
"""Says how far something is; raises `PageLeft` once nobody looks any more."""


class PageLeft(Exception):
    """The player left while something was still being made."""


@dataclass(frozen=True, slots=True)
class PagePart:
    """What the cursor marks as one: a heading, the lines below it, and what acts call it."""

    heading: str
    lines: tuple[str, ...] = ()
    name: str = ""


@dataclass(frozen=True, slots=True)
class ChooseQuestion:
    """A question with answers to choose from: what each means, and words beside it, or alone."""

    question: str
    choices: Sequence[tuple[str, str]]
    chosen: str | None = None
    words_alone: bool = False


@dataclass(frozen=True, slots=True)
class TextQuestion:
    """A question to be answered in writing; `refuses` says why an answer does not fit."""

    question: str
    text: str = ""
    refuses: Callable[[str], str] = lambda _text: ""


def refused_by(check: Callable[[str], object]) -> Callable[[str], str]:
    """Return what says why a check refuses an answer with BadInput; empty where it does not."""

    def refuses(answer: str) -> str:
        try:
            check(answer)
        except BadInput as fault:
            return str(fault)
        return ""

    return refuses


def number_refused_by(check: Callable[[float], object]) -> Callable[[str], str]:
    """Return the same for a check of a number."""

    def refuses(answer: str) -> str:
        try:
            number = float(answer)
        except ValueError:
            return "Type a number."
        return refused_by(lambda _: check(number))(answer)

    return refuses


ActResult = Any
"""The result of an act: a `Page` to open, a request to replay or to play, words to show, or None.

After the last two the page is made again."""


@dataclass(frozen=True, slots=True)
class PageAct:
    """What a key does: it asks its questions in turn, then acts, off the event loop.

    `asks` and `does` get the name of the part under the cursor and the answers so far; a question
    may be None where there is nothing to ask. What is not shown in the footer is in the help.
    """

    key: str
    label: str
    tooltip: str
    does: Callable[..., ActResult]
    asks: tuple[Callable[..., ChooseQuestion | TextQuestion | None], ...] = ()
    show: bool = True


@dataclass(frozen=True, slots=True)
class Page:
    """One page; `command` prints the same as text, `make` gives the parts and may take its time."""

    title: str
    guide: str
    command: str
    make: Callable[[ReportProgress], Iterable[PagePart]]
    acts: tuple[PageAct, ...] = ()


def paragraphs(lines: Iterable[str]) -> Iterator[PagePart]:
    """Yield lines as parts: one that is not indented is the heading of the indented ones below.

    An empty line ends a part too.
    """
    block: list[str] = []
    for line in (*lines, ""):
        if block and not line.startswith(" "):
            yield PagePart(block[0], tuple(block[1:]))
            block = []
        if line:
            block.append(line)
