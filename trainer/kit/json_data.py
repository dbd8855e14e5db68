"""A kit as plain dicts and lists, and back: what session files carry, to be judged again.

Only what decides about hits is written. Times are seconds.
"""

from __future__ import annotations

from typing import Annotated, Any

from msgspec import Meta, Struct

from trainer.errors import BadInput
from trainer.kit.hit_filter import CrosstalkRule, DoubleRule, FilterRules
from trainer.kit.hits import NO_CONTROLLERS, Controllers, Pedal, PowerCurve, checked_pedal
from trainer.kit.model import LONGEST_LATENCY_MS, Kit, Pad
from trainer.kit.voices import VOICES
from trainer.typed_json import MidiNumber, Text, converted

Voice = Annotated[
    str, Meta(pattern=rf"\A(?:{'|'.join(VOICES)})\Z", description="a drum that is known here")
]
Zone = Annotated[str, Meta(max_length=40)]
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
        if self.pedal is None:
            return NO_CONTROLLERS
        row = self.pedal
        try:
            return Controllers(checked_pedal(row.controller, row.closed, row.open, zones=True))
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
    }


def _pedal_row(pedal: Pedal | None) -> dict[str, Any]:
    """The pedal, where strokes are read by it; other controllers decide nothing."""
    if not pedal or not pedal.zones:
        return {}
    return {"pedal": {"controller": pedal.controller, "closed": pedal.closed, "open": pedal.open}}
