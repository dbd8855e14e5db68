"""Playing inside the app: the wait for the engine, the live screen, the summary; or a routine.

Each step is a screen that is left with what the next one needs. What is slow, from the search for
the kit to the ladder's ceiling in the summary, runs on threads.
"""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.actions.hard_spot import HardSpotRequest, spot_result
from trainer.actions.playing_on import steering_of_job
from trainer.actions.prepare import finish_cut_off, prepare
from trainer.actions.replay import ReplayRequest
from trainer.actions.requests import DemoRequest, RoutineRequest, request_at
from trainer.actions.routine import RoutineRun
from trainer.engine.process import start_engine
from trainer.errors import Failure, TrainerError
from trainer.practice.routine import REST
from trainer.screens.common import call_on_screen
from trainer.screens.dialogs import WaitScreen
from trainer.screens.live import LiveScreen
from trainer.screens.replay import open_replay
from trainer.screens.routine import AGAIN, CONTINUE, RestScreen, RoutineScreen, sheet_of
from trainer.screens.summary import PLAY_ON, SummaryScreen
from trainer.screens.trainer_app import Playing
from trainer.show import history_words, live_words, session_words
from trainer.show.page import PageLeft
from trainer.show.pattern_words import missing_drum_lines
from trainer.show.session_progress import NO_FRAME, SessionFrame, frame_of
from trainer.show.session_words import recovered_words
from trainer.show.verdict_words import not_played

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.actions.playing_on import Waiting
    from trainer.actions.prepare import Practice
    from trainer.actions.requests import Request, SessionRequest
    from trainer.archive.session import RungResult
    from trainer.engine.process import Handle
    from trainer.practice.events import Finished
    from trainer.practice.routine import RoutineProgress
    from trainer.screens.trainer_app import TrainerApp

    Ended = Callable[[Finished], object]
    Prepare = Callable[[Waiting], Practice]


async def play_request(app: TrainerApp, request: Request | HardSpotRequest) -> None:
    """Play a request; return when its last screen is left."""
    if isinstance(request, RoutineRequest):
        await go_through(app, request)
        return
    if isinstance(request, HardSpotRequest):
        await practise_spot(app, request)
        return
    following: SessionRequest | None = request
    while following:
        following = (await practise(app, partial(prepare, following), request=following))[1]


async def practise_spot(app: TrainerApp, request: HardSpotRequest) -> None:
    """Play the spot in a loop, then the whole; its summary says whether the spot got better."""
    loop = SessionFrame(block=session_words.spot_words(request), after=session_words.THE_WHOLE)
    finished, _ = await practise(app, partial(prepare, request.loop), loop)
    if finished is None or finished.stopped:
        return
    await practise(app, partial(prepare, request.whole), spot=request)


async def practise(
    app: TrainerApp,
    prepares: Prepare,
    frame: SessionFrame = NO_FRAME,
    ended: Ended = lambda _: None,
    request: SessionRequest | None = None,
    spot: HardSpotRequest | None = None,
) -> tuple[Finished | None, SessionRequest | None]:
    """Play one session; return how it ended, None where it never began or its engine died.

    With the `request` that it plays, also what the player wants to play after it. The summary says
    how a hard `spot` in it went.
    """
    wait = WaitScreen("Starting")
    app.push_screen(wait)
    try:
        practice, handle = await asyncio.to_thread(_start, wait, prepares)
    except PageLeft:
        return None, None
    except TrainerError as fault:
        if wait in app.screen_stack:
            await _close(app, wait)
            app.report(fault)
        return None, None
    if wait not in app.screen_stack:
        await asyncio.to_thread(handle.close)
        return None, None
    app.playing = playing = Playing(practice, handle, frame_of(practice.job, frame), ended)
    live = LiveScreen(practice.job.pattern, practice.tempo, handle, practice.passes, playing.frame)
    app.put_in_place(wait, live)
    for line in missing_drum_lines(practice.job.pattern, practice.instead):
        app.notify(line, markup=False)
    if practice.ceiling:
        app.notify(history_words.ladder_start_line(practice.ceiling, practice.tempo), markup=False)
    playing.finished = await live.ended()
    following = None
    if playing.finished:
        following = await _summary(app, live, playing, request, spot)
    else:
        await _engine_died(app, live, playing)
    app.playing = None
    return playing.finished, following


def _start(wait: WaitScreen, prepares: Prepare) -> tuple[Practice, Handle]:
    """Prepare a session and start its engine, on a thread.

    Raises TrainerError, or PageLeft where the player has left meanwhile.
    """

    def say(words: str) -> None:
        if not call_on_screen(wait, wait.say, words):
            raise PageLeft

    practice = prepares(lambda wanted: say(live_words.waiting_words(wanted)))
    for found in finish_cut_off(practice.job.folder):
        call_on_screen(wait, wait.notify, recovered_words(found), severity="warning", markup=False)
    say("opening the ports")
    return practice, start_engine(practice.job)


async def _summary(
    app: TrainerApp,
    live: LiveScreen,
    playing: Playing,
    request: SessionRequest | None,
    spot: HardSpotRequest | None,
) -> SessionRequest | None:
    """Show the summary until it is left, steered by the pads; return what is to be played next."""
    finished, job = playing.finished, playing.practice.job
    assert finished
    app.sessions.append(finished)
    playing.ended(finished)
    closing = await asyncio.to_thread(closing_of, finished)
    closing.lines.extend(live.remarks)
    remark = await asyncio.to_thread(_spot_remark, spot, finished) if spot else ""
    steering = steering_of_job(job)
    # Where no pad is heard after the end, none is named there; who left is not carried on.
    frame = playing.frame if steering else replace(playing.frame, pads="")
    summary = summary_of(
        app,
        job.pattern.title,
        closing,
        finished,
        NO_FRAME if finished.stopped else frame,
        tempo=playing.practice.tempo,
        remark=remark,
        can_continue=request is not None and not isinstance(request, DemoRequest),
    )
    left = app.put_in_place(live, summary)
    app.steer_by(steering)
    await asyncio.to_thread(playing.handle.close)
    chosen = await left
    app.steer_by(None)
    app.hold_keys()
    verdict = summary.verdict
    if chosen != PLAY_ON or not (request and verdict and verdict.next_tempo):
        return None
    return request_at(request, verdict.next_tempo)


async def _engine_died(app: TrainerApp, live: LiveScreen, playing: Playing) -> None:
    """Finish what the engine wrote, and say that it is saved up to there."""
    await asyncio.to_thread(playing.handle.close)
    found = await asyncio.to_thread(finish_cut_off, playing.practice.job.folder)
    await _close(app, live)
    app.report(Failure(live_words.ENGINE_DIED.rstrip(".")), [*map(recovered_words, found)])


async def _close(app: TrainerApp, screen: WaitScreen | LiveScreen) -> None:
    """Close a screen with all above it."""
    while screen in app.screen_stack:
        app.pop_screen()
    app.hold_keys()


@dataclass(frozen=True, slots=True)
class Closing:
    """The result of a session: its lines and the rungs of its ladder."""

    lines: list[str]
    rungs: tuple[RungResult, ...] = ()


def closing_of(finished: Finished) -> Closing:
    """Return the result of a session in words: its ladder where it had one, then its summary."""
    from trainer.archive.ceilings import read_ladder_result
    from trainer.show import reading_words

    ladder = read_ladder_result(finished.path)
    lines = [
        *history_words.ladder_lines(ladder),
        *reading_words.reading_lines(finished.summary),
    ]
    return Closing(lines, ladder.rungs if ladder else ())


def summary_of(
    app: TrainerApp,
    title: str,
    closing: Closing,
    finished: Finished,
    frame: SessionFrame = NO_FRAME,
    *,
    tempo: float,
    remark: str = "",
    can_continue: bool = False,
) -> SummaryScreen:
    """Return the summary of a session at a tempo; its picture goes beside the session's file."""
    if finished.unplayed:
        none = not_played(tempo)
        return SummaryScreen(title, [], None, verdict=none, around=frame, can_continue=can_continue)
    return SummaryScreen(
        title,
        closing.lines,
        finished.path,
        summary=finished.summary,
        rungs=closing.rungs,
        pictures=Path(finished.path).with_suffix("") if finished.path else None,
        around=frame,
        remark=remark,
        replays=partial(_open_replay, app, finished.path) if finished.path else None,
        can_continue=can_continue,
    )


def _spot_remark(spot: HardSpotRequest, finished: Finished) -> str:
    found = spot_result(spot, finished.path)
    return session_words.spot_result_words(spot, *found) if found else ""


def _open_replay(app: TrainerApp, path: str) -> None:
    open_replay(app, ReplayRequest(Path(path).parent, path))


async def go_through(app: TrainerApp, request: RoutineRequest) -> None:
    """Show a routine and play its blocks as asked, until the player leaves."""
    try:
        app.routine = going = await asyncio.to_thread(RoutineRun, request)
        found = await asyncio.to_thread(going.finish_cut_off)
        progress = await asyncio.to_thread(going.progress)
    except TrainerError as fault:
        app.report(fault)
        return
    for one in found:
        app.notify(recovered_words(one), severity="warning", markup=False)
    while True:
        app.steer_by(going.steering())
        sheet = sheet_of(going.routine, progress)
        chosen = await app.push_screen_wait(RoutineScreen(sheet))
        app.steer_by(None)
        if chosen is None:
            break
        if chosen == AGAIN:
            going.begin_again()
        progress = await _play_blocks(app, going)
        app.hold_keys()
        if going.played and progress.over(going.routine):
            await _whole_practice(app, going)
    app.routine = None


async def _whole_practice(app: TrainerApp, going: RoutineRun) -> None:
    """Show one summary of all blocks, then forget them."""
    results = await asyncio.to_thread(going.results)
    title, *lines = history_words.practice_lines(going.routine.title, results)
    going.played.clear()
    await app.push_screen_wait(SummaryScreen(title, lines, str(going.folder)))
    app.hold_keys()


async def _play_blocks(app: TrainerApp, going: RoutineRun) -> RoutineProgress:
    """Play the blocks from where the routine is; return where it is then."""
    progress = await asyncio.to_thread(going.progress)
    while not progress.over(going.routine):
        going.begin(progress)
        if not await _play_block(app, going, progress):
            # The time that was spent on the summary is no practice.
            await asyncio.to_thread(going.stop)
            return await asyncio.to_thread(going.progress)
        going.end(progress)
        progress = progress.after()
    return progress


async def _play_block(app: TrainerApp, going: RoutineRun, progress: RoutineProgress) -> bool:
    """Play or rest what is left of the next block; return True where it reached its end."""
    routine = going.routine
    if routine.blocks[progress.block].kind == REST:
        after = session_words.following_words(routine, progress.block)
        app.hold_keys()
        app.steer_by(going.steering())
        chosen = await app.push_screen_wait(RestScreen(progress.left(routine), after))
        app.steer_by(None)
        return chosen == CONTINUE
    finished, _ = await practise(
        app,
        partial(going.practice, progress),
        session_words.block_frame(routine, progress),
        partial(going.session_ended, progress),
    )
    return finished is not None and not finished.stopped
