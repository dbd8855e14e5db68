"""Every option and every argument of every command, given what no option expects."""

from __future__ import annotations

import argparse
import os
from typing import TYPE_CHECKING

import pytest

from trainer import cli

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

SHORT = ["--port", "simulated", "--fast", "--passes", "1"]
GIVEN = {
    "demo": ["--fast", "--passes", "1"],
    "play": ["flam", *SHORT],
    "ladder": ["flam", *SHORT, "--minutes", "0.1"],
    "sheet": ["flam", "-o", "out.musicxml"],
    "assess": ["none.mid"],
    "routine": ["none"],
    "compare": ["none", "none"],
    "timing": ["--seconds", "1", "--out", "one end only"],
    "goal add": ["x", "--tempo", "100"],
    "goal remove": ["x"],
    "kit check": ["none"],
    "kit learn": ["none"],
    "kit survey": ["none"],
    "kit controllers": ["none"],
    "kit latency": ["none"],
    "kit watch": ["--seconds", "1"],
    "patterns show": ["flam"],
    "patterns check": ["flam"],
    "patterns export": ["flam", "-o", "out.mid"],
}
"""What a command is given besides, so that the option at hand is looked at."""

DIGITS = "9" * 5000
TEXTS = ("", "\0", "a\0b", "\udcff", "[]", "\x1b[2J", "²", f"{DIGITS}/{DIGITS}", f"{DIGITS}=next")
NUMBERS = (DIGITS, "nan", "1e400", "٣", "0x10")
ENDLESS = "/dev/zero"


def _parsers(
    parser: argparse.ArgumentParser, words: list[str]
) -> Iterator[tuple[list[str], argparse.ArgumentParser]]:
    yield words, parser
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, one in action.choices.items():
                yield from _parsers(one, [*words, name])


def _options(name: str) -> Iterator[tuple[list[str], argparse.Action]]:
    """Yield the words before an option of a command or its actions, and the option."""
    for words, parser in _parsers(cli.parser_for(name), [name]):
        for action in parser._actions:
            if action.option_strings and not isinstance(action, argparse._HelpAction):
                yield [*words, *GIVEN.get(" ".join(words), ())], action


def _survives(line: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    """Run a line and return its status and what it said; anything but an answer fails the test."""
    try:
        status = cli.run(line)
    except SystemExit as end:
        status = int(end.code or 0)
    said = capsys.readouterr()
    assert status in (0, 1, 2), (line, status)
    assert len(said.err) < 2500, (line[:6], said.err[:200])
    return status, said.err


@pytest.mark.parametrize("name", cli.COMMANDS)
def test_two_dashes_are_no_value(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """`--option=--` is refused with the option's name, whatever the option takes."""
    monkeypatch.chdir(tmp_path)
    for words, action in _options(name):
        if action.nargs == 0:
            continue
        for option in action.option_strings:
            status, said = _survives([*words, f"{option}=--"], capsys)
            assert status == 2, words
            assert option in said
            assert "a value is missing" in said


@pytest.mark.parametrize("name", cli.COMMANDS)
def test_strange_values_of_options(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Names no file can have, endless numbers and signs: used or refused in words."""
    monkeypatch.chdir(tmp_path)
    for words, action in _options(name):
        if action.nargs == 0 or action.choices:
            continue
        for value in NUMBERS if action.type in (int, float) else TEXTS:
            _survives([*words, f"{action.option_strings[0]}={value}"], capsys)


@pytest.mark.parametrize("name", cli.COMMANDS)
def test_strange_arguments(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The same in the place of a pattern, a session, a kit or a name."""
    monkeypatch.chdir(tmp_path)
    for words, parser in _parsers(cli.parser_for(name), [name]):
        places = [one for one in parser._actions if not one.option_strings]
        places = [one for one in places if not isinstance(one, argparse._SubParsersAction)]
        given = GIVEN.get(" ".join(words), [])
        rest = given[len(places) :] if given and not given[0].startswith("-") else given
        endless = [ENDLESS] if os.path.exists(ENDLESS) else []
        for value in (*TEXTS, *endless) if places else ():
            _survives([*words, *[value] * len(places), *rest], capsys)
