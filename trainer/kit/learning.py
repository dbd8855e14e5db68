"""Learning a kit: one place after the other is called, and the note struck becomes that pad.

Pure: strikes, controller messages and times go in, what to show the player comes out. A place is
learned when `STROKES` strokes agree on a note. The kick comes first and is then a key: one kick
stroke alone skips the place that is called, two in a row go back one place. Nothing that was
learned is lost by skipping, going back or ending early, and a kit known before keeps whatever is
not learned again.

The controllers are learned the same way: the hi-hat pedal by pressing it and letting it up, one
note for open and closed by strokes with the pedal up and down, the place of a strike by strokes
from the middle of a pad to its edge.
"""

from __future__ import annotations

from collections import Counter, deque
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trainer.kit.hits import Pedal
from trainer.kit.model import GENERAL_MIDI, Kit, Pad
from trainer.kit.voices import VOICES

if TYPE_CHECKING:
    from trainer.kit.hits import Strike


STROKES = 4
"""Strokes that have to agree before a note is believed."""

MOST_TRIES = 10
"""Strokes after which a place is skipped for now if none agree."""

KICK_KEY_S = 0.7
"""Two kick strokes within this time mean back, one alone means skip."""

FLOOD, FLOOD_S = 40, 1.0
"""More strokes within this time than two hands and two feet play."""

RINGING_S = 0.06
"""Notes this close together are one stroke; only the loudest counts."""

PLACES_TO_LEARN: tuple[Pad, ...] = tuple(
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
"""What is learned, in this order; everything but the kick can be skipped."""


LEARNING_REMARKS = {
    "unclear": "These strokes sent different notes. Hit only this pad, evenly.",
    "flood": (
        "More notes arrive than hands can play. See them with trainer kit watch; close other "
        "programs that send here."
    ),
}
"""What to say when strokes do not answer."""


@dataclass(frozen=True, slots=True)
class LearningStep:
    """Something to show the player. `kind` is ask, heard, learned, shared, unclear, flood or done.

    `pad` is the place called, `note` the MIDI note it is about (-1 for none), `count` the
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
        places: tuple[Pad, ...] = PLACES_TO_LEARN,
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
        """The place that is called."""
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

    def strike(self, strike: Strike) -> list[LearningStep]:
        """Take in a strike: an answer to what is asked, or a kick stroke that acts as a key."""
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

    def settle(self, now_s: float) -> list[LearningStep]:
        """Let time pass: a single kick stroke becomes a skip."""
        if self._wish and now_s - self._wish[0].time_s > KICK_KEY_S:
            return self.skip()
        return []

    def skip(self) -> list[LearningStep]:
        """Leave out the place that is called."""
        return self._go(self.at + 1)

    def back(self) -> list[LearningStep]:
        """Request the place before again; what it had learned is forgotten."""
        at = max(0, self.at - 1)
        pad = self.places[at]
        self.notes = {note: one for note, one in self.notes.items() if one != pad}
        self.shared = [row for row in self.shared if pad not in row[:2]]
        return self._go(at)

    def begin(self) -> list[LearningStep]:
        """Request the first place."""
        return self._go(0)

    def _flooded(self) -> list[LearningStep]:
        """Take nothing of a flood for an answer or a wish."""
        self._heard.clear()
        self._wish.clear()
        self._times.clear()
        return [LearningStep("flood", self.asked)]

    def _one_stroke(self, before: Strike, strike: Strike) -> list[LearningStep]:
        """Take in what one stroke makes other pads send: the louder of two notes is meant."""
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

    def _answer(self) -> list[LearningStep]:
        pad = self.asked
        note, count = Counter(one.note for one in self._heard).most_common(1)[0]
        reported = [LearningStep("heard", pad, self._heard[-1].note, count)]
        if count >= STROKES:
            return [*reported, *self._learn(note)]
        if len(self._heard) >= MOST_TRIES:
            self._heard.clear()
            return [*reported, LearningStep("unclear", pad, note, count)]
        return reported

    def _learn(self, note: int) -> list[LearningStep]:
        pad, known = self.places[self.at], self.notes.get(note)
        if known is None or known == pad:
            self.notes[note] = pad
            reported = LearningStep("learned", pad, note, STROKES)
        else:
            self.shared.append((known, pad, note))
            reported = LearningStep("shared", pad, note, STROKES, known)
        return [reported, *self._go(self.at + 1)]

    def _go(self, at: int) -> list[LearningStep]:
        self.at = at
        self._heard.clear()
        self._wish.clear()
        return [LearningStep("done")] if self.done else [LearningStep("ask", self.asked)]


def place_name(pad: Pad) -> str:
    """Return how a place is called: "snare, rim"; the ordinary zone of a drum goes unsaid."""
    voice = VOICES[pad.voice]
    ordinary = len(voice.zones) == 1 or pad.zone == "head"
    return voice.title if ordinary else f"{voice.title}, {pad.zone}"


HAT_STROKES = 3
"""Strokes closed and strokes open that show whether one note means both."""

PEDAL_SWING = 40
"""A controller that moves less than this is not a pedal."""

PEDAL_SWINGS = 3

PLACE_STROKES = 8

PLACE_SPREAD = 30

CHOKE_TIMES = 2


class PedalLearner:
    """Takes in the pedal being pressed and let up; knows it after `SWINGS` swings."""

    def __init__(self) -> None:
        self._low: dict[int, int] = {}
        self._high: dict[int, int] = {}
        self._swings: Counter[int] = Counter()
        self._side: dict[int, bool] = {}
        self._last: dict[int, int] = {}
        self._pressed: Counter[tuple[int, int]] = Counter()

    def control(self, number: int, value: int) -> None:
        """Take in a controller."""
        low = self._low[number] = min(value, self._low.get(number, value))
        high = self._high[number] = max(value, self._high.get(number, value))
        self._last[number] = value
        if high - low < PEDAL_SWING:
            return
        side = value > (low + high) / 2
        if self._side.get(number, side) != side:
            self._swings[number] += 1
        self._side[number] = side

    def pedal_note(self) -> None:
        """Take in the note of the pedal closing: its controller is closed now."""
        for number, value in self._last.items():
            self._pressed[number, value] += 1

    def learned(self) -> Pedal | None:
        """Return the pedal, None while it is not known."""
        if not self._swings:
            return None
        number, swings = self._swings.most_common(1)[0]
        if swings < 2 * PEDAL_SWINGS:
            return None
        low, high = self._low[number], self._high[number]
        closed = [value for (one, value), _ in self._pressed.items() if one == number]
        # Without a note of its own the higher value is taken for closed (common practice).
        closes_high = not closed or sum(closed) / len(closed) > (low + high) / 2
        return Pedal(number, high, low) if closes_high else Pedal(number, low, high)


class HiHatNoteLearner:
    """Takes in the hi-hat struck with the pedal down and up: does one note mean both?"""

    def __init__(self, pedal: Pedal) -> None:
        self._pedal = pedal
        self._notes: dict[str, Counter[int]] = {"closed": Counter(), "open": Counter()}

    def stroke(self, note: int, pedal: int | None) -> None:
        """Take in a stroke on the hi-hat, and the pedal's value."""
        if pedal is not None:
            self._notes[self._pedal.zone(pedal)][note] += 1

    @property
    def enough(self) -> bool:
        """True once enough strokes of both kinds were heard."""
        return all(heard.total() >= HAT_STROKES for heard in self._notes.values())

    def one_note(self) -> bool:
        """Return True where the same note came most often of both kinds."""
        most = [heard.most_common(1)[0][0] for heard in self._notes.values() if heard]
        return self.enough and len(set(most)) == 1


class PlaceLearner:
    """Takes in strokes from the middle of a pad to its edge: which controller sends the place?

    The pedal's controller is passed over: it moves while strokes are made, and shows no place.
    """

    def __init__(self, pedal: int | None = None) -> None:
        self._pedal = pedal
        self._values: dict[int, list[int]] = {}
        self.strokes = 0

    def control(self, number: int, value: int) -> None:
        """Take in a controller."""
        if number != self._pedal:
            self._values.setdefault(number, []).append(value)

    def stroke(self) -> None:
        """Take in a stroke on the pad."""
        self.strokes += 1

    @property
    def enough(self) -> bool:
        """True once enough strokes were heard to know."""
        return self.strokes >= PLACE_STROKES

    def learned(self) -> int | None:
        """Return the controller that moved with the strokes, None where none did."""
        moved = {
            number: max(values) - min(values)
            for number, values in self._values.items()
            if len(values) >= PLACE_STROKES // 2
        }
        if not moved:
            return None
        number = max(moved, key=lambda one: moved[one])
        return number if moved[number] >= PLACE_SPREAD else None
