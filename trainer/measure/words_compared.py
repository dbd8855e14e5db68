"""The lines of a reading that compare: limbs, moves, hands, note values, earlier and later.

Each difference is told with its 95 % interval and with how many strokes it is from, and only where
it is among `sure`: the keys that chance does not make (`trainer.measure.beyond_chance`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.measure.beyond_chance import COSTS, TRENDS
from trainer.measure.phrases import Summary, evidence, known, lateness, length, percent
from trainer.measure.terms import limb_words, value_words, voice_words

if TYPE_CHECKING:
    from collections.abc import Container, Iterator

WORST = 2
"""How many moves and changes are told; the full text has them all."""


def unisons(kinds: Summary, step: float, sure: Container[str]) -> Iterator[str]:
    """Tell how far apart unisons are, and who is first."""
    for kind, gap in kinds.items():
        if not known(gap["size"]):
            continue
        first, _, second = kind.partition("+")
        leader = f"the {'right' if first == second else first} one"
        way = "first" if gap["mean"]["value"] < 0 else "last"
        sided = f"unisons.by_kind.{kind}.mean" in sure and abs(gap["mean"]["value"]) >= step
        by = f"{length(gap['mean']['value'], step)} {evidence(gap['mean'], 'unisons', step)}"
        flams = percent(gap["flams"]["value"])
        apart = length(gap["size"]["value"], step)
        tail = f", {leader} {way} by {by}" if sided else ""
        yield f"Unisons {first} and {second}: {apart} apart{tail}; {flams} heard as a flam."


def moves(by_move: Summary, step: float, sure: Container[str]) -> Iterator[str]:
    """Tell the moves that cost the most."""
    costly = [
        (_cost(move), told)
        for name, move in by_move.items()
        if (told := _move(name, move, step, sure))
    ]
    costly.sort(key=lambda pair: -pair[0])
    yield from (told for _, told in costly[:WORST])


def _move(name: str, move: Summary, step: float, sure: Container[str]) -> str:
    """Say what a move costs against staying on a drum; nothing where it costs nothing."""
    parts = []
    for key in COSTS:
        figure = move[key]
        if f"moves.by_move.{name}.{key}" not in sure:
            continue
        bounds = evidence(figure, "moves", step)
        if key == "later":
            parts.append(f"{lateness(figure['value'], step)} {bounds} against staying on a drum")
        elif figure["value"] > 0 and key == "wider":
            parts.append(f"spread {length(figure['value'], step)} wider {bounds}")
        elif figure["value"] > 0:
            parts.append(f"{percent(figure['value'])} more errors {bounds}")
    start, end = voice_words(move["start"]), voice_words(move["end"])
    where = f"{limb_words(move['limb'])} from {start} to {end}"
    return f"Move, {where}: {', '.join(parts)}." if parts else ""


def _cost(move: Summary) -> float:
    """A rough order among moves: ms later or wider, with one per cent of errors as one ms."""
    later, wider, more = (float(move[key]["value"] or 0.0) for key in COSTS)
    return abs(later) + max(wider, 0.0) + max(more, 0.0)


def evenness(even: Summary, step: float, sure: Container[str]) -> Iterator[str]:
    """Tell how even the hands are, their lope, and what happens where the note value changes."""
    if known(even["spread"]):
        share = f"{even['relative']['value']:.0f} % of the written time"
        yield f"Evenness: intervals vary by {length(even['spread']['value'], step)} ({share})."
    lope = even["lope"]
    if "evenness.lope" in sure and abs(lope["value"]) >= step:
        hand, other = ("left", "right") if lope["value"] > 0 else ("right", "left")
        amount = f"{length(lope['value'], step)} {evidence(lope, 'strokes', step)}"
        yield f"  Lope: the {hand} hand comes late between two {other}s, long-short by {amount}."
    turns = [(name, one) for name, one in even["changes"].items()]
    turns = [turn for turn in turns if f"evenness.changes.{turn[0]}" in sure]
    turns.sort(key=lambda turn: -abs(turn[1]["value"]))
    for name, one in turns[:WORST]:
        old, new = map(value_words, name.split(" to "))
        way = "rushes" if one["value"] < 0 else "drags"
        amount = f"{length(one['value'], step)} {evidence(one, 'changes', step)}"
        yield f"  From {old} to {new} it {way} by {amount}."


def staying(trends: Summary, step: float, sure: Container[str]) -> Iterator[str]:
    """Tell what changes as a rung, or the session, goes on."""
    for key, title in (("rung", "As a rung goes on"), ("session", "Over the session")):
        parts = [
            _trend(name, trends[key][name], step)
            for name in TRENDS
            if f"staying.{key}.{name}" in sure
        ]
        if parts:
            yield f"{title}: {', '.join(parts)}."


def _trend(name: str, figure: Summary, step: float) -> str:
    amount = abs(figure["value"])
    what, by = {
        "spread": ("spread", length(amount, step)),
        "power": ("velocity", f"{amount:.1f} steps"),
        "errors": ("the share of errors", f"{amount:.1f} per cent points"),
    }[name]
    way = "grows" if figure["value"] > 0 else "falls"
    return f"{what} {way} by {by} a minute {evidence(figure, 'blocks of strokes', step)}"
