"""What the terminal can do: asked of the environment, of the system, of the terminal itself."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest
from terminals import Terminal

from trainer import console

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="terminals of Unix systems")


@pytest.fixture(autouse=True)
def _colours(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let nobody have asked for none."""
    monkeypatch.delenv("NO_COLOR", raising=False)


LOCALES = {"LC_ALL": "", "LC_CTYPE": "", "LANG": "C"}


@pytest.mark.parametrize(
    ("kind", "deep", "colours"),
    [
        ("xterm", "truecolor", console.TRUE_COLOURS),
        ("xterm-256color", "", 256),
        ("xterm", "", 8),
        ("screen", "", 8),
        ("linux", "", 8),
        ("vt100", "", 0),
        ("vt220", "", 0),
        ("no-such-kind", "", 16),
    ],
)
def test_colours_are_what_the_system_says_of_this_kind(kind: str, deep: str, colours: int) -> None:
    """COLORTERM promises all of them; else terminfo knows, and an unknown kind has the usual."""
    ask = "from trainer import console; print(console.colour_count())"
    env = {**os.environ, "TERM": kind, "COLORTERM": deep}
    reported = subprocess.run([sys.executable, "-c", ask], env=env, capture_output=True, text=True)
    assert int(reported.stdout) == colours


@pytest.mark.parametrize(
    ("set_to", "said"),
    [
        ({"LC_ALL": "", "LC_CTYPE": "", "LANG": "en_GB.UTF-8"}, "en_GB.UTF-8"),
        ({"LC_ALL": "C", "LC_CTYPE": "", "LANG": "en_GB.UTF-8"}, "C"),
        ({"LC_ALL": "", "LC_CTYPE": "de_DE", "LANG": "en_GB.UTF-8"}, "de_DE"),
        ({"LC_ALL": "", "LC_CTYPE": "C.UTF-8", "LANG": "C"}, "C"),
    ],
)
def test_the_first_locale_that_is_set_counts(
    monkeypatch: pytest.MonkeyPatch, set_to: dict[str, str], said: str
) -> None:
    """The order is POSIX's (Base Definitions, 8.2); what Python sets by itself says nothing."""
    for name, text in set_to.items():
        monkeypatch.setenv(name, text)
    assert console.locale_encoding() == said


def start(folder: Path, **changes: str) -> Terminal:
    """Return a bar of the demo in a terminal with only these variables to know it by."""
    asked = (
        "demo",
        "single-paradiddle",
        "--passes",
        "1",
        "--tempo",
        "300",
        "--recordings",
        str(folder),
    )
    return Terminal(*asked, size=(24, 80), **{"COLORTERM": "", **changes})


CODES = re.compile(r"\x1b\[([0-9;]*)m")
COLOUR = re.compile(r"(?:^|;)(?:[34][0-7]|9[0-7]|10[0-7]|[34]8;[25])(?:;|$)")


@pytest.mark.parametrize(
    ("known", "wanted"),
    [
        ({"TERM": "xterm"}, "few"),
        ({"TERM": "screen"}, "few"),
        ({"TERM": "vt100"}, "none"),
        ({"TERM": "xterm-256color", "COLORTERM": "truecolor", "NO_COLOR": "1"}, "none"),
    ],
)
def test_a_terminal_gets_the_colours_it_has(
    tmp_path: Path, known: dict[str, str], wanted: str
) -> None:
    """With TERM alone, as over ssh: sixteen colours by their numbers, or light and dark alone."""
    terminal = start(tmp_path, **known)
    try:
        terminal.read_to("Saved:")
    finally:
        terminal.end()
    codes = CODES.findall(terminal.said)
    coloured = [code for code in codes if COLOUR.search(code)]
    assert not [code for code in codes if "38;" in code or "48;" in code]
    assert bool(coloured) == (wanted == "few")
    assert any("7" in code.split(";") for code in codes)


@pytest.mark.parametrize("kind", ["", "dumb", "unknown"])
def test_a_kind_that_cannot_be_drawn_on_gets_lines(tmp_path: Path, kind: str) -> None:
    """Nothing is drawn, the session is said in lines and saved."""
    terminal = start(tmp_path, TERM=kind)
    try:
        assert terminal.wait() == 0
    finally:
        terminal.end()
    assert "\x1b" not in terminal.said
    assert "Pass 1 of 1" in terminal.said


@pytest.mark.parametrize(("column", "screen"), [(2, True), (3, False)])
def test_a_terminal_is_asked_for_utf8_where_the_locale_leaves_it_open(
    tmp_path: Path, column: int, screen: bool
) -> None:
    """Two bytes that move the cursor by two are no UTF-8: lines of plain ASCII, and why."""
    terminal = start(tmp_path, TERM="xterm", PYTHONUTF8="0", **LOCALES)
    try:
        terminal.read_to("\x1b[6n")
        terminal.type(f"\x1b[1;{column}R")
        terminal.read_to("Restart" if screen else "Pass 1 of 1")
        if not screen:
            assert terminal.wait() == 0
    finally:
        terminal.end()
    reported = terminal.said.partition("\x1b[K")[2]
    assert ("has no UTF-8" in reported) == (not screen)
    assert reported.isascii() == (not screen)


def test_a_terminal_that_does_not_answer_is_drawn_on(tmp_path: Path) -> None:
    """Nearly all terminals take UTF-8 today, whatever the locale of a machine far away says."""
    terminal = start(tmp_path, TERM="xterm", **LOCALES)
    try:
        terminal.read_to("Restart")
    finally:
        terminal.end()
    assert "\x1b[6n" in terminal.said
    assert "takes no UTF-8" not in terminal.said
    assert not terminal.said.isascii()
