"""What a session says is worth practising, and a drill made for each finding."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from trainer.archive.session_file import open_session
from trainer.archive.session_list import by_people, find_session, list_sessions
from trainer.archive.summary import cut_short, session_summary
from trainer.pattern import drills, library
from trainer.pattern.handedness import OTHER_LIMB, mirrored
from trainer.pattern.model import FEET, HANDS, MAX_TEMPO, MIN_TEMPO, NOTE_VALUES, Limb

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.archive.session import Session
    from trainer.archive.session_list import SessionEntry

MOST_TRIED = 8
"""So many sessions are judged before the newest is taken after all."""

DRILL = "drill-"
"""How the names of drills begin."""


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

    entries = list_sessions(request.folder).entries
    newest_first = (by_people(entries) or entries)[::-1]
    tried = 0
    for entry in newest_first:
        if entry.strikes >= ENOUGH_STROKES and tried < MOST_TRIED:
            tried += 1
            one = advice_on(entry.path)
            if one.summary["advice"] is not None:
                newest = newest_first[0]
                return replace(one, passed_over=None if entry is newest else newest)
    if newest_first:
        return advice_on(newest_first[0].path)
    return advice_on(find_session(request.folder, None))


def advice_on(path: Path) -> Advice:
    """Return the advice on the session of a file."""
    session = cut_short(open_session(path))
    return Advice(path, session, session_summary(session))


def save_drill(advice: Advice, finding: dict[str, Any]) -> str:
    """Write the drill for a finding into the player's patterns and return its name.

    Drills of other sessions and players stay; the same drill is not written twice.
    """
    text = drill_text(finding, advice.session, advice.summary)
    return library.save_beside(drill_name(finding), text)


def drill_name(finding: dict[str, Any]) -> str:
    """Return the name of a finding's drill, where it is free."""
    return DRILL + str(finding["name"]).lower().replace(" ", "-")


def broken_at(session: Session, summary: dict[str, Any]) -> float:
    """Return the tempo (BPM) at which a session broke: of a ladder, its slowest failed rung.

    Where no rung failed, or all of it was clean, its fastest one.
    """
    failed = [rung.tempo for rung in session.rungs if not rung.clean]
    if session.rungs or summary["clean"]["clean"]:
        return min(failed, default=float(summary["tempo_high"]))
    return float(summary["tempo_low"])


def drill_text(finding: dict[str, Any], session: Session, summary: dict[str, Any]) -> str:
    """Return the text of a finding's drill: slower than the place where it broke."""
    if library.is_left_handed():  # files are written for the usual kit
        finding = {**finding, "limb": str(OTHER_LIMB.get(finding["limb"], finding["limb"]))}
        header = replace(session.header, pattern=mirrored(session.pattern))
        session = replace(session, header=header)
    kind, start, end = (str(finding[key]) for key in ("kind", "start", "end"))
    voice = _main_voice(session)
    # Drills count in quarters, whatever note the pattern's own tempo counts.
    quarters = broken_at(session, summary) * float(session.pattern.tempo_unit)
    place = drills.DrillPlace(session.pattern, quarters)
    if kind in ("move", "hand"):
        limb = Limb(finding["limb"])
        tempo, strokes = _whole(place.hand_tempo(limb)), place.hand_strokes(limb)
        if kind == "move":
            return drills.move_drill(limb, start, end, tempo, strokes)
        return drills.hand_drill(limb, voice, tempo, strokes)
    tempo = _whole(drills.DRILL_SHARE * quarters)
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
    limb = Limb(finding["limb"])
    return drills.foot_drill(limb, voice, _whole(place.foot_tempo(limb)), place.density(*HANDS))


def _whole(tempo: float) -> float:
    """Return a tempo in whole BPM that can be played."""
    return float(min(MAX_TEMPO, max(MIN_TEMPO, math.floor(tempo))))


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
