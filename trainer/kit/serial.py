"""A kit as plain dicts and back: what session files carry, so that they can be judged again."""

from __future__ import annotations

from typing import Any

from trainer.errors import BadInput
from trainer.fields import Fields
from trainer.kit.note_map import Kit, Pad
from trainer.kit.voices import VOICES

LONGEST_LATENCY_S = 1.0


def to_dict(kit: Kit) -> dict[str, Any]:
    """Return the whole kit as values that JSON can hold."""
    return {
        "name": kit.name,
        "title": kit.title,
        "notes": {str(note): [pad.voice, pad.zone] for note, pad in kit.notes.items()},
        "stand_ins": dict(kit.stand_ins),
        "latency_s": kit.latency_s,
    }


def from_dict(value: object) -> Kit:
    """Return the kit a dict describes; raises BadInput naming the key that is wrong."""
    fields = Fields(value, "the kit")
    stand_ins = fields.inside("stand_ins")
    return Kit(
        name=fields.text("name"),
        title=fields.text("title"),
        notes=dict(_pad(note, pad) for note, pad in fields.table("notes").items()),
        stand_ins={voice: stand_ins.choice(voice, VOICES) for voice in stand_ins},
        latency_s=fields.number("latency_s", -LONGEST_LATENCY_S, LONGEST_LATENCY_S, 0.0),
    )


def _pad(note: str, pad: object) -> tuple[int, Pad]:
    if not (note.isascii() and note.isdigit() and len(note) <= 3 and int(note) <= 127):
        raise BadInput('"notes" of the kit has a key that is no MIDI note', mend="use 0 to 127")
    match pad:
        case [str(voice), str(zone)] if voice in VOICES and len(zone) <= 40:
            return int(note), Pad(voice, zone)
    raise BadInput(
        f'note {note} of the kit must be a known voice and a zone, like ["snare", "rim"]'
    )
