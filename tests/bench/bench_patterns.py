"""How long listing, loading and showing patterns takes.

A thousand files are listed and compared with the bare TOML reader over the same texts; a pattern of
100,000 notes is loaded, counted and written as tab.

Run: python -m pytest -s tests/bench/bench_patterns.py
"""

import time
import tomllib
from pathlib import Path

import pytest

from trainer import file_system
from trainer.pattern import library
from trainer.pattern.description import demand
from trainer.pattern.formats import tab

pytestmark = pytest.mark.bench


def seconds(job, *args):
    """Return how long a job takes and what it gives."""
    start = time.perf_counter()
    result = job(*args)
    return time.perf_counter() - start, result


def test_a_thousand_patterns_are_listed():
    """Listing costs little more than reading the files as TOML."""
    folder = file_system.user_folder("patterns")
    folder.mkdir(parents=True)
    shipped = sorted(file_system.shipped_folder("patterns").glob("*.toml"))
    for number in range(1000):
        source = shipped[number % len(shipped)].read_text(encoding="utf-8")
        (folder / f"own-{number:04}.toml").write_text(source, encoding="utf-8")
    bare, _ = seconds(lambda: [tomllib.loads(p.read_text()) for p in sorted(folder.iterdir())])
    listed, found = seconds(library.catalogue)
    times = listed / bare
    print(f"\n{len(found)} listed in {listed:.2f} s, {times:.1f} times the TOML reader alone")

    assert len(found) == 1000 + len(shipped)
    assert times < 4


def test_a_pattern_of_a_hundred_thousand_notes(tmp_path: Path):
    """Its cost a note is near that of a pattern of a thousand: nothing grows with the square."""
    text = 'length = {}\n[hands]\nsticking = "R L"\npath = "snare x5, tom2 x3"\n'
    costs = {}
    for bars in (63, 6250):
        path = tmp_path / f"bars{bars}.toml"
        path.write_text(text.format(bars), encoding="utf-8")
        loaded, made = seconds(library.load_pattern, str(path))
        counted, _ = seconds(demand, made)
        written, _ = seconds(tab.to_tab, made)
        costs[made.strokes] = (loaded + counted + written) / made.strokes
        print(
            f"\n{made.strokes} notes: loaded in {loaded:.2f} s, counted in {counted:.2f} s, "
            f"tab in {written:.2f} s",
            end="",
        )
    small, large = costs.values()
    print(f"\ncost a note, large over small: {large / small:.1f}")

    assert large < 5 * small
