"""From what a file says to sections ready to be laid out.

`said` dicts hold the values `trainer.pattern.notation` has read, by key. A section takes what it
does not say itself from the top of the file.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainer.pattern import spelling
from trainer.pattern.compose import ALTERNATE, Block
from trainer.pattern.hands import Hands
from trainer.pattern.model import Meter
from trainer.pattern.ostinatos import OSTINATOS
from trainer.pattern.rows import Follower, Row
from trainer.pattern.spelling import Spot
from trainer.pattern.tables import NOTE_VALUES

if TYPE_CHECKING:
    from collections.abc import Sequence

TABLES = ("hands", "feet", "bars")
SIXTEENTH = NOTE_VALUES["16"]
_NO_VOICE = ("ostinato", "value", "sticking")
_OWN = ("title", "times")
_INSTEAD = {"value": "rhythm", "rhythm": "value"}
_HANDS = {"orders": "order_count"}
"""Keys of [hands] that have another name in Hands."""


def blocks(top: dict[str, Any], sections: Sequence[dict[str, Any]]) -> list[Block]:
    """Return the sections of a file, or the whole file as the only one."""
    if sections:
        return [_block(_merged(top, section)) for section in sections]
    return [_block(top | {"title": ""})]


def _merged(top: dict[str, Any], section: dict[str, Any]) -> dict[str, Any]:
    merged = {key: value for key, value in top.items() if key not in _OWN} | section
    for name in TABLES:
        own, under = section.get(name), top.get(name)
        if own is not None and under is not None:
            left = {key: value for key, value in under.items() if _INSTEAD.get(key) not in own}
            merged[name] = left | own
    return merged


def _block(said: dict[str, Any]) -> Block:
    hands, bars = said.get("hands"), said.get("bars") or {}
    rows, followers = _rows(said.get("feet") or {}, "feet")
    more_rows, more_followers = _rows(bars, "bars")
    return Block(
        title=said.get("title", ""),
        meters=said.get("meter", (Meter(),)),
        length=said.get("length"),
        times=said.get("times", 1),
        hands=_hands(hands) if hands is not None else None,
        rows=(*rows, *more_rows),
        followers=(*followers, *more_followers),
        row_sticking=bars.get("sticking", ()),
        row_value=bars.get("value", SIXTEENTH),
        assumed=_assumed(hands) if hands is not None else (),
    )


def _hands(said: dict[str, Any]) -> Hands:
    values = said.get("value", said.get("rhythm", (SIXTEENTH,)))
    if said.get("back"):
        values = (*values, *values[-2::-1])
    rest = {
        _HANDS.get(key, key): value
        for key, value in said.items()
        if key not in ("value", "rhythm", "back")
    }
    return Hands(values=values, climb="rhythm" not in said and len(values) > 1, **rest)


def _assumed(hands: dict[str, Any]) -> tuple[str, ...]:
    """Return in words what a line of the hands leaves unsaid."""
    found = []
    if "sticking" not in hands:
        found.append(ALTERNATE)
    if "value" not in hands and "rhythm" not in hands:
        found.append("no note value is written: sixteenths")
    return tuple(found)


def _rows(said: dict[str, Any], table: str) -> tuple[list[Row], list[Follower]]:
    """Return the rows and followers of a [feet] or [bars] table."""
    rows, followers = [], []
    lines = {key: line for key, line in said.items() if key not in _NO_VOICE}
    value = said.get("value", SIXTEENTH)
    for key, line in lines.items():
        spot, where = spelling.spot(key), f"{table}.{key}"
        if isinstance(line, str):
            followers.append(Follower(spot, line, where))
        else:
            rows.append(Row(spot, line.cells, value, where, line.lines))
    if "ostinato" in said:
        rows += _ostinato(said["ostinato"], said.get("value"), lines, f"{table}.ostinato")
    return rows, followers


def _ostinato(name: str, value: Any, lines: dict[str, Any], where: str) -> list[Row]:
    """Return the rows of a named ostinato, except for a foot that has a line of its own."""
    found = OSTINATOS[name]
    step = value or NOTE_VALUES[found.value]
    return [
        Row(Spot(voice), spelling.grid(text, voice).cells, step, where, loose=True)
        for voice, text in found.rows.items()
        if voice not in lines
    ]
