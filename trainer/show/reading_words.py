"""A reading in words: 25 lines or fewer, what matters first; and every group in full on request.

Works on the summary as it is saved (`Reading.to_dict`), so that old sessions read like new ones. A
difference is shown only where chance does not make it (`trainer.show.reading_differences`); times
are rounded to what the machine they were taken on can be trusted with.

The full text has every group in a line, with count and 95% interval. Minus is early; for unisons it
means that the first one named lands first. Figures that are missing say why.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.pattern.description import limb_words, value_words, voice_words
from trainer.practice.outcomes import RIMS_FOR_HEADS
from trainer.show import reading_differences as compared
from trainer.show.number_words import (
    ROUNDING_STEPS_MS,
    Summary,
    beat_text,
    count_text,
    duration_text,
    figure_text,
    has_value,
    interval_text,
    offset_text,
    percent_text,
    rounding_step,
)
from trainer.show.reading_differences import significant_keys

if TYPE_CHECKING:
    from collections.abc import Callable, Container, Iterator, Mapping


def group_tables(summary: Summary, step: float) -> list[str]:
    """Return a line for each group of each measure, a blank line before each table."""
    told: list[str] = []
    for title, rows, words in _group_rows(summary):
        if rows:
            told += ["", title]
            told += [f"  {words(name)}: {_group_text(row, step)}" for name, row in rows.items()]
    return told


def _group_rows(
    summary: Summary,
) -> Iterator[tuple[str, Mapping[str, Summary], Callable[[str], str]]]:
    offset, even, power = summary["offset"], summary["evenness"], summary["power"]
    yield "Offset by voice (minus is early)", offset["by_voice"], voice_words
    yield "Offset by limb", offset["by_limb"], limb_words
    yield "Offset by note value", offset["by_value"], value_words
    yield "Offset by bar", offset["by_bar"], lambda bar: f"bar {int(bar) + 1}"
    yield "Offset by place in the bar", offset["by_step"], beat_text
    yield "Drift inside a pass", {"drift": {"slope": offset["drift"]}}, str
    yield "Unisons (minus: the first one named lands first)", summary["unisons"]["by_limbs"], str
    yield "Strokes that stay on a drum", summary["moves"]["staying"], limb_words
    yield "Moves", summary["moves"]["by_move"], str
    yield "Intervals of the hands by note value", even["by_value"], value_words
    yield "Long-short of alternate strokes", {"lope": {"size": even["lope"]}}, str
    yield "At a change of note value", _single_figures(even["changes"], "jump"), _change_words
    yield "Velocity by limb", power["by_limb"], limb_words
    yield "Velocity by voice", power["by_voice"], voice_words
    yield "Velocity by level", power["by_level"], str
    yield "Rims by voice", _single_figures(summary["touch"]["rims_by_voice"], "share"), voice_words
    yield "Place on the pad (0 middle, 1 edge)", summary["touch"]["position"], voice_words
    yield "As a rung goes on", {"trend": summary["staying"]["rung"]}, str
    yield "Over the session", {"trend": summary["staying"]["session"]}, str
    yield "Where spread comes from, click silent", summary["sources"]["silent"], limb_words
    yield "Where spread comes from, click on", summary["sources"]["click"], limb_words


def _single_figures(rows: Mapping[str, Summary], name: str) -> dict[str, Summary]:
    return {key: {name: figure} for key, figure in rows.items()}


def _change_words(name: str) -> str:
    return " to ".join(map(value_words, name.split(" to ")))


def _group_text(row: Summary, step: float) -> str:
    """One group: its figures and from how many strokes, or the one reason why there are none."""
    figures = {name: one for name, one in row.items() if isinstance(one, dict)}
    reasons = {figure.get("why", "") for figure in figures.values()}
    if len(reasons) == 1 and reasons != {""}:
        return f"unknown: {reasons.pop()}"
    told = [
        f"{name.replace('_', ' ')} {figure_text(figure, step)}" for name, figure in figures.items()
    ]
    count = next((figure["count"] for figure in figures.values()), 0)
    return f"{', '.join(told)}; n = {count}"


def reading_lines(summary: Summary, *, full: bool = False) -> list[str]:
    """Return the reading in lines of plain text; `full` adds every group with its interval."""
    step = rounding_step(summary["resolution_ms"])
    told = [_title_line(summary)]
    if not summary["counts"]["targets"]:
        return [*told, "Nothing was asked for, so there is nothing to say."]
    told += [summary["doubt"]] if summary["doubt"] else []
    told += rounding_lines(summary["resolution_ms"])
    told += _count_lines(summary["counts"])
    told += _zone_lines(summary["touch"])
    sure = significant_keys(summary)
    told += _offset_lines(summary["offset"], step, sure)
    told += compared.unison_lines(summary["unisons"]["by_kind"], step, sure)
    told += compared.move_lines(summary["moves"]["by_move"], step, sure)
    told += compared.evenness_lines(summary["evenness"], step, sure)
    told += _power_lines(summary["power"], sure)
    told += _touch_lines(summary["touch"])
    told += compared.trend_lines(summary["staying"], step, sure)
    told += _source_lines(summary["sources"], step)
    told += advice_lines(summary)
    if full:
        told += group_tables(summary, step)
    return told


def rounding_lines(resolution_ms: float | None) -> list[str]:
    """Return why times are told coarser than to the millisecond; nothing where they are not."""
    step = rounding_step(resolution_ms)
    if resolution_ms is None or step <= ROUNDING_STEPS_MS[0]:
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


def _title_line(summary: Summary) -> str:
    low, high = summary["tempo_low"], summary["tempo_high"]
    tempo = f"{low:g} BPM" if low == high else f"{low:.4g} to {high:.4g} BPM"
    return f"{summary['title']}: {count_text(summary['passes'], 'pass', 'passes')} at {tempo}."


def _count_lines(counts: Summary) -> Iterator[str]:
    missing = [
        f"{counts[key]} {words}"
        for key, words in (("missed", "missed"), ("wrong_pad", "on a wrong pad"))
        if counts[key]
    ]
    besides = [
        count_text(counts[key], one, many)
        for key, one, many in (
            ("extra", "stray stroke", ""),
            ("rim", "rim", ""),
            ("double", "double trigger", ""),
            ("crosstalk", "hit of crosstalk", "hits of crosstalk"),
        )
        if counts[key]
    ]
    besides += [
        f"{count_text(counts[key], 'stroke')} {where}"
        for key, where in (("before", "before the start"), ("after", "after the end"))
        if counts.get(key)
    ]
    written, played = count_text(counts["targets"], "stroke"), counts["played"]
    yield f"{written}: {', '.join([f'{played} played', *missing])}."
    if besides:
        yield f"Besides: {', '.join(besides)}."


def _zone_lines(touch: Summary) -> Iterator[str]:
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


def _offset_lines(offset: Summary, step: float, sure: Container[str]) -> Iterator[str]:
    mean, spread, drift = offset["mean"], offset["spread"], offset["drift"]
    if not has_value(mean) and not has_value(spread):
        yield "Too few strokes landed to say anything about time."
        return
    told = [f"{offset_text(mean['value'], step)} on average"] if has_value(mean) else []
    told += [f"spread {duration_text(spread['value'], step)}"] if has_value(spread) else []
    # A start found from the strokes says nothing of how early or late the whole take is.
    unknown = "" if has_value(mean) else f" ({mean['why']})"
    yield f"Time: {', '.join(told)}{unknown}."
    limbs = [
        f"{limb_words(limb)} {offset_text(one['mean']['value'], step)}"
        + (
            f" (spread {duration_text(one['spread']['value'], step)})"
            if has_value(one["spread"])
            else ""
        )
        for limb, one in offset["by_limb"].items()
        if has_value(one["mean"])
    ]
    if len(limbs) > 1:
        yield f"  {'; '.join(limbs)}."
    if "offset.drift" in sure and abs(drift["value"]) >= step:
        way = "falls behind" if drift["value"] > 0 else "runs ahead"
        by = f"{duration_text(drift['value'], step)} a minute"
        yield f"  Inside a pass it {way} by {by} {interval_text(drift, 'strokes', step)}."


def _power_lines(power: Summary, sure: Container[str]) -> Iterator[str]:
    if not has_value(power["mean"]):
        return
    parts = [f"average {power['mean']['value']:.0f} of 127"]
    if has_value(power["uneven"]):
        parts.append(f"equal strokes vary by {power['uneven']['value']:.0f}")
    balance = power["balance"]
    if "power.balance" in sure and abs(balance["value"]) >= 1:
        hand = "right" if balance["value"] > 0 else "left"
        by = f"{abs(balance['value']):.0f} {interval_text(balance, 'strokes', 1.0)}"
        parts.append(f"the {hand} hand is louder by {by}")
    yield f"Power: {', '.join(parts)}."
    for key, name, way in (("accents", "accents", "above"), ("ghosts", "ghost notes", "below")):
        if has_value(power[key]):
            right = percent_text(power[f"{key}_right"]["value"])
            amount = power[key]["value"] if key == "accents" else -power[key]["value"]
            yield f"  Of the {name} {right} are {way} ordinary strokes, {amount:.0f} on average."


def _touch_lines(touch: Summary) -> Iterator[str]:
    for key, title in (("strays_by_voice", "Strays"), ("doubles_by_voice", "Double triggers")):
        if touch[key]:
            found = sorted(touch[key].items(), key=lambda pair: -pair[1])
            told = [f"{count} on {voice_words(voice)}" for voice, count in found]
            yield f"{title}: {', '.join(told)}."


def _source_lines(sources: Summary, step: float) -> Iterator[str]:
    for key, when in (("silent", "click silent"), ("click", "click on")):
        parts = [
            f"{limb_words(limb)}: clock {duration_text(one['timekeeper']['value'], step)}, "
            f"limb {duration_text(one['hand']['value'], step)}"
            for limb, one in sources[key].items()
            if has_value(one["timekeeper"]) and has_value(one["hand"])
        ]
        if parts:
            yield f"Where spread comes from ({when}), {'; '.join(parts)}."
