"""The pattern language: from a parsed TOML table to a Pattern, telling every fault at once."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput, Faults
from trainer.kit.voices import VOICES
from trainer.pattern import checks, spelling
from trainer.pattern.checks import FaultList, read_fields, spelled
from trainer.pattern.compose import ALTERNATE, Block, Laid, lay_out, repeated
from trainer.pattern.hands import Hands
from trainer.pattern.model import Meter, Pattern
from trainer.pattern.ostinatos import OSTINATOS
from trainer.pattern.rows import Follower, Row, check_leader
from trainer.pattern.spelling import Spot
from trainer.pattern.tables import MAX_BARS, MAX_STROKES, NOTE_VALUES

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

SIXTEENTH = NOTE_VALUES["16"]
FEET_VOICES = tuple(voice.name for voice in VOICES.values() if voice.foot)


def _ostinato(value: Any) -> str:
    if value not in OSTINATOS:
        raise BadInput(
            f'there is no ostinato "{spelling.shortened(str(value))}"',
            mend=spelling.nearest(str(value), OSTINATOS),
        )
    return str(value)


def _row(voice: str) -> Callable[[Any], Any]:
    """Return a reader of one voice's line: a grid, or `same as` a leader."""

    def read(text: str) -> Any:
        if text.startswith("same as "):
            return check_leader(text.removeprefix("same as ").strip())
        return spelling.grid(text, voice)

    return spelled(read)


def _voice_row(key: str) -> Callable[[Any], Any] | None:
    """Return a reader for a key of [bars], which is a voice with or without a zone."""
    if key.partition(":")[0] not in VOICES:
        return None
    spot = spelling.spot(key)
    return _row(spot.voice)


_RANGE = MAX_STROKES
HANDS_FIELDS: dict[str, Callable[[Any], Any]] = {
    "sticking": spelled(spelling.sticking),
    "value": spelled(spelling.values),
    "rhythm": spelled(spelling.values),
    "back": checks.flag,
    "path": spelled(spelling.path),
    "per": checks.choice("stroke", "beat", "bar"),
    "orders": checks.order_count,
    "each": checks.whole(1, 1000),
    "seed": checks.whole(0, 2**53),
    "lead": checks.choice("right", "left", "both"),
    "shift": checks.whole(-_RANGE, _RANGE),
}
FEET_FIELDS: dict[str, Callable[[Any], Any]] = {
    "ostinato": _ostinato,
    "value": spelled(spelling.value),
    **{voice: _row(voice) for voice in FEET_VOICES},
}
BARS_FIELDS: dict[str, Callable[[Any], Any]] = {
    "value": spelled(spelling.value),
    "sticking": spelled(spelling.sticking),
}
SECTION_FIELDS: dict[str, Callable[[Any], Any]] = {
    "title": checks.text,
    "meter": checks.meters,
    "length": checks.whole(1, MAX_BARS),
    "times": checks.whole(1, 10_000),
}
TOP_FIELDS: dict[str, Callable[[Any], Any]] = {
    **SECTION_FIELDS,
    "about": checks.text,
    "tags": checks.tags,
    "level": checks.whole(1, 5),
    "tempo": checks.tempo,
    "tempo_unit": checks.tempo_unit,
}
_TABLES = ("hands", "feet", "bars", "section")


def read(table: Mapping[str, Any], name: str, source: str = "") -> Pattern:
    """Return the pattern a parsed file writes; `source` is its text, for the lines of faults.

    Raises BadInput for one fault and Faults for several, each with the keys it stands under.
    """
    faults = FaultList(source)
    top = _section(table, faults, (), TOP_FIELDS)
    listed = table.get("section", [])
    if not isinstance(listed, list):
        faults.add(BadInput("is not a list of tables", mend="write [[section]]"), ("section",))
        listed = []
    sections = [
        _section(one, faults, ("section", number), SECTION_FIELDS)
        for number, one in enumerate(listed)
    ]
    _raise(faults)
    blocks = [_block(_merged(top, one)) for one in sections] or [_block(top | {"title": ""})]
    laid = _lay_out(blocks, faults, bool(sections))
    return _pattern(top, name, laid)


def _section(
    table: Any, faults: FaultList, path: tuple[str | int, ...], fields: Mapping[str, Any]
) -> dict[str, Any]:
    """Return one section's values; the tables of hands, feet and bars become dicts of their own."""
    if not isinstance(table, dict):
        faults.add(BadInput("is not a table", mend="write [[section]]"), path)
        return {}
    known = {**fields, **dict.fromkeys(_TABLES if not path else _TABLES[:3], _as_it_is)}
    found = read_fields(table, known, faults, path)
    for name, inner, other in (
        ("hands", HANDS_FIELDS, None),
        ("feet", FEET_FIELDS, None),
        ("bars", BARS_FIELDS, _voice_row),
    ):
        if name in found:
            value = found[name]
            if isinstance(value, str) and name in _SHORT:
                value = {_SHORT[name]: value}
            found[name] = read_fields(value, inner, faults, (*path, name), other)
    hands = found.get("hands", {})
    if "value" in hands and "rhythm" in hands:
        fault = BadInput("value and rhythm exclude each other", mend="keep one of the two")
        faults.add(fault, (*path, "hands", "rhythm"))
    return found


_SHORT = {"hands": "sticking", "feet": "ostinato"}
"""What a table means that is written as a plain text."""


def _as_it_is(value: Any) -> Any:
    return value


def _merged(top: dict[str, Any], section: dict[str, Any]) -> dict[str, Any]:
    """Return a section with what it does not say itself taken from the top of the file."""
    merged = {key: value for key, value in top.items() if key not in ("title", "times")} | section
    for name in ("hands", "feet", "bars"):
        if name in top and name in section:
            own = dict(section[name])
            under = {key: value for key, value in top[name].items() if not _replaced(key, own)}
            merged[name] = under | own
    return merged


def _replaced(key: str, own: dict[str, Any]) -> bool:
    return {"value": "rhythm", "rhythm": "value"}.get(key) in own


def _block(said: dict[str, Any]) -> Block:
    hands = _hands(said["hands"]) if "hands" in said else None
    rows, followers = _rows(said.get("feet", {}), "feet")
    more_rows, more_followers = _rows(said.get("bars", {}), "bars")
    bars = said.get("bars", {})
    return Block(
        title=said.get("title", ""),
        meters=said.get("meter", (Meter(),)),
        length=said.get("length"),
        times=said.get("times", 1),
        hands=hands,
        rows=(*rows, *more_rows),
        followers=(*followers, *more_followers),
        row_sticking=bars.get("sticking", ()),
        row_value=bars.get("value", SIXTEENTH),
        assumed=_assumed(said.get("hands")),
    )


def _hands(said: dict[str, Any]) -> Hands:
    values = said.get("value", said.get("rhythm", (SIXTEENTH,)))
    if said.get("back"):
        values = (*values, *values[-2::-1])
    given = {
        "sticking": said.get("sticking"),
        "lead": said.get("lead"),
        "path": said.get("path"),
        "per": said.get("per"),
        "order_count": said.get("orders"),
        "each": said.get("each"),
        "seed": said.get("seed"),
        "shift": said.get("shift"),
    }
    told = {key: value for key, value in given.items() if value is not None}
    climb = "rhythm" not in said and len(values) > 1
    return Hands(values=values, climb=climb, **told)


def _assumed(hands: dict[str, Any] | None) -> tuple[str, ...]:
    """Return in words what a line of the hands leaves unsaid."""
    if hands is None:
        return ()
    found: tuple[str, ...] = () if "sticking" in hands else (ALTERNATE,)
    if "path" not in hands:
        found += ("no path is written: the hands stay on the snare",)
    if "value" not in hands and "rhythm" not in hands:
        found += ("no note value is written: sixteenths",)
    return found


def _rows(said: dict[str, Any], table: str) -> tuple[list[Row], list[Follower]]:
    """Return the rows and followers of a [feet] or [bars] table."""
    rows, followers = [], []
    lines = {key: value for key, value in said.items() if key not in _NO_VOICE}
    if "ostinato" in said:
        found = OSTINATOS[said["ostinato"]]
        value = said.get("value", NOTE_VALUES[found.value])
        for voice, text in found.rows.items():
            if voice not in lines:
                cells = spelling.grid(text, voice)
                rows.append(Row(Spot(voice), cells, value, f"{table}.ostinato", loose=True))
    value = said.get("value", SIXTEENTH)
    for key, line in lines.items():
        spot, where = spelling.spot(key), f"{table}.{key}"
        if isinstance(line, str):
            followers.append(Follower(spot, line, where))
        else:
            rows.append(Row(spot, line, value, where))
    return rows, followers


_NO_VOICE = ("ostinato", "value", "sticking")


def _lay_out(blocks: list[Block], faults: FaultList, listed: bool) -> list[Laid]:
    """Return all blocks laid out one after the other."""
    done: list[Laid] = []
    start, bars, strokes = Fraction(0), 0, 0
    for number, block in enumerate(blocks):
        try:
            laid = lay_out(block)
            strokes += len(laid.notes) * block.times
            if strokes > MAX_STROKES:
                raise BadInput(f"all sections together make {strokes} strokes, too many")
        except BadInput as fault:
            _place(fault, faults, ("section", number) if listed else ())
            continue
        done.append(repeated(laid, block.times, start, bars))
        start = done[-1].bars[-1].end
        bars += len(done[-1].bars)
    _raise(faults)
    return done


def _place(fault: BadInput, faults: FaultList, path: tuple[str | int, ...]) -> None:
    """Add a fault of composing, whose `where` is a key of the section, to the list."""
    keys = tuple((fault.where or "").split(".")) if fault.where else ()
    fault.where = None
    faults.add(fault, (*path, *keys))


def _raise(faults: FaultList) -> None:
    if len(faults.faults) == 1:
        raise faults.faults[0]
    if faults.faults:
        raise Faults(faults.faults)


def _pattern(top: dict[str, Any], name: str, laid: Iterable[Laid]) -> Pattern:
    parts = list(laid)
    sections = tuple(section for part in parts for section in part.sections)
    plain = len(sections) == 1 and sections[0].times == 1 and not sections[0].title
    return Pattern(
        name=name,
        title=top.get("title") or name,
        bars=tuple(bar for part in parts for bar in part.bars),
        notes=tuple(note for part in parts for note in part.notes),
        sections=() if plain else sections,
        about=top.get("about", ""),
        tags=top.get("tags", ()),
        level=top.get("level", 1),
        tempo=top.get("tempo", 60.0),
        tempo_unit=top.get("tempo_unit", Fraction(1)),
        assumed=tuple(dict.fromkeys(word for part in parts for word in part.assumed)),
    )
