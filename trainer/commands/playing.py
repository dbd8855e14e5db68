"""What all commands that play have in common: their options, the job they ask for, its face."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer import console, settings
from trainer.commands import clicking
from trainer.errors import BadInput, Failure
from trainer.practice.course import check_tempo

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace
    from collections.abc import Callable

    from trainer.engine.job import Job
    from trainer.engine.process import EngineHandle, LocalHandle
    from trainer.kit.model import Kit
    from trainer.measure.clean import Tolerance
    from trainer.midi.click import Click
    from trainer.midi.hit_source import HitSource
    from trainer.pattern.model import Pattern
    from trainer.practice.events import Finished
    from trainer.practice.plan import SessionOptions, TempoPlan
    from trainer.show.session_progress import SessionFrame

COURSE = (
    *("tempo", "passes", "count_in", "silent_bars", "click_parts", "seed"),
    *("start", "step", "top", "rule"),
)
"""The options whose values a session file keeps."""

LONGEST_LATENCY_MS = 1000.0


def tempo_options(parser: ArgumentParser) -> None:
    """Add the options of plain practice at one tempo."""
    add = parser.add_argument
    add("--tempo", type=float, metavar="BPM", help="the tempo (default: the pattern's own)")
    add("--passes", type=int, metavar="N", help="how many times the pattern is played")


def options(parser: ArgumentParser) -> None:
    """Add the options of every command that plays."""
    add = parser.add_argument
    add("--count-in", type=int, default=1, metavar="BARS", help="bars counted in (default: 1)")
    add("--silent-bars", metavar="N/M", help="leave the click out in the last N of every M bars")
    add("--strict", metavar="LEVEL", help="loose, solid or tight (default: solid)")
    add("--player", default="", metavar="LABEL", help="who plays, kept in the session")
    add("--recordings", type=Path, metavar="DIR", help="where sessions are saved")
    add("--plain", action="store_true", help="lines of text instead of the screen")
    add("--every-hit", action="store_true", help="with --plain: a line for every stroke")
    add("--json", action="store_true", help="print the summary as JSON at the end, and no more")


def tempo(args: Namespace, pattern: Pattern) -> float:
    """Return the tempo asked for, else the pattern's own."""
    return check_tempo(pattern.tempo if args.tempo is None else args.tempo)


def passes(args: Namespace, default: int | None) -> int | None:
    """Return how many passes were asked for."""
    if args.passes is None:
        return default
    if args.passes < 1:
        raise BadInput(
            f"{args.passes} passes cannot be played", where="--passes", mend="ask for 1 or more"
        )
    wanted: int = args.passes
    return wanted


def count_in(args: Namespace) -> int:
    """Return the bars of the count-in."""
    if not 0 <= args.count_in <= 16:
        raise BadInput(
            f"a count-in of {args.count_in} bars is out of range",
            where="--count-in",
            mend="choose 0 to 16",
        )
    bars: int = args.count_in
    return bars


def with_latency(kit: Kit, latency_ms: float | None, option: str = "--latency") -> Kit:
    """Return the kit with another latency, or as it is."""
    if latency_ms is None:
        return kit
    if not abs(latency_ms) <= LONGEST_LATENCY_MS:
        raise BadInput(
            f"a latency of {latency_ms:g} ms is out of range",
            where=option,
            mend=f"choose one up to {LONGEST_LATENCY_MS:g}",
        )
    return replace(kit, latency_s=latency_ms / 1000)


def live_options(args: Namespace, pad_keys: dict[int, str] | None = None) -> SessionOptions:
    """Return the options of the live session."""
    from trainer.practice.plan import SessionOptions

    parts = clicking.parts(args) if hasattr(args, "click_parts") else 1
    if args.silent_bars is None:
        return SessionOptions(pad_keys=pad_keys, click_parts=parts)
    silent, _, of = args.silent_bars.partition("/")
    if not (silent.isdecimal() and of.isdecimal() and 0 < int(silent) < int(of) <= 1000):
        raise BadInput(
            f'"{args.silent_bars}" does not say which bars are silent',
            where="--silent-bars",
            mend="write for instance 1/4 for the last of every 4 bars",
        )
    return SessionOptions(int(silent), int(of), pad_keys, parts)


def tolerance(args: Namespace) -> Tolerance:
    """Return how strictly passes are judged: as asked, as set, or the default.

    A level asked for counts as it stands, without the figures that the settings change.
    """
    from trainer.measure.clean import DEFAULT_TOLERANCE, STRICTNESS_LEVELS, level_name

    chosen = settings.load()
    if chosen.clean and not args.strict:
        return chosen.clean
    level = level_name(args.strict or chosen.strictness or DEFAULT_TOLERANCE.level)
    if level not in STRICTNESS_LEVELS:
        raise BadInput(
            f'there is no level "{level}"',
            where="--strict" if args.strict else "strictness of the settings",
            mend=f"choose {', '.join(STRICTNESS_LEVELS)}",
        )
    return STRICTNESS_LEVELS[level]


def make_job(
    args: Namespace,
    pattern: Pattern,
    kit: Kit,
    plan: TempoPlan,
    source: HitSource,
    click: Click,
    live: SessionOptions,
    simulated: bool = False,
) -> Job:
    """Return the job that the options ask for."""
    from trainer.engine.job import Job
    from trainer.measure.clean import clean_verdict

    allowed = tolerance(args)
    return Job(
        pattern=pattern,
        kit=kit,
        plan=plan,
        source=source,
        click=click,
        folder=settings.recordings_folder(args.recordings),
        check=partial(clean_verdict, allowed=allowed),
        options=live,
        player=args.player or settings.load().player,
        tolerance=allowed.to_dict(),
        course=_course(args),
        simulated=simulated,
        clock_out=clicking.clock_out(args, pattern),
    )


def _course(args: Namespace) -> dict[str, Any]:
    """Return the settings asked for, as the session file keeps them."""
    given = {name: getattr(args, name, None) for name in COURSE}
    return {name: value for name, value in given.items() if value is not None}


def play(job: Job, args: Namespace, passes: int | None, tempo: float) -> int:
    """Run a job behind the face that the options ask for; return the exit status."""
    finished = perform(job, args, passes, tempo)
    return 0 if finished and finished.path else 1


def perform(
    job: Job,
    args: Namespace,
    passes: int | None,
    tempo: float,
    around: SessionFrame | None = None,
    ended: Callable[[Finished], object] = lambda _: None,
) -> Finished | None:
    """Run a job behind the face that the options ask for; finish first what a crash cut off.

    `around` is what surrounds it in a routine; `ended` hears of its end before the summary is read.
    Returns how it ended, None where the engine died.
    """
    around = around_of(job, around)
    plain = args.plain or args.every_hit or args.json or not console.has_screen()
    _finish_cut_off(job.folder)
    if job.simulated:
        from trainer.engine.process import LocalHandle

        return _tell(LocalHandle(job), job, args, passes, around)
    if plain:
        _check_keys(job)
    from trainer.engine import process

    handle = process.start_engine(job)
    if plain:
        finished = _tell(handle, job, args, passes, around)
    else:
        finished = _show(handle, job, args, passes, tempo, around, ended)
    if finished is None:
        # A driver can bring the engine down with it; what it wrote is on disk.
        _finish_cut_off(job.folder)
    return finished


def around_of(job: Job, given: SessionFrame | None = None) -> SessionFrame:
    """Return what surrounds a job: what a routine says, a ladder's time, the pads that go on."""
    from trainer.practice.events import CONTINUE_COMMANDS, pad_names
    from trainer.practice.ladder import LadderPlan
    from trainer.show.session_progress import NO_FRAME

    pads = pad_names(job.options.pad_keys or {}, job.kit, CONTINUE_COMMANDS)
    around = replace(given or NO_FRAME, pads=pads)
    if isinstance(job.plan, LadderPlan):
        around = replace(around, ladder=True, seconds=job.plan.seconds_left(0.0))
    return around


def _show(
    handle: EngineHandle,
    job: Job,
    args: Namespace,
    passes: int | None,
    tempo: float,
    around: SessionFrame,
    ended: Callable[[Finished], object],
) -> Finished | None:
    """Show a session on the screen; should that fail, playing goes on in lines of text."""
    from trainer.commands.steering import of_job
    from trainer.screens.live_app import make_live_app

    app = make_live_app(
        job.pattern,
        handle,
        tempo=tempo,
        passes=passes,
        steering=of_job(job),
        around=around,
        ended=ended,
    )
    try:
        finished = app.run()
    except Failure as failure:
        console.print_warning(f"Recording goes on in lines of text: {failure}")
        if app.finished is None:
            return _tell(handle, job, args, passes, around)
        handle.close()
        finished = app.finished
    if finished:
        _say_where(finished)
    return finished


def _finish_cut_off(folder: Path) -> None:
    """Finish the sessions that a crash cut off, and say so."""
    from trainer.archive.recovery import recover

    for found in recover(folder) if folder.is_dir() else ():
        console.print_warning(str(found))


def _check_keys(job: Job) -> None:
    """Refuse to play on the computer keys where none can be typed."""
    from trainer.commands.following import keys_can_be_read
    from trainer.midi.keyboard import KeySource

    if isinstance(job.source, KeySource) and not keys_can_be_read():
        raise BadInput(
            "keys can only be read from a terminal",
            where="--port keys",
            mend="run it in the foreground of a terminal, or name a MIDI port",
        )


def _tell(
    handle: EngineHandle | LocalHandle,
    job: Job,
    args: Namespace,
    passes: int | None,
    around: SessionFrame,
) -> Finished | None:
    """Tell a session in lines of text as it goes, then its summary."""
    from trainer.commands import following
    from trainer.show import plain_text
    from trainer.show.plain_text import PlainText

    face = (
        None
        if args.json
        else PlainText(job.pattern, passes, every_hit=args.every_hit, around=around)
    )
    keys = not job.simulated and following.keys_can_be_read()
    if face:
        console.print_line(f"{job.pattern.title}, played on {job.source.name}.")
    if face and keys:
        console.print_lines(plain_text.key_help_lines(job.source.name == "keys"))
    try:
        finished = following.follow(handle, face, keys=keys)
    except EOFError:
        console.print_warning("The engine ended early; the session is saved up to there.")
        return None
    finally:
        handle.close()
    _end(finished, args)
    return finished


def _end(finished: Finished, args: Namespace) -> None:
    from trainer.show import ladder_result, reading_words

    ladder = ladder_result.read_ladder_result(finished.path)
    if args.json:
        told = {"session": finished.path, "summary": finished.summary}
        console.print_json(
            told | ({"ladder": ladder_result.ladder_document(ladder)} if ladder else {})
        )
    else:
        console.print_lines(ladder_result.ladder_lines(ladder))
        console.print_lines(reading_words.reading_lines(finished.summary))
    if not (args.json and finished.path):
        _say_where(finished)


def _say_where(finished: Finished) -> None:
    if finished.path is None:
        console.print_warning("The session could not be saved anywhere.")
    else:
        console.print_line(f"Saved: {finished.path}")
