"""Patterns in words: preview, choices for each field, a try, and ways through the patterns.

The preview is the description and the first bars as tab. Choices are what may be picked for each
field, with words beside it; anything else can be typed. They are the most usual ones (our own
choice); note values and ostinatos are complete. The try takes a moment and loads NumPy only then.
"""

from __future__ import annotations

from shlex import quote
from textwrap import wrap
from typing import TYPE_CHECKING

from trainer.kit.voices import CHOKE, VOICES
from trainer.pattern import description
from trainer.pattern.description import value_words
from trainer.pattern.formats import tab
from trainer.pattern.formats.assumptions import NAME_PADS, NOTES_LEFT_OUT
from trainer.pattern.language.rows import LEADERS, OSTINATOS
from trainer.pattern.model import USUAL_VALUES
from trainer.show.number_words import count_text
from trainer.show.reading_differences import fitted_lines

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from fractions import Fraction

    from trainer.actions.patterns import CheckedPattern, ExportedPattern
    from trainer.actions.recognise import Recognised
    from trainer.actions.ways import StepState, WayState
    from trainer.pattern.model import Pattern


COLUMNS, INDENT = 79, "      "

FieldChoice = tuple[str, str]
"""What is written, and its meaning."""

_VALUES = tuple((name, value_words(name)) for name in USUAL_VALUES)
_CLIMBS = (
    ("4 8t 16q 16s", "one, three, five, seven strokes a beat"),
    ("8 8t 16 16q", "two to five strokes a beat"),
    ("16 16q 16t 16s 32", "four to eight strokes a beat"),
)
_GRIDS = tuple((f"same as {leader}", f"together with the {leader}") for leader in LEADERS)

FIELD_CHOICES: dict[str, tuple[FieldChoice, ...]] = {
    "sticking": (
        ("R L", "single strokes"),
        ("R R L L", "double strokes"),
        ("R L R R L R L L", "single paradiddle"),
        ("R L R L R R L R L R L L", "double paradiddle"),
        ("R L R R L L R L R R L L", "paradiddle-diddle"),
        (">R L L >R L L R L", "three, three, two"),
        (">R L R >L R L", "accents by threes"),
        ("lR rL", "flams"),
        ("llR rrL", "drags"),
        ("R L K", "hands and kick, by threes"),
        ("R L R K", "hands and kick, by fours"),
        ("B", "both hands together"),
    ),
    "value": (*_CLIMBS, *_VALUES),
    "back": (("true", "the climb comes down again"),),
    "rhythm": (
        ("16 x4, 4", "four sixteenths, a quarter"),
        ("8, 16 x2", "an eighth, two sixteenths"),
    ),
    "path": (
        ("snare", "one drum"),
        ("snare x5, floor x3", "five strokes on the snare, three on the floor tom"),
        ("ride x2, tom1 x3, snare x4, floor x5", "two to five on each of four drums"),
        ("snare tom1 tom2 ride floor", "one stroke on each of five drums"),
        ("hihat x3, snare", "hi-hat and snare"),
        ("ride x4, snare x4", "ride and snare"),
        ("hihat+snare", "right hand on the hi-hat, left on the snare"),
        ("snare floor", "snare and floor tom"),
    ),
    "per": (
        ("stroke", "next drum on each stroke"),
        ("beat", "next drum on each beat"),
        ("bar", "next drum on each bar"),
    ),
    "orders": (
        ("all", "every order of the path's parts"),
        ("4", "four orders, in random order by seed"),
    ),
    "lead": (
        ("right", "as written"),
        ("left", "hands exchanged"),
        ("both", "the right hand's lead, then the left's"),
    ),
    "feet": tuple((one.name, one.title) for one in OSTINATOS.values()),
    "feet-value": _VALUES,
    "kick": (("x---", "the first of four steps"), *_GRIDS),
    "kick2": (("--x-", "the third of four steps"), *_GRIDS),
    "pedal": (("--x-", "the third of four steps"), *_GRIDS),
    "meter": (
        *((f"{beats}/4", "") for beats in (4, 3, 2, 5, 7)),
        *((f"{beats}/8", "") for beats in (3, 5, 6, 7, 9, 12)),
        ("4/4 3/4", "in turn"),
        ("4/4 7/8", "in turn"),
    ),
    "level": tuple((str(level), "") for level in range(1, 6)),
    "tempo-unit": _VALUES,
}


MOST_BARS = 64
"""Bars that are drawn; a pattern of thousands would only make the player wait."""


def pattern_lines(pattern: Pattern, width: int, *, heading: bool = True) -> list[str]:
    """Return the words and the tab of a pattern for a window `width` characters wide.

    Without the heading, title and description are left out.
    """
    lines = [*description.description_lines(pattern, brief=True)][
        0 if heading else 1 + bool(pattern.about) :
    ]
    words = [part for line in lines for part in wrapped_line(line, width)]
    lines = [*words, "", *tab.to_tab(pattern, width, MOST_BARS)]
    left = len(pattern.bars) - MOST_BARS
    return [*lines, "", f"and {count_text(left, 'more bar')}"] if left > 0 else lines


def unreadable_lines(title: str, fault: str, width: int) -> list[str]:
    """Return what is shown for a pattern that cannot be read."""
    words = [part for line in fault.splitlines() for part in wrapped_line(line, width)]
    return [title, "", "This file cannot be read:", *words]


def wrapped_line(line: str, width: int) -> list[str]:
    """Return a line of words as several of at most a width, all but the first set in."""
    return wrap(line, max(20, width), subsequent_indent="  ") or [""]


def trial_lines(pattern: Pattern) -> list[str]:
    """Return the words on half a minute of the simulated player; takes a moment."""
    from trainer.measure import reading
    from trainer.measure.clean import DEFAULT_TOLERANCE, clean_verdict
    from trainer.midi.simulated_player import simulated_take
    from trainer.show import reading_words

    judged = simulated_take(pattern)
    found = clean_verdict(judged)
    return [
        *(
            [f"Clean at level {DEFAULT_TOLERANCE.level}."]
            if found.clean
            else fitted_lines(f"Not clean at level {DEFAULT_TOLERANCE.level}", found.reasons())
        ),
        *reading_words.reading_lines(reading.read_take(judged).to_dict()),
        "The player is simulated: its faults are nobody's.",
    ]


def checked_lines(one: CheckedPattern) -> Iterator[str]:
    """Give a file that was checked: that it has no faults, what was assumed, and warnings."""
    if one.pattern:
        yield f"{one.name}: no faults, {description.size_words(one.pattern)}"
        for assumed in one.pattern.assumed:
            yield from wrapped_line(f"{one.name}: assumed: {assumed}", COLUMNS)
        for warning in description.demand(one.pattern).warnings:
            yield f"{one.name}: warning: {warning}"


def loss_words(one: ExportedPattern) -> str:
    """Return what an export could not carry, empty where it carries all."""
    if one.unread:
        return f"What the file may have lost is not known. {one.unread}"
    return f"{one.format} cannot carry {_listed(one.losses)}." if one.losses else ""


def _listed(words: Sequence[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def way_line(one: WayState, named: Callable[[str], str] = str) -> str:
    """Return where the player is on a way: the step to practise, or its end.

    `named` says what a pattern is called; commands take the name as it is.
    """
    count = len(one.way.steps)
    if one.here is None:
        return f"{one.way.title}: all {count} steps are clean"
    step, place = one.here.step, (one.place or 0) + 1
    return f"{one.way.title}: step {place} of {count}, {named(step.pattern)} at {step.tempo:g} BPM"


def way_lines(
    one: WayState, rates: Sequence[float | None], named: Callable[[str], str] = str
) -> Iterator[str]:
    """Give a way step by step; `rates` are the strokes a second of each at its tempo."""
    yield one.way.title
    yield from wrap(one.way.about, COLUMNS)
    yield "Clean means clean at solid or tight."
    for place, (state, rate) in enumerate(zip(one.steps, rates, strict=True)):
        yield ""
        yield f"{'>' if place == one.place else ' '} {place + 1:>2}. {named(state.step.pattern)}"
        yield from wrap(state.step.why, COLUMNS, initial_indent=INDENT, subsequent_indent=INDENT)
        speed = f", {rate:.1f} strokes a second" if rate else ""
        yield f"{INDENT}clean at {state.step.tempo:g} BPM{speed}: {_so_far(state)}"
        if state.step.back and not state.passed and not (place == one.place and state.stuck):
            yield f"{INDENT}if it does not get there: {named(state.step.back)}"
        if place == one.place and state.stuck and state.step.back:
            yield f"{INDENT}no faster lately: go back to {named(state.step.back)} for a while"


def _so_far(state: StepState) -> str:
    if state.passed:
        return f"done, {state.clean:g} BPM so far"
    if state.clean:
        return f"{state.clean:g} BPM so far"
    return "not clean yet" if state.sessions else "not played yet"


SKETCH_COLUMNS = 72


def sketch_line(pattern: Pattern) -> str:
    """Return the drums of the first bar in one line, beat by beat: "SN SN FT FT · FT FT SN SN".

    Drums are named as in tab; those of one moment are joined by +, feet alone are left out where
    hands play.
    """
    end = pattern.bars[0].start + pattern.bars[0].meter.length
    inside = [note for note in pattern.notes if note.beat < end and not note.grace]
    hands = [note for note in inside if not VOICES[note.voice].foot]
    moments: dict[Fraction, list[str]] = {}
    for note in sorted(hands or inside, key=lambda one: one.beat):
        moments.setdefault(note.beat, []).append(VOICES[note.voice].tab)
    words: list[str] = []
    beat = 0
    for at, drums in moments.items():
        words += ["·"] * (int(at) > beat and bool(words))
        beat = int(at)
        words.append("+".join(drums))
    line = " ".join(words)
    return (
        line if len(line) <= SKETCH_COLUMNS else line[: SKETCH_COLUMNS - 2].rsplit(" ", 1)[0] + " …"
    )


def missing_drum_lines(pattern: Pattern, instead: Mapping[str, str]) -> Iterator[str]:
    """Say which notes and drums of a pattern the kit lacks, and what is played in their place.

    And that it sends no choke: `instead` is that of `trainer.pattern.smaller_kit`.
    """
    for text in pattern.assumed:
        if text.startswith(NOTES_LEFT_OUT):
            notes = text.removeprefix(NOTES_LEFT_OUT)
            yield f"The pattern has notes that your kit lacks: {notes}."
            yield f"They are left out: {NAME_PADS}."
    for missing, voice in instead.items():
        if missing == CHOKE:
            yield "Your kit sends no choke: play it, it is not judged."
            continue
        lacks, plays = (VOICES[name].title for name in (missing, voice))
        yield f"Your kit has no {lacks}: play the {plays} instead."


MOST_GUESSES = 5


def recognised_lines(one: Recognised) -> Iterator[str]:
    """Give the patterns that a take fits, the best one first, and what sounds alike."""
    if one.short:
        yield f"{one.take.name}: too few strokes to know the pattern. Name it with --pattern."
        return
    if not one.guesses:
        yield f"{one.take.name}: none of {one.tried} patterns fits. Name one with --pattern."
        return
    first = one.guesses[0]
    yield f"{one.take.name}: most like {first.names[0]} at {first.tempo:.0f} BPM"
    for guess in one.guesses[:MOST_GUESSES]:
        yield from _under(f"  {guess.agree:4.0%} ", f"{guess.names[0]}: {guess.titles[0]}")
        if others := guess.names[1:]:
            more = f" and {len(others) - 3} more" if len(others) > 3 else ""
            yield from _under("       ", f"sounds like {', '.join(others[:3])}{more}")
    if not one.sure:
        yield "The first ones fit equally well: choose the one that was played."
    if any(len(guess.names) > 1 for guess in one.guesses[:1]):
        yield "Hands cannot be heard: these differ only by sticking, accents or tempo."
    yield f'Check it: trainer assess {quote(str(one.path))} --pattern "{first.names[0]}"'


def _under(head: str, words: str) -> list[str]:
    """Return words behind a head, broken so that they stay right of it."""
    return wrap(words, COLUMNS, initial_indent=head, subsequent_indent=" " * len(head))
