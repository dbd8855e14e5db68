"""Every number of a reading in one sentence, by its key in the summary.

A key is the way to a number through the summary, joined by dots; `*` is a name that depends on the
take: a voice, a limb, a step, a note value, a bar, a move, a kind of unison. The table is also the
list of what a reading holds: a test fails when either has a key that the other lacks.
"""

from __future__ import annotations

from fnmatch import fnmatchcase
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

KEY_EXPLANATIONS: dict[str, str] = {
    "title": "The title of the pattern that was played.",
    "passes": "How many times the pattern was begun.",
    "tempo_low": "The slowest tempo of the take, in BPM.",
    "tempo_high": "The fastest tempo of the take, in BPM.",
    "resolution_ms": (
        "Stroke times of this machine are good to so many ms; texts round to it. Null: not "
        "measured."
    ),
    "advice": (
        "What is worth practising, the costliest first: who, what is wrong, how much of the spread"
        " and of the failures it costs, and the evidence. Null under 100 strokes."
    ),
    "doubt": "Why the figures may mislead; empty where they do not.",
    "unknown_notes": (
        "Notes without a sure pad: number, how often, what it is read as, its likely pad, and how "
        "often it came when that was due."
    ),
    "clean.clean": "The verdict: true, false, or null where there is too little to say.",
    "clean.strict": "The level of strictness it was judged by.",
    "clean.failed": (
        "What was not clean, the worst first: what, its value, what is allowed, the unit, in words."
    ),
    "counts.targets": "How many strokes were written, grace strokes included.",
    "counts.hits": "How many hits came from the kit, of any kind.",
    "counts.played": "How many written strokes landed on their pad.",
    "counts.wrong_pad": "How many written strokes landed in time but on another pad.",
    "counts.missed": "How many written strokes have no hit.",
    "counts.extra": "How many hits between the first and the last stroke belong to none of them.",
    "counts.before": "How many hits came before the first written stroke; they do not count.",
    "counts.after": "How many hits came after the last written stroke; they do not count.",
    "counts.double": "How many hits are double triggers: the kit sends them, not the player.",
    "counts.rim": "How many strokes landed on the rim where the head was written.",
    "counts.crosstalk": "How many hits are one pad shaken by its neighbour.",
    "counts.bounce": "How many hits are bounces of a buzz stroke while it was held.",
    "counts.errors": (
        "Written strokes missed or on a wrong pad, in percent; interval after Wilson."
    ),
    "offset.mean": (
        "Average time between written and played strokes, in ms: minus is early, plus is late; the"
        " kit's latency and the player's feel are in it."
    ),
    "offset.spread": "How much the offsets vary: their standard deviation, in ms.",
    "offset.around_wander": (
        "How much the strokes of each limb vary among neighbours, apart from slow coming and "
        "going: standard deviation within some 24 strokes, in ms."
    ),
    "offset.drift": (
        "How the offset creeps within a pass, in ms a minute (Theil-Sen slope): plus falls "
        "behind, minus runs ahead."
    ),
    "offset.by_voice.*.mean": "Average offset of the strokes on one voice, in ms; minus is early.",
    "offset.by_voice.*.spread": "Standard deviation of the offsets on one voice, in ms.",
    "offset.by_limb.*.mean": "Average offset of one limb, in ms; minus is early.",
    "offset.by_limb.*.spread": "Standard deviation of one limb's offsets, in ms.",
    "offset.by_step.*.mean": (
        "Average offset at one place in the bar (quarter notes from its start), in ms; minus is "
        "early."
    ),
    "offset.by_step.*.spread": "Standard deviation of the offsets at one place in the bar, in ms.",
    "offset.by_value.*.mean": "Average offset in one note value, in ms; minus is early.",
    "offset.by_value.*.spread": "Standard deviation of the offsets in one note value, in ms.",
    "offset.by_bar.*.mean": (
        "Average offset in one bar of the pattern (counted from 0), in ms; minus is early."
    ),
    "offset.by_bar.*.spread": "Standard deviation of the offsets in one bar, in ms.",
    "evenness.spread": (
        "How much the time from one stroke of the hands to the next varies against the written "
        "time: standard deviation, in ms."
    ),
    "evenness.relative": "The same variation in percent of the written time between strokes.",
    "evenness.lope": (
        "The limp: long-short of alternate strokes, in ms, twice what the hand is late. Plus: the "
        "left hand is late between two rights; minus: the right hand between two lefts."
    ),
    "evenness.by_value.*.spread": "Standard deviation of the intervals in one note value, in ms.",
    "evenness.by_value.*.relative": "The same in percent of the written interval.",
    "evenness.changes.*": (
        "What happens at a change of note value, in ms: offset of the four strokes after it minus"
        " that of the four before; minus rushes, plus drags."
    ),
    "unisons.by_kind.*.mean": (
        "Average gap between two limbs meant to land together, in ms: minus means that the hand "
        "(of two hands or feet, the right one) lands first."
    ),
    "unisons.by_kind.*.spread": "Standard deviation of those gaps, in ms.",
    "unisons.by_kind.*.size": "Average gap whichever limb came first, in ms.",
    "unisons.by_kind.*.flams": (
        "Unisons at least 20 ms apart, in percent: from there on listeners hear which was first "
        "(Hirsh 1959, in Watson 2004)."
    ),
    "unisons.by_limbs.*.mean": (
        "Average gap of one pair of limbs, in ms: minus means that the first one named lands first."
    ),
    "unisons.by_limbs.*.spread": "Standard deviation of that pair's gaps, in ms.",
    "unisons.by_limbs.*.size": "Average gap of that pair whichever came first, in ms.",
    "unisons.by_limbs.*.flams": "That pair's unisons at least 20 ms apart, in percent.",
    "moves.staying.*.mean": (
        "Average offset of a hand's strokes that stay on their drum, in ms; minus is early."
    ),
    "moves.staying.*.spread": "Standard deviation of those offsets, in ms.",
    "moves.staying.*.errors": "Strokes of a staying hand missed or on a wrong pad, in percent.",
    "moves.by_move.*.limb": "The hand that moves.",
    "moves.by_move.*.start": "The voice it comes from.",
    "moves.by_move.*.end": "The voice it goes to.",
    "moves.by_move.*.mean": "Average offset of the stroke that arrives, in ms; minus is early.",
    "moves.by_move.*.spread": "Standard deviation of the offsets on arriving, in ms.",
    "moves.by_move.*.errors": "Arrivals missed or on a wrong pad, in percent.",
    "moves.by_move.*.later": (
        "How much later the move lands than that hand does when staying on a drum, in ms."
    ),
    "moves.by_move.*.wider": "How much more its offsets vary than when staying, in ms.",
    "moves.by_move.*.errors_more": "Errors more than when staying, in percentage points.",
    "power.mean": "Average velocity of the strokes, 1 to 127 on the kit's own scale.",
    "power.uneven": (
        "How much strokes that should be equal (same voice and level) vary in velocity: standard "
        "deviation, in steps."
    ),
    "power.balance": (
        "Right hand minus left hand on the same voices and levels, in steps of velocity: plus "
        "means that the right is louder."
    ),
    "power.accents": (
        "Accents minus ordinary strokes on the same voices, in steps of velocity: plus is right."
    ),
    "power.accents_right": (
        "Accents louder than the average ordinary stroke of their voice, in percent."
    ),
    "power.ghosts": (
        "Ghost notes minus ordinary strokes on the same voices, in steps of velocity: minus is "
        "right."
    ),
    "power.ghosts_right": (
        "Ghost notes softer than the average ordinary stroke of their voice, in percent."
    ),
    "power.dynamics": (
        "Steps of velocity from one mark of dynamics (p, mp, mf) to the next on the same voices "
        "and levels: plus is right."
    ),
    "power.dynamics_right": (
        "Crescendos and diminuendos whose second half is louder (softer) than the first, in "
        "percent."
    ),
    "power.by_limb.*.mean": "Average velocity of one limb.",
    "power.by_limb.*.spread": "Standard deviation of one limb's velocities, in steps.",
    "power.by_voice.*.mean": "Average velocity on one voice.",
    "power.by_voice.*.spread": "Standard deviation of the velocities on one voice, in steps.",
    "power.voices.*": (
        "Mean velocity on one voice minus that on the hands' other voices, at equal level and "
        "within some 24 strokes; minus is softer."
    ),
    "power.by_level.*.mean": "Average velocity of one level: ghost, normal or accent.",
    "power.by_level.*.spread": "Standard deviation of the velocities of one level, in steps.",
    "touch.rims": (
        "Strokes on the rim where the head was written, in percent of those that landed."
    ),
    "touch.rims_by_voice.*": "The same for one voice; voices without a rim stroke are left out.",
    "touch.rims_by_limb.*": "The same for one limb; limbs without a rim stroke are left out.",
    "touch.zones.*": (
        "Strokes on the right pad but on another zone of it than is written, in percent of those"
        " whose zone the kit sends."
    ),
    "touch.strays": "Hits that belong to no written stroke, for every 100 written ones.",
    "touch.strays_by_voice.*": "How many stray hits fell on one voice.",
    "touch.doubles": "Double triggers for every 100 written strokes, from the kit.",
    "touch.doubles_by_voice.*": "How many double triggers one voice sent.",
    "touch.position.*.mean": (
        "Average place of the strokes on one pad, 0 the middle and 1 the edge; only where the kit"
        " sends it."
    ),
    "touch.position.*.spread": "Standard deviation of that place, in parts of the radius.",
    "staying.rung.spread": (
        "Over the blocks of each rung: how spread changes, in ms a minute; plus grows."
    ),
    "staying.rung.power": (
        "Over the blocks of each rung: how velocity changes, in steps a minute; minus fades."
    ),
    "staying.rung.errors": (
        "Over the blocks of each rung: how errors change, in percentage points a minute."
    ),
    "staying.session.spread": (
        "Over all rungs of the same tempo: how spread changes, in ms a minute; plus grows."
    ),
    "staying.session.power": (
        "Over all rungs of the same tempo: how velocity changes, in steps a minute; minus fades."
    ),
    "staying.session.errors": (
        "Over all rungs of the same tempo: how errors change, in percentage points a minute."
    ),
    "after_mistakes.time": (
        "Strokes after a mistake until offsets vary as usual again, 0 for at once; 95% interval "
        "by likelihood over 12 strokes."
    ),
    "after_mistakes.power": "Strokes after a mistake until velocity varies as usual again.",
    "after_mistakes.place": "Strokes after a mistake until no more of them fail than usual.",
    "sources.silent.*.timekeeper": (
        "While the click is silent: how much of the spread of a limb's intervals is its inner "
        "clock, standard deviation in ms (Wing and Kristofferson 1973)."
    ),
    "sources.silent.*.hand": (
        "While the click is silent: how much is the limb itself, standard deviation of its delay "
        "in ms (Wing and Kristofferson 1973)."
    ),
    "sources.silent.*.neighbours": (
        "Correlation of neighbouring intervals while the click is silent; the model holds between"
        " -0.5 and 0."
    ),
    "sources.click.*.correction": (
        "With the click on: the share of an offset taken back by the next beat (Vorberg and "
        "Schulze 2002); 0 ignores the click, above 1 corrects too much."
    ),
    "sources.click.*.timekeeper": (
        "With the click on: standard deviation of the inner clock in ms, a rough figure (Vorberg "
        "and Schulze 2002)."
    ),
    "sources.click.*.hand": (
        "With the click on: standard deviation of the limb's own delay in ms, a rough figure "
        "(Vorberg and Schulze 2002)."
    ),
    "silence.back": (
        "Where you are when the click comes back after silent bars, against your place before "
        "them, in ms: minus is ahead, plus is behind."
    ),
    "silence.size": "The same without its side: how far off you come back on average, in ms.",
    "silence.bars": "The same for each silent bar: its pass and bar, from 0, and the ms.",
    "open_block.mean": "Open block: average distance to the click's grid, in ms; minus is early.",
    "open_block.spread": "Open block: standard deviation of that distance, in ms.",
    "open_block.divisions.*": "Open block: strokes on that many equal parts of the beat.",
}


def key_explanation(key: str) -> str | None:
    """Return the sentence for a key of a summary, or None where there is no such number."""
    if key in KEY_EXPLANATIONS:
        return KEY_EXPLANATIONS[key]
    return next((text for known, text in KEY_EXPLANATIONS.items() if fnmatchcase(key, known)), None)


def summary_keys(summary: Mapping[str, Any], above: str = "") -> Iterator[str]:
    """Return the keys of all numbers and texts of a summary; a figure is one number."""
    for name, value in summary.items():
        key = f"{above}{name}"
        if isinstance(value, dict) and "unit" not in value:
            yield from summary_keys(value, f"{key}.")
        else:
            yield key
