"""The language: every line that a person can see is plain English, with numbers written one way.

Read are the string literals and docstrings of the program, the help of all commands, the words and
keys of `explain`, the screens at rest (`tests/screens/shots`), the two documents, and what plain
mode prints of example sessions.
"""

from __future__ import annotations

import argparse
import ast
import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from trainer import cli
from trainer.show.explanations import explanations
from trainer.show.glossary import FORMER_WORDS
from trainer.show.number_words import (
    count_text,
    duration_text,
    figure_text,
    interval_text,
    offset_text,
    percent_text,
)
from trainer.show.session_words import duration_words

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parent.parent
PROGRAM = ROOT / "trainer"

Text = tuple[str, str]
"""Where a text is, and the text."""

FOREIGN = {
    r"(?<!fore)\btells?\b|\btold\b|\btelling\b": "show, report, print",
    r"\bmend(s|ed|ing)?\b": "fix",
    r"\banew\b": "again",
    r"\bstands?\b(?!-in)|\bstanding\b|\bstood\b": "is, are",
    r"\b(go|goes|going|went|gone) on\b": "continue",
    r"\bby itself\b|\bby themselves\b": "automatically",
    r"\b(ask|asks|asked|asking) for\b": "written, due, chosen",
    r"(?-i:\bHears?\b)(?! and| 31)|\bhear of\b": "read, take in",
    r"\blies?\b|\blying\b": "is, are stored",
    r"\b(come|comes|came) to\b": "result",
    r"\b(break|breaks|broke|broken) off\b": "interrupt",
    r"\bsittings?\b": "session",
    r"\bbesides\b": "also",
    r"\bper cent\b": "percent",
    r"\bbeyond chance\b": "more than chance, significant",
    r"\blopes?\b": "limp",
    r"\bjudged otherwise\b": "corrected after the fact",
    r"\bstamps of\b": "stroke times",
    r"\bdrawn by lot\b": "in random order",
    r"\bfree play\b": "open block",
    r"\brehearsal\b|\bstudio\b": "loose, tight",
    r"\blook on\b": "watch",
}
"""Words that nobody would say to a drummer, and what to say instead."""

KEPT = re.compile(r"\bmusic stand\b|`lope`|\blope(?=[.:=])|evenness\.lope|/rehearsal|Semin\. Hear")
"""What stays: the thing that holds the page, a key of JSON, a name of MusicXML, a journal."""

BLANK_BEFORE_PERCENT = re.compile(r"[\w})] %(?!\w)")
MINUS_ZERO = re.compile(r"(?<![\w.])[-−]0(?:\.0+)?(?![\w.:/-])")
ONE_OF_MANY = re.compile(
    r"(?<![\w.:/])1 (?:seconds|minutes|hours|days|weeks|passes|strokes|rungs|bars|beats|hits|notes"
    r"|takes|sessions|blocks|moves|unisons|changes|intervals|rims|faults|lines|files|kits|ports)\b"
)
WIDEST = 79


def faults(text: str) -> list[str]:
    """Return what is foreign in a text: the word found, and what to say instead."""
    kept = KEPT.sub("", text)
    found = [
        f"{hit[0]!r}: say {instead}"
        for pattern, instead in FOREIGN.items()
        for hit in re.finditer(pattern, kept, re.IGNORECASE)
    ]
    found += [f"{hit[0]!r}: no blank before %" for hit in BLANK_BEFORE_PERCENT.finditer(kept)]
    found += [f"{hit[0]!r}: nothing is minus zero" for hit in MINUS_ZERO.finditer(kept)]
    return found + [f"{hit[0]!r}: one is singular" for hit in ONE_OF_MANY.finditer(kept)]


def _documented(tree: ast.Module) -> dict[int, str]:
    """Return the texts of a module that stand alone as statements: its docstrings."""
    return {
        id(one.value): str(one.value.value)
        for one in ast.walk(tree)
        if isinstance(one, ast.Expr)
        and isinstance(one.value, ast.Constant)
        and isinstance(one.value.value, str)
    }


def _literals(path: Path, *, documents: bool) -> Iterator[Text]:
    """Yield the docstrings of a file, or its other strings; what f-strings fill in is left out."""
    tree = ast.parse(path.read_text())
    docstrings = _documented(tree)
    for node in ast.walk(tree):
        if not isinstance(node, ast.Constant) or not isinstance(node.value, str):
            continue
        if not documents and (" " not in node.value.strip() or node.value in FORMER_WORDS):
            continue  # a key, a name, or a word that older files use
        if (id(node) in docstrings) == documents:
            yield f"{path.relative_to(ROOT)}:{node.lineno}", node.value


def _parsers(parser: argparse.ArgumentParser) -> Iterator[argparse.ArgumentParser]:
    """Yield a parser and those of its actions."""
    yield parser
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for below in dict.fromkeys(action.choices.values()):
                yield from _parsers(below)


def _help() -> Iterator[Text]:
    yield "trainer --help", cli.help_text()
    for name in cli.COMMANDS:
        for parser in _parsers(cli.parser_for(name)):
            yield f"{parser.prog} --help", parser.format_help()


def _explained() -> Iterator[Text]:
    yield from explanations(None).items()


def _screens() -> Iterator[Text]:
    for path in sorted((ROOT / "tests/screens/shots").glob("*.txt")):
        yield path.name, path.read_text()


def _document(name: str) -> Iterator[Text]:
    for number, line in enumerate((ROOT / name).read_text().splitlines(), 1):
        yield f"{name}:{number}", line


FOLDERS = sorted(
    str(path.relative_to(ROOT))
    for path in PROGRAM.iterdir()
    if path.is_dir() and any(path.glob("**/*.py"))
)


def _files(folder: str) -> list[Path]:
    """Return the modules of a folder; those of the top folder without its sub-folders."""
    top = ROOT / folder
    return sorted(top.glob("*.py") if folder == "trainer" else top.glob("**/*.py"))


def _strings(folder: str, *, documents: bool) -> Iterator[Text]:
    for path in _files(folder):
        yield from _literals(path, documents=documents)


PLACES = {
    "help": _help,
    "explain": _explained,
    "screens at rest": _screens,
    "README.md": lambda: _document("README.md"),
    "DEVELOPERS.md": lambda: _document("DEVELOPERS.md"),
    **{
        f"strings of {folder}": lambda folder=folder: _strings(folder, documents=False)
        for folder in ("trainer", *FOLDERS)
    },
    **{
        f"docstrings of {folder}": lambda folder=folder: _strings(folder, documents=True)
        for folder in ("trainer", *FOLDERS)
    },
}
"""Every place with words, by name."""


def found_in(place: str) -> list[str]:
    """Return every fault of a place, with where it is."""
    return [f"{where}: {fault}" for where, text in PLACES[place]() for fault in faults(text)]


LIBRARY_WORDS = re.compile(
    r"argument|positional|unrecognized|invalid|the app\b|command palette|exit$", re.IGNORECASE
)
"""Words of the libraries that read a command line and draw screens, none of them ours."""

WRONG_LINES = (
    "play",
    "play x --tempo abc",
    "play x --passes 1.5",
    "play x --nonsense",
    "play x --tempo",
    "play x --cl 3",
    "ladder x --rule foo",
    "sheet",
    "sheet x",
    "goal bogus",
    "replay --rung 1 --pass 2",
    "replay --plain=3",
    "patterns check",
    "kit nonsense",
)
"""Command lines with faults that the library finds."""


@pytest.mark.parametrize("line", WRONG_LINES)
def test_faults_of_a_command_line_are_in_our_words(
    line: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """What the library says of a wrong command line is said as everything else is."""
    assert cli.run(line.split()) == 2
    said = capsys.readouterr().err
    assert said.endswith((" --help.\n", ".\n"))
    assert not LIBRARY_WORDS.search(said), said


def test_helps_are_in_our_words() -> None:
    """Headings and rows that the library puts into every help."""
    assert [where for where, text in _help() if LIBRARY_WORDS.search(text)] == []


LONGEST_SENTENCE = 60


def test_sentences_on_screens_are_short() -> None:
    """Guides, messages and questions: nobody reads a long sentence with sticks in the hands."""
    sentences = [
        (where, sentence)
        for where, text in _strings("trainer/screens", documents=False)
        for sentence in re.split(r"(?<=[.:;?]) ", text)
    ]
    assert [one for one in sentences if len(one[1].strip()) > LONGEST_SENTENCE] == []


LONG_DATES = re.compile(r"\d{1,2} [A-Z][a-z]{2} \d{4}|\d{4}-\d\d-\d\d|%B|%Y")


def test_screens_have_one_short_form_of_dates() -> None:
    """No month in full, no date of a file; the year only where it is another (the shots: 2026)."""
    long = [name for name, text in _screens() if LONG_DATES.search(text)]
    folders = ("trainer/screens", "trainer/show")
    asked = [one for folder in folders for one in _strings(folder, documents=False)]
    assert long + [where for where, text in asked if re.search("%B|%Y", text)] == []


REPLAY = ("replay", "--recordings", "recordings")

PLAIN_MODE = {
    "plain: help": ["--help"],
    "plain: explain": ["explain"],
    "plain: explain clean": ["explain", "clean"],
    "plain: explain keys": ["explain", "--keys"],
    "plain: patterns": ["patterns", "list"],
    "plain: patterns language": ["patterns", "language"],
    "plain: patterns show": ["patterns", "show", "single-paradiddle"],
    "plain: kit": ["kit"],
    "plain: replay": [*REPLAY, "example-orders", "--plain"],
    "plain: replay in full": [*REPLAY, "example-odd-numbers", "--full"],
    "plain: history": ["history", "--recordings", "recordings"],
    "plain: compare": ["compare", "example-orders", "example-ladder"],
    "plain: goal": ["goal", "list"],
}
"""Commands that print text, by name."""


def printed(name: str, capsys: pytest.CaptureFixture[str]) -> list[str]:
    """Return the lines that a command of plain mode prints."""
    cli.run(PLAIN_MODE[name])
    return "".join(capsys.readouterr()).splitlines()


@pytest.mark.parametrize("place", PLACES)
def test_every_place_is_plain_english(place: str) -> None:
    """No foreign word, no blank before %, no minus zero, no "1 seconds"."""
    assert found_in(place) == []


@pytest.mark.parametrize("name", PLAIN_MODE)
def test_plain_mode_fits_into_79_columns(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A line that is longer is broken by the terminal, in the middle of a word."""
    lines = printed(name, capsys)
    assert lines
    assert [line for line in lines if len(line) > WIDEST] == []
    assert [fault for line in lines for fault in faults(line)] == []


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("This cannot be told.", 1),
        ("It goes on by itself.", 2),
        ("Of the accents 100 % are loud.", 1),
        ("f-string 12} % of them", 1),
        ("-0 ms", 1),
        ("late by -0.0", 1),
        ("1 seconds", 1),
        ("11 seconds, 1 second, -0.5 ms, 2020-01-02, 5%d, 10-04", 0),
        ("print it for the music stand", 0),
        ("evenness.lope: the limp", 0),
    ],
)
def test_the_search_finds_what_it_should(text: str, count: int) -> None:
    """Each rule is met by a sentence that breaks it, and by none that does not."""
    assert len(faults(text)) == count


def test_numbers_are_written_one_way() -> None:
    """Near zero there is no minus, near one no plural, and no blank before %."""
    figure = {"value": -0.2, "low": -0.4, "high": 0.3, "unit": "ms", "count": 1, "why": ""}
    share = figure | {"unit": "%"}
    written = [
        offset_text(-0.2),
        offset_text(-0.0),
        duration_text(-0.3),
        figure_text(figure, 1.0),
        figure_text(share, 1.0),
        interval_text(figure, "stroke", 1.0),
        interval_text(share, "stroke", 1.0, 0),
        *(percent_text(one) for one in (-0.0, 0.0, 0.4, 99.9)),
        *(duration_words(one) for one in (0.0, 0.6, 1.0, 1.4, 59.6, 60.0)),
        *(count_text(count, "pass", "passes") for count in (0, 1, 2)),
    ]
    assert [(text, fault) for text in written for fault in faults(text)] == []
