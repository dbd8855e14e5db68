"""The pattern language: what a pattern file may say, and its reading into a Pattern.

A pattern file is TOML. It writes for the hands, for the feet, as a grid, or all of them together:

    # every order of three drums, each twice: 12 bars
    title = "Singles around three drums"
    meter = "3/4"

    [hands]
    sticking = "R L R L"
    value = "16"
    path = "snare x4, tom1 x4, floor x4"
    orders = "all"
    each = 2

    [feet]
    ostinato = "offbeats"

HEADING, all optional: title, about (a sentence), tags (a list of words), level (1 to 5), tempo
(20 to 400 BPM), tempo_unit (the note value BPM counts; "4" unless you say, "4." in 6/8).

SECTION: what stands at the top of the file, or in each [[section]]; a section takes over from the
top what it does not say itself, and `hands`, `feet` or `bars` = "none" drops them. Its tables are
written [section.hands] below it, or in one line: hands = { sticking = "R L", value = "8" }.
  meter    "4/4" unless you say; a list goes round bar by bar: ["4/4", "7/8"]
  length   how many bars; else as many as it takes until all comes round together
  times    repeats of the section
  title    a section's own name

    # two sections, the second in another meter
    hands = "RLRR LRLL"

    [[section]]
    title = "plain"
    times = 2

    [[section]]
    title = "in seven"
    meter = "7/8"
    hands = "RLRR LRLL RLRLRL"
    feet = { kick = "x------", value = "8" }

[hands]
  sticking  one letter a step: R, L, B (both hands), K (kick), H (hi-hat pedal), - (rest).
            > before a stroke accents it, brackets make it a ghost, a small letter before it is a
            grace note: >R  (L)  (R L)  lR flam  llR drag. Blanks, commas and bar lines | are for
            the eye. x4 repeats the stroke or word before it: R x4, RLRR x2; repeat bars a group:
            |: R L R R :| x2 (twice where no number is written). Without a sticking the hands
            strictly alternate.
  lead      "right"; "left" exchanges the hands, also those of a grid; "both" is the right hand's
            lead, then the left's: of each sticking, or of the whole section (twice as many bars)
            where the sticking alternates already (R L, a paradiddle), in a climb and on a grid
  value     1 2 4 8 16 32 64, with . dotted, t triplet, q quintuplet (5 in 4), s septuplet (7 in 4);
            sextuplets are 16t, six a quarter. Several make a climb, one a bar: "8 8t 16 16t 32"
  back      true: the climb comes down again
  rhythm    instead of value: the value of each step, going round: "16 x4, 4"
  path      the drum of each stroke, with repeats as in a sticking: "snare x4, tom1 x4",
            "floor/rim, |: ride snare :| x2". A rest or a foot takes none. "hihat+snare": the right
            hand on the first, the left on the second
  per       "stroke", or one stop of the path for each "beat" (of the meter's lower number) or "bar"
  orders    "all" plays every order of the path's parts: what is between commas, or without any
            comma each drum or group; a number plays that many of them, drawn by seed
  seed      which draw: the same seed always gives the same orders
  each      how often each order is played before the next
  shift     moves the whole figure later by so many steps; what falls off comes first
  shift_accents
            moves accents and ghosts alone so many strokes later: the hands and the drums stay

    # accents, ghosts, flams, drags and both hands, left lead after right, an eighth late
    [hands]
    sticking = "|: >R L (R L) :| x2, lR L llR B"
    value = "8"
    path = "snare/rim, snare x3, hihat+floor x8"
    lead = "both"
    shift = 1

    # a climb there and back, one drum a beat
    [hands]
    value = "4 8 8t 16 16q 16t 16s 32"
    back = true
    path = "snare tom1 tom2 floor"
    per = "beat"

    # five stroke rolls over a path of three parts, five of its orders
    [hands]
    sticking = "R R L L >R L L R R >L"
    rhythm = "16 x4, 4"
    path = "snare tom1, tom2 x2, floor"
    orders = 5
    seed = 7

A sticking of more than two steps, or a grid, has to fill its bars. With a length it runs over the
bar lines instead (under orders it does so by itself):

    # three against four
    length = 3
    hands = "R L L"
    feet = "quarters"

[feet]
  ostinato  a named one, from the list at the end; feet = "samba" is short for it
  kick, kick2, pedal
            a grid of steps, or "same as" a voice, hands, right hand, left hand or accents
  value     the step of the grids, 16 unless you say; for an ostinato its own unless you say

    # the kick goes along with the accents
    hands = { sticking = ">R L R >L R L >R L", path = "snare x7, tom1" }

    [feet]
    kick = "same as accents"
    pedal = "-x"
    value = "8"

[bars]: a grid for each voice, as tab is written. The key is a voice or "voice/zone".
  x o stroke   X O accent   g ghost   f flam   d drag   F D with accent   R L that hand   - . rest
  hihat o open; ride b bell; snare @ rim, w cross-stick. A | may be written between two bars.
  value     the step, 16 unless you say
  sticking  hands below the steps: R, L, B (the upper voice takes the right hand), - none. Without
            it the hands strictly alternate.

    # a groove
    [bars]
    value = "8"
    sticking = "RRBR RRBR"
    hihat = "xxxx xxxo"
    snare = "--X- -gX-"
    "tom1/rim" = "-----x--"
    kick = "x--- xx--"

Voices: crash crash2 china splash ride ride2 hihat cowbell tambourine tom0 tom1 tom2 tom3 snare
floor floor2, by foot kick kick2 pedal.

Ostinatos: samba bossa tumbao tresillo songo baiao quarters four half-time offbeats pedal-quarters
pedal-2-4 waltz son-clave-3-2 son-clave-2-3 rumba-clave-3-2 double-kick.

A name with changes after it is a pattern too, wherever a pattern is asked for:
  trainer patterns show 'single-paradiddle path="snare x4, tom1 x4" feet=samba'
"""

from __future__ import annotations

import difflib
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from trainer import checked
from trainer.checked import FaultList, nearest, read_fields, shown
from trainer.errors import BadInput
from trainer.kit.voices import VOICES
from trainer.pattern.language import section_length, spelling
from trainer.pattern.language import sections as checks
from trainer.pattern.language.hands import Hands
from trainer.pattern.language.layout import LaidSection, lay_out, repeated
from trainer.pattern.language.rows import OSTINATOS, check_leader
from trainer.pattern.language.sections import TABLES, read_text, written_sections
from trainer.pattern.model import MAX_BARS, MAX_STROKES, Pattern

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

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
}
FIELDS = {"hands": HANDS_FIELDS, "feet": FEET_FIELDS, "bars": BARS_FIELDS}
SECTION_FIELDS: dict[str, Callable[[Any], Any]] = {
    "title": checked.text,
    "meter": checks.read_meters,
    "length": checked.whole(1, MAX_BARS),
    "times": checked.whole(1, 10_000),
}
TOP_FIELDS: dict[str, Callable[[Any], Any]] = {
    **SECTION_FIELDS,
    "about": checked.text,
    "tags": checks.read_tags,
    "level": checked.whole(1, 5),
    "tempo": checks.read_tempo,
    "tempo_unit": checks.read_tempo_unit,
}


def read(table: Mapping[str, Any], name: str, source: str = "") -> Pattern:
    """Return the pattern a parsed file writes; `source` is its text, for the lines of faults.

    Raises BadInput for one fault and Faults for several, each with the keys it stands under.
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
    found = written_sections(top, sections)
    for number, block in enumerate(found):
        for fault in section_length.length_faults(block):
            _place(fault, faults, number if sections else None)
    faults.show()
    laid = _lay_out(found, faults, bool(sections))
    if not any(part.notes for part in laid):
        faults.add(BadInput("no stroke is written", fix="write [hands], [feet] or [bars]"), ())
    faults.show()
    return _pattern(top, name, laid)


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
        # Whether anything fills the bar cannot be told.
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
    unread = set(value) - set(found) if isinstance(value, dict) else {"value"}
    if name == "hands" and "path" in unread:
        # The rest is still checked as what it is: a line of the hands.
        found["path"] = Hands().path
    if any(difflib.get_close_matches(key, _DECISIVE[name], 1) for key in unread):
        # Whether it fills the bar cannot be told.
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


def _lay_out(blocks: list[WrittenSection], faults: FaultList, listed: bool) -> list[LaidSection]:
    """Return all sections laid out one after the other."""
    done: list[LaidSection] = []
    start, bars, strokes = Fraction(0), 0, 0
    for number, block in enumerate(blocks):
        try:
            laid = lay_out(block)
            strokes += len(laid.notes) * block.times
            if strokes > MAX_STROKES or bars > MAX_BARS:
                raise BadInput(
                    f"the sections up to here make {strokes} strokes and {bars} bars, "
                    f"more than {MAX_STROKES} or {MAX_BARS}",
                    where="times",
                    fix="repeat them fewer times",
                )
        except BadInput as fault:
            _place(fault, faults, number if listed else None)
            break
        done.append(repeated(laid, block.times, start, bars))
        start = done[-1].bars[-1].end
        bars += len(done[-1].bars)
    return done


def _place(fault: BadInput, faults: FaultList, section: int | None) -> None:
    """Add a fault of composing, whose `where` is a key of the section, to the list."""
    keys = tuple((fault.where or "").split(".", 1)) if fault.where else ()
    fault.where = None
    own: tuple[str | int, ...] = () if section is None else ("section", section)
    faults.add(fault, (*own, *keys))


def _pattern(top: dict[str, Any], name: str, parts: Sequence[LaidSection]) -> Pattern:
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
        tempo=top.get("tempo", 60.0),
        tempo_unit=top.get("tempo_unit", Fraction(1)),
        assumed=tuple(dict.fromkeys(word for part in parts for word in part.assumed)),
    )
