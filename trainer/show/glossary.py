"""The glossary: the words of a printed summary, each explained, and what counts as clean.

Each word also names the numbers it is computed from, as keys of `trainer.show.reading_keys`; a test
fails when a line of the text begins with a word that is missing here.
"""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING, NamedTuple

from trainer.errors import BadInput
from trainer.show.reading_keys import KEY_EXPLANATIONS, key_explanation

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from trainer.measure.clean import Tolerance

YOURS = "yours"
"""The name of the level that the settings change."""


class GlossaryEntry(NamedTuple):
    """What a printed word means, and the keys (or parts of keys) of its numbers."""

    sentence: str
    keys: tuple[str, ...] = ()


GLOSSARY: dict[str, GlossaryEntry] = {
    "sure": GlossaryEntry(
        "How far the pattern that was laid on a take can be believed. The first share is twice the"
        " pairs of note and stroke over all notes and strokes from the first note to the last. The"
        " second one is the fit: how many strokes agree on when a pass begins, on a scale where 0"
        " % is what strokes thrown at random would reach and 100 % a take just like the pattern. A"
        " low fit beside a high first share means that the strokes are all there, but keep no"
        " steady time."
    ),
    "tempo": GlossaryEntry(
        "The tempo that a take is judged by: as asked for, as the file says where the strokes keep"
        " to it, else as played.",
        ("tempo_low", "tempo_high"),
    ),
    "no steady tempo": GlossaryEntry(
        "The strokes leave any one tempo by more than 100 ms, which nobody does who hears a click."
        " The tempo is then followed, a few bars at a time, and offsets are told against that: they"
        " say nothing about how the tempo moves."
    ),
    "break": GlossaryEntry(
        "The count is broken off and taken up later, or at another place of the pattern, as where a"
        " recording was stopped or cut. What lies between is not asked for."
    ),
    "start": GlossaryEntry("When the first beat of the first pass falls, in seconds of the file."),
    "time": GlossaryEntry(
        "How early or late strokes land on average, and how much that varies; a line below has it"
        " by limb.",
        ("offset.mean", "offset.spread", "offset.by_limb"),
    ),
    "spread": GlossaryEntry(
        "How much something varies from stroke to stroke: its standard deviation. About two thirds"
        " of the strokes lie within one spread of the average.",
        ("offset.spread",),
    ),
    "inside a pass": GlossaryEntry(
        "Whether the time creeps away as a pass goes on.", ("offset.drift",)
    ),
    "unisons": GlossaryEntry(
        "Strokes of two limbs meant to land together: how far apart they land, who is first, and"
        " how many are heard as two strokes.",
        ("unisons.by_kind",),
    ),
    "flam": GlossaryEntry(
        "A unison so far apart that two strokes are heard.", ("unisons.by_kind.*.flams",)
    ),
    "move": GlossaryEntry(
        "A hand's way from one drum to another, where it lands later, earlier or wider, or goes"
        " wrong more often, than the same hand does when it stays on a drum. It is told only where"
        " that is more than chance makes of all that was looked at (Holm 1979); in brackets the"
        " range the true figure lies in 19 times out of 20, and from how many moves it is.",
        ("moves.by_move",),
    ),
    "evenness": GlossaryEntry(
        "How much the time from one stroke of the hands to the next varies, whatever the click"
        " does.",
        ("evenness.spread", "evenness.relative"),
    ),
    "lope": GlossaryEntry(
        "The long-short of alternate hands, as of a horse's canter: one hand always comes late"
        " between two strokes of the other.",
        ("evenness.lope",),
    ),
    "from": GlossaryEntry(
        "Rushing or dragging where the note value changes.", ("evenness.changes.*",)
    ),
    "power": GlossaryEntry(
        "How hard the strokes are, as the kit sends it (velocity, 1 to 127), and how much strokes"
        " that should be equal vary.",
        ("power.mean", "power.uneven", "power.balance"),
    ),
    "of the accents": GlossaryEntry(
        "Accents that are louder than ordinary strokes.", ("power.accents", "power.accents_right")
    ),
    "of the ghost notes": GlossaryEntry(
        "Ghost notes that are softer than ordinary strokes.",
        ("power.ghosts", "power.ghosts_right"),
    ),
    "besides": GlossaryEntry(
        "Hits that are no stroke of the pattern: strays, double triggers, crosstalk; rims where"
        " the head was written; and strokes before the start and after the end of what is judged,"
        " which count for nothing.",
        ("counts.extra", "counts.double", "counts.rim", "counts.before", "counts.after"),
    ),
    "strays": GlossaryEntry(
        "Hits that belong to no written stroke, by the pad.", ("touch.strays",)
    ),
    "double triggers": GlossaryEntry(
        "A second note that the kit sends for one stroke; a matter of its set-up, and never held"
        " against the player.",
        ("touch.doubles",),
    ),
    "crosstalk": GlossaryEntry(
        "A pad shaken by a stroke on its neighbour; a matter of the kit's set-up.",
        ("counts.crosstalk",),
    ),
    "missed": GlossaryEntry("Written strokes that nothing was played for.", ("counts.missed",)),
    "wrong pad": GlossaryEntry("Strokes in time, but on another pad.", ("counts.wrong_pad",)),
    "zones": GlossaryEntry(
        "Strokes on the right pad but on another zone of it than is written: the head for the rim,"
        " closed for open. Only zones that the kit can send are counted.",
        ("touch.zones.*",),
    ),
    "as a rung goes on": GlossaryEntry(
        "What changes as a rung of the ladder, or a take at one tempo, goes on.",
        ("staying.rung",),
    ),
    "over the session": GlossaryEntry(
        "What changes over all rungs of the same tempo.", ("staying.session",)
    ),
    "where spread comes from": GlossaryEntry(
        "A model's guess at how much of the spread is the inner clock and how much the limb.",
        ("sources.silent", "sources.click"),
    ),
    "worth practising": GlossaryEntry(
        "The moves, limbs, note values or changes that cost the most; “trainer advice” writes a"
        " drill for each.",
        ("advice",),
    ),
    "ceiling": GlossaryEntry(
        "The fastest tempo at which a pattern is played clean, told from all rungs of the sessions"
        " on it: a logistic curve of clean against tempo, and the tempo where it passes one half,"
        " with a range that holds the truth 9 times out of 10. “trainer history” and the ladder"
        " show it."
    ),
    "ladder": GlossaryEntry(
        "A pattern climbed rung by rung, up when a rung was clean. A ladder that is not told where"
        " to start begins 10 % below the tempo at which three rungs in four were clean so far,"
        " which is itself below the ceiling; its first line says how far."
    ),
    "rung": GlossaryEntry("One tempo of a ladder: a few passes, then up, again or down."),
    "pass": GlossaryEntry("Once through the pattern.", ("passes",)),
    "clean": GlossaryEntry("Within the tolerance that decides a rung: “trainer explain clean”."),
}


def glossary_entry(word: str) -> GlossaryEntry | None:
    """Return what a printed word means, in capitals or not, in the singular or the plural."""
    wanted = " ".join(word.casefold().split())
    forms = (wanted, f"{wanted}s", wanted.removesuffix("s"), wanted.removesuffix("es"))
    return next((GLOSSARY[form] for form in forms if form in GLOSSARY), None)


def explanations(word: str | None) -> dict[str, str]:
    """Return sentences by word or key: of a number, a part, a printed word, or (None) of all.

    Raises BadInput for a word that no summary has.
    """
    if word is None:
        return KEY_EXPLANATIONS
    key = word.casefold()
    below = {known: text for known, text in KEY_EXPLANATIONS.items() if known.startswith(f"{key}.")}
    entry = glossary_entry(word)
    if entry is not None:
        return {key: entry.sentence, **_of_numbers(entry.keys), **below}
    if below:
        return below
    sentence = key_explanation(word)
    if sentence is not None:
        return {word: sentence}
    parts = {known: text for known, text in KEY_EXPLANATIONS.items() if key in known.split(".")}
    if not parts:
        near = get_close_matches(key, [*KEY_EXPLANATIONS, *GLOSSARY], 1, 0.5)
        raise BadInput(
            f'a summary has no word and no number called "{word}"',
            mend=f'did you mean "{near[0]}"' if near else "trainer explain lists the numbers",
        )
    return parts


def _of_numbers(keys: tuple[str, ...]) -> dict[str, str]:
    """Return the sentences of the numbers that a printed word is computed from."""
    return {
        known: text
        for key in keys
        for known, text in KEY_EXPLANATIONS.items()
        if known == key or known.startswith(f"{key}.")
    }


def clean_lines(levels: Mapping[str, Tolerance]) -> Iterator[str]:
    """Give what counts as clean: the grounds, then the figures of each level as a table."""
    from trainer.measure import clean

    rows = {name: level.to_dict() for name, level in levels.items()}
    yield (clean.__doc__ or "").replace("**", "").replace("`", "").strip()
    if YOURS in rows:
        yield ""
        yield f"Yours is the level {rows[YOURS]['level']} with the figures of your settings."
    yield ""
    yield f"{'':<20}" + "".join(f"{name:>12}" for name in rows)
    figures = [name for name in rows[clean.DEFAULT_TOLERANCE.level] if name != "level"]
    for figure in figures:
        yield f"{figure:<20}" + "".join(f"{row[figure]:>12g}" for row in rows.values())
