"""`trainer score`: judge a take that was recorded elsewhere, or a saved session."""

from __future__ import annotations

import math
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from trainer import console
from trainer.errors import BadInput
from trainer.kit.model import GENERAL_MIDI

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator

    from trainer.kit.model import Kit
    from trainer.midi.take_file import Take
    from trainer.practice.align import Alignment
    from trainer.practice.outcomes import Judged

TEMPO_FROM = {
    "given": "as asked for",
    "file": "as the file says, and the strokes agree",
    "played": "as played",
}
START_FROM = {
    "given": "as asked for",
    "bar line": "a bar line of the file",
    "played": "where the strokes begin to agree",
}

NEXT_QUARTERS = 1.0
"""A count that is taken up within so many quarters of where it broke off goes on from there."""

OTHER_LATENCY = "“trainer replay SESSION --latency MS” reads it again with another one"


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of this command."""
    parser.add_argument("take", help="a Standard MIDI File, or a saved session (.jsonl)")
    parser.add_argument("--pattern", metavar="P", help="what was played: a pattern's name or file")
    parser.add_argument(
        "--tempo",
        metavar="BPM",
        help="the tempo, or auto to take it from the strokes (default: the file's, if it fits)",
    )
    parser.add_argument(
        "--start",
        metavar="SECONDS",
        default="auto",
        help="when the first beat falls, or auto (default)",
    )
    parser.add_argument(
        "--kit", metavar="NAME", help="the kit it was played on, by name or file (default: as set)"
    )
    parser.add_argument("--latency", type=float, metavar="MS", help="how late the kit is, in ms")
    parser.add_argument("--json", action="store_true", help="every stroke and the summary as JSON")
    parser.add_argument("--full", action="store_true", help="as text, with every figure")


def run(args: argparse.Namespace) -> int:
    """Judge the take and tell what was found."""
    path = Path(args.take)
    if path.suffix.lower() == ".jsonl":
        return _session(path, args)
    return _told(*judged_take(path, args), args)


def judged_take(path: Path, args: argparse.Namespace) -> tuple[Alignment, Judged, Take]:
    """Return what was found of a recorded take, its outcomes, and the take (see `laid_on`)."""
    from trainer.practice.matcher import judge

    found, take, kit = laid_on(path, args)
    return found, judge(found.course, take.strikes, kit), take


def laid_on(path: Path, args: argparse.Namespace) -> tuple[Alignment, Take, Kit]:
    """Return where the pattern lies in a recorded take, the take, and the kit it is read through.

    `args` holds pattern, tempo, start, kit and latency as the options of this command do.
    """
    from trainer.midi.take_file import read_take
    from trainer.pattern.library import load_pattern
    from trainer.practice.align import align
    from trainer.practice.matcher import read_hits

    if args.pattern is None:
        raise BadInput("a take needs its pattern", mend="say which one with --pattern")
    pattern, take = load_pattern(args.pattern), read_take(path)
    try:
        kit = kit_of(args)
        found = align(
            pattern,
            read_hits(pattern, take.strikes, kit),
            tempo=None if args.tempo in (None, "auto") else _number(args.tempo, "--tempo"),
            start_s=None if args.start == "auto" else _number(args.start, "--start"),
            written=None if args.tempo == "auto" else take.tempo,
            written_for_all=len({round(bpm, 3) for _, bpm in take.tempos}) <= 1,
        )
    except BadInput as error:
        error.at(path.name)
        raise
    return found, take, kit


def kit_of(args: argparse.Namespace) -> Kit:
    """Return the kit that is asked for, else the one set, else General MIDI."""
    from trainer import settings
    from trainer.commands.playing import with_latency
    from trainer.kit import kits

    named = args.kit or settings.load().kit
    return with_latency(kits.load(named) if named else GENERAL_MIDI, args.latency)


def _number(text: str, where: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise BadInput(f'"{text}" is no number', where=where, mend='give a number or "auto"')
    return value


def _told(found: Alignment, judged: Judged, take: Take, args: argparse.Namespace) -> int:
    from trainer.archive.summary import take_document
    from trainer.measure.reading import read_take
    from trainer.show import reading_words

    summary = read_take(judged, start_fitted=found.start_from == "played").to_dict()
    one = found.course.passes[0]
    if args.json:
        more = {
            "fit": found.fit,
            "agree": found.agree,
            "tempo_from": found.tempo_from,
            "start_from": found.start_from,
            "played_tempo": found.played_tempo,
            "swing_ms": found.swing_s * 1000,
            "breaks": [asdict(one) for one in found.breaks],
            "written_tempo": take.tempo,
            "remarks": list(take.remarks),
        }
        console.print_json(
            take_document(judged, summary, tempo=one.tempo, start_s=one.start_s, **more)
        )
        return 0
    console.print_lines(found_lines(found, take, asked=args.tempo == "auto"))
    console.print_lines(reading_words.reading_lines(summary, full=args.full))
    return 0


def found_lines(found: Alignment, take: Take, *, asked: bool = False) -> Iterator[str]:
    """Say what was found and how sure it is; `asked` where the tempo was to come from the strokes.

    A tempo of the file that was not looked at is named, but not called wrong.
    """
    from trainer.practice.align import LEAST_AGREE

    course, one = found.course, found.course.passes[0]
    yield f"{take.name}: {course.pattern.title}, {_passes(found)}."
    differs = _differs(found, take, asked)
    yield f"Tempo: {_tempo(found)} BPM, {TEMPO_FROM[found.tempo_from]}{differs}."
    yield from _unsteady(found)
    yield f"Start: {round(one.start_s, 3) + 0.0:.3f} s, {START_FROM[found.start_from]}."
    sure = f"{found.agree:.0%} of its notes and strokes belong together"
    if found.agree < LEAST_AGREE:
        yield f"Sure: {sure}, so this is hardly the pattern that was played."
    else:
        yield f"Sure: {sure} ({found.fit:.0%} of the way from chance to a take like the pattern)."
    yield from take.remarks


def _passes(found: Alignment) -> str:
    passes, begun = found.course.passes, found.course.begun
    count = f"{begun} pass" + ("es" if begun != 1 else "")
    return count + (", the last one broken off" if passes[-1].end_s is not None else "")


def _differs(found: Alignment, take: Take, asked: bool) -> str:
    """Tell where the strokes run at another tempo than the one that is judged by."""
    unit = float(found.course.pattern.tempo_unit)
    played, tempo = found.played_tempo, found.course.passes[0].tempo
    if found.tempo_from == "played" and take.tempo is not None:
        written = f"{take.tempo / unit:.4g}"
        if written == f"{tempo:.4g}":
            return ", and the file says the same"
        fits = ", which does not fit" * (not asked and not found.swing_s)
        return f" (the file says {written}{fits})"
    if played is not None and abs(played / tempo - 1.0) > 0.005:
        return f" (the strokes run at {played:.4g})"
    return ""


def _tempo(found: Alignment) -> str:
    """Return the tempo, or from which to which it moves."""
    tempos = [one.tempo for one in found.course.passes]
    low, high = f"{min(tempos):.4g}", f"{max(tempos):.4g}"
    return low if low == high else f"{low} to {high}"


def _unsteady(found: Alignment) -> Iterator[str]:
    """Tell where the count was broken, and that no steady tempo was kept."""
    tempos = [one.tempo for one in found.course.passes]
    if found.swing_s > 0:
        yield (
            f"No steady tempo: the strokes run to and fro by {found.swing_s * 1000:.0f} ms against "
            "the best one, so every few bars are judged against a tempo of their own."
        )
    quarter_s = 60.0 / (tempos[0] * float(found.course.pattern.tempo_unit))
    for one in found.breaks:
        gap_s = one.next_s - one.last_s - (one.next_beat - one.last_beat) * quarter_s
        what = (
            f"goes on {abs(gap_s):.2f} s {'late' if gap_s > 0 else 'early'}"
            if abs(one.next_beat - one.last_beat) <= NEXT_QUARTERS
            else "goes on at another place of the pattern"
        )
        at, again = f"at {one.last_s:.2f} s", f"at {one.next_s:.2f} s"
        yield f"Break: {at} the count breaks off, and {what} {again}."


def _session(path: Path, args: argparse.Namespace) -> int:
    """Judge a saved session again: its own pattern, passes and kit, the numbers of its replay."""
    from trainer.archive.session_file import open_session
    from trainer.archive.summary import cut_short, judged, summary_of
    from trainer.commands.replay import document
    from trainer.show.session_words import session_lines

    given = {
        "--pattern": args.pattern is not None,
        "--tempo": args.tempo is not None,
        "--start": args.start != "auto",
        "--latency": args.latency is not None,
    }
    for option in (name for name, told in given.items() if told):
        raise BadInput(
            f"a saved session knows its own, so {option} cannot be changed",
            where=path.name,
            mend=OTHER_LATENCY if option == "--latency" else f"leave {option} out",
        )
    session = cut_short(open_session(path))
    take = judged(session)
    summary = summary_of(session, take)
    if args.json:
        console.print_json(document(path, session, take, summary))
    else:
        console.print_lines(session_lines(session, summary, full=args.full))
    return 0
