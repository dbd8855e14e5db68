"""A reading in words: the lines a drummer reads, what matters first, 25 or fewer.

Works on the summary as it is saved (`Reading.to_dict`), so that old sessions read like new ones. A
difference is told only where chance does not make it (`trainer.measure.beyond_chance`); times are
rounded to what the machine they were taken on can be trusted with. Every group and interval:
`trainer.measure.words_full`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.measure import words_compared as compared
from trainer.measure.beyond_chance import beyond_chance
from trainer.measure.phrases import (
    STEPS_MS,
    Summary,
    counted,
    evidence,
    fine,
    known,
    lateness,
    length,
    percent,
)
from trainer.measure.terms import limb_words, value_words, voice_words
from trainer.practice.zones import RIMS_FOR_HEADS

if TYPE_CHECKING:
    from collections.abc import Container, Iterator, Mapping


def lines(summary: Summary, *, full: bool = False) -> list[str]:
    """Return the reading in lines of plain text; `full` adds every group with its interval."""
    step = fine(summary["resolution_ms"])
    told = [_head(summary)]
    if not summary["counts"]["targets"]:
        return [*told, "Nothing was asked for, so there is nothing to say."]
    told += [summary["doubt"]] if summary["doubt"] else []
    told += rounded_words(summary["resolution_ms"])
    told += _counts(summary["counts"])
    told += _zones(summary["touch"])
    sure = beyond_chance(summary)
    told += _offsets(summary["offset"], step, sure)
    told += compared.unisons(summary["unisons"]["by_kind"], step, sure)
    told += compared.moves(summary["moves"]["by_move"], step, sure)
    told += compared.evenness(summary["evenness"], step, sure)
    told += _power(summary["power"], sure)
    told += _touch(summary["touch"])
    told += compared.staying(summary["staying"], step, sure)
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
    tempo = f"{low:g} BPM" if low == high else f"{low:.4g} to {high:.4g} BPM"
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
    besides += [
        f"{counted(counts[key], 'stroke')} {where}"
        for key, where in (("before", "before the start"), ("after", "after the end"))
        if counts.get(key)
    ]
    written, played = counted(counts["targets"], "stroke"), counts["played"]
    yield f"{written}: {', '.join([f'{played} played', *missing])}."
    if besides:
        yield f"Besides: {', '.join(besides)}."


def _zones(touch: Summary) -> Iterator[str]:
    """Tell the zones that came for others; a rim for a head has its place among the counts."""
    told = []
    for name, figure in touch.get("zones", {}).items():
        voice, _, zones = name.partition(" ")
        if zones in RIMS_FOR_HEADS:
            continue
        part = round(figure["value"] * figure["count"] / 100)
        told.append(f"{voice_words(voice)} {zones}, {part} of {figure['count']}")
    if told:
        yield f"Zones: {'; '.join(told)}."


def _offsets(offset: Summary, step: float, sure: Container[str]) -> Iterator[str]:
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
    if "offset.drift" in sure and abs(drift["value"]) >= step:
        way = "falls behind" if drift["value"] > 0 else "runs ahead"
        by = f"{length(drift['value'], step)} a minute"
        yield f"  Inside a pass it {way} by {by} {evidence(drift, 'strokes', step)}."


def _power(power: Summary, sure: Container[str]) -> Iterator[str]:
    if not known(power["mean"]):
        return
    parts = [f"average {power['mean']['value']:.0f} of 127"]
    if known(power["uneven"]):
        parts.append(f"equal strokes vary by {power['uneven']['value']:.0f}")
    balance = power["balance"]
    if "power.balance" in sure and abs(balance["value"]) >= 1:
        hand = "right" if balance["value"] > 0 else "left"
        by = f"{abs(balance['value']):.0f} {evidence(balance, 'strokes', 1.0)}"
        parts.append(f"the {hand} hand is louder by {by}")
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
