"""MIDI messages: bytes to strikes and controls, and which strike a controller belongs to.

Pure. Source of the numbers: MIDI 1.0, as given in the appendix of the Standard MIDI File text 1.1.

Kits that report where on a pad a strike landed send it as a general purpose controller (16 to 19)
just before the note, a few just after it (this is common practice, no source). A value belongs to
the first strike within `JOIN_S` after it; where no strike follows that soon, it belongs to the
strike before it, within `JOIN_S`. To wait for it, every strike of a kit that sends it afterwards
is handed on that much later, with its stamp unchanged; the first strike of such a kit only shows
which kind it is, and has no position. The pedal's value holds until the next one.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from trainer.kit.hits import Strike
from trainer.midi.hit_source import Control, SourceEvent

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator


NOTE_OFF, NOTE_ON, KEY_PRESSURE, CONTROL = 0x80, 0x90, 0xA0, 0xB0
PROGRAM, CHANNEL_PRESSURE, BEND = 0xC0, 0xD0, 0xE0
SYSEX, SONG_POSITION, SYSEX_END = 0xF0, 0xF2, 0xF7
CLOCK, START, CONTINUE, STOP, ACTIVE_SENSING, RESET = 0xF8, 0xFA, 0xFB, 0xFC, 0xFE, 0xFF

PEDAL = 4
"""Controller of the hi-hat pedal's opening (common practice; MIDI 1.0 calls it foot controller)."""

POSITIONS = range(16, 20)
"""Controllers of the place of a strike (common practice; MIDI 1.0: general purpose 1 to 4)."""

_DATA_BYTES = {
    NOTE_OFF: 2,
    NOTE_ON: 2,
    KEY_PRESSURE: 2,
    CONTROL: 2,
    PROGRAM: 1,
    CHANNEL_PRESSURE: 1,
    BEND: 2,
    0xF1: 1,
    SONG_POSITION: 2,
    0xF3: 1,
}

Message = tuple[int, ...]


def split_messages(data: Iterable[int]) -> Iterator[Message]:
    """Yield the complete messages in a run of bytes; what makes no message is left out.

    Running status is followed: data bytes without a status repeat the last channel message's.
    Real-time bytes (F8 and up) may be anywhere, also inside another message. System exclusive
    is yielded whole, with its end where that came, and as far as it goes where it did not.
    """
    message: list[int] = []
    running = 0
    for byte in data:
        if byte >= CLOCK:
            yield (byte,)
            continue
        if byte >= NOTE_OFF:
            if message[:1] == [SYSEX]:
                yield (*message, byte) if byte == SYSEX_END else tuple(message)
            running = byte if byte < SYSEX else 0
            message = [byte]
        elif message or running:
            message = [*(message or [running]), byte]
        if message and len(message) > _data_length(message[0]):
            yield tuple(message)
            message = []
    if message[:1] == [SYSEX]:
        yield tuple(message)


def _data_length(status: int) -> float:
    """Data bytes that follow a status; system exclusive never ends by counting."""
    if status in (SYSEX, SYSEX_END):
        return float("inf")
    return _DATA_BYTES.get(status if status >= SYSEX else status & 0xF0, 0)


def read_message(message: Message, time_s: float) -> SourceEvent | None:
    """Return the strike or control a message means, or None. Any channel counts.

    A note-on of velocity 0 is a note-off.
    """
    kind = message[0] & 0xF0
    if kind == NOTE_ON and message[2]:
        return Strike(time_s, message[1], message[2])
    if kind == CONTROL and (message[1] == PEDAL or message[1] in POSITIONS):
        return Control(time_s, "control", message[1], message[2])
    if kind == KEY_PRESSURE:
        return Control(time_s, "choke", message[1], message[2])
    return None


JOIN_S = 0.005
HIGHEST_VALUE = 127


class PositionJoiner:
    """Takes in everything in order; `after`: the kit sends the place after the note."""

    def __init__(self) -> None:
        self.after = False
        self._pedal: int | None = None
        self._reported: Control | None = None
        self._last: Strike | None = None
        self._held: list[SourceEvent] = []

    def hear(self, made: SourceEvent) -> list[SourceEvent]:
        """Return what can be handed on by now, in order."""
        if isinstance(made, Strike):
            return self._stroke(replace(made, pedal=self._pedal))
        if made.kind == "control" and made.number in POSITIONS:
            return self._place(made)
        if is_pedal(made):
            self._pedal = made.value
        return self._in_order(made)

    def due(self, now_s: float) -> list[SourceEvent]:
        """Return what has waited long enough by a second."""
        if self._held and now_s - self._held[0].time_s > JOIN_S:
            return self._released()
        return []

    def _stroke(self, strike: Strike) -> list[SourceEvent]:
        reported, self._reported = self._reported, None
        if reported and strike.time_s - reported.time_s <= JOIN_S:
            self.after = False
            self._last = placed = replace(strike, position=reported.value / HIGHEST_VALUE)
            return [*self._released(), placed]
        if reported and self._last and self._last.position is None:
            self.after = reported.time_s - self._last.time_s <= JOIN_S
        self._last = strike
        if self.after:
            self._held.append(strike)
            return []
        return [strike]

    def _place(self, reported: Control) -> list[SourceEvent]:
        for at in reversed(range(len(self._held))):
            one = self._held[at]
            if isinstance(one, Strike):
                if reported.time_s - one.time_s > JOIN_S:
                    break
                self._held[at] = replace(one, position=reported.value / HIGHEST_VALUE)
                return [*self._released(), reported]
        self._reported = reported
        return [*self._released(), reported]

    def _in_order(self, made: SourceEvent) -> list[SourceEvent]:
        if not self._held:
            return [made]
        self._held.append(made)
        return []

    def _released(self) -> list[SourceEvent]:
        held, self._held = self._held, []
        return held


def is_pedal(made: SourceEvent) -> bool:
    """Return True for a movement of the hi-hat pedal."""
    return isinstance(made, Control) and made.kind == "control" and made.number == PEDAL


def with_pedal(strikes: Iterable[Strike], controls: Iterable[Control]) -> Iterator[Strike]:
    """Yield strikes with the value the pedal had, as `StrikePlace` does while they are played."""
    moves = [one for one in controls if is_pedal(one)]
    at, value = 0, None
    for strike in strikes:
        while at < len(moves) and moves[at].time_s <= strike.time_s:
            value = moves[at].value
            at += 1
        yield strike if value is None else replace(strike, pedal=value)
