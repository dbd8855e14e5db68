"""Learning which note is which pad: asks for each place in turn and takes what is struck.

Pure: strikes and times go in, what is to be told comes out. A place is learned when
`STROKES` strokes agree on a note. The kick comes first and is then a key: one kick stroke by itself
skips the place that is asked for, two in a row go back one place. Nothing that was learned is lost
by skipping, going back or ending early, and a kit known before keeps whatever is not learned anew.
"""

from __future__ import annotations

from collections import Counter, deque
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

FLOOD, FLOOD_S = 40, 1.0
"""More strokes within this time than two hands and two feet play on pads one asks for."""

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


REMARKS = {
    "unclear": "These strokes do not agree on a note. Strike only this pad, evenly.",
    "flood": (
        "Far more arrives than hands can play. Look with trainer kit watch what it is, and end "
        "other programs that send here."
    ),
}
"""What to say where strokes are no answer."""


@dataclass(frozen=True, slots=True)
class Told:
    """Something to tell the player. `kind` is ask, heard, learned, shared, unclear, flood or done.

    `pad` is the place asked for, `note` the MIDI note it is about (-1 for none), `count` the
    strokes that agree so far, `other` the place that has the note already.
    """

    kind: str
    pad: Pad | None = None
    note: int = -1
    count: int = 0
    other: Pad | None = None


class Learning:
    """One round of learning; `kit` is what is known so far.

    `known` is the kit of this name as it was before, where there is one.
    """

    def __init__(
        self,
        name: str,
        port: str = "",
        places: tuple[Pad, ...] = PLACES,
        known: Kit | None = None,
    ) -> None:
        self.places = places
        self.known = known or replace(GENERAL_MIDI, name=name, title=name)
        self.at = 0
        self.notes: dict[int, Pad] = {}
        self.shared: list[tuple[Pad, Pad, int]] = []
        self._port = port
        self._heard: list[Strike] = []
        self._times: deque[float] = deque(maxlen=FLOOD)
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
        """The kit as learned so far: what was struck, and what was known before for the rest."""
        known, learned = self.known, set(self.notes.values())
        rest = GENERAL_MIDI.notes if known.general_midi else {}
        own = {note: known.notes[note] for note in known.own if known.notes[note] not in learned}
        same = {pad: note for _, pad, note in self.shared}
        kept = {pad: note for pad, note in known.same.items() if pad not in learned}
        return replace(
            known,
            notes={**rest, **own, **self.notes},
            own=frozenset({*own, *self.notes}),
            same={**kept, **same},
            ports=known.ports
            if known.names_port(self._port) or not self._port
            else (*known.ports, self._port),
        )

    def before(self, pad: Pad) -> int | None:
        """Return the note a place had before this round, where it was learned or written."""
        return next((note for note in self.known.own if self.known.notes[note] == pad), None)

    def strike(self, strike: Strike) -> list[Told]:
        """Hear a strike: an answer to what is asked, or a kick stroke that acts as a key."""
        if self.done:
            return []
        self._times.append(strike.time_s)
        if len(self._times) == FLOOD and strike.time_s - self._times[0] < FLOOD_S:
            return self._flooded()
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

    def _flooded(self) -> list[Told]:
        """Take nothing of a flood for an answer or a wish."""
        self._heard.clear()
        self._wish.clear()
        self._times.clear()
        return [Told("flood", self.asked)]

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
        told = [Told("heard", pad, self._heard[-1].note, count)]
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
