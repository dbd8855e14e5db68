"""A page: a titled text of parts, made off the event loop, with the acts that its keys stand for.

A command that is text alone becomes a screen by returning a `Page`: the same functions make the
words, and `page_screen.show` draws them, scrolls them, says how far they are and offers the acts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

Progress = Callable[[str], None]
"""Says how far something is; raises `Left` once nobody looks any more."""


class Left(Exception):
    """The player left while something was still being made."""


@dataclass(frozen=True, slots=True)
class Part:
    """What the cursor stands on as one: a heading, the lines below it, and what acts call it."""

    heading: str
    lines: tuple[str, ...] = ()
    name: str = ""


@dataclass(frozen=True, slots=True)
class Run:
    """A command to run in place of the screen, as it would be typed after `trainer`."""

    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Choose:
    """A question with answers to choose from: what each stands for, and words beside it."""

    question: str
    choices: Sequence[tuple[str, str]]
    chosen: str | None = None


@dataclass(frozen=True, slots=True)
class Ask:
    """A question to be answered in writing; `refuses` says why an answer cannot be taken."""

    question: str
    text: str = ""
    refuses: Callable[[str], str] = lambda _text: ""


Done = Any
"""What an act comes to: a `Page` to be shown, a command to `Run`, words to be told, or
None. After the last two the page is made anew."""


@dataclass(frozen=True, slots=True)
class Act:
    """What a key does: it asks its questions in turn, then does it, off the event loop.

    `asks` and `does` get the name of the part under the cursor and the answers so far; a question
    may be None where there is nothing to ask.
    """

    key: str
    label: str
    tooltip: str
    does: Callable[..., Done]
    asks: tuple[Callable[..., Choose | Ask | None], ...] = ()


@dataclass(frozen=True, slots=True)
class Page:
    """One page; `command` prints the same as text, `tell` makes the parts and may take its time."""

    title: str
    guide: str
    command: str
    tell: Callable[[Progress], Iterable[Part]]
    acts: tuple[Act, ...] = ()


def paragraphs(lines: Iterable[str]) -> Iterator[Part]:
    """Give lines as parts: one that is not indented is the heading of the indented ones below.

    An empty line ends a part too.
    """
    block: list[str] = []
    for line in (*lines, ""):
        if block and not line.startswith(" "):
            yield Part(block[0], tuple(block[1:]))
            block = []
        if line:
            block.append(line)
