"""A kit as plain dicts and back: what session files carry, so that they can be judged again."""

from __future__ import annotations

from typing import Any

from trainer.errors import BadInput
from trainer.fields import Fields, json_number
from trainer.kit.controllers import NONE, Controllers, Pedal
from trainer.kit.hit_filter import CrosstalkRule, DoubleRule, Rules
from trainer.kit.note_map import Kit, Pad
from trainer.kit.power import PowerCurve
from trainer.kit.voices import VOICES

LONGEST_LATENCY_S = 1.0


def to_dict(kit: Kit) -> dict[str, Any]:
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


def from_dict(value: object) -> Kit:
    """Return the kit a dict describes; raises BadInput naming the key that is wrong."""
    fields = Fields(value, "the kit")
    stand_ins = fields.inside("stand_ins")
    return Kit(
        name=fields.text("name"),
        title=fields.text("title"),
        notes=dict(_pad(note, pad) for note, pad in fields.table("notes").items()),
        own=frozenset(_own(note) for note in (fields.rows("own") if "own" in fields else ())),
        stand_ins={voice: stand_ins.choice(voice, VOICES) for voice in stand_ins},
        latency_s=fields.number("latency_s", -LONGEST_LATENCY_S, LONGEST_LATENCY_S, 0.0),
        rules=Rules(
            {
                _voice(voice): DoubleRule(*_figures(rule, 2))
                for voice, rule in fields.table("doubles").items()
            },
            tuple(_crosstalk(row) for row in fields.rows("crosstalk")),
        ),
        power=dict(_curve(row) for row in fields.rows("power")),
        controllers=_pedal(fields.inside("pedal")) if "pedal" in fields else NONE,
    )


def _pedal_row(kit: Kit) -> dict[str, Any]:
    """The pedal, where strokes are read by it; other controllers decide nothing."""
    pedal = kit.controllers.pedal
    if not pedal or not pedal.zones:
        return {}
    return {"pedal": {"controller": pedal.controller, "closed": pedal.closed, "open": pedal.open}}


def _pedal(row: Fields) -> Controllers:
    number, closed, up = (row.whole(key, 0, 127) for key in ("controller", "closed", "open"))
    pedal = Pedal(number, closed, up, zones=True)
    if pedal.closed == pedal.open:
        raise BadInput("the kit's pedal is closed and open at one value")
    return Controllers(pedal)


def _own(note: object) -> int:
    return int(json_number(note, "an own note of the kit", 0, 127))


def _voice(name: object) -> str:
    if not isinstance(name, str) or name not in VOICES:
        raise BadInput("the kit's filter or power names a voice that is not known here")
    return name


def _figures(values: object, count: int) -> list[float]:
    if not isinstance(values, list) or len(values) != count:
        raise BadInput(f"a rule of the kit's filter or power must be {count} numbers")
    return [float(json_number(value, "a number of the kit", 0, 1000)) for value in values]


def _crosstalk(row: object) -> CrosstalkRule:
    if not isinstance(row, list) or len(row) != 4:
        raise BadInput("a crosstalk rule of the kit must be two voices and two numbers")
    return CrosstalkRule(_voice(row[0]), _voice(row[1]), *_figures(row[2:], 2))


def _curve(row: object) -> tuple[Pad, PowerCurve]:
    if not isinstance(row, list) or len(row) != 5 or not isinstance(row[1], str):
        raise BadInput("a power curve of the kit must be a voice, a zone and three numbers")
    return Pad(_voice(row[0]), row[1]), PowerCurve(*_figures(row[2:], 3))


def _pad(note: str, pad: object) -> tuple[int, Pad]:
    if not (note.isascii() and note.isdigit() and len(note) <= 3 and int(note) <= 127):
        raise BadInput('"notes" of the kit has a key that is no MIDI note', mend="use 0 to 127")
    match pad:
        case [str(voice), str(zone)] if voice in VOICES and len(zone) <= 40:
            return int(note), Pad(voice, zone)
    raise BadInput(
        f'note {note} of the kit must be a known voice and a zone, like ["snare", "rim"]'
    )
