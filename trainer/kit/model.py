"""A kit: which MIDI note is which pad, and reading strikes through it.

The General MIDI default gives every tom of General MIDI a voice of its own. A kit with fewer drums
than the map has stand-ins: a hit on a voice the pattern never uses is read as the voice it is
in for, when the pattern uses that one (a first tom that sends 50 where others send 48).

`KitRow` is a kit as plain dicts and lists, as session files carry it to be judged again: only
what decides about hits is in it. Times are seconds.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Annotated, Any

from msgspec import Meta, Struct

from trainer.errors import BadInput
from trainer.kit.hits import (
    NO_CONTROLLERS,
    NO_FILTER_RULES,
    Controllers,
    CrosstalkRule,
    DoubleRule,
    FilterRules,
    Hit,
    HitFilter,
    Pedal,
    PowerCurve,
    Strike,
    checked_pedal,
)
from trainer.kit.voices import CHOKE, CHOKED, VOICES, full_zone
from trainer.typed_json import MidiNumber, Text, converted

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping


@dataclass(frozen=True, slots=True)
class Pad:
    """What a note means: a voice and the zone on it."""

    voice: str
    zone: str


LONGEST_LATENCY_MS = 1000.0
"""No kit is later than this, nor earlier."""

_GENERAL_MIDI = {
    35: Pad("kick2", "head"),
    36: Pad("kick", "head"),
    37: Pad("snare", "cross-stick"),
    38: Pad("snare", "head"),
    40: Pad("snare", "rim"),
    41: Pad("floor2", "head"),
    42: Pad("hihat", "closed"),
    43: Pad("floor", "head"),
    44: Pad("pedal", "closed"),
    45: Pad("tom3", "head"),
    46: Pad("hihat", "open"),
    47: Pad("tom2", "head"),
    48: Pad("tom1", "head"),
    49: Pad("crash", "edge"),
    50: Pad("tom0", "head"),
    51: Pad("ride", "bow"),
    52: Pad("china", "edge"),
    53: Pad("ride", "bell"),
    54: Pad("tambourine", "head"),
    55: Pad("splash", "edge"),
    56: Pad("cowbell", "head"),
    57: Pad("crash2", "edge"),
    59: Pad("ride", "edge"),
}


_STAND_INS = {"tom0": "tom1", "tom3": "tom2", "floor2": "floor", "kick2": "kick"}


@dataclass(frozen=True, slots=True)
class Kit:
    """A kit: its notes, its stand-ins, and what has to be known to believe its hits.

    `latency_s` is seconds from the stick's touch to the driver's stamp (positive: the kit is late);
    it is taken out of every hit. `rules` mark what the kit sends automatically. `power` holds the
    velocity curves of pads that have one, `controllers` what is sent apart from notes. `ports` are
    the names of the MIDI inputs it comes in by, `pad_keys` the commands of notes that act as keys
    while nothing is asked. `own` are the notes that were learned or written by hand, the others
    are taken from General MIDI; `same` are pads that send the note of another one, so that they
    cannot be separated; `surveyed` says that its doubles and crosstalk were measured; `without` are
    the drums it lacks.
    """

    name: str = "general-midi"
    title: str = "General MIDI percussion"
    notes: Mapping[int, Pad] = field(default_factory=lambda: dict(_GENERAL_MIDI))
    stand_ins: Mapping[str, str] = field(default_factory=lambda: dict(_STAND_INS))
    latency_s: float = 0.0
    rules: FilterRules = NO_FILTER_RULES
    power: Mapping[Pad, PowerCurve] = field(default_factory=dict)
    controllers: Controllers = NO_CONTROLLERS
    ports: tuple[str, ...] = ()
    pad_keys: Mapping[int, str] = field(default_factory=dict)
    own: frozenset[int] = frozenset()
    same: Mapping[Pad, int] = field(default_factory=dict)
    surveyed: bool = False
    without: frozenset[str] = frozenset()

    def pad(self, note: int, used: Collection[str] = ()) -> Pad | None:
        """Return the pad of a note, or None where the kit does not know it.

        `used` names the voices of the pattern at hand; it decides about stand-ins.
        """
        pad = self.notes.get(note)
        if pad and pad.voice not in used:
            other = self.stand_ins.get(pad.voice)
            if other in used:
                return Pad(str(other), pad.zone)
        return pad

    def names_port(self, port: str) -> bool:
        """Return whether one of its ports is a part of a port's name, whatever the case."""
        return any(part and part.casefold() in port.casefold() for part in self.ports)

    @property
    def general_midi(self) -> bool:
        """True where notes that are not the kit's own are read as General MIDI."""
        return all(note in self.notes for note in GENERAL_MIDI.notes)

    def struck(self, strike: Strike, used: Collection[str] = ()) -> Pad | None:
        """Return the pad a strike hit: that of its note, or what the hi-hat's pedal makes of it."""
        pad, pedal = self.pad(strike.note, used), self.controllers.pedal
        if pad and pad.voice in CHOKED and not strike.velocity:
            return Pad(pad.voice, CHOKE)
        if pad is None or pad.voice != "hihat" or pad.zone not in ("closed", "open"):
            return pad
        if pedal is None or not pedal.zones or strike.pedal is None:
            return pad
        return Pad(pad.voice, pedal.zone(strike.pedal))

    def is_half_open(self, strike: Strike, pad: Pad | None) -> bool:
        """Return whether the pedal shows the hi-hat half open at a strike on it."""
        pedal = self.controllers.pedal
        if pad is None or pad.voice != "hihat" or pedal is None or strike.pedal is None:
            return False
        return pedal.zones and pedal.is_half(strike.pedal)

    def zones(self, voice: str, used: Collection[str] = ()) -> frozenset[str]:
        """Return all zones of a voice that the kit can send.

        Where some notes of the voice are the kit's own, General MIDI's others are not believed.
        """
        pads = {note: self.pad(note, used) for note in self.notes}
        sent = {note: pad.zone for note, pad in pads.items() if pad and pad.voice == voice}
        found = {zone for note, zone in sent.items() if note in self.own} or set(sent.values())
        pedal = self.controllers.pedal
        if voice == "hihat" and pedal is not None and pedal.zones:
            found |= {"closed", "open", "half-open"}
        if voice in self.choked:
            found.add(CHOKE)
        return frozenset(found)

    @property
    def choked(self) -> frozenset[str]:
        """The voices whose chokes it sends: as pressure on a note, or as a note of its own."""
        pads = [pad for note in self.controllers.chokes if (pad := self.notes.get(note))]
        pads += [pad for pad in self.notes.values() if pad.zone == CHOKE]
        return frozenset(pad.voice for pad in pads if pad.voice in CHOKED)

    def note(self, voice: str, zone: str = "") -> int | None:
        """Return the note a voice and zone send, or None; an unknown zone falls back.

        Notes of the kit's own come before those of General MIDI.
        """
        wanted = full_zone(voice, zone)
        fallback = None
        for note, pad in sorted(self.notes.items(), key=lambda row: row[0] not in self.own):
            if pad.voice == voice:
                if pad.zone == wanted:
                    return note
                fallback = note if fallback is None else fallback
        return fallback


GENERAL_MIDI = Kit()


class HitReader:
    """Reads strikes as they arrive; numbers them from 0 and marks what the filter finds."""

    def __init__(self, kit: Kit, used: Collection[str]) -> None:
        self.kit = kit
        self.used = frozenset(used)
        self.count = 0
        self._zones: dict[str, frozenset[str]] = {}
        self._filter = HitFilter(kit.rules)

    def read(self, strike: Strike) -> Hit:
        """Return the hit a strike means, with the kit's latency taken out."""
        pad = self.kit.struck(strike, self.used)
        sent = self.kit.notes.get(strike.note)
        curve = self.kit.power.get(sent) if sent else None
        hit = Hit(
            index=self.count,
            time_s=strike.time_s - self.kit.latency_s,
            note=strike.note,
            velocity=strike.velocity,
            voice=pad.voice if pad else None,
            zone=pad.zone if pad else "",
            position=strike.position,
            power=curve.power(strike.velocity) if curve else float(strike.velocity),
            zones=self._zones_of(pad.voice) if pad else frozenset(),
            half=self.kit.is_half_open(strike, pad),
        )
        self.count += 1
        return self._filter.mark(hit)

    def _zones_of(self, voice: str) -> frozenset[str]:
        if voice not in self._zones:
            self._zones[voice] = self.kit.zones(voice, self.used)
        return self._zones[voice]


class ChokeReader:
    """Reads pressure on notes as chokes of the voices for which they are written.

    Kits send pressure when a cymbal is grabbed and 0 when it is let go (common practice).
    """

    def __init__(self, kit: Kit, choked: Collection[str]) -> None:
        self._notes = {
            note
            for note in kit.controllers.chokes
            if (pad := kit.pad(note, choked)) and pad.voice in choked
        }
        self._held: set[int] = set()

    def read(self, note: int, value: int, time_s: float) -> Strike | None:
        """Return the choke that begins with a pressure (0 to 127), else None."""
        held = note in self._held
        if not value:
            self._held.discard(note)
        elif note in self._notes:
            self._held.add(note)
        return Strike(time_s, note, 0) if not held and note in self._held else None


Voice = Annotated[
    str, Meta(pattern=rf"\A(?:{'|'.join(VOICES)})\Z", description="a drum that is known here")
]
_ZONES = dict.fromkeys(zone for voice in VOICES.values() for zone in voice.zones)
Zone = Annotated[str, Meta(pattern=rf"\A(?:{'|'.join(_ZONES)})\Z", description="a place on a drum")]
Figure = Annotated[float, Meta(ge=0, le=1000)]
Rule = tuple[Figure, Figure]
Latency = Annotated[float, Meta(ge=-LONGEST_LATENCY_MS / 1000, le=LONGEST_LATENCY_MS / 1000)]
Rows = Meta(max_length=1000)


class PedalRow(Struct):
    """The hi-hat pedal that strokes are read by."""

    controller: MidiNumber
    closed: MidiNumber
    open: MidiNumber


class KitRow(Struct):
    """A kit as a session file has it."""

    name: Text
    title: Text
    notes: dict[MidiNumber, tuple[Voice, Zone]] = {}
    own: Annotated[list[MidiNumber], Rows] = []
    stand_ins: dict[str, Voice] = {}
    latency_s: Latency = 0.0
    doubles: dict[Voice, Rule] = {}
    crosstalk: Annotated[list[tuple[Voice, Voice, Figure, Figure]], Rows] = []
    power: Annotated[list[tuple[Voice, Zone, Figure, Figure, Figure]], Rows] = []
    pedal: PedalRow | None = None
    chokes: Annotated[list[MidiNumber], Rows] = []

    def kit(self) -> Kit:
        """Return the kit; BadInput for a pedal that cannot be."""
        return Kit(
            name=self.name,
            title=self.title,
            notes={note: Pad(voice, zone) for note, (voice, zone) in self.notes.items()},
            own=frozenset(self.own),
            stand_ins=self.stand_ins,
            latency_s=self.latency_s,
            rules=FilterRules(
                {voice: DoubleRule(*rule) for voice, rule in self.doubles.items()},
                tuple(CrosstalkRule(*rule) for rule in self.crosstalk),
            ),
            power={
                Pad(voice, zone): PowerCurve(soft, normal, hard)
                for voice, zone, soft, normal, hard in self.power
            },
            controllers=self._controllers(),
        )

    def _controllers(self) -> Controllers:
        chokes, row = tuple(self.chokes), self.pedal
        if row is None:
            return Controllers(chokes=chokes)
        try:
            pedal = checked_pedal(row.controller, row.closed, row.open, zones=True)
            return Controllers(pedal, chokes=chokes)
        except BadInput as fault:
            raise fault.at("pedal") from None


def kit_from_dict(value: object) -> Kit:
    """Return the kit a dict describes; raises BadInput naming the key that is wrong."""
    return converted(value, KitRow).kit()


def kit_to_dict(kit: Kit) -> dict[str, Any]:
    """Return the whole kit as values that JSON can hold."""
    return {
        "name": kit.name,
        "title": kit.title,
        "notes": {str(note): [pad.voice, pad.zone] for note, pad in kit.notes.items()},
        "own": sorted(kit.own),
        "stand_ins": dict(kit.stand_ins),
        "latency_s": kit.latency_s,
        "doubles": {
            voice: [rule.within_s, rule.softer] for voice, rule in kit.rules.doubles.items()
        },
        "crosstalk": [
            [rule.struck, rule.shaken, rule.within_s, rule.softer] for rule in kit.rules.crosstalk
        ],
        "power": [
            [pad.voice, pad.zone, curve.soft, curve.normal, curve.hard]
            for pad, curve in kit.power.items()
        ],
        **_pedal_row(kit.controllers.pedal),
        **({"chokes": list(kit.controllers.chokes)} if kit.controllers.chokes else {}),
    }


def _pedal_row(pedal: Pedal | None) -> dict[str, Any]:
    """The pedal, where strokes are read by it; other controllers decide nothing."""
    if not pedal or not pedal.zones:
        return {}
    return {"pedal": {"controller": pedal.controller, "closed": pedal.closed, "open": pedal.open}}
