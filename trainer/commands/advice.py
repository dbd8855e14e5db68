"""`trainer advice`: what a session says is worth practising, and a drill made for each."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from trainer import console
from trainer.archive.find_session import find_session
from trainer.archive.session_file import open_session
from trainer.archive.session_list import list_sessions
from trainer.archive.summary import cut_short, session_summary
from trainer.pattern import drills, library
from trainer.pattern.model import FEET, MAX_TEMPO, MIN_TEMPO, NOTE_VALUES, Limb
from trainer.settings import existing_recordings_folder
from trainer.show.reading_words import weakness_words

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator
    from pathlib import Path

    from trainer.archive.session import Session
    from trainer.archive.session_list import SessionEntry
    from trainer.pattern.model import Pattern

DRILL_SHARE = 0.8
"""A drill is written for this share of the session's slowest tempo: slow enough to watch. One for a
hand is faster where that hand would get less to do (`trainer.pattern.drills.HAND_SHARE`)."""

MOST_TRIED = 8
"""So many sessions are judged before the newest is taken after all."""


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of this command."""
    parser.add_argument(
        "session",
        nargs="?",
        help="a session file, or a part of its name (default: the newest with enough strokes)",
    )
    parser.add_argument("--recordings", metavar="DIR", help="the folder sessions are saved in")
    parser.add_argument("--no-drills", action="store_true", help="write no drills")
    parser.add_argument("--json", action="store_true", help="findings and drills as JSON")


@dataclass(frozen=True, slots=True)
class Found:
    """A session and its summary, which says what is weak in it.

    `remark` says why it is not the newest one, where that was passed over.
    """

    path: Path
    session: Session
    summary: dict[str, Any]
    remark: str = ""

    @property
    def weak(self) -> list[dict[str, Any]]:
        """The weaknesses, the costliest first."""
        return self.summary["advice"] or []


def run(args: argparse.Namespace) -> int:
    """Tell what is worth practising and save the drills."""
    one = asked_for(existing_recordings_folder(args.recordings), args.session)
    made = [] if args.no_drills else [save_drill(w, one.session, one.summary) for w in one.weak]
    if args.json:
        console.print_json(
            {"session": one.path.name, "advice": one.summary["advice"], "drills": made}
        )
        return 0
    console.print_lines(heading(one))
    for place, line in enumerate(lines(one)):
        console.print_line(line)
        if made:
            console.print_line(f"   Drill: trainer play {made[place]}")
    return 0


def found(path: Path) -> Found:
    """Return what a session says."""
    session = cut_short(open_session(path))
    return Found(path, session, session_summary(session))


def asked_for(folder: Path, name: str | None) -> Found:
    """Return what a session says; without a name the newest with enough strokes for advice.

    Where none has enough it is the newest of all.
    """
    if name is not None:
        return found(find_session(folder, name))
    # Loads numpy, which commands that only print help do not need.
    from trainer.measure.advice import ENOUGH_STROKES

    newest_first = list_sessions(folder).entries[::-1]
    tried = 0
    for entry in newest_first:
        if entry.strikes >= ENOUGH_STROKES and tried < MOST_TRIED:
            tried += 1
            one = found(entry.path)
            if one.summary["advice"] is not None:
                passed_over = entry is not newest_first[0]
                return replace(one, remark=_why_not(newest_first[0]) if passed_over else "")
    return found(find_session(folder, None))


def _why_not(newest: SessionEntry) -> str:
    """Say why there is no advice on the newest session."""
    why = "has too few strokes" if newest.finished else "is still running, or was cut off"
    return f"The last one, {newest.title}, {newest.started:%Y-%m-%d %H:%M}, {why}."


def heading(one: Found) -> Iterator[str]:
    """Yield which session it is, and why that one."""
    yield f"{one.session.pattern.title}, {one.session.header.started:%Y-%m-%d %H:%M}."
    if one.remark:
        yield one.remark


def lines(one: Found) -> Iterator[str]:
    """Yield a line a weakness, or why there is none."""
    if one.summary["advice"] is None:
        yield "Too few strokes landed to propose anything: play two minutes or more."
    elif not one.weak:
        yield "Nothing stands out: no move, hand, foot or change costs more than chance."
    for place, weak in enumerate(one.weak, 1):
        yield f"{place}. {weakness_words(weak)}: {'; '.join(weak['evidence'])}."


def save_drill(finding: dict[str, Any], session: Session, summary: dict[str, Any]) -> str:
    """Write the drill for a finding into the player's patterns and return its name."""
    tempo = drill_tempo(finding, session.pattern, summary)
    name = "drill-" + str(finding["name"]).lower().replace(" ", "-")
    library.save_pattern(name, _text(finding, session, tempo), over=True)
    return name


def drill_tempo(finding: dict[str, Any], pattern: Pattern, summary: dict[str, Any]) -> float:
    """Return the tempo of a drill, in whole BPM: slow, but no rest for a hand it is made for."""
    # Drills count in quarters, whatever note the pattern's own tempo counts.
    quarters = float(pattern.tempo_unit)
    tempo = DRILL_SHARE * summary["tempo_low"] * quarters
    if finding["kind"] in ("move", "hand"):
        fastest = summary["tempo_high"] * quarters
        tempo = max(tempo, drills.hand_tempo(pattern, Limb(finding["limb"]), fastest))
    return float(min(MAX_TEMPO, max(MIN_TEMPO, math.ceil(tempo))))


def _text(finding: dict[str, Any], session: Session, tempo: float) -> str:
    kind, limb, start, end = (str(finding[key]) for key in ("kind", "limb", "start", "end"))
    voice = _main_voice(session)
    if kind == "move":
        return drills.move_drill(Limb(limb), start, end, tempo)
    if kind == "hand":
        return drills.hand_drill(Limb(limb), voice, tempo)
    if kind == "value":
        return drills.value_drill(start, voice, tempo)
    if kind == "change":
        return drills.change_drill(start, end, voice, tempo)
    if kind == "changes":
        return drills.changes_drill(_between(session, start, end), voice, tempo)
    return drills.foot_drill(Limb(limb), voice, tempo)


def _between(session: Session, start: str, end: str) -> list[str]:
    """The note values that the hands play from one to another, in order."""
    hands = (one for one in session.pattern.notes if one.limb not in FEET)
    played = sorted({one.value for one in hands}, key=lambda one: -NOTE_VALUES[one].length)
    first, last = played.index(start), played.index(end)
    return played[first : last + 1] if first < last else played[last : first + 1][::-1]


def _main_voice(session: Session) -> str:
    """The drum the pattern's hands play most."""
    voices = [one.voice for one in session.pattern.notes if one.limb not in FEET]
    return max(sorted(set(voices)), key=voices.count, default="snare")
