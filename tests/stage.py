"""A practice loop made of a list: what the screens' tests play to an app, and what it asked for."""

from __future__ import annotations

import os
import time
from fractions import Fraction
from typing import TYPE_CHECKING

from patience import LIMIT_S

from trainer.pattern.model import Bar, Level, Limb, Meter, Note, Pattern
from trainer.practice import events
from trainer.screens.live import LiveScreen
from trainer.screens.trainer_app import TrainerApp
from trainer.show.session_progress import NO_FRAME

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.pilot import Pilot

    from trainer.engine.process import Handle
    from trainer.show.session_progress import SessionFrame


class Stage:
    """A handle with a real descriptor; `say` puts events on it, `asked` keeps the commands."""

    def __init__(self) -> None:
        self._waiting: list[events.Event] = []
        self._read, self._write = os.pipe()
        self.asked: list[events.Command] = []
        self.gone = False
        self.closed = False

    def say(self, *reported: events.Event) -> None:
        """Let the app hear some events."""
        self._waiting += reported
        os.write(self._write, b"!")

    def leave(self) -> None:
        """End as a practice loop that died."""
        self.gone = True
        os.write(self._write, b"!")

    def fileno(self) -> int:
        return self._read

    def wait(self, seconds: float) -> None:
        """Nothing: the screen watches the descriptor."""

    def poll(self) -> list[events.Event]:
        os.read(self._read, 4096)
        if self.gone:
            raise EOFError
        reported, self._waiting = self._waiting, []
        return reported

    def send(self, command: events.Command) -> None:
        self.asked.append(command)

    def close(self) -> None:
        # A thread may close it while the app does.
        before, self.closed = self.closed, True
        if not before:
            os.close(self._read)
            os.close(self._write)


def live_app(
    written: Pattern,
    handle: Handle,
    *,
    tempo: float | None = None,
    passes: int | None = None,
    around: SessionFrame = NO_FRAME,
) -> TrainerApp:
    """Return the app on the live screen of a pattern alone."""
    return TrainerApp(LiveScreen(written, tempo or written.tempo, handle, passes, around))


def pattern(
    voices: tuple[str, ...] = ("snare", "ride", "floor"),
    *,
    per_beat: int = 4,
    bars: int = 1,
    feet: bool = True,
    title: str = "Singles, one drum a beat",
) -> Pattern:
    """Return singles in 4/4 that move on every beat, with a kick on each beat."""
    meter = Meter(4, 4)
    notes = []
    for beat in range(4 * bars):
        if feet:
            notes.append(Note(Fraction(beat), "kick", Limb.RF, value="4"))
        for step in range(per_beat):
            notes.append(
                Note(
                    beat + Fraction(step, per_beat),
                    voices[beat % len(voices)],
                    (Limb.RH, Limb.LH)[step % 2],
                    Level.ACCENT if step == 0 else Level.NORMAL,
                    value="16",
                )
            )
    notes.sort(key=lambda note: (note.beat, note.voice))
    return Pattern(
        "singles",
        title,
        tuple(Bar(Fraction(4 * bar), meter) for bar in range(bars)),
        tuple(notes),
    )


def beat(
    number: int,
    *,
    bar: int = 0,
    pass_index: int = 0,
    phase: str = "playing",
    tempo: float = 90.0,
) -> events.BeatStarted:
    """Return the start of a beat of a 4/4 bar."""
    return events.BeatStarted(0.0, phase, pass_index, bar, number, 4, tempo)


def hit(
    index: int,
    written: Pattern,
    note_index: int | None,
    offset_ms: float | None = 0.0,
    *,
    outcome: str = "played",
    voice: str | None = "",
    note: int = 38,
    at: float = 0.0,
    pass_index: int = 0,
    final: bool = False,
) -> events.HitJudged:
    """Return a hit on a note of a pattern, or beside all of them; voice "" is the written one."""
    meant = None if note_index is None else written.notes[note_index]
    if voice == "":
        voice = meant.voice if meant else "snare"
    return events.HitJudged(
        index,
        0.0,
        note,
        90,
        voice,
        "",
        outcome,
        note_index,
        None if offset_ms is None else offset_ms / 1000,
        final,
        pass_index,
        note_index,
        float(meant.beat) if meant else at,
    )


async def wait_until(pilot: Pilot[object], condition: Callable[[], object]) -> None:
    """Let the app run until a condition holds; fail where it never does."""
    end = time.monotonic() + LIMIT_S
    while not condition():
        if time.monotonic() > end:
            raise AssertionError("the app never got there")
        await pilot.pause(0.01)


def shown(app: object) -> str:
    """Return the text on the app's screen, row by row, without colours."""
    strips = app.screen._compositor.render_strips()  # type: ignore[attr-defined]
    return "\n".join("".join(part.text for part in strip).rstrip() for strip in strips)
