"""The lines of a tab file sorted out: headings, rows in systems, sticking, values and changes."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field

from trainer.errors import BadInput
from trainer.kit.voices import VOICES
from trainer.pattern.model import Meter

_HEADING = re.compile(r"([a-z_]+) *=")
_SPOKEN = re.compile(r"(title|tempo|bpm) *:(.*)", re.ASCII | re.IGNORECASE)
_BPM = re.compile(r"(\d{1,4}(?:\.\d{1,4})?) *(?:bpm)?", re.ASCII | re.IGNORECASE)
_BARS = re.compile(
    r"(?:bars? \d[\d-]*, |meter *: *|time *: *)(\d{1,3})/(\d{1,2})\s*", re.ASCII | re.IGNORECASE
)
_ROW = re.compile(r"\s*([A-Za-z]\w{0,2})(?::([a-z-]+))?\s*\|(.*)", re.ASCII)
_STICKING = re.compile(r"[RLBb ]*[RLBb][RLBb ]*")
_VALUES = re.compile(r"bar (\d{1,6}), values: (.*)", re.ASCII)
_CHANGE = re.compile(r"[+-] beat=.*")

_OTHER_LETTERS = {
    "H": "hihat", "S": "snare", "SD": "snare", "B": "kick", "K": "kick", "KD": "kick",
    "C": "crash", "CR": "crash", "C1": "crash", "R": "ride", "RC": "ride", "T": "tom1",
    "HT": "tom1", "MT": "tom2", "LT": "tom3", "F": "floor", "F1": "floor", "FH": "pedal",
    "LF": "pedal", "PH": "pedal",
}  # fmt: skip
"""Letters other people use (common practice), besides the two of each voice."""

LETTERS = _OTHER_LETTERS | {voice.tab: voice.name for voice in VOICES.values()}


@dataclass(slots=True)
class System:
    """The rows of some bars: per row its voice, zone and cells, and the sticking below.

    `meter` is None where none is written above.
    """

    line: int
    meter: Meter | None
    rows: list[tuple[str, str, list[str], int]] = field(default_factory=list)
    sticking: str = ""


@dataclass(slots=True)
class Tab:
    """A file taken apart, before any time is counted."""

    headings: list[str] = field(default_factory=list)
    systems: list[System] = field(default_factory=list)
    values: list[tuple[int, int, str]] = field(default_factory=list)
    changes: list[tuple[int, str]] = field(default_factory=list)


def taken_apart(text: str) -> Tab:
    """Sort the lines: headings, rows in systems with their sticking, changes."""
    tab = Tab()
    meter: Meter | None = None
    open_system: System | None = None
    for number, line in enumerate(text.splitlines(), 1):
        row = _ROW.fullmatch(line.rstrip())
        if not tab.systems and not row and _HEADING.match(line):
            tab.headings.append(line)
        elif not tab.systems and (spoken := _SPOKEN.fullmatch(line)):
            tab.headings.append(_spoken(spoken[1].lower(), spoken[2].strip(), number))
        elif found := _BARS.fullmatch(line):
            meter, open_system = _meter(found[1], found[2], number), None
        elif row:
            if open_system is None:
                open_system = System(number, meter)
                tab.systems.append(open_system)
            open_system.rows.append(_row(row, number))
        elif open_system and not open_system.sticking and _STICKING.fullmatch(line):
            open_system.sticking = line
        else:
            open_system = None
            if told := _VALUES.fullmatch(line):
                tab.values.append((number, int(told[1]), told[2]))
            elif _CHANGE.fullmatch(line):
                tab.changes.append((number, line))
    return tab


def _spoken(key: str, text: str, line: int) -> str:
    """Return a heading such as `tempo: 96 BPM` as TOML."""
    if key == "title":
        return f"title = {json.dumps(text, ensure_ascii=False)}"
    bpm = _BPM.fullmatch(text)
    if not bpm:
        raise BadInput(
            f'"{text[:40]}" is no tempo', where=f"line {line}", mend="write it like tempo: 96"
        )
    return f"tempo = {bpm[1].lstrip('0') or '0'}"


def _meter(beats: str, unit: str, line: int) -> Meter:
    if not 1 <= int(beats) <= 256 or int(unit) not in (1, 2, 4, 8, 16, 32, 64):
        raise BadInput(f"the meter {beats}/{unit} cannot be read", where=f"line {line}",
                       mend="write it like 7/8")  # fmt: skip
    return Meter(int(beats), int(unit))


def _row(found: re.Match[str], line: int) -> tuple[str, str, list[str], int]:
    """Return a row's voice, zone, cells bar by bar, and the column its cells begin in."""
    voice = LETTERS.get(found[1].upper())
    if voice is None:
        raise BadInput(
            f'no drum has the letters "{found[1]}"',
            where=f"line {line}",
            mend=f"use one of {', '.join(voice.tab for voice in VOICES.values())}",
        )
    zone = found[2] or ""
    if zone and zone not in VOICES[voice].zones:
        zones = ", ".join(VOICES[voice].zones)
        raise BadInput(
            f'the {voice} has no zone "{zone}"', where=f"line {line}", mend=f"it has {zones}"
        )
    plain = "" if zone == VOICES[voice].zones[0] else zone
    return voice, plain, found[3].rstrip().removesuffix("|").split("|"), found.start(3)
