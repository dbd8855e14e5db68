"""Every kind of file a stranger can hand over: good examples of it, and what the program does.

`KINDS` names them. `use` takes the bytes of a file through all that the commands would do with it;
anything but a good end or one of our own errors is a fault of ours.
"""

from __future__ import annotations

import json
import os
import tempfile
from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from trainer import settings
from trainer.archive import goals, routines
from trainer.archive.session_file import parse_session
from trainer.archive.summary import cut_short, session_summary
from trainer.errors import TrainerError
from trainer.kit import kit_file, kits
from trainer.kit import model as kit_serial
from trainer.midi.take_file import read_take
from trainer.pattern import json_data, library
from trainer.pattern.formats import midi_write, musicxml_write, tab, tab_file
from trainer.practice.course import Pass, pass_targets
from trainer.show.session_words import session_lines
from trainer.toml_text import changed_text, parse

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.pattern.model import Pattern

PATTERNS = Path(__file__).parents[1] / "patterns"
SHIPPED = ("flam-accent", "single-paradiddle", "feet-waltz", "rim-and-head")

SHORT = 48
"""Notes and bars of a pattern that is also written out in every form."""


@dataclass(frozen=True)
class Kind:
    """One kind of file: its ending, good examples, and all that is done with one."""

    ending: str
    examples: Callable[[], list[bytes]]
    use: Callable[[Path], None]


def survives(kind: Kind, data: bytes, folder: Path | None = None) -> str:
    """Use the bytes as a file; our own errors are a good end, in words of a bounded length.

    Returns the words, empty where the file was of use.
    """
    with tempfile.TemporaryDirectory(dir=folder) as name:
        path = Path(name, f"strange{kind.ending}")
        path.write_bytes(data)
        said = ""
        try:
            kind.use(path)
        except TrainerError as error:
            said = str(error)
        assert len(said) < 100_000
        return said


def _pattern(path: Path) -> None:
    _written_out(library.load_pattern(str(path)))
    if path.suffix == ".toml":
        table, source = library.read_table(path)
        text = changed_text(source, table, table | {"title": "Another", "level": 2})
        assert same_values(parse(text), table | {"title": "Another", "level": 2})


def _written_out(pattern: Pattern) -> None:
    """Do with a pattern what show, play and export do."""
    reported = json.dumps(json_data.pattern_to_dict(pattern), allow_nan=False)
    assert json_data.pattern_from_dict(json.loads(reported)) == pattern
    assert pass_targets(pattern, Pass(0, pattern.tempo, 1.0), 0)
    if max(len(pattern.notes), len(pattern.bars)) <= SHORT:
        for line in tab.to_tab(pattern):
            assert line.isprintable()
        for write in (tab_file.to_tab_file, musicxml_write.to_musicxml, midi_write.to_midi):
            try:
                write(pattern)
            except TrainerError:
                continue


def _kit(path: Path) -> None:
    kit = kits.load(str(path))
    reported = json.loads(json.dumps(kit_serial.kit_to_dict(kit), allow_nan=False))
    assert kit_serial.kit_from_dict(reported) == replace(kit, ports=(), pad_keys={})
    kit_file.kit_from_toml(kit_file.kit_to_toml(kit), kit.name)
    later = replace(kit, latency_s=0.0125)
    text = kit_file.kit_to_toml(later, path.read_text(encoding="utf-8-sig"), kit)
    fresh = kit_file.kit_from_toml(kit_file.kit_to_toml(later), kit.name)
    assert kit_file.kit_from_toml(text, kit.name) == fresh


def _goals(path: Path) -> None:
    os.environ["TRAINER_HOME"] = str(path.parent)
    path.rename(goals.path())
    kept = goals.load()
    if kept:
        assert goals.add(kept[0]) == goals.load()
        assert goals.remove(kept[0].name) == goals.load()


def _routine(path: Path) -> None:
    routine = routines.load_routine(path)
    routines.RoutineProgressFile(path, routine).progress()


def _session(path: Path) -> None:
    session = cut_short(parse_session(BytesIO(path.read_bytes())))
    summary = session_summary(session)
    json.dumps(summary, allow_nan=False)
    assert list(session_lines(session, summary, full=True))


def _exported(write: Callable[[Pattern], bytes | str]) -> Callable[[], list[bytes]]:
    def examples() -> list[bytes]:
        found = [write(library.load_pattern(name)) for name in SHIPPED]
        return [one.encode() if isinstance(one, str) else one for one in found]

    return examples


def _read(*paths: Path) -> Callable[[], list[bytes]]:
    return lambda: [path.read_bytes() for path in paths]


def _text(*texts: str) -> Callable[[], list[bytes]]:
    return lambda: [text.encode() for text in texts]


def _sessions() -> list[bytes]:
    from sessions import saved

    with tempfile.TemporaryDirectory() as folder:
        return [saved(Path(folder)).read_bytes()]


KIT = """title = "Practice room"
ports = ["Kit"]
latency_ms = 6.5
general_midi = true
[notes]
38 = "snare"
40 = "snare/rim"
[doubles]
snare = { ms = 12, softer = 0.6 }
[[crosstalk]]
struck = "floor"
shaken = "tom1"
ms = 6
softer = 0.35
[power]
snare = [30, 72, 118]
[keys]
crash = "toggle"
"""
GOALS = """[[goal]]
name = "Overture"
tempo = 152
value = "16"
player = ""
pattern = ""
"""
ROUTINE = """title = "Between two shows"
[[block]]
kind = "warm-up"
pattern = "single-stroke-roll"
tempo = 60
minutes = 5
[[block]]
kind = "ladder"
pattern = "fives-and-threes"
from = 70
step = 1
minutes = 15
[[block]]
kind = "rest"
minutes = 3
"""
SETTINGS = """recordings = "~/drums"
player = "Jo"
kit = "my-kit"
strictness = "solid"
click = "Kit"
[clean]
gap_ms = 12
"""

KINDS = {
    "pattern": Kind(".toml", _read(*(PATTERNS / f"{name}.toml" for name in SHIPPED)), _pattern),
    "tab": Kind(".txt", _exported(tab_file.to_tab_file), _pattern),
    "MusicXML": Kind(".musicxml", _exported(musicxml_write.to_musicxml), _pattern),
    "MIDI": Kind(".mid", _exported(midi_write.to_midi), _pattern),
    "take": Kind(".mid", _exported(midi_write.to_midi), lambda path: void(read_take(path))),
    "kit": Kind(".toml", _text(KIT), _kit),
    "goals": Kind(".toml", _text(GOALS), _goals),
    "routine": Kind(".toml", _text(ROUTINE), _routine),
    "settings": Kind(".toml", _text(SETTINGS), lambda path: void(settings.load(path))),
    "session": Kind(".jsonl", _sessions, _session),
}


def same_values(one: object, other: object) -> bool:
    """Return whether two tables hold the same, a NaN being the same as a NaN."""
    return repr(one) == repr(other) or one == other


def void(_: object) -> None:
    """Drop a value."""
