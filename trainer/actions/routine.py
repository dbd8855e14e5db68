"""A routine while it is played: where it is, and each block as a session."""

from __future__ import annotations

import contextlib
import math
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer import settings
from trainer.actions.job import check_count_in
from trainer.actions.playing_on import kit_ahead, steering_of_port
from trainer.actions.prepare import Practice, finish_cut_off, job_by, prepare
from trainer.actions.requests import LadderRequest, course_of
from trainer.archive.carried_patterns import keep_copies
from trainer.archive.ceilings import read_ladder_result
from trainer.archive.routines import RoutineProgressFile, find_routine, load_routine
from trainer.archive.session import played_seconds
from trainer.archive.session_file import open_session
from trainer.archive.session_list import list_sessions
from trainer.errors import TrainerError
from trainer.pattern.library import load_pattern, pattern_folders
from trainer.pattern.model import Bar, Meter, Pattern
from trainer.practice.course import pattern_seconds
from trainer.practice.plan import SteadyPlan
from trainer.practice.routine import FREE, FREE_PLAY, LADDER, RoutineProgress

if TYPE_CHECKING:
    from trainer.actions.playing_on import Waiting
    from trainer.actions.requests import RoutineRequest, Setup
    from trainer.archive.ceilings import LadderResult
    from trainer.archive.recovery import Recovery
    from trainer.midi.pad_steering import PadSteering
    from trainer.practice.events import Finished
    from trainer.practice.routine import Block


@dataclass(frozen=True, slots=True)
class PlayedBlock:
    """A block and how its session ended: the seconds played, and the ladder's result, if any."""

    block: Block
    finished: Finished
    seconds: float = 0.0
    ladder: LadderResult | None = None


class RoutineRun:
    """A routine with its progress on disk: prepare a block's session, play it, say how it went.

    Patterns that its file carries are kept among the player's own where their names are free;
    `namesakes` are those of which the player has another. Raises BadInput where the routine cannot
    be read.
    """

    def __init__(self, request: RoutineRequest) -> None:
        path = find_routine(request.file)
        self.setup = request.setup
        self.routine = load_routine(path)
        self._file = RoutineProgressFile(path, self.routine)
        self._folder = settings.recordings_folder(self.setup.recordings)
        self.played: list[PlayedBlock] = []
        self.namesakes: list[str] = []
        with contextlib.suppress(TrainerError):  # a full disk; they are played all the same
            self.namesakes = keep_copies(self.routine.carried, pattern_folders()[0])
        if request.again:
            self.begin_again()

    def finish_cut_off(self) -> list[Recovery]:
        """Finish what a crash cut off, so that it counts, and return it."""
        return finish_cut_off(self._folder)

    def results(self) -> list[PlayedBlock]:
        """Return what came of each block that was played, as its session was saved."""
        return [replace(one, **_saved_result(one.finished.path)) for one in self.played]

    @property
    def folder(self) -> Path:
        """Where its sessions are saved."""
        return self._folder

    def progress(self) -> RoutineProgress:
        """Return how far the routine has come, with what the saved sessions hold."""
        return self._file.progress(list_sessions(self._folder).entries)

    def steering(self) -> PadSteering | None:
        """Return the pads that are keys on the screens between blocks."""
        return steering_of_port(self.setup.played_on.port, self.setup.played_on.pad_keys)

    def begin_again(self) -> None:
        """Go back to the first block."""
        self._file.keep(RoutineProgress())

    def begin(self, progress: RoutineProgress) -> None:
        """Keep that the next block begins now."""
        self._file.keep(progress, datetime.now().astimezone())

    def session_ended(self, progress: RoutineProgress, finished: Finished) -> None:
        """Keep at once that a block was played to its end: its summary is no part of it."""
        self.played.append(PlayedBlock(self.routine.blocks[progress.block], finished))
        if not finished.stopped:
            self.end(progress)

    def end(self, progress: RoutineProgress) -> None:
        """Keep that a block is done."""
        self._file.keep(progress.after())

    def stop(self) -> None:
        """Keep what was played of a block that was stopped; the time after that does not count."""
        self._file.keep(self.progress())

    def practice(self, progress: RoutineProgress, waiting: Waiting | None = None) -> Practice:
        """Return the session of what is left of the next block, which is no rest.

        Raises BadInput.
        """
        block = self.routine.blocks[progress.block]
        pattern, seconds = self._pattern_of(block), progress.left(self.routine)
        if block.kind == LADDER:
            return prepare(self._ladder(block, seconds), waiting)
        tempo = block.tempo or pattern.tempo
        pass_s = pattern_seconds(pattern, tempo)
        passes = max(1, math.floor(seconds / pass_s))
        plan = SteadyPlan(tempo, passes, check_count_in(self.setup))
        setup = self._setup_of(block)
        job = job_by(setup, pattern, plan, course_of(setup), waiting)
        return Practice(job, tempo, passes)

    def _pattern_of(self, block: Block) -> Pattern:
        """Return what is played in a block; an open block is an empty bar."""
        if block.kind != FREE:
            return load_pattern(block.opened, kit_ahead(self.setup.played_on))
        return Pattern(FREE_PLAY, "Open block", (Bar(Fraction(0), Meter()),), (), tempo=100.0)

    def _setup_of(self, block: Block) -> Setup:
        """Return the setup with the click of a block."""
        texts: dict[str, Any] = dict(block.click)
        silent_bars = texts.pop("silent_bars", self.setup.silent_bars)
        click = replace(self.setup.click, **texts)
        return replace(self.setup, click=click, silent_bars=silent_bars)

    def _ladder(self, block: Block, seconds: float) -> LadderRequest:
        """Return a ladder that fills some seconds."""
        return LadderRequest(
            block.opened,
            block.start,
            block.step,
            block.top,
            block.passes,
            minutes=seconds / 60,
            rule=block.rule,
            clean_to_rise=block.clean_to_rise,
            setup=self._setup_of(block),
        )


def _saved_result(path: str | None) -> dict[str, Any]:
    """Return the seconds and the ladder of a saved session, nothing where it cannot be read."""
    try:
        session = open_session(Path(path or ""))
    except (TrainerError, OSError):
        return {}
    seconds = played_seconds(session.pattern, session.passes)
    return {"seconds": seconds, "ladder": read_ladder_result(path)}
