"""A kit: which MIDI note is which pad, reading strikes through it, and the kit as plain dicts.

The General MIDI default gives every tom of General MIDI a voice of its own. A kit with fewer drums
than the map has stand-ins: a hit on a voice the pattern never uses is read as the voice it is
in for, when the pattern uses that one (a first tom that sends 50 where others send 48).

The dict form is what session files carry, so that they can be judged again: only what decides about
hits. Times are seconds.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput
from trainer.fields import Fields, json_number
from trainer.kit.hit_filter import (
    NO_FILTER_RULES,
    CrosstalkRule,
    DoubleRule,
    FilterRules,
    HitFilter,
)
from trainer.kit.hits import NO_CONTROLLERS, Controllers, Hit, Pedal, PowerCurve, Strike
from trainer.kit.voices import VOICES, full_zone

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping


@dataclass(frozen=True, slots=True)
class Pad:
    """What a note means: a voice and the zone on it."""

    voice: str
    zone: str


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
    cannot be separated; `surveyed` says that its doubles and crosstalk were measured.
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
        if pad is None or pad.voice != "hihat" or pad.zone not in ("closed", "open"):
            return pad
        if pedal is None or not pedal.zones or strike.pedal is None:
            return pad
        return Pad(pad.voice, pedal.zone(strike.pedal))

    def zones(self, voice: str, used: Collection[str] = ()) -> frozenset[str]:
        """Return all zones of a voice that the kit can send.

        Where some notes of the voice are the kit's own, General MIDI's others are not believed.
        """
        pads = {note: self.pad(note, used) for note in self.notes}
        sent = {note: pad.zone for note, pad in pads.items() if pad and pad.voice == voice}
        found = {zone for note, zone in sent.items() if note in self.own} or set(sent.values())
        pedal = self.controllers.pedal
        if voice == "hihat" and pedal is not None and pedal.zones:
            found |= {"closed", "open"}
        return frozenset(found)

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
        )
        self.count += 1
        return self._filter.mark(hit)

    def _zones_of(self, voice: str) -> frozenset[str]:
        if voice not in self._zones:
            self._zones[voice] = self.kit.zones(voice, self.used)
        return self._zones[voice]


LONGEST_LATENCY_S = 1.0


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
        **_pedal_row(kit),
    }


def kit_from_dict(value: object) -> Kit:
    """Return the kit a dict describes; raises BadInput naming the key that is wrong."""
    fields = Fields(value, "the kit")
    stand_ins = fields.inside("stand_ins")
    return Kit(
        name=fields.text("name"),
        title=fields.text("title"),
        notes=dict(_pad_from(note, pad) for note, pad in fields.table("notes").items()),
        own=frozenset(_own_note(note) for note in (fields.rows("own") if "own" in fields else ())),
        stand_ins={voice: stand_ins.choice(voice, VOICES) for voice in stand_ins},
        latency_s=fields.number("latency_s", -LONGEST_LATENCY_S, LONGEST_LATENCY_S, 0.0),
        rules=FilterRules(
            {
                _known_voice(voice): DoubleRule(*_numbers(rule, 2))
                for voice, rule in fields.table("doubles").items()
            },
            tuple(_crosstalk_from(row) for row in fields.rows("crosstalk")),
        ),
        power=dict(_curve_from(row) for row in fields.rows("power")),
        controllers=_pedal_from(fields.inside("pedal")) if "pedal" in fields else NO_CONTROLLERS,
    )


def _pedal_row(kit: Kit) -> dict[str, Any]:
    """The pedal, where strokes are read by it; other controllers decide nothing."""
    pedal = kit.controllers.pedal
    if not pedal or not pedal.zones:
        return {}
    return {"pedal": {"controller": pedal.controller, "closed": pedal.closed, "open": pedal.open}}


def _pedal_from(row: Fields) -> Controllers:
    number, closed, up = (row.whole(key, 0, 127) for key in ("controller", "closed", "open"))
    pedal = Pedal(number, closed, up, zones=True)
    if pedal.closed == pedal.open:
        raise BadInput("the kit's pedal has the same value closed and open")
    return Controllers(pedal)


def _own_note(note: object) -> int:
    return int(json_number(note, "an own note of the kit", 0, 127))


def _known_voice(name: object) -> str:
    if not isinstance(name, str) or name not in VOICES:
        raise BadInput("the kit's filter or power names an unknown voice")
    return name


def _numbers(values: object, count: int) -> list[float]:
    if not isinstance(values, list) or len(values) != count:
        raise BadInput(f"a rule of the kit's filter or power must be {count} numbers")
    return [float(json_number(value, "a number of the kit", 0, 1000)) for value in values]


def _crosstalk_from(row: object) -> CrosstalkRule:
    if not isinstance(row, list) or len(row) != 4:
        raise BadInput("a crosstalk rule of the kit must be two voices and two numbers")
    return CrosstalkRule(_known_voice(row[0]), _known_voice(row[1]), *_numbers(row[2:], 2))


def _curve_from(row: object) -> tuple[Pad, PowerCurve]:
    if not isinstance(row, list) or len(row) != 5 or not isinstance(row[1], str):
        raise BadInput("a power curve of the kit must be a voice, a zone and three numbers")
    return Pad(_known_voice(row[0]), row[1]), PowerCurve(*_numbers(row[2:], 3))


def _pad_from(note: str, pad: object) -> tuple[int, Pad]:
    if not (note.isascii() and note.isdigit() and len(note) <= 3 and int(note) <= 127):
        raise BadInput('"notes" of the kit has a key that is no MIDI note', mend="use 0 to 127")
    match pad:
        case [str(voice), str(zone)] if voice in VOICES and len(zone) <= 40:
            return int(note), Pad(voice, zone)
    raise BadInput(
        f'note {note} of the kit must be a known voice and a zone, like ["snare", "rim"]'
    )
