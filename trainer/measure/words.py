"""A reading in words: the lines a drummer reads, what matters first, 25 or fewer.

Works on the summary as it is saved (`Reading.to_dict`), so that old sessions read like new ones. A
difference is told only where its interval leaves out zero; times are rounded to what the machine
they were taken on can be trusted with. Every group and interval: `trainer.measure.words_full`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.measure.phrases import (
    STEPS_MS,
    Summary,
    counted,
    fine,
    known,
    lateness,
    length,
    percent,
    sure,
)
from trainer.measure.terms import limb_words, value_words, voice_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

WORST = 2
"""How many moves and changes are told; the full text has them all."""


def lines(summary: Summary, *, full: bool = False) -> list[str]:
    """Return the reading in lines of plain text; `full` adds every group with its interval."""
    step = fine(summary["resolution_ms"])
    told = [_head(summary)]
    if not summary["counts"]["targets"]:
        return [*told, "Nothing was asked for, so there is nothing to say."]
    told += [summary["doubt"]] if summary["doubt"] else []
    told += rounded_words(summary["resolution_ms"])
    told += _counts(summary["counts"])
    told += _offsets(summary["offset"], step)
    told += _unisons(summary["unisons"]["by_kind"], step)
    told += _moves(summary["moves"]["by_move"], step)
    told += _evenness(summary["evenness"], step)
    told += _power(summary["power"])
    told += _touch(summary["touch"])
    told += _staying(summary["staying"], step)
    told += _sources(summary["sources"], step)
    told += advice_lines(summary)
    if full:
        from trainer.measure.words_full import tables

        told += tables(summary, step)
    return told


def rounded_words(resolution_ms: float | None) -> list[str]:
    """Return why times are told coarser than to the millisecond; nothing where they are not."""
    step = fine(resolution_ms)
    if resolution_ms is None or step <= STEPS_MS[0]:
        return []
    return [
        f"Times are told in steps of {step:g} ms, because the stamps of strokes can be trusted to "
        f"{resolution_ms:.2g} ms and no finer."
    ]


def advice_lines(summary: Summary) -> list[str]:
    """Return what is worth practising, the costliest first, each with its evidence."""
    found = summary.get("advice")
    if not found:
        return []
    return [
        "Worth practising (“trainer advice” writes a drill for each):",
        *(f"  {weakness_words(one)}: {'; '.join(one['evidence'])}." for one in found),
    ]


def weakness_words(one: Mapping[str, str]) -> str:
    """Return whom or what a finding of the advice is about."""
    if one["kind"] == "move":
        start, end = voice_words(one["start"]), voice_words(one["end"])
        return f"{limb_words(one['limb'])} from {start} to {end}"
    if one["kind"] == "change":
        return f"going from {value_words(one['start'])} to {value_words(one['end'])}"
    if one["kind"] == "changes":
        return f"going {one['name']}"
    if one["kind"] == "value":
        return value_words(one["start"])
    return limb_words(one["limb"]) + " with a hand" * (one["kind"] == "unison")


def _head(summary: Summary) -> str:
    low, high = summary["tempo_low"], summary["tempo_high"]
    tempo = f"{low:g} BPM" if low == high else f"{low:g} to {high:g} BPM"
    return f"{summary['title']}: {counted(summary['passes'], 'pass', 'passes')} at {tempo}."


def _counts(counts: Summary) -> Iterator[str]:
    missing = [
        f"{counts[key]} {words}"
        for key, words in (("missed", "missed"), ("wrong_pad", "on a wrong pad"))
        if counts[key]
    ]
    besides = [
        counted(counts[key], one, many)
        for key, one, many in (
            ("extra", "stray stroke", ""),
            ("rim", "rim", ""),
            ("double", "double trigger", ""),
            ("crosstalk", "hit of crosstalk", "hits of crosstalk"),
        )
        if counts[key]
    ]
    written, played = counted(counts["targets"], "stroke"), counts["played"]
    yield f"{written}: {', '.join([f'{played} played', *missing])}."
    if besides:
        yield f"Besides: {', '.join(besides)}."


def _offsets(offset: Summary, step: float) -> Iterator[str]:
    mean, spread, drift = offset["mean"], offset["spread"], offset["drift"]
    if not known(mean):
        yield "Too few strokes landed to say anything about time."
        return
    tail = f", spread {length(spread['value'], step)}" if known(spread) else ""
    yield f"Time: {lateness(mean['value'], step)} on average{tail}."
    limbs = [
        f"{limb_words(limb)} {lateness(one['mean']['value'], step)}"
        + (f" (spread {length(one['spread']['value'], step)})" if known(one["spread"]) else "")
        for limb, one in offset["by_limb"].items()
        if known(one["mean"])
    ]
    if len(limbs) > 1:
        yield f"  {'; '.join(limbs)}."
    if sure(drift) and abs(drift["value"]) >= step:
        way = "falls behind" if drift["value"] > 0 else "runs ahead"
        yield f"  Inside a pass it {way} by {length(drift['value'], step)} a minute."


def _unisons(kinds: Summary, step: float) -> Iterator[str]:
    for kind, gap in kinds.items():
        if not known(gap["size"]):
            continue
        first, _, second = kind.partition("+")
        leader = f"the {'right' if first == second else first} one"
        way = "first" if gap["mean"]["value"] < 0 else "last"
        sided = sure(gap["mean"]) and abs(gap["mean"]["value"]) >= step
        tail = f", {leader} {way} by {length(gap['mean']['value'], step)}" if sided else ""
        flams = percent(gap["flams"]["value"])
        apart = length(gap["size"]["value"], step)
        yield f"Unisons {first} and {second}: {apart} apart{tail}; {flams} heard as a flam."


def _moves(moves: Summary, step: float) -> Iterator[str]:
    costly = [move for move in moves.values() if _costs(move)]
    costly.sort(key=lambda move: -_cost(move))
    for move in costly[:WORST]:
        parts = []
        if sure(move["later"]):
            parts.append(f"{lateness(move['later']['value'], step)} against staying on a drum")
        if sure(move["wider"]) and move["wider"]["value"] > 0:
            parts.append(f"spread {length(move['wider']['value'], step)} wider")
        if sure(move["errors_more"]) and move["errors_more"]["value"] > 0:
            parts.append(f"{percent(move['errors_more']['value'])} more errors")
        start, end = voice_words(move["start"]), voice_words(move["end"])
        where = f"{limb_words(move['limb'])} from {start} to {end}"
        yield f"Move, {where}: {', '.join(parts)}."


def _costs(move: Summary) -> bool:
    wider, more = move["wider"], move["errors_more"]
    return (
        sure(move["later"])
        or (sure(wider) and wider["value"] > 0)
        or (sure(more) and more["value"] > 0)
    )


def _cost(move: Summary) -> float:
    """A rough order among moves: ms later or wider, with one per cent of errors as one ms."""
    costs = ("later", "wider", "errors_more")
    later, wider, more = (float(move[key]["value"] or 0.0) for key in costs)
    return abs(later) + max(wider, 0.0) + max(more, 0.0)


def _evenness(even: Summary, step: float) -> Iterator[str]:
    if known(even["spread"]):
        share = f"{even['relative']['value']:.0f} % of the written time"
        yield f"Evenness: intervals vary by {length(even['spread']['value'], step)} ({share})."
    if sure(even["lope"]) and abs(even["lope"]["value"]) >= step:
        hand, other = ("left", "right") if even["lope"]["value"] > 0 else ("right", "left")
        amount = length(even["lope"]["value"], step)
        yield f"  Lope: the {hand} hand comes late between two {other}s, long-short by {amount}."
    turns = [(name, one) for name, one in even["changes"].items() if sure(one)]
    turns.sort(key=lambda turn: -abs(turn[1]["value"]))
    for name, one in turns[:WORST]:
        old, new = map(value_words, name.split(" to "))
        way = "rushes" if one["value"] < 0 else "drags"
        yield f"  From {old} to {new} it {way} by {length(one['value'], step)}."


def _power(power: Summary) -> Iterator[str]:
    if not known(power["mean"]):
        return
    parts = [f"average {power['mean']['value']:.0f} of 127"]
    if known(power["uneven"]):
        parts.append(f"equal strokes vary by {power['uneven']['value']:.0f}")
    balance = power["balance"]
    if sure(balance) and abs(balance["value"]) >= 1:
        hand = "right" if balance["value"] > 0 else "left"
        parts.append(f"the {hand} hand is louder by {abs(balance['value']):.0f}")
    yield f"Power: {', '.join(parts)}."
    for key, name, way in (("accents", "accents", "above"), ("ghosts", "ghost notes", "below")):
        if known(power[key]):
            right = percent(power[f"{key}_right"]["value"])
            amount = power[key]["value"] if key == "accents" else -power[key]["value"]
            yield f"  Of the {name} {right} are {way} ordinary strokes, {amount:.0f} on average."


def _touch(touch: Summary) -> Iterator[str]:
    for key, title in (("strays_by_voice", "Strays"), ("doubles_by_voice", "Double triggers")):
        if touch[key]:
            found = sorted(touch[key].items(), key=lambda pair: -pair[1])
            told = [f"{count} on {voice_words(voice)}" for voice, count in found]
            yield f"{title}: {', '.join(told)}."


def _staying(staying: Summary, step: float) -> Iterator[str]:
    for key, title in (("rung", "As a rung goes on"), ("session", "Over the session")):
        trends = staying[key]
        amounts = {
            "spread": ("spread", length(trends["spread"]["value"] or 0.0, step)),
            "power": ("velocity", f"{abs(trends['power']['value'] or 0.0):.1f} steps"),
            "errors": (
                "the share of errors",
                f"{abs(trends['errors']['value'] or 0.0):.1f} per cent points",
            ),
        }
        parts = [
            f"{what} {'grows' if trends[name]['value'] > 0 else 'falls'} by {amount} a minute"
            for name, (what, amount) in amounts.items()
            if sure(trends[name])
        ]
        if parts and not (key == "session" and trends == staying["rung"]):
            yield f"{title}: {', '.join(parts)}."


def _sources(sources: Summary, step: float) -> Iterator[str]:
    for key, when in (("silent", "click silent"), ("click", "click on")):
        parts = [
            f"{limb_words(limb)}: clock {length(one['timekeeper']['value'], step)}, "
            f"limb {length(one['hand']['value'], step)}"
            for limb, one in sources[key].items()
            if known(one["timekeeper"]) and known(one["hand"])
        ]
        if parts:
            yield f"Where spread comes from ({when}), {'; '.join(parts)}."
