"""A session, or a routine, in lines of text: reports go out, keys and signals go in.

A thread of its own reads the keys and gives each the time it was pressed at. Signals become a wish
to end, so that the session is saved and its summary still shown.
"""

from __future__ import annotations

import select
import signal
import sys
import time
from contextlib import ExitStack
from functools import partial
from threading import Event as Flag
from threading import Thread
from time import perf_counter
from typing import TYPE_CHECKING

from trainer import console
from trainer.actions.prepare import finish_cut_off
from trainer.engine.process import LocalHandle, start_engine
from trainer.errors import BadInput
from trainer.midi.keyboard import KeySource, TerminalKeys
from trainer.practice.events import Command, Finished
from trainer.practice.routine import REST, RoutineProgress
from trainer.show import history_words, live_words, plain_text, session_words
from trainer.show.pattern_words import missing_drum_lines
from trainer.show.session_progress import NO_FRAME, frame_of
from trainer.show.session_words import recovered_words
from trainer.show.verdict_words import verdict_lines

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from trainer.actions.playing_on import Waiting
    from trainer.actions.prepare import Practice
    from trainer.actions.routine import RoutineRun
    from trainer.commands.play_options import TextOptions
    from trainer.engine.process import Handle
    from trainer.practice.events import Event
    from trainer.show.plain_text import PlainText
    from trainer.show.session_progress import SessionFrame

LOOK_S = 0.2
REST_LINE_EVERY_S = 30.0


def waiting_for_kit(text: TextOptions) -> Waiting | None:
    """Return what says that a kit is waited for; None where nobody sits there to plug it in."""
    if text.json or not (console.keys_can_be_read() and console.has_screen()):
        return None
    said: list[str] = []

    def say(wanted: str) -> None:
        if not said:
            said.append(live_words.waiting_words(wanted))
            console.print_line(said[0])
            console.print_line("Ctrl-C gives up; --port keys plays on the computer keys.")

    return say


def play(
    practice: Practice,
    text: TextOptions,
    frame: SessionFrame = NO_FRAME,
    ended: Callable[[Finished], object] = lambda _: None,
) -> Finished | None:
    """Play a session in lines of text; return how it ended, None where the engine died.

    What a crash cut off before is finished first. `ended` hears of the end before the summary is
    shown.
    """
    say_cut_off(practice.job.folder)
    for line in missing_drum_lines(practice.job.pattern, practice.instead):
        console.print_warning(line)
    if practice.ceiling:
        console.print_warning(history_words.ladder_start_line(practice.ceiling, practice.tempo))
    if practice.job.simulated:
        return follow(LocalHandle(practice.job), practice, text, frame, ended)
    _check_keys(practice)
    return follow(start_engine(practice.job), practice, text, frame, ended)


def follow(
    handle: Handle,
    practice: Practice,
    text: TextOptions,
    frame: SessionFrame = NO_FRAME,
    ended: Callable[[Finished], object] = lambda _: None,
) -> Finished | None:
    """Show a session that runs in lines of text, then its summary."""
    job = practice.job
    frame = frame_of(job, frame)
    keys = not job.simulated and console.keys_can_be_read()
    lines = None
    if not text.json:
        lines = plain_text.PlainText(
            job.pattern, practice.passes, every_hit=text.every_hit, around=frame
        )
        console.print_line(f"{job.pattern.title}, played on {job.source.name}.")
        if keys:
            console.print_lines(
                plain_text.key_help_lines(frame.keys, left_handed=frame.left_handed)
            )
    try:
        finished = follow_events(handle, lines, keys=keys)
    except EOFError:
        finished = None
    finally:
        handle.close()
    if finished is None:
        console.print_warning(live_words.ENGINE_DIED)
        # A driver can bring the engine down with it; what it wrote is on disk.
        say_cut_off(job.folder)
        return None
    ended(finished)
    _print_summary(finished, text)
    return finished


def play_routine(going: RoutineRun, text: TextOptions) -> None:
    """Play the blocks from where the routine is, and say at the end how far it came."""
    console.print_lines(map(recovered_words, going.finish_cut_off()))
    progress = going.progress()
    if progress != RoutineProgress():
        console.print_line(f"Continuing with block {progress.block + 1}.")
    while not progress.over(going.routine):
        if not _play_block(going, progress, text):
            going.stop()
            console.print_line(session_words.STOPPED)
            return
        going.end(progress)
        progress = progress.after()
    console.print_line(session_words.DONE)
    if going.played and not text.json:
        console.print_words(history_words.practice_lines(going.routine.title, going.results()))


def _play_block(going: RoutineRun, progress: RoutineProgress, text: TextOptions) -> bool:
    """Play what is left of the next block; return True where it was played to its end."""
    routine, left_s = going.routine, progress.left(going.routine)
    block = routine.blocks[progress.block]
    going.begin(progress)
    words = session_words.block_words(block, left_s)
    console.print_words([f"Block {progress.block + 1} of {len(routine.blocks)}: {words}"])
    if block.kind == REST:
        return rest(left_s, going.setup.played_on.fast)
    practice = going.practice(progress, waiting_for_kit(text))
    frame = session_words.block_frame(routine, progress)
    finished = play(practice, text, frame, partial(going.session_ended, progress))
    return finished is not None and not finished.stopped


def say_cut_off(folder: Path) -> None:
    """Finish the sessions that a crash cut off, and say so."""
    for found in finish_cut_off(folder):
        console.print_warning(recovered_words(found))


def say_where(finished: Finished) -> None:
    """Say where a session was saved."""
    if finished.unplayed:
        console.print_warning(live_words.UNPLAYED)
    elif finished.path is None:
        console.print_warning("The session could not be saved anywhere.")
    else:
        console.print_line(f"Saved: {finished.path}")


def _print_summary(finished: Finished, text: TextOptions) -> None:
    from trainer.actions.json_documents import ladder_document
    from trainer.archive.ceilings import read_ladder_result
    from trainer.show import reading_words

    ladder = read_ladder_result(finished.path)
    if text.json:
        summary = finished.summary
        document = {"session": finished.path, "clean": summary.get("clean"), "summary": summary}
        console.print_json(document | ({"ladder": ladder_document(ladder)} if ladder else {}))
    elif not finished.unplayed:
        console.print_lines(verdict_lines(finished.summary, ladder.rungs if ladder else ()))
        console.print_lines(history_words.ladder_lines(ladder))
        console.print_lines(reading_words.reading_lines(finished.summary))
    if not (text.json and finished.path):
        say_where(finished)


def _check_keys(practice: Practice) -> None:
    """Refuse to play on the computer keys where none can be typed."""
    if isinstance(practice.job.source, KeySource) and not console.keys_can_be_read():
        raise BadInput(
            "keys can only be read from a terminal",
            where="--port keys",
            fix="run it in the foreground of a terminal, or name a MIDI port",
        )


def rest(seconds: float, fast: bool = False) -> bool:
    """Wait between two blocks; return False where the player stops the routine.

    Enter continues at once, q and Enter (or Ctrl-C) stops. `fast` is for simulated time: no wait.
    """
    if fast:
        return True
    console.print_line("Put the sticks down. Enter: continue now; q and Enter: stop here.")
    ends = time.monotonic() + seconds
    try:
        while (left := ends - time.monotonic()) > 0:
            console.print_line(f"{int(left // 60)}:{int(left % 60):02d} left")
            answer = _line_within(min(left, REST_LINE_EVERY_S))
            if answer is not None:
                return answer.strip().lower() not in ("q", "quit") and answer != ""
    except KeyboardInterrupt:
        return False
    return True


def _line_within(seconds: float) -> str | None:
    """Return what was typed, None where nothing was in the time given."""
    if not sys.stdin.isatty():
        time.sleep(seconds)
        return None
    try:
        ready, _, _ = select.select([sys.stdin], [], [], seconds)
    except OSError:  # Windows waits on sockets only: the rest is kept, Ctrl-C still stops it.
        time.sleep(seconds)
        return None
    return sys.stdin.readline() if ready else None


def follow_events(handle: Handle, lines: PlainText | None, *, keys: bool) -> Finished:
    """Print a session as it goes (nothing without `lines`); return how it ended.

    `keys` reads the terminal's keys. Raises EOFError when the engine ends without a word.
    """
    with ExitStack() as stack:
        end_asked = Flag()
        stack.enter_context(console.HANG_UP.ending(end_asked.set))
        stack.enter_context(_Signals(end_asked))
        if keys:
            stack.enter_context(_Keyboard(handle))
        for event in _events(handle, end_asked):
            if lines:
                console.print_lines(lines.lines(event))
            if isinstance(event, Finished):
                return event
    raise EOFError


def _events(handle: Handle, end_asked: Flag) -> Iterator[Event]:
    """Yield events as they come, and pass a wish to end on."""
    while True:
        handle.wait(LOOK_S)
        if end_asked.is_set():
            end_asked.clear()
            handle.send(Command("quit"))
        yield from handle.poll()


class _Signals:
    """While it holds, signals to end only set a flag; nothing is interrupted."""

    def __init__(self, asked: Flag) -> None:
        self._asked = asked

    def __enter__(self) -> None:
        names = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")
        numbers = [getattr(signal, name) for name in names if hasattr(signal, name)]
        self._before = {one: signal.signal(one, lambda *_: self._asked.set()) for one in numbers}

    def __exit__(self, *_: object) -> None:
        for number, handler in self._before.items():
            signal.signal(number, handler)


class _Keyboard:
    """While it holds, keys typed in the terminal become commands at once."""

    def __init__(self, handle: Handle) -> None:
        self._handle = handle
        self._keys = TerminalKeys()
        self._ended = Flag()
        self._thread = Thread(target=self._listen, name="keys", daemon=True)

    def __enter__(self) -> None:
        self._keys.__enter__()
        self._thread.start()

    def __exit__(self, *_: object) -> None:
        self._ended.set()
        self._thread.join()
        self._keys.__exit__()

    def _listen(self) -> None:
        while not self._ended.is_set():
            typed = self._keys.wait(LOOK_S)
            pressed_s = perf_counter()
            keys = self._keys.read()
            if typed and not keys:
                return  # the terminal is closed, and would say so again at once
            for command in plain_text.key_commands(keys, pressed_s):
                self._handle.send(command)
