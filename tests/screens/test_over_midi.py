"""Ways of practising with real strokes: another process plays over MIDI, tmux shows the screen."""

from __future__ import annotations

import json
import time
from typing import TYPE_CHECKING, Any

import pytest
from patience import until
from tmux import running

from trainer.actions.hard_spot import LOOPS, WHOLES
from trainer.archive.session_file import open_session
from trainer.kit.model import GENERAL_MIDI
from trainer.pattern.library import load_pattern
from trainer.pattern.model import bar_of
from trainer.practice.course import Pass, pass_targets, pattern_seconds
from trainer.screens.trainer_app import HOLD_S

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from conftest import Sender

    from trainer.archive.session import Session
    from trainer.practice.course import Target

    MakeSender = Callable[[str], Sender]

pytestmark = [pytest.mark.jack, pytest.mark.tmux]

PROBES = range(6)
"""Notes that are no drums: struck in the count-in they tell how the clocks lie to each other."""


class Drummer:
    """Plays along with session after session of the program in one terminal."""

    def __init__(self, drums: Sender, folder: Path) -> None:
        self.drums, self.folder = drums, folder
        self.ended: list[Path] = []

    def begin(self) -> tuple[float, dict[str, Any]]:
        """Wait for the next session; return its second 0 here, and the line of its first pass."""
        self.path = until(self._new, "the next session")
        probes_s = self.drums.play([(0.06 * k, (0x99, k, 90)) for k in PROBES])
        heard = until(lambda: self._lines("idle")[3:], f"strokes of the count-in in {self.path}")
        # The first ones may have been read late, before the driver's clock was known.
        zero_s = max(probes_s[one["strike"][1]] - one["strike"][0] for one in heard)
        return zero_s, until(lambda: self._lines("pass"), f"a pass in {self.path}")[0]

    def play(self, name: str, passes: int, plays: Callable[[Target], bool] = bool) -> Session:
        """Play the next session, each stroke on time but those that are left out; return it."""
        zero_s, first = self.begin()
        pattern, tempo = load_pattern(name), first["tempo"]
        length_s = pattern_seconds(pattern, tempo)
        laid = [Pass(k, tempo, first["start_s"] + k * length_s) for k in range(passes)]
        due = [target for one in laid for target in pass_targets(pattern, one, 0) if plays(target)]
        notes = [GENERAL_MIDI.note(one.note.voice, "head") for one in due]
        self.strike(zero_s, [one.time_s for one in due], notes)
        return self.end()

    def strike(self, zero_s: float, times_s: Sequence[float], notes: Sequence[int | None]) -> None:
        """Strike at seconds of the session's clock."""
        now = time.perf_counter() - zero_s
        rows = zip(times_s, notes, strict=True)
        self.drums.play([(at - now, (0x99, note or 0, 90)) for at, note in rows])

    def end(self) -> Session:
        """Wait for the end of the session and return it."""
        until(lambda: '"summary"' in self.path.read_text(), f"the end of {self.path}")
        self.ended.append(self.path)
        return open_session(self.path)

    def _new(self) -> Path | None:
        return next((one for one in self.folder.glob("*.jsonl") if one not in self.ended), None)

    def _lines(self, kind: str) -> list[dict[str, Any]]:
        lines = self.path.read_text().rpartition("\n")[0].splitlines()[1:]
        return [json.loads(line) for line in lines if f'"{kind}"' in line]


def test_a_hard_spot_is_looped_slower_and_the_whole_says_that_it_got_better(
    sender: MakeSender, tmp_path: Path
) -> None:
    """Half of bar 2 is left out, then it is practised: one key in the replay, then all of it."""
    drummer = Drummer(sender("Spot Kit"), tmp_path / "home" / "recordings")
    name, tempo = "climb-and-drop", 240
    pattern = load_pattern(name)

    def stumbles(target: Target) -> bool:
        return bar_of(pattern, target.note.beat) != 1 or bool(target.note_index % 2)

    asked = f"play {name} --port 'Spot Kit' --tempo {tempo} --passes 2"
    with running(tmp_path.name, asked) as tmux:
        before = drummer.play(name, 2, stumbles)
        tmux.wait("missed in 112 strokes")
        time.sleep(2 * HOLD_S)
        tmux.keys("r")
        tmux.wait("whole session")
        tmux.keys("b")
        loop = drummer.play(f"{name} bars=1-2", LOOPS)
        tmux.wait("Saved:")
        time.sleep(2 * HOLD_S)
        tmux.keys("q")
        whole = drummer.play(name, WHOLES)
        tmux.wait("Bar 2: better. ")
    found = [(one.pattern.title, one.passes[0].tempo, len(one.passes)) for one in (loop, whole)]
    title = pattern.title
    assert found == [(f"{title}, bars 1 to 2", 204.0, LOOPS), (title, float(tempo), WHOLES)]
    assert before.summary
    assert whole.summary
    assert before.summary["counts"]["missed"] > whole.summary["counts"]["missed"]


def test_an_open_block_reports_evenness_against_the_click(
    sender: MakeSender, tmp_path: Path
) -> None:
    """Eighths come out as eighths, with their distance to the click and without a verdict."""
    drummer = Drummer(sender("Open Kit"), tmp_path / "home" / "recordings")
    file = tmp_path / "open.toml"
    file.write_text('title = "Open"\n[[block]]\nkind = "free"\nminutes = 0.25\n')
    with running(tmp_path.name, f"routine {file} --port 'Open Kit'") as tmux:
        tmux.wait("open block, 0.25 minutes")
        tmux.keys("Enter")
        zero_s, first = drummer.begin()
        eighth_s = 60 / first["tempo"] / 2
        times = [first["start_s"] + k * eighth_s for k in range(32)]
        drummer.strike(zero_s, times, [38] * len(times))
        tmux.wait("open block: no verdict")
        session = drummer.end()
        pane = tmux.wait("Against the click: ")
    assert "in eighths" in pane
    assert "missed" not in pane
    assert session.summary
    assert session.summary["clean"]["clean"] is None
    assert max(session.summary["open_block"]["divisions"].items(), key=lambda one: one[1])[0] == "2"
