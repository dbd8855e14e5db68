"""Takes like those people record: what goes wrong in them is found, and nothing else is said."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

import human_takes
import numpy as np
import pytest

from trainer.actions.assess import AssessedTake, AssessRequest, assess_take, take_as_session
from trainer.archive.summary import session_summary
from trainer.errors import BadInput
from trainer.kit.hits import Hit, Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.measure.reading import read_take
from trainer.practice.align import align
from trainer.practice.matcher import judge, match_take
from trainer.practice.outcomes import DOUBLE, EXTRA, MISSED, PLAYED, RIM
from trainer.practice.passes_played import filled_passes
from trainer.show.assess_words import assessed_lines
from trainer.show.reading_words import reading_lines

if TYPE_CHECKING:
    from pathlib import Path

import takes


def assessed(folder: Path, take: human_takes.HumanTake, **options) -> AssessedTake:
    """A take written to files and assessed as `trainer assess` does."""
    human_takes.write(folder, "take", take)
    pattern = str(folder / "take.pattern.mid")
    return assess_take(AssessRequest(folder / "take.mid", pattern, **options))


def drawn(kind: str, seed: int) -> human_takes.HumanTake:
    """A take of a kind."""
    return human_takes.make(kind, seed)


def targets_right(found: AssessedTake, take: human_takes.HumanTake) -> float:
    """The share of strokes with the note that was meant, or rightly none."""
    course = found.judged.course
    length, quarter_s = course.pattern.length, 60.0 / take.tempo
    right = 0
    played = human_takes.in_file(take)
    for (*_, beat, note), target in zip(played, found.judged.hit_target, strict=True):
        meant = None if beat is None else (beat, GENERAL_MIDI.notes[note].voice)
        got = None
        if target is not None:
            due = found.judged.targets[target]
            turns = (due.time_s - take.start_s) / quarter_s - float(due.note.beat)
            got = due.note.beat + round(turns / float(length)) * length, due.note.voice
        right += got == meant
    return right / len(played)


@pytest.mark.parametrize("velocity", [5, 11])
def test_the_louder_of_two_notes_of_one_stroke_is_played(velocity: int) -> None:
    """A module's faint head note 3 ms before a cross-stick is the double, not the stroke."""
    course = takes.lay(takes.roll("8"), 100.0, 20.0)
    targets = course.targets()
    strikes = []
    for one in targets:
        strikes += [Strike(one.time_s - 0.003, 38, velocity), Strike(one.time_s, 37, 90)]
    judged = judge(course, strikes, GENERAL_MIDI)

    assert set(judged.hit_outcome[::2]) == {DOUBLE}
    assert set(judged.hit_outcome[1::2]) <= {PLAYED, RIM}
    assert all(hit % 2 for hit in judged.target_hit)


def test_written_flams_and_drags_are_no_doubles() -> None:
    """Each of their strokes finds its note; a flam that nobody wrote is a stray, no kit's fault."""
    written = takes.lay(takes.flams(), 90.0, 20.0)
    made = [Strike(one.time_s, GENERAL_MIDI.note(one.note.voice) or 0, 100 - 50 * one.note.grace)
            for one in written.targets()]  # fmt: skip
    plain = takes.lay(takes.roll("8"), 90.0, 20.0).targets()
    hits = []
    for one in plain:
        hits.append(Hit(len(hits), one.time_s - 0.03, 38, 45, "snare"))
        hits.append(Hit(len(hits), one.time_s, 38, 100, "snare"))
    _, outcomes, of_targets = match_take(plain, hits)

    assert DOUBLE not in judge(written, made, GENERAL_MIDI).hit_outcome
    assert set(of_targets) == {PLAYED}
    assert DOUBLE not in outcomes
    assert set(outcomes[2::2]) == {EXTRA}


def test_who_begins_late_and_settles_is_late_only_there(tmp_path: Path) -> None:
    """70 ms late at first, on the click soon: the start is the bar line, the rest is not early."""
    rng = np.random.default_rng(4)
    groove = human_takes.bar(human_takes.GROOVES["rock"], 0)
    meant = [(one.beat + 4 * turn, one, True) for turn in range(16) for one in groove]
    human = human_takes.Human(settle_s=0.07, wander_s=0.002, jitter_s=0.006)
    take = human_takes.HumanTake(
        tuple(groove), 4, 100.0, 2.4, human_takes.perform(rng, meant, 100.0, 2.4, human)
    )

    found = assessed(tmp_path, take)

    assert found.found.course.passes[0].start_s == pytest.approx(2.4, abs=0.006)
    offsets = [
        found.judged.offset_s(one.index)
        for one in found.judged.targets
        if one.pass_index >= 8 and found.judged.target_hit[one.index] is not None
    ]
    assert abs(float(np.median(offsets))) < 0.008


@pytest.mark.parametrize(
    "kind", ["short-note", "rests", "wanders", "modules", "steady", "unknown-notes"]
)
def test_nothing_wrong_has_every_label_right(kind: str, tmp_path: Path) -> None:
    """One pair of 32nds, two bars of rest, a slow wander, unknown notes: all labels, no break."""
    for seed in (11, 12):
        take = drawn(kind, seed)
        found = assessed(tmp_path, take)

        assert targets_right(found, take) == 1.0
        assert found.found.tempo_from == "file"
        assert (found.found.breaks, found.found.swing_s, found.summary["doubt"]) == ((), 0.0, "")


@pytest.mark.parametrize("kind", ["another-bar", "jumbled", "drops-out"])
def test_another_bar_is_no_break(kind: str, tmp_path: Path) -> None:
    """The count continues, and the strokes after it find their notes."""
    for seed in (51, 52, 91005):
        take = drawn(kind, seed)
        found = assessed(tmp_path, take)

        assert found.found.breaks == ()
        assert targets_right(found, take) >= 0.92


def test_a_player_lost_in_another_bar_is_found_back_home() -> None:
    """After two bars of something else, half a beat away in a groove that fits there too."""
    course = takes.lay(takes.groove(), 120.0, 40.0)
    targets = course.targets()
    begin, end = targets[0].time_s + 12.0, targets[0].time_s + 16.0
    strikes = []
    for one in targets:
        note = GENERAL_MIDI.note(one.note.voice) or 0
        strikes.append(Strike(one.time_s + 0.25 * (begin <= one.time_s < end), note, 90))
    strikes.sort(key=lambda one: one.time_s)
    judged = judge(course, strikes, GENERAL_MIDI)

    late = [one for one in targets if one.time_s > end + 1.0]
    assert len(late) > 50
    assert all(judged.target_outcome[one.index] == PLAYED for one in late)
    assert max(abs(judged.offset_s(one.index) or 0.0) for one in late) < 0.001
    assert MISSED in judged.target_outcome


def test_passes_with_fills_are_in_no_figure(tmp_path: Path) -> None:
    """The groove's passes are named; figures are theirs alone, in a replay of the take too."""
    take = drawn("with-fills", 902)
    found = assessed(tmp_path, take)
    request = AssessRequest(tmp_path / "take.mid", str(tmp_path / "take.pattern.mid"))
    session = take_as_session(request)

    assert found.fills == (3, 7, 11)
    assert "passes 1 to 3, 5 to 7, 9 to 11" in " ".join(assessed_lines(found))
    assert found.summary["passes"] == 9
    assert found.summary["counts"]["extra"] + found.summary["counts"]["wrong_pad"] <= 3
    assert session_summary(session)["counts"] == found.summary["counts"]
    assert len(session.strikes) + len(session.idle) == len(take.played)


@pytest.mark.parametrize(("every", "fills"), [(2, (1, 3, 5, 7, 9, 11)), (6, (5, 11))])
def test_passes_with_fills_are_found_however_often(
    every: int, fills: tuple[int, ...], tmp_path: Path
) -> None:
    """A fill may end every second pass of the groove, or one in six."""
    for seed in (31, 32):
        take = human_takes.with_fills(np.random.default_rng(seed), every)

        assert assessed(tmp_path, take).fills == fills


def test_bad_playing_is_no_fill() -> None:
    """Misses, strays and wrong pads spread over a take leave every pass in the figures."""
    bad = takes.draw("groove", 77, 60.0, miss=0.15, wrong=0.1, stray=0.15)
    none = judge(bad.course, (), GENERAL_MIDI)

    assert filled_passes(judge(bad.course, bad.strikes, GENERAL_MIDI)) == ()
    assert filled_passes(none) == ()


def test_a_session_of_a_take_says_that_its_start_was_fitted(tmp_path: Path) -> None:
    """Neither says how late the take is as a whole, since the start is from its own strokes."""
    take = drawn("late", 3)
    human_takes.write(tmp_path, "take", take)
    request = AssessRequest(tmp_path / "take.mid", str(tmp_path / "take.pattern.mid"))
    found = assess_take(request)

    assert found.found.start_from == "played"
    assert session_summary(take_as_session(request))["offset"]["mean"]["value"] is None
    assert found.summary["offset"]["mean"]["value"] is None


def test_unknown_notes_are_named_with_their_likely_pad(tmp_path: Path) -> None:
    """Number, count, pad, and what to write; with that in the kit file they are known."""
    take = drawn("unknown-notes", 900)
    found = assessed(tmp_path, take)
    kit = tmp_path / "mine.toml"
    kit.write_text('[notes]\n22 = "hihat"\n')
    known = assessed(tmp_path, take, kit=str(kit))
    edges = sum(note == human_takes.EDGE for _, note, *_ in take.played)

    unknown = found.summary["unknown_notes"]
    assert [(one["note"], one["count"], one["voice"]) for one in unknown] == [(22, edges, "hihat")]
    assert '22 = "hihat" under [notes] in the kit file' in " ".join(reading_lines(found.summary))
    assert known.summary["unknown_notes"] == []
    assert known.summary["counts"]["wrong_pad"] == 0


def test_a_crash_edge_is_asked_about_not_assumed() -> None:
    """Note 55 where a crash is due may be a second crash's edge; where a splash is, it is one."""
    found = []
    for voice in ("crash", "splash"):
        course = takes.lay(takes.pattern(takes.run(0, 16, "4", [voice]), 16), 100.0, 20.0)
        strikes = [Strike(due.time_s, 55, 90) for due in course.targets()]
        found.append(read_take(judge(course, strikes, GENERAL_MIDI)).to_dict())

    assert [one["read_as"] for one in found[0]["unknown_notes"]] == ["splash"]
    assert '55 = "crash2/edge"' in " ".join(reading_lines(found[0]))
    assert found[1]["unknown_notes"] == []


def test_nothing_played_names_nothing() -> None:
    """A take without a stroke."""
    course = takes.lay(takes.groove(), 100.0, 5.0)

    assert read_take(judge(course, (), GENERAL_MIDI)).to_dict()["unknown_notes"] == []


def test_a_midi_pattern_is_read_through_the_kit(tmp_path: Path) -> None:
    """A pattern written on the kit's own notes has its drums where the kit is given."""
    rows = [(480 * n, 22 if n % 2 else 42, 90) for n in range(16)]
    human_takes._file(rows, 120.0, 480).save(tmp_path / "take.pattern.mid")
    human_takes._file(rows, 120.0, 480).save(tmp_path / "take.mid")
    kit = tmp_path / "mine.toml"
    kit.write_text('[notes]\n22 = "hihat"\n')
    request = AssessRequest(tmp_path / "take.mid", str(tmp_path / "take.pattern.mid"))

    through = assess_take(AssessRequest(request.path, request.pattern, kit=str(kit)))

    assert through.found.course.pattern.strokes == 16
    assert through.summary["counts"]["played"] == 16
    assert assess_take(request).found.course.pattern.strokes == 8


@pytest.mark.parametrize(("take", "pattern"), [("steady", "modules"), ("rests", "with-fills")])
def test_a_wrong_pattern_is_refused_or_doubted(take: str, pattern: str, tmp_path: Path) -> None:
    """Half a minute of rock is no bossa: that is said, and nothing is said of the right one."""
    for seed in (5, 6):
        human_takes.write(tmp_path, "other", drawn(pattern, seed + 1))
        right = assessed(tmp_path, drawn(take, seed))
        try:
            wrong = assess_take(
                AssessRequest(tmp_path / "take.mid", str(tmp_path / "other.pattern.mid"))
            )
        except BadInput:
            continue
        assert wrong.summary["doubt"] or "Is this the pattern" in " ".join(assessed_lines(wrong))
        assert not right.summary["doubt"]
        assert "Is this the pattern" not in " ".join(assessed_lines(right))


def test_alignment_needs_no_file() -> None:
    """The tempo of a take is found without a written one, in a pattern with one short step."""
    notes = takes.run(0, 16, "8", ["snare", "hihat", "tom1", "hihat"])
    notes.append(takes.Note(Fraction(65, 8), "snare", takes.Limb.LH, value="32"))
    course = takes.lay(takes.pattern(notes, 16), 97.0, 60.0)
    take = takes.make(course, takes.Player(jitter=0.016, wander=0.015, double=0.0), 3)
    hits = [
        Hit(n, one.time_s, one.note, one.velocity, GENERAL_MIDI.notes[one.note].voice)
        for n, one in enumerate(take.strikes)
        if one.note in GENERAL_MIDI.notes
    ]

    found = align(course.pattern, hits)

    assert found.course.passes[0].tempo == pytest.approx(97.0, abs=0.3)
