"""Texts that would drive a terminal if they were let through: every command shows them plainly."""

from __future__ import annotations

import contextlib
import os
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from sessions import header, pattern, play
from terminals import Terminal

from trainer import cli
from trainer.archive.journal import Journal
from trainer.archive.summary import session_summary
from trainer.kit.model import GENERAL_MIDI
from trainer.pattern.formats import midi_write, musicxml_write
from trainer.settings import recordings_folder

if TYPE_CHECKING:
    from collections.abc import Iterator

BAD = "\x1b]0;owned\x07\x1b[2J\x1b[31m[bold]\u202e\x9bred\r\x08[/link]"
"""A window title, a cleared screen, colour, markup, right-to-left, C1 and backspaces."""


@pytest.fixture
def hostile(tmp_path: Path) -> Iterator[Path]:
    """Sessions, patterns, kits, takes and a settings folder full of such texts."""
    home = Path(os.environ["TRAINER_HOME"])
    titled = replace(pattern(f"p{BAD}"), title=f"Title {BAD}")
    for player in (f"Ada{BAD}", "Bo"):
        one = replace(
            header(player=player),
            pattern=titled,
            source=BAD,
            kit=replace(GENERAL_MIDI, name=BAD, title=BAD),
            tolerance={"name": BAD},
            course={"rule": BAD},
        )
        journal = Journal(recordings_folder(), one)
        play(journal)
        journal.finish(session_summary(journal.session()))
    folder = home / "patterns"
    folder.mkdir(parents=True)
    (folder / f"own{BAD.replace('/', '')}.toml").write_text('title = "x"\nhands = "RL"')
    (folder / "broken.toml").write_text(f'title = "{BAD}"\nhands = "{BAD}"', errors="replace")
    safe = replace(titled, title="plain", name="plain")
    for name, data in (
        ("take.mid", midi_write.to_midi(safe).replace(b"plain", b"\x1b[2J\x07"[:5])),
        (
            "page.musicxml",
            musicxml_write.to_musicxml(safe).replace("plain", "&#155;[2J").encode(),
        ),
    ):
        (folder / name).write_bytes(data)
    kits = home / "kits"
    kits.mkdir()
    (kits / "odd.toml").write_text(f"title = '{BAD}'\nports = ['{BAD}']", errors="replace")
    (kits / f"name{BAD.replace('/', '')}.toml").write_text('title = "ok"')
    (home / "goals.toml").write_text(f"[[goal]]\nname = '{BAD}'\ntempo = 1", errors="replace")
    return folder


ONE = "20260301-183000-p-0-owned-2J-31m-bold-red-link.jsonl"
TWO = ONE.replace(".jsonl", "-2.jsonl")

COMMANDS = [
    ["tonight", "--minutes", "60"],
    ["tonight", "--json"],
    ["history"],
    ["history", "--json"],
    ["history", "--player", BAD],
    ["replay", ONE],
    ["replay", ONE, "--json"],
    ["replay", "20260301"],
    ["replay", BAD],
    ["advice"],
    ["compare", ONE, TWO],
    ["goal", "list"],
    ["routine", BAD],
    ["patterns", "list"],
    ["patterns", "list", "--json"],
    ["patterns", "show", "take"],
    ["patterns", "show", "page"],
    ["patterns", "show", BAD],
    ["patterns", "check", "broken"],
    ["assess", "TAKE", "--pattern", "page"],
    ["assess", "TAKE", "--pattern", BAD],
    ["kit"],
    ["kit", "list"],
    ["kit", "check", "odd"],
    ["kit", "check", BAD],
    ["play", BAD, "--port", "simulated", "--fast"],
    ["play", "page", "--port", "simulated", "--fast", "--passes", "1", "--player", BAD],
    ["explain", BAD],
    [BAD],
    ["history", f"--{BAD}"],
]

POINTER = "\x1b]22;default\x07"
"""What Textual itself sends, about the shape of the mouse pointer."""

SHOWN = (["history"], ["replay", ONE], ["compare", ONE, TWO], ["patterns", "show", "take"], ["kit"])
"""Commands that show such a text because it is in a file."""


@pytest.mark.parametrize("argv", COMMANDS, ids=lambda argv: " ".join(argv)[:30].encode().hex()[:40])
def test_nothing_reaches_the_terminal(
    hostile: Path, capsys: pytest.CaptureFixture[str], argv: list[str]
) -> None:
    """No control character of a text from outside is written to either output."""
    asked = [str(hostile / "take.mid") if word == "TAKE" else word for word in argv]
    with contextlib.suppress(SystemExit):
        cli.run(asked)
    reported = capsys.readouterr()

    for text in (reported.out, reported.err):
        odd = {c for c in text if not (c.isprintable() or c in "\n\t") or c == "\u202e"}
        assert not odd, (argv, odd, text[:500])
    assert reported.out + reported.err
    if BAD in argv[:2] or argv in SHOWN:
        assert "<?>" in reported.out + reported.err
    assert "Traceback" not in reported.err


def test_nothing_is_written_outside(hostile: Path, tmp_path: Path) -> None:
    """Names with slashes and dots from files leave nothing outside the player's own folders."""
    before = {path for path in tmp_path.rglob("*") if "home" not in path.parts}
    for name in ("../../outside", "/tmp/outside-of-all", "a/../../b"):
        one = replace(header(), pattern=replace(pattern(name), title=name))
        journal = Journal(recordings_folder(), one)
        path = journal.finish({})
        assert path
        assert path.parent == recordings_folder()
        cli.run(["patterns", "make", name, "hands=RL"])
        cli.run(["kit", "map", name])

    after = {path for path in tmp_path.rglob("*") if "home" not in path.parts}
    assert after == before
    assert not Path("/tmp/outside-of-all").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="terminals of Unix systems")
@pytest.mark.parametrize(
    ("argv", "seen"),
    [
        (["replay", ONE], "owned"),
        (["play", "page", "--port", "simulated"], "[2J"),
        (["history"], "owned"),
        (["patterns", "browse"], "broken"),
    ],
    ids=["replay", "play", "history", "browse"],
)
def test_nothing_reaches_the_terminal_through_a_screen(
    hostile: Path, argv: list[str], seen: str
) -> None:
    """In a real terminal such a text is drawn as text: no title is set, nothing is coloured."""
    one = Terminal(*argv)
    try:
        one.read_to(seen)
        one.read(1.0)
    finally:
        one.end()

    for driven in ("\x1b]0;", "\x1b[2J\x07", "\x1b[31m[bold]", "\x9b", "\x07", "\u202e"):
        assert driven not in one.said.replace(POINTER, "")
    assert "Traceback" not in one.said
