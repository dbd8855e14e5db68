"""A recorded take in words: where its pattern was found, and how sure that is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.practice.align import ASK_AGREE, LEAST_AGREE
from trainer.show.number_words import count_text
from trainer.show.pattern_words import missing_drum_lines

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trainer.actions.assess import AssessedTake
    from trainer.practice.align import Alignment

TEMPO_FROM = {
    "given": "as chosen",
    "file": "as the file says, and the strokes agree",
    "played": "as played",
}
START_FROM = {
    "given": "as chosen",
    "bar line": "a bar line of the file",
    "played": "where the strokes begin to agree",
}

NEXT_QUARTERS = 1.0
"""A count taken up within so many quarters of where it stopped continues from there."""

STEADY_SHARE = 0.005
"""The strokes run at the tempo that is assessed where they differ by no more than this share."""


def assess_step_words(step: str, strokes: int) -> str:
    """Return what is being done with a take, for as long as it takes."""
    many = count_text(strokes, "stroke")
    return {
        "place": f"Looking for the pattern in {many} ...",
        "judge": f"Judging {many} ...",
        "measure": f"Measuring {many} ...",
    }[step]


def assessed_lines(one: AssessedTake) -> Iterator[str]:
    """Say what was found in a take and how sure it is.

    A tempo of the file that was not looked at is named, but not called wrong.
    """
    found = one.found
    first = found.course.passes[0]
    yield f"{one.take.name}: {found.course.pattern.title}, {_passes(found)}."
    yield f"Tempo: {_tempo(found)} BPM, {TEMPO_FROM[found.tempo_from]}{_other_tempo(one)}."
    yield from _unsteady(found)
    yield from _fills(one)
    yield f"Start: {round(first.start_s, 3) + 0.0:.3f} s, {START_FROM[found.start_from]}."
    sure = f"{found.agree:.0%} of notes and strokes pair up"
    if found.agree < LEAST_AGREE:
        yield f"Sure: {sure}. This is hardly the pattern that was played."
    else:
        yield f"Sure: {sure}, {found.fit:.0%} steadily (by chance 0%)."
    if LEAST_AGREE <= found.agree < ASK_AGREE:
        yield "That is little. Is this the pattern that was played?"
    yield from missing_drum_lines(found.course.pattern, {})
    yield from one.take.remarks


def _passes(found: Alignment) -> str:
    count = count_text(found.course.begun, "pass", "passes")
    interrupted = found.course.passes[-1].end_s is not None
    return count + (", the last one interrupted" if interrupted else "")


def _fills(one: AssessedTake) -> Iterator[str]:
    """Say which passes were the groove, where fills were played in others."""
    if one.fills:
        count = one.found.course.begun
        groove = [row for row in range(count) if row not in one.fills]
        yield (
            f"Groove: passes {_listed(groove)}, from which all figures are. Fills: "
            f"{_listed(one.fills)}."
        )


def _listed(places: Sequence[int]) -> str:
    """Return places counted from 0 as people write numbers in a row: `1 to 3, 5`."""
    runs: list[list[int]] = []
    for place in places:
        if runs and place == runs[-1][-1] + 1:
            runs[-1].append(place)
        else:
            runs.append([place])
    return ", ".join(
        f"{run[0] + 1} to {run[-1] + 1}" if len(run) > 1 else f"{run[0] + 1}" for run in runs
    )


def _other_tempo(one: AssessedTake) -> str:
    """Return where the strokes run at another tempo than the one that is assessed by."""
    found, take = one.found, one.take
    unit = float(found.course.pattern.tempo_unit)
    played, tempo = found.played_tempo, found.course.passes[0].tempo
    if found.tempo_from == "played" and take.tempo is not None:
        written = f"{take.tempo / unit:.4g}"
        if written == f"{tempo:.4g}":
            return ", and the file says the same"
        fits = ", which does not fit" * (one.trusted_file and not found.swing_s)
        return f" (the file says {written}{fits})"
    if played is not None and abs(played / tempo - 1.0) > STEADY_SHARE:
        return f" (the strokes run at {played:.4g})"
    return ""


def _tempo(found: Alignment) -> str:
    """Return the tempo, or from which to which it moves."""
    tempos = [one.tempo for one in found.course.passes]
    low, high = f"{min(tempos):.4g}", f"{max(tempos):.4g}"
    return low if low == high else f"{low} to {high}"


def _unsteady(found: Alignment) -> Iterator[str]:
    """Say where the count was broken, and that no steady tempo was kept."""
    tempos = [one.tempo for one in found.course.passes]
    if found.swing_s > 0:
        yield (
            f"No steady tempo: the strokes run to and fro by {found.swing_s * 1000:.0f} ms against "
            "the best one, so every few bars are judged against a tempo of their own."
        )
    quarter_s = 60.0 / (tempos[0] * float(found.course.pattern.tempo_unit))
    for one in found.breaks:
        gap_s = one.next_s - one.last_s - (one.next_beat - one.last_beat) * quarter_s
        what = (
            f"continues {abs(gap_s):.2f} s {'late' if gap_s > 0 else 'early'}"
            if abs(one.next_beat - one.last_beat) <= NEXT_QUARTERS
            else "continues at another place of the pattern"
        )
        at, again = f"at {one.last_s:.2f} s", f"at {one.next_s:.2f} s"
        yield f"Break: {at} the count is interrupted and {what} {again}."
