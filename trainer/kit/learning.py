"""Learning which note is which pad: asks for each place in turn and takes what is struck.

Pure: strikes and times go in, what is to be told comes out. A place is learned when
`STROKES` strokes agree on a note. The kick comes first and is then a key: one kick stroke by itself
skips the place that is asked for, two in a row go back one place. Nothing that was learned is lost
by skipping, going back or ending early.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trainer.kit.note_map import GENERAL_MIDI, Kit, Pad
from trainer.kit.voices import VOICES

if TYPE_CHECKING:
    from trainer.kit.hits import Strike

STROKES = 4
"""Strokes that have to agree before a note is believed."""

PATIENCE = 10
"""Strokes after which a place is given up for now where none agree."""

KEY_S = 0.7
"""Two kick strokes within this time are one wish (to go back), one alone another (to skip)."""

RINGING_S = 0.06
"""Notes this close together are one stroke; only the loudest counts."""

PLACES: tuple[Pad, ...] = tuple(
    Pad(voice, zone)
    for voice, zones in (
        ("kick", ("head",)),
        ("snare", ("head", "rim", "cross-stick")),
        ("hihat", ("closed", "open", "edge")),
        ("pedal", ("closed",)),
        ("tom1", ("head", "rim")),
        ("tom2", ("head", "rim")),
        ("floor", ("head", "rim")),
        ("crash", ("edge", "bow")),
        ("crash2", ("edge", "bow")),
        ("ride", ("bow", "bell", "edge")),
    )
    for zone in zones
)
"""What is asked for, in this order; everything but the kick can be skipped."""


@dataclass(frozen=True, slots=True)
class Told:
    """Something to tell the player. `kind` is ask, heard, learned, shared, unclear or done.

    `pad` is the place asked for, `note` the MIDI note it is about (-1 for none), `count` strokes.
    """

    kind: str
    pad: Pad | None = None
    note: int = -1
    count: int = 0
    other: Pad | None = None


class Learning:
    """One round of learning; `kit` is what is known so far."""

    def __init__(self, name: str, port: str = "", places: tuple[Pad, ...] = PLACES) -> None:
        self.places = places
        self.at = 0
        self.notes: dict[int, Pad] = {}
        self.shared: list[tuple[Pad, Pad, int]] = []
        self._name, self._port = name, port
        self._heard: list[Strike] = []
        self._last: Strike | None = None
        self._wish: list[Strike] = []

    @property
    def done(self) -> bool:
        """True once every place was learned or skipped."""
        return self.at >= len(self.places)

    @property
    def asked(self) -> Pad | None:
        """The place that is asked for."""
        return None if self.done else self.places[self.at]

    @property
    def kit(self) -> Kit:
        """The kit as learned so far: what was struck, General MIDI for the rest."""
        learned = set(self.notes.values())
        rest = {note: one for note, one in GENERAL_MIDI.notes.items() if one not in learned}
        return replace(
            GENERAL_MIDI,
            name=self._name,
            title=self._name,
            notes={**rest, **self.notes},
            ports=(self._port,) if self._port else (),
        )

    def strike(self, strike: Strike) -> list[Told]:
        """Hear a strike: an answer to what is asked, or a kick stroke that acts as a key."""
        if self.done:
            return []
        before, self._last = self._last, strike
        if before and strike.time_s - before.time_s <= RINGING_S:
            return self._one_stroke(before, strike)
        if self._is_key(strike):
            self._wish.append(strike)
            return self.back() if len(self._wish) == 2 else []
        self._wish.clear()
        self._heard.append(strike)
        return self._answer()

    def settle(self, now_s: float) -> list[Told]:
        """Let time pass: a single kick stroke becomes a skip."""
        if self._wish and now_s - self._wish[0].time_s > KEY_S:
            return self.skip()
        return []

    def skip(self) -> list[Told]:
        """Leave the place that is asked for out."""
        return self._go(self.at + 1)

    def back(self) -> list[Told]:
        """Ask for the place before again; what it had learned is forgotten."""
        at = max(0, self.at - 1)
        pad = self.places[at]
        self.notes = {note: one for note, one in self.notes.items() if one != pad}
        self.shared = [row for row in self.shared if pad not in row[:2]]
        return self._go(at)

    def begin(self) -> list[Told]:
        """Ask for the first place."""
        return self._go(0)

    def _one_stroke(self, before: Strike, strike: Strike) -> list[Told]:
        """Hear what one stroke makes other pads send: the louder of two notes is meant."""
        if strike.velocity <= before.velocity:
            self._last = before
            return []
        if not (self._heard and self._heard[-1] is before):
            return []
        self._heard[-1] = strike
        return self._answer()

    def _is_key(self, strike: Strike) -> bool:
        """True for a stroke on the kick, once it is known and something else is asked."""
        asked, struck = self.asked, self.notes.get(strike.note)
        return struck is not None and struck.voice == "kick" and asked != struck

    def _answer(self) -> list[Told]:
        pad = self.asked
        note, count = Counter(one.note for one in self._heard).most_common(1)[0]
        told = [Told("heard", pad, self._heard[-1].note, len(self._heard))]
        if count >= STROKES:
            return [*told, *self._learn(note)]
        if len(self._heard) >= PATIENCE:
            self._heard.clear()
            return [*told, Told("unclear", pad, note, count)]
        return told

    def _learn(self, note: int) -> list[Told]:
        pad, known = self.places[self.at], self.notes.get(note)
        if known is None or known == pad:
            self.notes[note] = pad
            told = Told("learned", pad, note, STROKES)
        else:
            self.shared.append((known, pad, note))
            told = Told("shared", pad, note, STROKES, known)
        return [told, *self._go(self.at + 1)]

    def _go(self, at: int) -> list[Told]:
        self.at = at
        self._heard.clear()
        self._wish.clear()
        return [Told("done")] if self.done else [Told("ask", self.asked)]


def place_words(pad: Pad) -> str:
    """Return how a place is asked for: "snare, rim"; the ordinary zone of a drum goes unsaid."""
    voice = VOICES[pad.voice]
    ordinary = len(voice.zones) == 1 or pad.zone == "head"
    return voice.title if ordinary else f"{voice.title}, {pad.zone}"
