"""How takes of people come out: a table of a folder of takes and patterns.

    python -m tests.bench.bench_takes FOLDER      or, on takes made here (tests/human_takes.py),
    python -m pytest tests/bench/bench_takes.py -s

The folder holds `NAME.mid` (the take) and `NAME.pattern.mid` (or .toml, .txt, .musicxml, .xml: what
is written) for each take, and where it is known `NAME.truth.csv`: what every stroke was meant for,
as tests/human_takes.py writes it. Each take is assessed by `trainer assess`, as a player would, and
once more with start and tempo given where the truth is known. The columns:

- strokes: how many the take has; right: the share of them that found their own note or rightly
  none (without a truth: the share that found any); plain: the same without strokes that were
  meant for nothing where a note was due (a fill on other drums: as well a stroke on a wrong drum);
  given: as right, with start and tempo given;
- off: the largest difference, in ms, between an offset and the stroke's own distance from its note;
- doubt: a sentence says that the figures may mislead; breaks; steady: no, where a steady tempo was
  denied;
- hands: lines of the text that speak of a hand that nobody wrote;
- doubles: notes called double triggers, and how many of them are louder than the note before;
- seconds: the time of the assessment in this one run.
"""

from __future__ import annotations

import csv
import io
import json
import re
import sys
import time
from contextlib import redirect_stdout
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import mir_eval
import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import human_takes

from trainer import cli
from trainer.actions.assess import AssessRequest, assess_take
from trainer.kit.model import GENERAL_MIDI

ENDINGS = (".mid", ".toml", ".txt", ".musicxml", ".xml")
HANDS = re.compile(r"\b(?:left|right|other) hand\b|\blimp", re.IGNORECASE)


@dataclass(frozen=True)
class Truth:
    """Start (s) and tempo of a take, and each stroke's beat in the music and drum (None: none)."""

    start_s: float
    tempo: float
    meant: tuple[tuple[Fraction, str] | None, ...]


@dataclass(frozen=True)
class Row:
    """What is printed of a take."""

    name: str
    strokes: int
    right: float
    plain: float
    given: float
    off_ms: float
    doubt: bool
    breaks: int
    steady: bool
    hands: int
    doubles: int
    louder: int
    seconds: float


def answer(*arguments: str) -> str:
    """Return what a command of the program prints."""
    out = io.StringIO()
    with redirect_stdout(out):
        status = cli.run(list(arguments))
    return out.getvalue() if not status else ""


def read_truth(path: Path) -> Truth | None:
    """Return the truth beside a take, None where there is none."""
    if not path.exists():
        return None
    with path.open(newline="") as file:
        (start_s, tempo), *rows = csv.reader(file)
    return Truth(
        float(start_s),
        float(tempo),
        tuple((Fraction(beat), _drum(int(note))) if beat else None for beat, note in rows),
    )


def _drum(note: int) -> str:
    pad = GENERAL_MIDI.pad(note)
    return pad.voice if pad else str(note)


def places(found: dict[str, Any], length: Fraction) -> list[tuple[Fraction, str] | None]:
    """Return the beat in the music and the drum each stroke was matched with, None for none.

    Passes are counted by when they begin, so that a pass laid in pieces is one.
    """
    start_s, quarter_s = found["start_s"], 60.0 / found["tempo"]
    rows: list[tuple[Fraction, str] | None] = []
    for hit in found["hits"]:
        if hit["target"] is None:
            rows.append(None)
            continue
        due = found["targets"][hit["target"]]
        beat = Fraction(due["beat"])
        turn = round(((due["time_s"] - start_s) / quarter_s - float(beat)) / float(length))
        rows.append((beat + turn * length, due["voice"]))
    return rows


DUE_S = 0.060
"""A note is due where a stroke falls this near to it."""


def shares_right(
    found: dict[str, Any], length: Fraction, truth: Truth | None
) -> tuple[float, float]:
    """Return the share of strokes that found their own note or rightly none: of all, of plain."""
    labels = places(found, length)
    if truth is None:
        share = sum(one is not None for one in labels) / max(1, len(labels))
        return share, share
    # The music may begin at another beat than the first pass that was found.
    unit = truth.tempo / 60.0
    ahead = round((found["start_s"] - truth.start_s) * unit / float(length)) * length
    due = np.sort([one["time_s"] for one in found["targets"]])
    right, plain = [], []
    for one, meant, hit in zip(labels, truth.meant, found["hits"], strict=True):
        right.append((one and (one[0] + ahead, one[1])) == meant)
        plain.append(meant is not None or np.abs(due - hit["time_s"]).min(initial=1.0) > DUE_S)
    sure = [one for one, counts in zip(right, plain, strict=True) if counts]
    return sum(right) / max(1, len(right)), sum(sure) / max(1, len(sure))


def _off_ms(found: dict[str, Any]) -> float:
    """Return the largest difference between an offset and the stroke's distance from its note."""
    apart = [0.0]
    for due in found["targets"]:
        if due["hit"] is not None:
            hit = found["hits"][due["hit"]]
            apart.append(abs(due["offset_ms"] - 1000 * (hit["time_s"] - due["time_s"])))
    return max(apart)


def assess(take: Path, pattern: Path) -> Row:
    """Assess a take as a player would; return its row."""
    truth = read_truth(take.with_suffix("").with_suffix(".truth.csv"))
    given: dict[str, Any] | None = None
    length = Fraction(json.loads(answer("patterns", "show", str(pattern), "--json"))["beats"])
    common = ["assess", str(take), "--pattern", str(pattern)]
    before = time.perf_counter()
    text = answer(*common)
    seconds = time.perf_counter() - before
    if truth is not None:
        where = ["--tempo", repr(truth.tempo), "--start", repr(truth.start_s)]
        given = json.loads(answer(*common, *where, "--json"))
    share = shares_right(given, length, truth)[0] if given else float("nan")
    if not text:
        strokes = len(given["hits"]) if given else 0
        return Row(take.stem, strokes, 0.0, 0.0, share, 0.0, False, 0, True, 0, 0, 0, seconds)
    found = json.loads(answer(*common, "--json"))
    doubles = [n for n, hit in enumerate(found["hits"]) if hit["outcome"] == "double"]
    return Row(
        take.stem,
        len(found["hits"]),
        *shares_right(found, length, truth),
        share,
        _off_ms(found),
        bool(found["summary"]["doubt"]),
        len(found["breaks"]),
        found["swing_ms"] == 0,
        sum(bool(HANDS.search(line)) for line in text.splitlines() if "assumed" not in line),
        len(doubles),
        sum(found["hits"][n]["velocity"] > found["hits"][n - 1]["velocity"] for n in doubles if n),
        seconds,
    )


def takes_of(folder: Path) -> list[tuple[Path, Path]]:
    """Return the takes of a folder with their patterns, by name."""
    found = []
    for take in sorted(folder.glob("*.mid")):
        patterns = [take.with_suffix(f".pattern{ending}") for ending in ENDINGS]
        found += [(take, one) for one in patterns if one.exists()][:1]
    return found


def table(folder: Path) -> list[Row]:
    """Print the table of a folder and return its rows."""
    rows = []
    print(
        f"\n{'take':18} {'strokes':>7} {'right':>7} {'plain':>7} {'given':>7} {'off ms':>7}"
        " doubt breaks steady hands doubles louder seconds"
    )
    for take, pattern in takes_of(folder):
        row = assess(take, pattern)
        rows.append(row)
        print(
            f"{row.name:18} {row.strokes:7} {row.right:7.4f} {row.plain:7.4f} {row.given:7.4f}"
            f" {row.off_ms:7.4f} {'yes' if row.doubt else 'no':>5} {row.breaks:6}"
            f" {'yes' if row.steady else 'no':>6} {row.hands:5} {row.doubles:7}"
            f" {row.louder:6} {row.seconds:7.2f}",
            flush=True,
        )
    strokes = sum(row.strokes for row in rows)
    if strokes:
        found, plain, given = (
            sum(getattr(row, key) * row.strokes for row in rows) / strokes
            for key in ("right", "plain", "given")
        )
        print(
            f"all: {len(rows)} takes, {strokes} strokes, right {found:.4f}, plain {plain:.4f},"
            f" given {given:.4f}, doubted {sum(row.doubt for row in rows)},"
            f" breaks {sum(row.breaks for row in rows)}, hands {sum(row.hands for row in rows)},"
            f" louder doubles {sum(row.louder for row in rows)}"
            f" of {sum(row.doubles for row in rows)}"
        )
    return rows


def speed(folder: Path, minutes: float = 10.0) -> dict[str, float]:
    """Print what a piece written through costs in processor time; return the seconds by name."""
    human_takes.write(folder, "long", human_takes.long(np.random.default_rng(5), minutes))
    path, pattern = folder / "long.mid", str(folder / "long.pattern.mid")
    spent = {}
    for name, options in (("found", {}), ("from strokes alone", {"trust_file": False})):
        before = time.process_time()
        found = assess_take(AssessRequest(path, pattern, **options))
        spent[name] = time.process_time() - before
    first = found.found.course.passes[0]
    before = time.process_time()
    assess_take(AssessRequest(path, pattern, tempo=first.tempo, start_s=first.start_s))
    spent["given"] = time.process_time() - before
    due = np.sort([one.time_s for one in found.judged.targets])
    played = np.sort([one.time_s for one in found.judged.hits])
    before = time.process_time()
    mir_eval.util.match_events(due, played, 0.05)
    spent["mir_eval's pairing"] = time.process_time() - before
    print(f"{minutes:g} minutes written through, {len(played)} strokes, {len(due)} notes:")
    for name, seconds in spent.items():
        print(f"  {name} {seconds:.2f} s, {seconds / spent['given']:.2f} times start given")
    return spent


@pytest.mark.bench
def test_a_long_piece_is_found_nearly_as_quickly_as_given(tmp_path: Path) -> None:
    """Ten minutes written through: looking for tempo and start costs a few times the judging."""
    spent = speed(tmp_path)

    assert spent["found"] <= 3 * spent["given"]
    assert spent["from strokes alone"] <= 8 * spent["given"]


@pytest.mark.bench
def test_takes_like_those_of_people(tmp_path: Path) -> None:
    """Takes from a seed of the day: almost every stroke finds its note, and no hand is named."""
    human_takes.write_all(tmp_path, time.time_ns() % 1_000_000, each=2)

    rows = table(tmp_path)

    strokes = sum(row.strokes for row in rows)
    assert sum(row.right * row.strokes for row in rows) >= 0.985 * strokes
    assert sum(row.plain * row.strokes for row in rows) >= 0.996 * strokes
    assert not any(row.doubt for row in rows)
    assert not any(row.hands for row in rows)


if __name__ == "__main__":
    table(Path(sys.argv[1]))
