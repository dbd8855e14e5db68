"""Modules that somebody put into the folder one is in: no process of the program imports them."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest
from patience import LIMIT_S

import trainer
from trainer.pattern.formats import sheet_print

PROGRAM = Path(trainer.__file__).parent
USED = ("mido", "msgspec", "numpy", "platformdirs", "rich", "rtmidi", "sounddevice", "textual")
EARLY = ("struct", "json", "random", "mido", "multiprocessing", "argparse", "tempfile", "numpy")
"""Modules that Python itself does not need to start with `-m`: that much it takes from the folder
one is in before any of our lines is run."""

SCRIPT = """import sys
from trainer.__main__ import main
if __name__ == "__main__":
    sys.exit(main())
"""
"""What an installation makes of the command `trainer`."""

PAGE = """
from trainer.screens import pages_kit
pages_kit.TIMING_S = 1
assert list(pages_kit._timing(lambda words: None))
"""
SESSION = ("demo", "--plain", "--tempo", "300", "--passes", "1", "--recordings")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder in which each module of Python's and of ours has a namesake that is noted."""
    planted = tmp_path / "received"
    planted.mkdir()
    for name in ("trainer", *USED, *sys.stdlib_module_names):
        _plant(planted, name)
    return planted


def _plant(folder: Path, name: str) -> None:
    noted = f"open({str(folder.parent / 'imported')!r}, 'a').write({name!r})"
    (folder / f"{name}.py").write_text(f"{noted}\nraise ImportError({name!r})\n")


def _run(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Run Python on something in a folder, without what would protect it anyway."""
    given = {name: one for name, one in os.environ.items() if not name.startswith("PYTHON")}
    return subprocess.run(
        [sys.executable, *words],
        cwd=folder,
        env=given,
        capture_output=True,
        text=True,
        timeout=LIMIT_S,
    )


def _script(folder: Path, source: str = SCRIPT) -> str:
    path = folder.parent / "bin" / "trainer"
    path.parent.mkdir()
    path.write_text(source)
    return str(path)


def test_the_traps_work(folder: Path) -> None:
    """A child that Python starts in such a folder, as the program did, imports what is there."""
    assert _run(folder, "-c", "import struct").returncode
    assert (folder.parent / "imported").read_text() == "struct"


def test_a_session_imports_nothing_from_here(folder: Path, tmp_path: Path) -> None:
    """The command, its practice loop and the process that tracks its resources."""
    done = _run(folder, _script(folder), *SESSION, str(tmp_path / "kept"))

    assert (done.returncode, done.stderr) == (0, "")
    assert "Saved: " in done.stdout
    assert not (tmp_path / "imported").exists()


def test_started_as_a_module_it_imports_nothing_more_from_here(tmp_path: Path) -> None:
    """`python -m trainer`: from the first line of ours on nothing comes from the folder."""
    here = tmp_path / "received"
    here.mkdir()
    for name in EARLY:
        _plant(here, name)
    done = _run(here, "-m", "trainer", *SESSION, str(tmp_path / "kept"))

    assert (done.returncode, done.stderr) == (0, "")
    assert not (tmp_path / "imported").exists()


def test_the_audio_click_imports_nothing_from_here(folder: Path, tmp_path: Path) -> None:
    """With or without a sound card its process begins, and answers in its own words."""
    source = (
        "from trainer.midi.click import AudioClick\n"
        "from trainer.errors import BadInput\n"
        "click = AudioClick()\n"
        "try:\n    click.open(0.0)\n    click.close()\n"
        "except BadInput as fault:\n    assert 'no sound output' in str(fault) or "
        "'does not open' in str(fault), fault\n"
    )
    done = _run(folder, _script(folder, source))

    assert (done.returncode, done.stderr) == (0, "")
    assert not (tmp_path / "imported").exists()


def test_the_measuring_page_imports_nothing_from_here(folder: Path, tmp_path: Path) -> None:
    """What measures beside the screen is our own `timing`, not a `trainer.py` that is here."""
    done = _run(folder, _script(folder, PAGE))

    assert (done.returncode, done.stderr) == (0, "")
    assert not (tmp_path / "imported").exists()


def _name(node: ast.Attribute) -> str:
    return node.value.id if isinstance(node.value, ast.Name) else ""


def test_every_child_is_known() -> None:
    """Whatever else starts a process has to be looked at, and gets a test above."""
    starters = {"subprocess", "multiprocessing", "pty", "popen", "system", "execv", "startfile"}
    found = {
        path.relative_to(PROGRAM).as_posix()
        for path in PROGRAM.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text()))
        if (isinstance(node, ast.Import) and {one.name for one in node.names} & starters)
        or (isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] in starters)
        or (isinstance(node, ast.Attribute) and node.attr in starters and _name(node) == "os")
    }
    assert found == {
        "engine/process.py",
        "midi/click.py",
        "pattern/formats/sheet_print.py",
        "screens/pages_kit.py",
    }


def test_a_program_that_is_here_makes_no_pdf(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows looks into the current folder before all others; what is found there is not run."""
    monkeypatch.setattr(sheet_print.shutil, "which", lambda name: f".\\{name}.exe")
    monkeypatch.setattr(sheet_print, "find_spec", lambda name: None)

    assert sheet_print._way() is None
