"""A kit as a TOML file: short enough to write by hand, and what learning writes.

title = "Practice room"
ports = ["Kit"]              # taken automatically where an input of this name is connected
latency_ms = 6.5             # how late its hits arrive
surveyed = true              # doubles and crosstalk were measured, even where none are listed
without = ["tom2"]           # drums it lacks: patterns play the nearest there is instead
general_midi = true          # notes not named below are read as General MIDI (false: unknown)

[notes]                      # MIDI note = voice, or voice/zone
38 = "snare"
40 = "snare/rim"
58 = "crash/choke"           # a note of its own for a cymbal that is grabbed

[same]                       # what sends the note of another place, as the kit was learned
"snare/cross-stick" = 40

[doubles]                    # a softer second note of a pad this soon is a double trigger
snare = { ms = 12, softer = 0.6 }

[[crosstalk]]                # a soft note of one pad because another was struck
struck = "floor"
shaken = "tom1"
ms = 6
softer = 0.35

[power]                      # velocities of soft, normal and hard strokes
snare = [30, 72, 118]

[controllers]                # what is sent apart from notes
pedal = { controller = 4, closed = 127, open = 0, zones = true }  # zones: one note for both
place = { snare = 16 }
choke = [49, 57]             # pads that send pressure when grabbed

[keys]                       # pads that act as keys while nothing is asked
crash = "toggle"

All keys may be left out. Voices and zones are those of `trainer.kit.voices`.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from trainer import checked
from trainer.checked import FaultList, read_fields
from trainer.errors import BadInput
from trainer.kit.hits import (
    LONGEST_MASK_S,
    Controllers,
    CrosstalkRule,
    DoubleRule,
    FilterRules,
    Pedal,
    PowerCurve,
    checked_pedal,
)
from trainer.kit.model import GENERAL_MIDI, LONGEST_LATENCY_MS, Kit, Pad
from trainer.kit.voices import VOICES, full_zone, place_named, place_text
from trainer.toml_text import changed_text, parse, toml_text

if TYPE_CHECKING:
    from collections.abc import Callable

KEY_COMMANDS = ("toggle", "pause", "resume", "restart", "next", "quit")
"""What a pad may be a key for."""


def kit_from_toml(source: str, name: str) -> Kit:
    """Return the kit that a TOML text describes; raises BadInput or Faults with lines and keys."""
    table = parse(source)
    faults = FaultList(source)
    top = read_fields(
        table, {**KIT_FIELDS, **dict.fromkeys(KIT_TABLES, checked.as_it_is)}, faults, ()
    )
    notes = dict(GENERAL_MIDI.notes) if top.get("general_midi", True) else {}
    own = _rows(top, "notes", faults, _note, pad_named)
    notes |= own
    kit = Kit(
        name=name,
        title=top.get("title", name),
        notes=notes,
        latency_s=top.get("latency_ms", 0.0) / 1000,
        rules=FilterRules(_rows(top, "doubles", faults, _voice, _double), _crosstalk(top, faults)),
        power=_rows(top, "power", faults, pad_named, _curve),
        controllers=_controllers(top, faults),
        ports=top.get("ports", ()),
        own=frozenset(own),
        same=_rows(top, "same", faults, pad_named, checked.whole(0, 127)),
        surveyed=top.get("surveyed", False),
        without=frozenset(top.get("without", ())),
    )
    kit = replace(
        kit, pad_keys=_pad_keys(_rows(top, "keys", faults, _voice_or_note, _command), kit)
    )
    faults.show()
    return kit


def kit_to_toml(kit: Kit, source: str = "", before: Kit | None = None) -> str:
    """Return the kit as the text of a TOML file, times to the microsecond; reading gives it back.

    `source` is the text of the kit as it was `before`: only what differs is changed in it.
    """
    if before is None:
        return toml_text(_table(kit))
    return changed_text(
        source, _table(before), _table(kit), lambda text: kit_from_toml(text, kit.name)
    )


def _table(kit: Kit) -> dict[str, Any]:
    """Return the kit as the table of its file."""
    own = {
        note: one
        for note, one in kit.notes.items()
        if note in kit.own or _unlike_general_midi(note, one)
    }
    shown = own if kit.general_midi else kit.notes
    return {
        "title": kit.title,
        "ports": list(kit.ports),
        "latency_ms": _ms(kit.latency_s),
        "general_midi": kit.general_midi,
        "surveyed": kit.surveyed,
        "without": sorted(kit.without),
        "notes": {str(note): _pad_text(one) for note, one in shown.items()},
        "same": {_pad_text(one): note for one, note in kit.same.items()},
        "doubles": {
            voice: {"ms": _ms(rule.within_s), "softer": rule.softer}
            for voice, rule in kit.rules.doubles.items()
        },
        "power": {
            _pad_text(one): [curve.soft, curve.normal, curve.hard]
            for one, curve in kit.power.items()
        },
        "controllers": _controller_table(kit.controllers),
        "keys": {str(note): to for note, to in kit.pad_keys.items()},
        "crosstalk": [
            {
                "struck": rule.struck,
                "shaken": rule.shaken,
                "ms": _ms(rule.within_s),
                "softer": rule.softer,
            }
            for rule in kit.rules.crosstalk
        ],
    }


def _controller_table(controllers: Controllers) -> dict[str, Any]:
    table: dict[str, Any] = {}
    if controllers.pedal:
        one = controllers.pedal
        table["pedal"] = {"controller": one.controller, "closed": one.closed, "open": one.open}
        table["pedal"] |= {"zones": True} if one.zones else {}
    if controllers.places:
        table["place"] = dict(controllers.places)
    if controllers.chokes:
        table["choke"] = list(controllers.chokes)
    return table


def pad_named(value: Any) -> Pad:
    """Return the pad of `snare` or `snare/rim`."""
    voice, zone = place_named(checked.shown(value))
    return Pad(voice, full_zone(voice, zone))


KIT_TABLES = ("notes", "same", "doubles", "crosstalk", "power", "controllers", "keys")
KIT_FIELDS: dict[str, Callable[[Any], Any]] = {
    "title": checked.text,
    "ports": checked.texts(checked.any_text()),
    "latency_ms": checked.number(-LONGEST_LATENCY_MS, LONGEST_LATENCY_MS),
    "general_midi": checked.flag,
    "surveyed": checked.flag,
    "without": checked.texts(lambda value: _voice(value)),
}
_DOUBLE_FIELDS = {"ms": checked.number(0, LONGEST_MASK_S * 1000), "softer": checked.number(0, 1)}
_CROSSTALK_FIELDS: dict[str, Callable[[Any], Any]] = {
    "struck": lambda value: _voice(value),
    "shaken": lambda value: _voice(value),
    **_DOUBLE_FIELDS,
}
_command = checked.choice(*KEY_COMMANDS)


def _rows(
    top: dict[str, Any],
    name: str,
    faults: FaultList,
    key: Callable[[str], Any],
    value: Callable[[Any], Any],
) -> dict[Any, Any]:
    """Return one table of the file with its keys and values read; faults are gathered."""
    table = top.get(name, {})
    if not isinstance(table, dict):
        faults.add(BadInput("is not a table", fix=f"write [{name}]"), (name,))
        return {}
    found = {}
    for one, entry in table.items():
        try:
            found[key(one)] = value(entry)
        except BadInput as fault:
            faults.add(fault, (name, one))
    return found


def _crosstalk(top: dict[str, Any], faults: FaultList) -> tuple[CrosstalkRule, ...]:
    shape = _CROSSTALK_FIELDS, tuple(_CROSSTALK_FIELDS)
    rows = checked.read_tables(top.get("crosstalk", []), "crosstalk", faults, shape)
    return tuple(
        CrosstalkRule(row["struck"], row["shaken"], row["ms"] / 1000, row["softer"])
        for _, row in rows
    )


def _controllers(top: dict[str, Any], faults: FaultList) -> Controllers:
    table = read_fields(top.get("controllers", {}), _CONTROLLER_FIELDS, faults, ("controllers",))
    return Controllers(table.get("pedal"), table.get("place", {}), table.get("choke", ()))


def _pedal(value: Any) -> Pedal:
    keys = ("controller", "closed", "open")
    if not isinstance(value, dict) or set(value) - {"zones"} != set(keys):
        raise BadInput("is no pedal", fix="write { controller = 4, closed = 127, open = 0 }")
    number, closed, up = (checked.whole(0, 127)(value[key]) for key in keys)
    return checked_pedal(number, closed, up, zones=checked.flag(value.get("zones", False)))


def _places(value: Any) -> dict[str, int]:
    if not isinstance(value, dict):
        raise BadInput("is no list of places", fix="write { snare = 16 }")
    return {_voice(voice): checked.whole(0, 127)(number) for voice, number in value.items()}


def _chokes(value: Any) -> tuple[int, ...]:
    if not isinstance(value, list) or len(value) > 128:
        raise BadInput("is no list of notes", fix="write [49, 57]")
    return tuple(checked.whole(0, 127)(note) for note in value)


_CONTROLLER_FIELDS: dict[str, Callable[[Any], Any]] = {
    "pedal": _pedal,
    "place": _places,
    "choke": _chokes,
}


def _note(key: str) -> int:
    if not (key.isascii() and key.isdigit() and len(key) <= 3 and int(key) <= 127):
        raise BadInput("is not a MIDI note", fix="use 0 to 127")
    return int(key)


def _voice(value: Any) -> str:
    return pad_named(value).voice


def _voice_or_note(key: str) -> str | int:
    return _note(key) if key.isdecimal() else _voice(key)


def _pad_keys(given: dict[str | int, str], kit: Kit) -> dict[int, str]:
    """The command of each note; a voice means all its notes."""
    found: dict[int, str] = {}
    for where, command in given.items():
        notes = [note for note, one in kit.notes.items() if one.voice == where]
        found |= dict.fromkeys([where] if isinstance(where, int) else notes, command)
    return found


def _double(value: Any) -> DoubleRule:
    if not isinstance(value, dict) or set(value) != set(_DOUBLE_FIELDS):
        raise BadInput("does not say when", fix="write { ms = 12, softer = 0.6 }")
    read_row = {key: _DOUBLE_FIELDS[key](one) for key, one in value.items()}
    return DoubleRule(read_row["ms"] / 1000, read_row["softer"])


def _curve(value: Any) -> PowerCurve:
    if not isinstance(value, list) or len(value) != 3:
        raise BadInput("is not a power curve", fix="write [soft, normal, hard], like [30, 72, 118]")
    soft, normal, hard = (checked.number(1, 127)(one) for one in value)
    if not soft < normal < hard:
        raise BadInput("must rise from soft to hard", fix="measure the pad again")
    return PowerCurve(soft, normal, hard)


def _unlike_general_midi(note: int, one: Pad) -> bool:
    return GENERAL_MIDI.notes.get(note) != one


def _pad_text(one: Pad) -> str:
    ordinary = one.voice in VOICES and one.zone == VOICES[one.voice].zones[0]
    return place_text(one.voice, "" if ordinary else one.zone)


def _ms(seconds: float) -> float:
    """Seconds as milliseconds, to the microsecond: kits know nothing finer."""
    return round(seconds * 1000, 3)
