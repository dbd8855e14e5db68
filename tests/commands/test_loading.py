"""What a command loads, looked at in a process of its own: an answer needs no screen."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

PROBE = """
import contextlib, io, json, sys
with contextlib.redirect_stdout(io.StringIO()) as out, contextlib.suppress(SystemExit):
    from trainer.cli import run
    assert run(sys.argv[1:]) == 0
assert out.getvalue()
files = {name: getattr(module, "__file__", None) or "" for name, module in sys.modules.items()}
print(json.dumps(files))
"""

FILES_BEFORE = 113
"""Files of `trainer` that `replay --json` read when every command was also a screen."""


def loaded(*words: str) -> dict[str, str]:
    """Return the modules a command loads, each with its file."""
    done = subprocess.run(
        [sys.executable, "-c", PROBE, *words], capture_output=True, text=True, check=True
    )
    files: dict[str, str] = json.loads(done.stdout)
    return files


def of(package: str, files: dict[str, str]) -> list[str]:
    """Return the modules of a package among those that were loaded."""
    return [name for name in files if name.partition(".")[0] == package]


@pytest.mark.parametrize(
    "words",
    [
        ("--help",),
        ("patterns", "list"),
        ("patterns", "show", "single-paradiddle", "--json"),
        ("replay", "example-orders", "--json"),
        ("replay", "example-orders", "--plain"),
        ("history", "--json"),
        ("explain", "clean"),
        ("goal",),
        ("kit", "check"),
    ],
)
def test_an_answer_loads_no_screen(words: tuple[str, ...]) -> None:
    """Neither Textual nor what it draws with, nor any screen of ours."""
    files = loaded(*words)
    assert not of("textual", files)
    assert not of("rich", files)
    assert not [name for name in files if name.startswith("trainer.screens")]


def test_the_help_loads_only_what_it_prints() -> None:
    """The list of commands needs no command and no pattern."""
    assert {"trainer", "trainer.cli", "trainer.console", "trainer.errors"} == {
        *of("trainer", loaded("--help"))
    }


def test_a_list_of_patterns_computes_nothing() -> None:
    """Neither NumPy nor the judge, and no file of the archive."""
    files = loaded("patterns", "list")
    assert not of("numpy", files)
    packages = {name.split(".")[1] for name in of("trainer", files) if "." in name}
    assert not packages & {"measure", "midi", "archive", "engine", "show"}


def test_a_replay_as_json_reads_under_half_of_the_files() -> None:
    """Judging and measuring need some fifty files; words, pictures and screens are left alone."""
    files = loaded("replay", "example-orders", "--json")
    read = [name for name in of("trainer", files) if not files[name].endswith("__init__.py")]
    assert "trainer.measure.reading" in read
    assert 2 * len(read) < FILES_BEFORE
    assert not [name for name in read if name.startswith("trainer.show")]
