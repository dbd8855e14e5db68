"""The command line as a whole: its help, what it loads, and its answer to whatever is wrong."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from trainer import cli

PATTERN = "single-paradiddle"
EXAMPLE = str(Path(__file__).parents[1] / "recordings" / "example-orders.jsonl")
SIMULATED = ("--port", "simulated", "--fast", "--passes", "1")
LONG = "x" * 300


@pytest.mark.parametrize("name", cli.COMMANDS)
def test_every_command_shows_its_options(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """`--help` of each command says what it does and ends well."""
    with pytest.raises(SystemExit) as ended:
        cli.run([name, "--help"])

    assert ended.value.code == 0
    assert cli.COMMANDS[name].lower() in " ".join(capsys.readouterr().out.lower().split())


def test_the_overview_loads_no_command() -> None:
    """`trainer --help` answers without anything that is slow to load."""
    look = (
        "import sys; from trainer import cli; cli.run(['--help']);"
        "sys.exit(repr(sorted(m for m in sys.modules if m.startswith('trainer.') or m in "
        "('numpy', 'mido', 'rtmidi', 'textual', 'asyncio', 'platformdirs', 'multiprocessing'))))"
    )
    reported = subprocess.run([sys.executable, "-c", look], capture_output=True, text=True)

    assert reported.stderr.strip() == "['trainer.cli', 'trainer.console', 'trainer.errors']"


@pytest.mark.parametrize(
    "line",
    [
        ("nonsense",),
        ("",),
        ("play", "nonsense", *SIMULATED),
        ("play", LONG, *SIMULATED),
        ("play", PATTERN, *SIMULATED, "--tempo", "nan"),
        ("play", PATTERN, *SIMULATED, "--tempo", "1e9"),
        ("play", PATTERN, *SIMULATED, "--passes", "-1"),
        ("play", PATTERN, *SIMULATED, "--count-in", "99"),
        ("play", PATTERN, *SIMULATED, "--latency", "inf"),
        ("play", PATTERN, *SIMULATED, "--strict", "nonsense"),
        ("play", PATTERN, *SIMULATED, "--silent-bars", "4/1"),
        ("play", PATTERN, *SIMULATED, "--pad-key", "cowbell"),
        ("play", PATTERN, *SIMULATED, "--kit", LONG),
        ("play", PATTERN, *SIMULATED, "--click-note", "999"),
        ("play", PATTERN, "--fast"),
        ("play",),
        ("play", PATTERN, "--nonsense"),
        ("play", PATTERN, *SIMULATED, "--tempo", "fast"),
        ("play", PATTERN, *SIMULATED, "--seed", "1.5"),
        ("patterns",),
        ("patterns", "nonsense"),
        ("goal", "add", "x"),
        ("demo", "nonsense"),
        ("demo", "--fast", "--passes", "0"),
        ("ladder", PATTERN, *SIMULATED, "--step", "inf"),
        ("ladder", PATTERN, *SIMULATED, "--from", "0"),
        ("ladder", PATTERN, *SIMULATED, "--from", "100", "--top", "90"),
        ("ladder", PATTERN, *SIMULATED, "--minutes", "nan"),
        ("ladder", PATTERN, *SIMULATED, "--rest", "nan"),
        ("ladder", PATTERN, *SIMULATED, "--clean-to-rise", "9"),
        ("patterns", "show", "nonsense"),
        ("patterns", "check", "."),
        ("patterns", "check", "none.toml"),
        ("patterns", "list", "--tag", "nonsense"),
        ("patterns", "make", "--value", "17"),
        ("patterns", "make", "--sticking", "R L", "--save", "../x"),
        ("patterns", "export", PATTERN, "-o", "x.doc"),
        ("patterns", "export", PATTERN, "-o", f"{LONG}.mid"),
        ("patterns", "export", PATTERN, "-o", "none/x.mid"),
        ("sheet", PATTERN, "-o", "x.doc"),
        ("sheet", PATTERN, "-o", "none/x.musicxml"),
        ("assess", "none.mid", "--pattern", PATTERN),
        ("assess", "none.mid"),
        ("assess", ".", "--pattern", PATTERN),
        ("assess", EXAMPLE, "--pattern", PATTERN),
        ("assess", EXAMPLE, "--start", "1"),
        ("assess", EXAMPLE, "--latency", "1"),
        ("replay", "nonsense"),
        ("replay", LONG),
        ("replay", "--recordings", "none"),
        ("history", "--since", "nonsense"),
        ("history", "--since", "9999y"),
        ("history", "--recordings", "none"),
        ("history", "--recordings", LONG),
        ("history", "--svg", "x.png"),
        ("history", "--svg", f"{LONG}.svg"),
        ("explain", "nonsense"),
        ("routine", "none.toml"),
        ("routine", "."),
        ("routine", LONG),
        ("advice", "nonsense"),
        ("advice", "--recordings", "none"),
        ("compare", "nonsense", "nonsense"),
        ("goal", "add", "x", "--tempo", "nan"),
        ("goal", "add", "x", "--tempo", "100", "--value", "17"),
        ("goal", "remove", "nonsense"),
        ("goal", "--recordings", "none"),
        ("kit", "check", "nonsense"),
        ("kit", "check", LONG),
        ("kit", "check", "~nobody-of-this-name/kit.toml"),
        ("kit", "latency", "general-midi", "--set", "nan"),
        ("kit", "learn", "../x"),
        ("kit", "watch", "--seconds", "nan"),
        ("kit", "survey", "x", "--seconds", "-1"),
        ("timing", "--seconds", "nan"),
        ("timing", "--out", "one end only"),
    ],
    ids=lambda line: " ".join(line).replace(LONG, "LONG").replace(EXAMPLE, "EXAMPLE"),
)
def test_wrong_input_is_one_sentence_and_status_2(
    line: tuple[str, ...],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Whatever is wrong with a command line, the answer names it in a sentence and ends with 2."""
    monkeypatch.chdir(tmp_path)
    status = cli.run(list(line))

    reported = capsys.readouterr()
    assert (status, reported.out) == (2, "")
    assert reported.err.count("\n") == 1
    assert reported.err.endswith((".\n", "?\n"))
    assert "Traceback" not in reported.err


def test_what_nobody_foresaw_of_the_system_is_still_a_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """An error of the system that no command expects ends without a traceback."""

    def full(_: object) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("trainer.commands.explain.run", full)

    assert cli.run(["explain"]) == 1
    assert capsys.readouterr().err == "the system refused: the disk is full.\n"
