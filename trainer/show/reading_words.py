"""A reading in words: 25 lines or fewer, what matters first; and every group in full on request.

Works on the summary as it is saved (`Reading.to_dict`), so that old sessions read like new ones. A
difference is shown only where it is more than chance would do (`show.reading_differences`). Times
are rounded to what the machine can be trusted with. An average of fewer than 100 has its n.

The full text has every group in a line, with n and 95% interval. There minus is early; for unisons
it means that the first one named lands first. Figures that are missing say why.
"""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING

from trainer.pattern.description import limb_words, value_words, voice_words
from trainer.practice.outcomes import RIMS_FOR_HEADS
from trainer.show import reading_differences as compared
from trainer.show.number_words import (
    ROUNDING_STEPS_MS,
    Summary,
    ahead_text,
    beat_text,
    count_text,
    duration_text,
    few_text,
    figure_text,
    has_value,
    interval_text,
    offset_text,
    percent_text,
    rounding_step,
)
from trainer.show.reading_differences import significant_keys
from trainer.show.verdict_words import is_open, open_block_lines

if TYPE_CHECKING:
    from collections.abc import Callable, Container, Iterator, Mapping, Sequence


SENTENCE_WIDTH = 72
"""Columns that a sentence of the reading may fill before it is broken."""


def group_tables(summary: Summary, step: float) -> list[str]:
    """Return a line for each group of each measure, a blank line before each table."""
    lines: list[str] = []
    for title, rows, words in _group_rows(summary):
        if rows:
            lines += ["", title]
            for name, row in rows.items():
                lines += _group_lines(words(name), row, step)
    return lines


def _group_rows(
    summary: Summary,
) -> Iterator[tuple[str, Mapping[str, Summary], Callable[[str], str]]]:
    offset, even, power = summary["offset"], summary["evenness"], summary["power"]
    yield "Offset by voice (minus is early)", offset["by_voice"], voice_words
    yield "Offset by limb", offset["by_limb"], limb_words
    yield "Offset by note value", offset["by_value"], value_words
    yield "Offset by bar", offset["by_bar"], lambda bar: f"bar {int(bar) + 1}"
    yield "Offset by place in the bar", offset["by_step"], beat_text
    yield "Drift within a pass", {"drift": {"slope": offset["drift"]}}, str
    yield (
        "Unisons (minus: the first one named lands first)",
        summary["unisons"]["by_limbs"],
        _pair_words,
    )
    yield "Strokes that stay on a drum", summary["moves"]["staying"], limb_words
    yield "Moves", summary["moves"]["by_move"], _move_words
    yield "Intervals of the hands by note value", even["by_value"], value_words
    yield "Limp (plus: the left hand late, counted twice)", {"limp": {"size": even["lope"]}}, str
    yield "At a change of note value", _single_figures(even["changes"], "jump"), _change_words
    yield "Velocity by limb", power["by_limb"], limb_words
    yield "Velocity by voice", power["by_voice"], voice_words
    yield "Velocity by level", power["by_level"], str
    yield "Rims by voice", _single_figures(summary["touch"]["rims_by_voice"], "share"), voice_words
    yield "Place on the pad (0 middle, 1 edge)", summary["touch"]["position"], voice_words
    yield "During a rung", {"trend": summary["staying"]["rung"]}, str
    yield "Over the session", {"trend": summary["staying"]["session"]}, str
    yield "Strokes until all is back", {"after a mistake": summary.get("after_mistakes", {})}, str
    yield "Where spread comes from, click silent", summary["sources"]["silent"], limb_words
    yield "Where spread comes from, click on", summary["sources"]["click"], limb_words


def _single_figures(rows: Mapping[str, Summary], name: str) -> dict[str, Summary]:
    return {key: {name: figure} for key, figure in rows.items()}


def _change_words(name: str) -> str:
    return " to ".join(map(value_words, name.split(" to ")))


def _pair_words(name: str) -> str:
    return " and ".join(map(limb_words, name.split("+")))


def _move_words(name: str) -> str:
    limb, way = name.split(" ", 1)
    return f"{limb_words(limb)}, {' to '.join(map(voice_words, way.split(' to ')))}"


def _group_lines(name: str, row: Summary, step: float) -> list[str]:
    """Return one group: its figures and n, or the one reason why there are none."""
    figures = {name: one for name, one in row.items() if isinstance(one, dict)}
    reasons = {figure.get("why", "") for figure in figures.values()}
    if len(reasons) == 1 and reasons != {""}:
        parts = [f"not measured: {reasons.pop()}"]
    else:
        parts = [
            f"{key.replace('_', ' ')} {figure_text(figure, step)}"
            for key, figure in figures.items()
        ]
        count = next((figure["count"] for figure in figures.values()), 0)
        parts.append(f"n = {count}")
    return [line.removesuffix(".") for line in compared.fitted_lines(f"  {name}", parts)]


def reading_lines(summary: Summary, *, full: bool = False) -> list[str]:
    """Return the reading in lines of plain text; `full` adds every group with its interval."""
    step = rounding_step(summary["resolution_ms"])
    lines = _title_lines(summary)
    if is_open(summary):
        return [*lines, *open_block_lines(summary)]
    if not summary["counts"]["targets"]:
        return [*lines, "No stroke was due: nothing to measure."]
    lines += wrap(summary["doubt"] or "", SENTENCE_WIDTH)
    lines += rounding_lines(summary["resolution_ms"])
    lines += _count_lines(summary["counts"])
    lines += _unknown_note_lines(summary.get("unknown_notes", ()))
    lines += _zone_lines(summary["touch"])
    sure = significant_keys(summary)
    lines += _offset_lines(summary["offset"], step, sure)
    lines += compared.unison_lines(summary["unisons"]["by_kind"], step, sure)
    lines += compared.move_lines(summary["moves"]["by_move"], step, sure)
    lines += compared.evenness_lines(summary["evenness"], step, sure)
    lines += _power_lines(summary["power"], sure)
    lines += _touch_lines(summary["touch"])
    lines += compared.trend_lines(summary["staying"], step, sure)
    lines += silence_lines(summary["silence"], step)
    lines += _mistake_lines(summary.get("after_mistakes", {}))
    lines += _source_lines(summary["sources"], step)
    lines += advice_lines(summary)
    if full:
        lines += group_tables(summary, step)
    return lines


def rounding_lines(resolution_ms: float | None) -> list[str]:
    """Return why times are coarser than a millisecond; nothing where they are not."""
    step = rounding_step(resolution_ms)
    if resolution_ms is None or step <= ROUNDING_STEPS_MS[0]:
        return []
    return [
        f"Times are in steps of {step:g} ms: stroke times are good to {resolution_ms:.2g} ms here."
    ]


def advice_lines(summary: Summary) -> list[str]:
    """Return what is worth practising, the costliest first, each with its evidence."""
    found = summary.get("advice")
    if not found:
        return []
    lines = ["Worth practising (“trainer advice” writes a drill for each):"]
    for one in found:
        lines += compared.fitted_lines(f"  {weakness_words(one)}", one["evidence"])
    return lines


def weakness_words(one: Mapping[str, str]) -> str:
    """Return whom or what a finding of the advice is about."""
    if one["kind"] == "move":
        start, end = voice_words(one["start"]), voice_words(one["end"])
        return f"{limb_words(one['limb'])}, {start} to {end}"
    if one["kind"] == "change":
        return f"from {value_words(one['start'])} to {value_words(one['end'])}"
    if one["kind"] == "changes":
        return f"changes {one['name']}"
    if one["kind"] == "value":
        return value_words(one["start"])
    if one["kind"] == "voice":
        return voice_words(one["start"])
    if one["kind"] == "take":
        return "power over the take"
    return limb_words(one["limb"]) + " with a hand" * (one["kind"] == "unison")


def _title_lines(summary: Summary) -> list[str]:
    low, high = summary["tempo_low"], summary["tempo_high"]
    tempo = f"{low:g} BPM" if low == high else f"{low:.4g} to {high:.4g} BPM"
    passes = f"{count_text(summary['passes'], 'pass', 'passes')} at {tempo}"
    return [*compared.fitted_lines(summary["title"], [passes])]


def _count_lines(counts: Summary) -> Iterator[str]:
    missing = [
        f"{counts[key]} {words}"
        for key, words in (("missed", "missed"), ("wrong_pad", "on a wrong pad"))
        if counts[key]
    ]
    others = [
        count_text(counts[key], one, many)
        for key, one, many in (
            ("extra", "stray stroke", ""),
            ("rim", "rim", ""),
            ("double", "double trigger", ""),
            ("crosstalk", "crosstalk hit", ""),
        )
        if counts[key]
    ]
    others += [
        f"{count_text(counts[key], 'stroke')} {where}"
        for key, where in (("before", "before the start"), ("after", "after the end"))
        if counts.get(key)
    ]
    written, played = count_text(counts["targets"], "stroke"), counts["played"]
    yield f"{written}: {', '.join([f'{played} played', *missing])}."
    if others:
        yield f"Also: {', '.join(others)}."


def _zone_lines(touch: Summary) -> Iterator[str]:
    """Yield the zones hit for others; a rim for a head has its place among the counts."""
    parts = []
    for name, figure in touch.get("zones", {}).items():
        voice, _, zones = name.partition(" ")
        if zones in RIMS_FOR_HEADS:
            continue
        part = round(figure["value"] * figure["count"] / 100)
        parts.append(f"{voice_words(voice)} {zones}, {part} of {figure['count']}")
    if parts:
        yield f"Zones: {'; '.join(parts)}."


def _offset_lines(offset: Summary, step: float, sure: Container[str]) -> Iterator[str]:
    if not has_value(offset["mean"]) and not has_value(offset["spread"]):
        yield "Time: too few strokes to measure."
        return
    yield from compared.fitted_lines("Time", [_whole_time_text(offset, step)])
    limbs = {limb: one for limb, one in offset["by_limb"].items() if has_value(one["mean"])}
    if len(limbs) > 1:
        yield from (f"  {limb_words(k)} {_time_text(one, step)}" for k, one in limbs.items())
    drift = offset["drift"]
    if "offset.drift" in sure and abs(drift["value"]) >= step:
        way = "falls behind" if drift["value"] > 0 else "runs ahead"
        by = f"{way} by {duration_text(drift['value'], step)} a minute"
        part = f"{by}, {interval_text(drift, 'stroke', step)}"
        yield from compared.fitted_lines("  Within a pass", [part])


def _whole_time_text(offset: Summary, step: float) -> str:
    """Return the time of a whole take; without its mean where the start was fitted to the take."""
    mean, spread = offset["mean"], offset["spread"]
    if has_value(mean):
        return _time_text(offset, step, " on average")
    wide = duration_text(spread["value"], step)
    return f"spread {wide}{few_text(spread['count'])}; {mean['why']}"


def _time_text(one: Summary, step: float, tail: str = "") -> str:
    """Return "4 ms late, spread 9 ms, n = 40"."""
    mean, spread = one["mean"], one["spread"]
    wide = f", spread {duration_text(spread['value'], step)}" if has_value(spread) else ""
    return f"{offset_text(mean['value'], step)}{tail}{wide}{few_text(mean['count'])}"


def _power_lines(power: Summary, sure: Container[str]) -> Iterator[str]:
    mean, uneven, balance = power["mean"], power["uneven"], power["balance"]
    if not has_value(mean):
        return
    vary = f", equal strokes vary by {uneven['value']:.0f}" if has_value(uneven) else ""
    yield f"Power: {mean['value']:.0f} of 127 on average{vary}{few_text(mean['count'])}."
    if "power.balance" in sure and abs(balance["value"]) >= 1:
        hand = "Right" if balance["value"] > 0 else "Left"
        by = f"{abs(balance['value']):.0f}, {interval_text(balance, 'stroke', 1.0, 0)}"
        yield f"  {hand} hand louder by {by}."
    for key, name, side in (("accents", "Accents", "above"), ("ghosts", "Ghost notes", "below")):
        if has_value(power[key]):
            amount, right = power[key]["value"], power[f"{key}_right"]
            way = "softer" if amount < 0 else "louder"
            by = f"{abs(amount):.0f} {way}" if round(amount) else "no louder"
            share = f"{percent_text(right['value'])} of {right['count']}"
            yield f"  {name}: {by}, {share} {side} ordinary strokes."
    if has_value(power.get("dynamics", {})):
        yield _dynamics_line(power["dynamics"]["value"], power["dynamics_right"])


MOST_UNKNOWN = 4
"""So many unknown notes are explained, the commonest; they are the same few on every kit."""


def _unknown_note_lines(notes: Sequence[Summary]) -> Iterator[str]:
    """Say of each note without a sure pad how often it came, what it may be and what to write."""
    for one in notes[:MOST_UNKNOWN]:
        times = count_text(one["count"], "stroke")
        known = f"is read as {one['read_as']}" if one["read_as"] else "is on no pad of the kit"
        said = f"Note {one['note']} {known}: {times}."
        if one["voice"]:
            said = said[:-1] + f", {one['near']} when the {voice_words(one['voice'])} was due."
        pad, guess = one["voice"], "If that is its pad, write"
        if one["read_as"]:
            pad, guess = "crash2/edge", "If it is a second crash's edge, write"
        elif not pad:
            pad, guess = "snare/rim", "Write its pad, such as"
        said += f' {guess} {one["note"]} = "{pad}" under [notes] in the kit file.'
        yield from wrap(said, SENTENCE_WIDTH)
    if len(notes) > MOST_UNKNOWN:
        yield f"And {count_text(len(notes) - MOST_UNKNOWN, 'other unknown note')}."


def _dynamics_line(steps: float, right: Summary) -> str:
    """Return how much louder a mark is than the one below it, and how many swells are right."""
    way = f"{abs(steps):.0f} {'louder' if steps > 0 else 'softer'} from mark to mark"
    share = f"{percent_text(right['value'])} of {right['count']}" if has_value(right) else ""
    return f"  Dynamics: {way}{share and f', {share} crescendos as written'}."


def _touch_lines(touch: Summary) -> Iterator[str]:
    for key, title in (("strays_by_voice", "Strays"), ("doubles_by_voice", "Double triggers")):
        if touch[key]:
            found = sorted(touch[key].items(), key=lambda pair: -pair[1])
            parts = [f"{count} on {voice_words(voice)}" for voice, count in found]
            yield from compared.fitted_lines(title, parts)


MOST_BARS = 16
"""So many of the last silent bars are shown one by one."""


def silence_lines(silence: Summary, step: float) -> Iterator[str]:
    """Yield where the player came back after silent bars, on average and bar by bar."""
    bars = [one["ms"] for one in silence["bars"]]
    if not bars:
        return
    back, size = silence["back"], silence["size"]
    if has_value(back):
        yield (
            f"Silent bars: came back {ahead_text(back['value'], step)} on average, "
            f"{duration_text(size['value'], step)} off either way{few_text(back['count'])}."
        )
    else:
        yield f"Silent bars: {count_text(len(bars), 'bar')}, too few to average."
    each = ["nothing" if ms is None else ahead_text(ms, step) for ms in bars[-MOST_BARS:]]
    yield from wrap(
        f"Bar by bar: {', '.join(each)}.",
        SENTENCE_WIDTH,
        initial_indent="  ",
        subsequent_indent="    ",
    )


def _mistake_lines(after: Summary) -> Iterator[str]:
    """Yield how long a mistake lasts, where it lasts at all."""
    parts = [
        f"{name} back after {count_text(round(one['value']), 'stroke')}"
        f" ({one['low']:.0f} to {one['high']:.0f}, {one['count']} mistakes)"
        for name, one in after.items()
        if has_value(one) and one["value"] > 0
    ]
    yield from compared.fitted_lines("After a mistake", parts)


def _source_lines(sources: Summary, step: float) -> Iterator[str]:
    for key, when in (("silent", "click silent"), ("click", "click on")):
        parts = [
            f"{limb_words(limb)} clock {duration_text(one['timekeeper']['value'], step)}, "
            f"limb {duration_text(one['hand']['value'], step)}"
            for limb, one in sources[key].items()
            if has_value(one["timekeeper"]) and has_value(one["hand"])
        ]
        yield from compared.fitted_lines(f"Where spread comes from, {when}", parts)
