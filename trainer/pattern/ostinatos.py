"""Foot ostinatos of the trade, by name, as grids of steps.

Rhythms: samba and bossa nova after a percussion textbook's page on samba and Tom Tom Magazine
(2011); tumbao's rhythm after Wikipedia, "Tumbao". The rest, and which foot plays what, is common
practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Ostinato:
    """One ostinato: its step's note value and a grid for each foot voice."""

    name: str
    title: str
    value: str
    rows: dict[str, str] = field(default_factory=dict)


_ROWS = (
    Ostinato("samba", "samba", "16", {"kick": "x..xx..x", "pedal": "..x...x."}),
    Ostinato("bossa", "bossa nova", "8", {"kick": "x..xx..x", "pedal": "..x...x."}),
    Ostinato("tumbao", "tumbao", "8", {"kick": "...x..x.", "pedal": "..x...x."}),
    Ostinato("tresillo", "tresillo", "8", {"kick": "x..x..x.", "pedal": "..x...x."}),
    Ostinato("songo", "songo", "16", {"kick": "......x.....x...", "pedal": "x...x...x...x..."}),
    Ostinato("baiao", "baião", "16", {"kick": "x..x..x.", "pedal": "..x...x."}),
    Ostinato("quarters", "quarters, hat on 2 and 4", "4", {"kick": "xx", "pedal": ".x"}),
    Ostinato("four", "kick on every beat", "4", {"kick": "x"}),
    Ostinato("half-time", "half-time", "8", {"kick": "x.......", "pedal": "x.x.x.x."}),
    Ostinato("offbeats", "quarters, hat on every and", "8", {"kick": "x.", "pedal": ".x"}),
    Ostinato("pedal-quarters", "hat on every beat", "4", {"pedal": "x"}),
    Ostinato("pedal-2-4", "hat on 2 and 4", "4", {"pedal": ".x"}),
    Ostinato("waltz", "kick on 1, hat on 2 and 3", "4", {"kick": "x..", "pedal": ".xx"}),
    Ostinato("son-clave-3-2", "left-foot son clave 3-2", "8", {"pedal": "x..x..x...x.x..."}),
    Ostinato("son-clave-2-3", "left-foot son clave 2-3", "8", {"pedal": "..x.x...x..x..x."}),
    Ostinato("rumba-clave-3-2", "left-foot rumba clave 3-2", "8", {"pedal": "x..x...x..x.x..."}),
    Ostinato("double-kick", "both kicks in turn", "16", {"kick": "x.", "kick2": ".x"}),
)

OSTINATOS: dict[str, Ostinato] = {row.name: row for row in _ROWS}
