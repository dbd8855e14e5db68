"""A pattern file's table, read into a Pattern.

What a file may say is in `trainer.pattern.language.reference`: a new key is a row in one of the
tables of fields here, and a line there. All faults of a file are reported at once.
"""

from __future__ import annotations

import difflib
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from trainer import checked
from trainer.checked import FaultList, nearest, read_fields, shown
from trainer.errors import BadInput
from trainer.kit.voices import VOICES
from trainer.pattern.language import feel, section_length, spelling
from trainer.pattern.language import sections as checks
from trainer.pattern.language.feel import SectionTempo
from trainer.pattern.language.hands import Hands
from trainer.pattern.language.layout import LaidSection, lay_out, repeated
from trainer.pattern.language.rows import OSTINATOS, WAYS, check_leader
from trainer.pattern.language.sections import NOTES, TABLES, read_text, written_sections
from trainer.pattern.model import MAX_BARS, MAX_STROKES, Level, Pattern

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from trainer.pattern.language.feel import WrittenTempo
    from trainer.pattern.language.section_length import WrittenSection

MAX_SECTIONS = 500
FEET_VOICES = tuple(voice.name for voice in VOICES.values() if voice.foot)


def _ostinato(value: Any) -> str:
    if not isinstance(value, str) or value not in OSTINATOS:
        raise BadInput(
            f'there is no ostinato "{shown(value)}"', fix=nearest(shown(value), OSTINATOS)
        )
    return value


def _row(voice: str) -> Callable[[Any], Any]:
    """Return a reader of one voice's line: a grid, or `same as` a leader."""

    def line(text: str) -> Any:
        if text.startswith("same as "):
            return check_leader(text.removeprefix("same as ").strip())
        return spelling.grid(text, voice)

    return read_text(line)


def _voice_row(key: str) -> Callable[[Any], Any] | None:
    """Return a reader for a key of [bars], which is a voice with or without a zone."""
    if key.partition("/")[0] not in VOICES and ":" not in key:
        return None
    spot = spelling.spot(key)
    return _row(spot.voice)


HANDS_FIELDS: dict[str, Callable[[Any], Any]] = {
    "sticking": read_text(spelling.sticking),
    "value": read_text(spelling.values),
    "rhythm": read_text(spelling.values),
    "back": checked.flag,
    "path": read_text(spelling.path),
    "per": checked.choice("stroke", "beat", "bar"),
    "orders": checks.read_order_count,
    "each": checked.whole(1, 1000),
    "seed": checked.whole(0, 2**53),
    "accents": read_text(spelling.accents),
    "lead": checked.choice("right", "left", "both"),
    "shift": checked.whole(-MAX_STROKES, MAX_STROKES),
    "shift_accents": checked.whole(-MAX_STROKES, MAX_STROKES),
}
FEET_FIELDS: dict[str, Callable[[Any], Any]] = {
    "ostinato": _ostinato,
    "value": read_text(spelling.value),
    **{voice: _row(voice) for voice in FEET_VOICES},
}
BARS_FIELDS: dict[str, Callable[[Any], Any]] = {
    "value": read_text(spelling.value),
    "sticking": read_text(spelling.row_hands),
    "hands": checked.choice(*WAYS),
}
FIELDS = {"hands": HANDS_FIELDS, "feet": FEET_FIELDS, "bars": BARS_FIELDS}
SECTION_FIELDS: dict[str, Callable[[Any], Any]] = {
    "title": checked.text,
    "meter": checks.read_meters,
    "length": checked.whole(1, MAX_BARS),
    "times": checked.whole(1, 10_000),
    "swing": feel.read_swing,
    "tempo": feel.read_tempo,
    "dynamics": feel.read_dynamics,
    "pattern": checked.text,
}
TOP_FIELDS: dict[str, Callable[[Any], Any]] = {
    **SECTION_FIELDS,
    "about": checked.text,
    "tags": checks.read_tags,
    "level": checked.whole(1, 5),
    "tempo_unit": checks.read_tempo_unit,
    "phrase": checks.read_phrase_text,
}

Path = tuple[str | int, ...]
"""The keys under which something is written."""


def _no_pattern(name: str) -> Pattern:
    raise BadInput("no other pattern can be taken here", fix="write the notes out")


def read(
    table: Mapping[str, Any],
    name: str,
    source: str = "",
    load: Callable[[str], Pattern] = _no_pattern,
) -> Pattern:
    """Return the pattern a parsed file writes; `source` is its text, for the lines of faults.

    `load` returns the patterns that it takes in, by their names with changes.
    Raises BadInput for one fault and Faults for several, each with its keys.
    """
    faults = FaultList(source)
    top = _section(table, faults, (), TOP_FIELDS)
    listed = table.get("section", [])
    if not isinstance(listed, list):
        faults.add(BadInput("is not a list of tables", fix="write [[section]]"), ("section",))
        listed = []
    if len(listed) > MAX_SECTIONS:
        what = f"the file has {len(listed)} sections, more than {MAX_SECTIONS}"
        raise BadInput(what, fix="write repeats with times")
    if listed and "times" in top:
        fault = BadInput("the file has sections", fix="write times in each section")
        faults.add(fault, ("times",))
    sections = [
        _section(one, faults, ("section", number), SECTION_FIELDS)
        for number, one in enumerate(listed)
    ]
    paths: list[Path] = [("section", number) for number in range(len(sections))]
    if "phrase" in top:
        sections = _phrase(top, bool(listed), faults)
        paths = [("phrase",)] * len(sections)
    if not _take_patterns([*zip(sections, paths, strict=True), (top, ())], faults, load):
        faults.show()
    found = written_sections(top, sections)
    paths = paths or [()]
    for block, path in zip(found, paths, strict=True):
        for fault in section_length.length_faults(block):
            _place(fault, faults, path)
    tempos = _tempos(top, found, faults, paths)
    _check_size(found, faults, paths)
    faults.show()
    laid = _lay_out(found, faults, paths)
    if not len(faults) and not any(part.notes for part in laid):
        faults.add(BadInput("no stroke is written", fix="write [hands], [feet] or [bars]"), ())
    faults.show()
    return _pattern(top, name, laid, tempos)


def _phrase(top: dict[str, Any], listed: bool, faults: FaultList) -> list[dict[str, Any]]:
    """Return the sections that a phrase means."""
    others = [key for key in (*NOTES, "pattern", "times") if key in top]
    if others or listed:
        what = f"a phrase is all that is played, and there is {(*others, 'section')[0]} too"
        faults.add(BadInput(what, fix="keep one of the two"), ("phrase",))
    return [{"pattern": part.name, "times": part.times} for part in top["phrase"]]


def _take_patterns(
    sections: list[tuple[dict[str, Any], Path]], faults: FaultList, load: Callable[[str], Pattern]
) -> bool:
    """Add to each section the pattern it takes in, or say why it cannot; return whether all can."""
    before = len(faults)
    for said, path in sections:
        if "pattern" not in said:
            continue
        place = path if path == ("phrase",) else (*path, "pattern")
        others = [key for key in NOTES if key in said]
        if others:
            what = f"a section that takes a pattern writes no {others[0]}"
            faults.add(BadInput(what, fix="keep one of the two"), place)
            continue
        try:
            said["taken"] = load(said["pattern"])
        except BadInput as fault:
            faults.add(fault, place)
    return len(faults) == before


def _section(
    table: Any, faults: FaultList, path: tuple[str | int, ...], fields: Mapping[str, Any]
) -> dict[str, Any]:
    """Return one section's values; the tables of hands, feet and bars become dicts of their own."""
    if not isinstance(table, dict):
        faults.add(BadInput("is not a table", fix="write [[section]]"), path)
        return {}
    tables = (*TABLES, "section") if not path else TABLES
    found = read_fields(table, {**fields, **dict.fromkeys(tables, _as_it_is)}, faults, path)
    for name in TABLES:
        if name in found:
            found[name] = _table(name, found[name], faults, (*path, name))
    found.pop("section", None)
    if {"meter", "length"} & (set(table) - set(found)):
        # Whether anything fills the bar cannot be known.
        found = {key: value for key, value in found.items() if key not in TABLES}
    return found


def _table(
    name: str, value: Any, faults: FaultList, path: tuple[str | int, ...]
) -> dict[str, Any] | None:
    """Return what the table of hands, feet or bars says; None for "none"."""
    if value == "none":
        return None
    if isinstance(value, str) and name in _SHORT:
        value = {_SHORT[name]: value}
    if name == "bars":
        found = read_fields(value, BARS_FIELDS, faults, path, _voice_row, VOICES)
    else:
        found = read_fields(value, FIELDS[name], faults, path)
    if "value" in found and "rhythm" in found:
        fault = BadInput("value and rhythm exclude each other", fix="keep one of the two")
        faults.add(fault, (*path, "rhythm"))
    if "accents" in found and any(one.level != Level.NORMAL for one in found.get("sticking", ())):
        fault = BadInput(
            "the sticking has accents or ghosts of its own", fix="write them in one of the two"
        )
        faults.add(fault, (*path, "accents"))
    unread = set(value) - set(found) if isinstance(value, dict) else {"value"}
    if name == "hands" and "path" in unread:
        # The rest is still checked as what it is: a line of the hands.
        found["path"] = Hands().path
    if any(difflib.get_close_matches(key, _DECISIVE[name], 1) for key in unread):
        # Whether it fills the bar cannot be known.
        return None
    return found


_DECISIVE = {
    "hands": ("sticking", "value", "rhythm", "back", "lead"),
    "feet": ("value",),
    "bars": ("value",),
}
"""The keys that decide how long a table's line is."""

_SHORT = {"hands": "sticking", "feet": "ostinato"}
"""What a table means that is written as a plain text."""


def _as_it_is(value: Any) -> Any:
    return value


def _tempos(
    said: dict[str, Any], blocks: list[WrittenSection], faults: FaultList, paths: list[Path]
) -> list[SectionTempo]:
    """Return the tempo of the top of a file with sections, then of each section.

    Without sections the file's only one has what is written at its top. A tempo holds until
    another is written; where none is, it is the slowest of the patterns that are taken in.
    """
    top: WrittenTempo | None = said.get("tempo") if paths != [()] else None
    unit = said.get("tempo_unit", Fraction(1))
    slowest = min(
        (one.taken.tempo * float(one.taken.tempo_unit / unit) for one in blocks if one.taken),
        default=feel.DEFAULT_TEMPO,
    )
    if top and (top.bpm is None or top.to is not None):
        fault = BadInput("a file with sections begins at one tempo", fix="write tempo = 80")
        faults.add(fault, ("tempo",))
        return []
    before = top.bpm if top else None
    found = [SectionTempo(before)] if before else []
    for block, path in zip(blocks, paths, strict=True):
        try:
            found.append(feel.planned_tempo(block.tempo, before, slowest))
        except BadInput as fault:
            _place(fault, faults, path)
            return []
        before = found[-1].to or found[-1].start
    return found if len(found) > len(blocks) else [SectionTempo(found[0].start), *found]


def _check_size(blocks: list[WrittenSection], faults: FaultList, paths: list[Path]) -> None:
    """Refuse sections that together are too many bars or strokes, before any is laid out."""
    bars = strokes = 0
    for block, path in zip(blocks if not len(faults) else (), paths, strict=False):
        bars += section_length.bar_count(block)
        strokes += section_length.stroke_count(block)
        if strokes > MAX_STROKES or bars > MAX_BARS:
            fault = BadInput(
                f"the sections up to here make {strokes} strokes and {bars} bars, "
                f"more than {MAX_STROKES} or {MAX_BARS}",
                where="times",
                fix="repeat them fewer times",
            )
            _place(fault, faults, path)
            return


def _lay_out(
    blocks: list[WrittenSection], faults: FaultList, paths: list[Path]
) -> list[LaidSection]:
    """Return all sections laid out one after the other."""
    done: list[LaidSection] = []
    start, bars = Fraction(0), 0
    for block, path in zip(blocks, paths, strict=True):
        try:
            laid = lay_out(block)
        except BadInput as fault:
            _place(fault, faults, path)
            break
        done.append(repeated(laid, block.times, start, bars))
        start = done[-1].bars[-1].end
        bars += len(done[-1].bars)
    return done


def _place(fault: BadInput, faults: FaultList, path: Path) -> None:
    """Add a fault of composing, whose `where` is a key of the section under a path, to the list."""
    keys = tuple((fault.where or "").split(".", 1)) if fault.where else ()
    fault.where = None
    faults.add(fault, path if path == ("phrase",) else (*path, *keys))


def _pattern(
    top: dict[str, Any], name: str, parts: Sequence[LaidSection], tempos: Sequence[SectionTempo]
) -> Pattern:
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
        level=top.get("level"),
        tempo=tempos[0].start,
        tempo_unit=top.get("tempo_unit", Fraction(1)),
        assumed=tuple(dict.fromkeys(word for part in parts for word in part.assumed)),
        swing=feel.joined(swing for part in parts for swing in part.swing),
        tempo_changes=feel.tempo_changes(
            tempos, [(part.bars, part.tempo_changes) for part in parts]
        ),
        dynamics=feel.without_repeats(mark for part in parts for mark in part.dynamics),
    )
