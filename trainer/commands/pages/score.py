"""A take that was recorded elsewhere, judged on the screen."""

from __future__ import annotations

from argparse import Namespace
from typing import TYPE_CHECKING

from trainer.commands.score import found_lines, judged_take
from trainer.file_system import expand_home, is_file
from trainer.measure.reading import read_take
from trainer.pattern import library
from trainer.show import reading_words
from trainer.show.page import (
    ChooseQuestion,
    Page,
    PageAct,
    PagePart,
    RunCommand,
    TextQuestion,
    paragraphs,
)

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from trainer.show.page import ReportProgress

GUIDE = (
    "A MIDI file that was recorded in any program, judged as if it had been played here: the "
    "program finds where the pattern begins and checks the tempo. It is read through the kit that "
    "is set, else as General MIDI."
)


def page(_port: str) -> Page:
    """Return the page that asks for a take."""
    return Page(
        "Judge a take that was recorded elsewhere",
        GUIDE,
        "trainer score TAKE --pattern P",
        _invite,
        (
            PageAct(
                "enter", "Choose a take", "Name a MIDI file and its pattern", _judge, (_file, _what)
            ),
        ),
    )


def _invite(_progress: ReportProgress) -> Iterator[PagePart]:
    yield PagePart(
        "Enter asks for a MIDI file and for what was played.",
        ("A file may be dropped on most terminals: its path is then typed for you.",),
    )


def _file(_under: str) -> TextQuestion:
    return TextQuestion("Which MIDI file?", "", _refused)


def _refused(path: str) -> str:
    return "" if is_file(_path(path)) else "There is no such file."


def _path(path: str) -> Path:
    """Return a path as typed, or as terminals quote one that is dropped on them."""
    return expand_home(path.strip("'\" "))


def _what(_under: str, _take: str) -> ChooseQuestion:
    told = [(one.name, one.title) for one in library.catalogue() if not one.fault]
    return ChooseQuestion("What was played?", told)


def _judge(_under: str, take: str, pattern: str) -> Page:
    """Return the page of a judged take."""
    path = _path(take)

    def tell(progress: ReportProgress) -> Iterator[PagePart]:
        progress("finding the pattern in the take …")
        given = Namespace(pattern=pattern, tempo=None, start="auto", kit=None, latency=None)
        found, judged, file = judged_take(path, given)
        yield from paragraphs(found_lines(found, file))
        yield PagePart("")
        told = read_take(judged, start_fitted=found.start_from == "played").to_dict()
        yield from paragraphs(reading_words.reading_lines(told))

    again = RunCommand(("replay", str(path), "--pattern", pattern))
    return Page(
        f"The take {path.name}",
        GUIDE,
        f"trainer score {path} --pattern {pattern}",
        tell,
        (
            PageAct(
                "enter", "Stroke by stroke", "Go through the take stroke by stroke", lambda _: again
            ),
        ),
    )
