"""Every kind of file a stranger can hand over, mutated on a fixed budget.

`tests/bench/fuzz_files.py` does the same for as long as asked, following the program's branches.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
import strangers
from bench import fuzz_commands
from damage import changed_bytes
from hypothesis import given, settings

from trainer.archive import routines
from trainer.errors import BadInput
from trainer.pattern import library

TOKENS = (b"\n", b"\x00", b"\xff", b"\x1b[2J", b"[" * 300, b"{a=" * 300, b"9" * 5000, b"1e999")
TOKENS += (b"nan", b"-1", b'"', b"[[", b"]]", b" = ", b"<!ENTITY a 'b'>", b"\x7f\xff\xff\xff")
BUDGET = {"MusicXML": 80, "take": 60}
"""Inputs of a kind; 80 where nothing is said. Those that take longest get fewest."""


@pytest.mark.parametrize("name", strangers.KINDS)
def test_mutated_files(name: str) -> None:
    """A damaged file of any kind is used, or refused in words; nothing else comes of it.

    Damage is tried that leaves a file of use, and damage that does not.
    """
    kind = strangers.KINDS[name]
    said = []

    @settings(max_examples=BUDGET.get(name, 80), deadline=None, derandomize=True, database=None)
    @given(changed_bytes(kind.examples(), TOKENS))
    def tried(data: bytes) -> None:
        said.append(strangers.survives(kind, data))

    tried()
    assert any(said)
    assert not all(said)


@pytest.mark.parametrize("name", strangers.KINDS)
def test_links_and_pipes(name: str, tmp_path: Path) -> None:
    """A link to a good file is read as the file; one to a device or a pipe is never waited for."""
    kind = strangers.KINDS[name]
    if name == "session":
        pytest.skip("sessions are opened by their own reader, tested with it")
    good = tmp_path / f"good{kind.ending}"
    good.write_bytes(kind.examples()[0])
    targets = [good, Path("/dev/zero"), tmp_path / "none"]
    if hasattr(os, "mkfifo"):
        targets.append(tmp_path / "pipe")
        os.mkfifo(targets[-1])
    for target in targets:
        link = tmp_path / f"link{kind.ending}"
        link.symlink_to(target)
        said = ""
        try:
            kind.use(link)
        except BadInput as error:
            said = str(error)
        link.unlink(missing_ok=True)
        if target is not good and name not in ("settings", "goals"):
            assert said


@pytest.mark.parametrize(
    "tab", ["BD |----|", "bar01, 3/4\n    123\nBD Po\n\nHF |- \n)@|\x00  RL\n"]
)
def test_a_tab_without_a_stroke(tab: str, tmp_path: Path) -> None:
    """Rows on which nothing is struck are no pattern: nothing could be asked for."""
    path = tmp_path / "empty.txt"
    path.write_text(tab)
    with pytest.raises(BadInput, match="no stroke is written"):
        library.load_pattern(str(path))


@pytest.mark.parametrize("source", ["block = [1]", "block = [[]]", "block = ['x', {}]"])
def test_a_routine_of_things_that_are_no_blocks(source: str) -> None:
    """Whatever stands where a block should be is reported."""
    with pytest.raises(BadInput, match="is not a table"):
        routines.read_routine(source, "odd")


def test_a_key_of_many_parts_in_a_routine() -> None:
    """A key that would cost the TOML reader gigabytes is refused before it is read."""
    with pytest.raises(BadInput, match="nested too deep"):
        routines.read_routine(".".join("a" * 100_000) + " = 1", "deep")


@pytest.mark.skipif(os.name == "nt", reason="pipes and alarms of Unix systems")
def test_whole_commands_on_homes_of_damaged_files(tmp_path: Path) -> None:
    """Every command answers in words on a few such homes, and changes nothing that it only reads.

    `tests/bench/fuzz_commands.py` does it for as long as asked.
    """
    found = fuzz_commands.run(float("inf"), tmp_path, seed=7, homes=3)

    assert found.found == {}
    assert found.statuses[0] > 20
    assert found.statuses[2] > 20


def test_a_kit_with_places_that_no_drum_has(tmp_path: Path) -> None:
    """A session's kit may name known places only; found by `tests/bench/fuzz_commands.py`."""
    path = tmp_path / "odd.jsonl"
    whole = strangers.KINDS["session"].examples()[0]
    path.write_bytes(whole.replace(b'["floor","head"]', b'["floor","1/0d"]'))
    assert path.read_bytes() != whole

    with pytest.raises(BadInput, match=r"line 1, kit\.notes.*a place on a drum"):
        strangers.KINDS["session"].use(path)
