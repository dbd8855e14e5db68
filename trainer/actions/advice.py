"""What a session says is worth practising, and a drill made for each finding."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from trainer.archive.session_file import open_session
from trainer.archive.session_list import find_session, list_sessions
from trainer.archive.summary import cut_short, session_summary
from trainer.pattern import drills, library
from trainer.pattern.model import FEET, MAX_TEMPO, MIN_TEMPO, NOTE_VALUES, Limb

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.archive.session import Session
    from trainer.archive.session_list import SessionEntry
    from trainer.pattern.model import Pattern

DRILL_SHARE = 0.8
"""A drill is written for this share of the session's slowest tempo: slow enough to watch. One for a
hand is faster where that hand would get less to do (`trainer.pattern.drills.HAND_SHARE`)."""

MOST_TRIED = 8
"""So many sessions are judged before the newest is taken after all."""


@dataclass(frozen=True, slots=True)
class AdviceRequest:
    """The session of a folder to advise on; None for the newest with enough strokes."""

    folder: Path
    session: str | None = None


@dataclass(frozen=True, slots=True)
class Advice:
    """A session and its summary, which says what is weak in it.

    `passed_over` is the newest session where it has too few strokes, None where it was taken.
    """

    path: Path
    session: Session
    summary: dict[str, Any]
    passed_over: SessionEntry | None = None

    @property
    def findings(self) -> list[dict[str, Any]]:
        """The weaknesses, the costliest first; none where there were too few strokes."""
        return self.summary["advice"] or []


def read_advice(request: AdviceRequest) -> Advice:
    """Return the advice on a session; where none has enough strokes, on the newest of all."""
    if request.session is not None:
        return advice_on(find_session(request.folder, request.session))
    # Loads numpy, which commands that only print help do not need.
    from trainer.measure.advice import ENOUGH_STROKES

    newest_first = list_sessions(request.folder).entries[::-1]
    tried = 0
    for entry in newest_first:
        if entry.strikes >= ENOUGH_STROKES and tried < MOST_TRIED:
            tried += 1
            one = advice_on(entry.path)
            if one.summary["advice"] is not None:
                newest = newest_first[0]
                return replace(one, passed_over=None if entry is newest else newest)
    return advice_on(find_session(request.folder, None))


def advice_on(path: Path) -> Advice:
    """Return the advice on the session of a file."""
    session = cut_short(open_session(path))
    return Advice(path, session, session_summary(session))


def save_drill(advice: Advice, finding: dict[str, Any]) -> str:
    """Write the drill for a finding into the player's patterns and return its name.

    Drills of other sessions and players stay; the same drill is not written twice.
    """
    tempo = drill_tempo(finding, advice.session.pattern, advice.summary)
    name = "drill-" + str(finding["name"]).lower().replace(" ", "-")
    return library.save_beside(name, _text(finding, advice.session, tempo))


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
    if kind == "voice":
        return drills.hand_drill(Limb.LH, start, tempo)
    if kind == "take":
        return drills.value_drill(_main_value(session), voice, tempo)
    if kind == "changes":
        return drills.changes_drill(_between(session, start, end), voice, tempo)
    return drills.foot_drill(Limb(limb), voice, tempo)


def _between(session: Session, start: str, end: str) -> list[str]:
    """The note values that the hands play from one to another, in order."""
    hands = (one for one in session.pattern.notes if one.limb not in FEET)
    played = sorted({one.value for one in hands}, key=lambda one: -NOTE_VALUES[one].length)
    first, last = played.index(start), played.index(end)
    return played[first : last + 1] if first < last else played[last : first + 1][::-1]


def _main_value(session: Session) -> str:
    """The note value the pattern's hands play most."""
    values = [one.value for one in session.pattern.notes if one.limb not in FEET]
    return max(sorted(set(values)), key=values.count, default="16")


def _main_voice(session: Session) -> str:
    """The drum the pattern's hands play most."""
    voices = [one.voice for one in session.pattern.notes if one.limb not in FEET]
    return max(sorted(set(voices)), key=voices.count, default="snare")
