"""From a pattern file's entries to sections ready to be laid out.

First the readers of single entries that only pattern files have: stickings, tags, tempos, meters.
Then the sections: `said` dicts hold the values `trainer.pattern.language.notation` has read, by
key. A section takes what it does not say itself from the top of the file.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

from trainer.checked import shortened, shown, text
from trainer.errors import BadInput
from trainer.kit.voices import VOICES
from trainer.pattern.language import spelling
from trainer.pattern.language.faults import TextFaults
from trainer.pattern.language.hands import Hands
from trainer.pattern.language.layout import ALTERNATE
from trainer.pattern.language.rows import OSTINATOS, Follower, Row
from trainer.pattern.language.section_length import WrittenSection
from trainer.pattern.language.spelling import Spot
from trainer.pattern.model import NOTE_VALUES, Meter
from trainer.pattern.phrase import PhrasePart, read_phrase

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from fractions import Fraction


UNITS = (1, 2, 4, 8, 16, 32)


def read_text(reader: Callable[[str], Any]) -> Callable[[Any], Any]:
    """Return a reader of long texts; a list of texts is joined by blanks."""

    def read(value: Any) -> Any:
        if isinstance(value, list) and all(isinstance(item, (str, int)) for item in value):
            value = " ".join(map(str, value))
        if isinstance(value, int) and not isinstance(value, bool):
            value = str(value)
        if not isinstance(value, str):
            raise BadInput("is not a text", fix="put it in quotes")
        return reader(value)

    return read


def read_tags(value: Any) -> tuple[str, ...]:
    """Return tags from a list of texts or one text with blanks."""
    words = value.split() if isinstance(value, str) else value
    if not isinstance(words, list):
        raise BadInput("is not a list of tags", fix='write ["orders", "singles"]')
    return tuple(text(word) for word in words)


def read_tempo_unit(value: Any) -> Fraction:
    """Return the length in quarter notes of the note value that BPM counts."""
    return spelling.value(str(value)).length


def read_meters(value: Any) -> tuple[Meter, ...]:
    """Return meters from `4/4` or a list of them that goes round bar by bar.

    Each may have its groups of beats behind it: `7/8 3+2+2`.
    """
    words = value if isinstance(value, list) else _with_groups(str(value).split())
    if isinstance(value, (bool, float)) or not 1 <= len(words) <= 64:
        raise BadInput(f"{shown(value)} is not a meter", fix='write "4/4" or ["4/4", "7/8"]')
    wrong = TextFaults("meter")
    found = []
    for at, word in enumerate(words):
        wrong.count(at)
        found.append(wrong.reading(partial(_meter, word), at))
    wrong.show()
    return tuple(meter for meter in found if meter)


def read_phrase_text(value: Any) -> tuple[PhrasePart, ...]:
    """Return the parts of a phrase, a text or a list of its parts."""
    if isinstance(value, list) and all(isinstance(item, str) for item in value):
        value = ", ".join(value)
    if not isinstance(value, str) or len(value) > 20_000:
        raise BadInput("is no phrase", fix='write "groove x3, fill"')
    return read_phrase(value)


def read_order_count(value: Any) -> int:
    """Return 0 for "all", else how many orders are drawn."""
    if value == "all":
        return 0
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 10_000:
        raise BadInput(
            f"{shown(value)} is not a choice of orders",
            fix='write "all" or a number from 1 to 10000',
        )
    return value


def _meter(given: Any) -> Meter:
    word, _, grouped = shown(given).partition(" ")
    beats, _, unit = word.partition("/")
    if len(word) <= 6 and word.isascii() and beats.isdecimal() and unit.isdecimal():
        meter = Meter(int(beats), int(unit))
        if 1 <= meter.beats <= 64 and meter.unit in UNITS:
            return replace(meter, groups=_groups(grouped.strip(), meter)) if grouped else meter
    raise BadInput(
        f"{word} is not a meter",
        fix=f"write 1 to 64 over one of {', '.join(map(str, UNITS))}, such as 7/8",
    )


def _with_groups(words: list[str]) -> list[str]:
    """Return meters with the groups that are written behind them."""
    found: list[str] = []
    for word in words:
        if found and "+" in word:
            found[-1] += f" {word}"
        else:
            found.append(word)
    return found


def _groups(text: str, meter: Meter) -> tuple[int, ...]:
    sizes = text.split("+")
    known = text.isascii() and all(size.isdecimal() and len(size) < 3 for size in sizes)
    groups = tuple(map(int, sizes)) if known else ()
    if not groups or 0 in groups or sum(groups) != meter.beats:
        raise BadInput(
            f'the groups "{shortened(text)}" do not add up to the {meter.beats} beats of {meter}',
            fix="write them as in 7/8 3+2+2",
        )
    return groups


TABLES = ("hands", "feet", "bars")
SIXTEENTH = NOTE_VALUES["16"]
_NO_VOICE = ("ostinato", "value", "sticking", "hands")
_OWN = ("title", "times", "tempo", "pattern", "taken", "phrase")
_INSTEAD = {"value": "rhythm", "rhythm": "value"}
_HANDS = {"orders": "order_count"}
"""Keys of [hands] that have another name in Hands."""

_LINE = {"sticking", "value", "rhythm", "path", "accents"}
"""Keys of [hands] that write a line, beside feet or a grid; the others only change one."""


def written_sections(
    top: dict[str, Any], sections: Sequence[dict[str, Any]]
) -> list[WrittenSection]:
    """Return the sections of a file, or the whole file as the only one."""
    if sections:
        return [_block(_merged(top, section)) for section in sections]
    return [_block(top | {"title": ""})]


def _merged(top: dict[str, Any], section: dict[str, Any]) -> dict[str, Any]:
    merged = {key: value for key, value in top.items() if key not in _OWN} | section
    if "taken" in section:
        return {key: value for key, value in merged.items() if key not in NOTES}
    for name in TABLES:
        own, under = section.get(name), top.get(name)
        if own is not None and under is not None:
            left = {key: value for key, value in under.items() if _INSTEAD.get(key) not in own}
            merged[name] = left | own
    return merged


NOTES = (*TABLES, "meter", "length")
"""Keys of a section that write notes, which one that takes a pattern does not."""


def _block(said: dict[str, Any]) -> WrittenSection:
    bars = said.get("bars") or {}
    rows, followers = _rows(said.get("feet") or {}, "feet")
    more_rows, more_followers = _rows(bars, "bars")
    block = WrittenSection(
        title=said.get("title", ""),
        meters=said.get("meter", (Meter(),)),
        length=said.get("length"),
        times=said.get("times", 1),
        rows=(*rows, *more_rows),
        followers=(*followers, *more_followers),
        row_sticking=bars.get("sticking", ()),
        row_value=bars.get("value", SIXTEENTH),
        row_way=bars.get("hands", ""),
        swing=said.get("swing"),
        tempo=said.get("tempo"),
        dynamics=said.get("dynamics", ()),
        taken=said.get("taken"),
    )
    hands = said.get("hands")
    return block if hands is None else _with_hands(block, hands)


def _with_hands(block: WrittenSection, hands: dict[str, Any]) -> WrittenSection:
    """Return a section with its line of the hands, or with the lead of its grid where none is."""
    lead = hands.get("lead", "right")
    grid = any(not VOICES[row.spot.voice].foot for row in block.rows)
    if (block.rows or block.followers) and not _LINE & hands.keys():
        aimless = hands.keys() - ({"lead"} if grid else set())
        return replace(block, lead=lead, aimless=tuple(sorted(aimless)))
    line = _hands(hands)
    if lead == "both" and line.is_figure() and not grid:
        lead, line = "right", line.led_by_both()
    return replace(block, hands=line, lead=lead, assumed=_assumed(hands))


def _hands(said: dict[str, Any]) -> Hands:
    values = said.get("value", said.get("rhythm", (SIXTEENTH,)))
    if said.get("back"):
        values = (*values, *values[-2::-1])
    rest = {
        _HANDS.get(key, key): value
        for key, value in said.items()
        if key not in ("value", "rhythm", "back", "lead", "accents", "shift_accents")
    }
    hands = Hands(values=values, climb="rhythm" not in said and len(values) > 1, **rest)
    if "accents" in said:
        hands = hands.with_accents(said["accents"])
    return hands.with_accents_moved(said.get("shift_accents", 0))


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
