"""What the live screen says in words: a stroke, an offset, a place. No arithmetic beyond rounding.

Signs are never left to be guessed: it is always "early" or "late".
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.kit.voices import VOICES
from trainer.practice.outcomes import CROSSTALK, DOUBLE, EXTRA, MISSED, RIM, WRONG_PAD

if TYPE_CHECKING:
    from collections.abc import Collection

    from trainer.pattern.model import Note
    from trainer.practice.events import HitJudged


FIT_S = 0.15
"""A mean offset or spread beyond this says that what was played is not what is written."""

NO_FIT = "what was played does not fit what is written: another tempo or pattern?"

ASKED = "pressed"
"""The reason that a session keeps for a pause that the player asked for."""


def clock(seconds: float) -> str:
    """Return minutes and seconds as a clock shows them."""
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"


def offset(seconds: float | None) -> str:
    """Return an offset in words: `7 ms late`, `7 ms early`, `on time` within half a millisecond."""
    if seconds is None:
        return "–"
    ms = round(seconds * 1000)
    if ms == 0:
        return "on time"
    return f"{abs(ms)} ms {'late' if ms > 0 else 'early'}"


def fits(mean_s: float | None, spread_s: float | None) -> bool:
    """Return whether strokes can have been meant for what is written, by their offsets."""
    return max(abs(mean_s or 0.0), spread_s or 0.0) <= FIT_S


def paused(reason: str) -> str:
    """Return that playing stopped, and why where the player did not ask for it."""
    return "paused" if reason in ("", ASKED) else f"paused: {reason}"


def side(seconds: float | None) -> str:
    """Return the ink that an offset is told in: early, late, or centre where it rounds to 0."""
    ms = round((seconds or 0.0) * 1000)
    return "early" if ms < 0 else "late" if ms > 0 else "centre"


def pad(voice: str | None, note: int) -> str:
    """Return what was hit: the voice's title, or the number of a note the kit does not know."""
    return f"unknown note {note}" if voice is None else VOICES[voice].title


def stroke(event: HitJudged, written: Note | None) -> str:
    """Return one hit in words, for instance `snare RH 7 ms late`."""
    hit = pad(event.voice, event.note)
    limb = f" {written.limb}" if written is not None and written.limb else ""
    if event.outcome == WRONG_PAD and written is not None:
        return f"{hit} instead of {VOICES[written.voice].title}{limb}, {offset(event.offset_s)}"
    if event.outcome == EXTRA:
        return f"{hit}: extra stroke"
    if event.outcome == DOUBLE:
        return f"{hit}: double trigger"
    if event.outcome == CROSSTALK:
        return f"{hit}: crosstalk"
    rim = " rim" if event.outcome == RIM else ""
    return f"{hit}{rim}{limb} {offset(event.offset_s)}"


def pass_number(pass_index: int, cut: Collection[int]) -> int:
    """Return which of the passes asked for this is, from 1: one broken off is played again."""
    return pass_index + 1 - sum(index < pass_index for index in cut)


def missed(written: Note | None) -> str:
    """Return a missed stroke in words."""
    if written is None:
        return MISSED
    return f"{VOICES[written.voice].title}{f' {written.limb}' if written.limb else ''} missed"
