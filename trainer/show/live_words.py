"""The words of the live screen: a stroke, an offset, a pad, a ladder's rungs, the time left.

No arithmetic beyond rounding; offsets come in seconds, minus is early. The words are always "early"
or "late", never a sign. A ladder's rungs are one row of inked text: each tempo with a sign for
clean or not, then the next one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.kit.voices import VOICES
from trainer.practice.outcomes import BOUNCE, CROSSTALK, DOUBLE, EXTRA, MISSED, RIM, WRONG_PAD
from trainer.show.number_words import offset_text

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from trainer.pattern.model import Note
    from trainer.practice.events import HitJudged, RungEnded
    from trainer.show.ink import Line


FIT_S = 0.15
"""With a mean offset or spread beyond this, something else was played than what is written."""

NO_FIT = "this does not fit what is written: another tempo or pattern?"

PAUSE_PRESSED = "pressed"
"""The reason that a session keeps for a pause that the player chose."""


def clock_text(seconds: float) -> str:
    """Return minutes and seconds as a clock shows them."""
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"


def early_or_late(seconds: float | None) -> str:
    """Return an offset in words: `7 ms late`, `7 ms early`, `on time` within half a millisecond."""
    return "–" if seconds is None else offset_text(seconds * 1000)


def fits_written(mean_s: float | None, spread_s: float | None) -> bool:
    """Return whether strokes fit what is written, by their offsets."""
    return max(abs(mean_s or 0.0), spread_s or 0.0) <= FIT_S


def pause_words(reason: str) -> str:
    """Return that playing stopped, and why where the player did not choose it."""
    return "paused" if reason in ("", PAUSE_PRESSED) else f"paused: {reason}"


def offset_ink(seconds: float | None) -> str:
    """Return the ink of an offset: off the beat, or centre where it rounds to 0 ms."""
    return "off" if round((seconds or 0.0) * 1000) else "centre"


def pad_words(voice: str | None, note: int) -> str:
    """Return what was hit: the voice's title, or the number of a note the kit does not know."""
    return f"unknown note {note}" if voice is None else VOICES[voice].title


def stroke_words(event: HitJudged, written: Note | None, *, open_block: bool = False) -> str:
    """Return one hit in words: `snare RH 7 ms late`. In an open block no stroke is extra."""
    hit = pad_words(event.voice, event.note)
    limb = _limb(written)
    if event.outcome == WRONG_PAD and written is not None:
        return (
            f"{hit} instead of {VOICES[written.voice].title}{limb}, {early_or_late(event.offset_s)}"
        )
    if event.outcome == EXTRA:
        return hit if open_block else f"{hit}: extra stroke"
    if event.outcome == DOUBLE:
        return f"{hit}: double trigger"
    if event.outcome == BOUNCE:
        return f"{hit}: bounce of a buzz"
    if event.outcome == CROSSTALK:
        return f"{hit}: crosstalk"
    rim = " rim" if event.outcome == RIM else ""
    return f"{hit}{rim}{limb} {early_or_late(event.offset_s)}"


def _limb(written: Note | None) -> str:
    """Return the limb after a blank, nothing where none is written."""
    return f" {written.written_limb}" if written and written.written_limb else ""


def pass_number(pass_index: int, cut: Collection[int]) -> int:
    """Return which of the chosen passes this is, from 1: an interrupted one is played again."""
    return pass_index + 1 - sum(index < pass_index for index in cut)


def missed_words(written: Note | None) -> str:
    """Return a missed stroke in words."""
    if written is None:
        return MISSED
    return f"{VOICES[written.voice].title}{_limb(written)} missed"


CLEAN, NOT_CLEAN = "✓", "✗"


def rung_row(rungs: Sequence[RungEnded], columns: int, *, coming: bool = True) -> Line:
    """Return as many of the last rungs as fit into a width, the newest on the right.

    `coming` adds the next tempo, and the number is that of the rung at this tempo.
    """
    if not rungs:
        return ()
    last = rungs[-1]
    following = last.next_tempo if coming else None
    ahead = f"→ {following:g}" if following is not None else ""
    head = f"rung {last.rung + (2 if ahead else 1)}  "
    room = columns - len(head) - len(ahead)
    shown: list[tuple[str, str]] = []
    for one in reversed(rungs):
        text = f"{one.tempo:g}{CLEAN if one.clean else NOT_CLEAN} "
        if len(text) > room:
            break
        room -= len(text)
        shown.insert(0, (text, "centre" if one.clean else "missed"))
    return ((head, "faint"), *shown, (ahead, "strong"))


def first_rung_row(tempo: float) -> Line:
    """Return the row of a ladder on its first rung."""
    return (("rung 1  ", "faint"), (f"→ {tempo:g}", "strong"))


def time_left_words(block: str, seconds_left: float | None) -> str:
    """Return the place in a routine and the time left in words: `block 2 of 4, 3 min left`."""
    time = minutes_words(seconds_left)
    return ", ".join(part for part in (block, f"{time} left" if time else "") if part)


def minutes_words(seconds_left: float | None) -> str:
    """Return the time to the bell in words: `12 min`, `40 s`, nothing without a bell."""
    if seconds_left is None:
        return ""
    return f"{seconds_left / 60:.0f} min" if seconds_left >= 90 else f"{seconds_left:.0f} s"


def tempo_change_words(tempo: float | None, seconds: float | None) -> str:
    """Return the tempo that is coming, and when; nothing where none is."""
    if tempo is None:
        return ""
    when = (
        "with the next count-in" if seconds is None else f"from the next pass, in {seconds:.0f} s"
    )
    return f"{tempo:g} BPM {when}"


SILENT_BAR = "silent bar: keep time"

UNPLAYED = "No stroke was played, so nothing was saved."

ENGINE_DIED = "The engine ended early; the session is saved up to there."


def waiting_words(wanted: str) -> str:
    """Return that a kit is waited for, which one (a part of its name, or any), and what to do."""
    what = f'No MIDI input called "{wanted}"' if wanted else "No MIDI input"
    return f"{what} is connected. Switch the kit on and plug it in."
