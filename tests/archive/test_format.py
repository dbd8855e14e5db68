from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from sessions import header, play, saved, strikes

from trainer.archive import session_file as parsing
from trainer.archive import session_lines
from trainer.archive.journal import Journal
from trainer.archive.session_file import MOST_DAMAGED, open_session, parse_session
from trainer.archive.session_format import header_line, strike_line
from trainer.archive.summary import judge_session, session_summary
from trainer.errors import BadInput
from trainer.kit.hits import Strike
from trainer.show import session_words


def lines(*rows: object) -> list[bytes]:
    """Return a file's lines: a good header, then the given rows as JSON."""
    return [header_line(header()), *(json.dumps(row).encode() + b"\n" for row in rows)]


AFTER = {"index": 1, "start_s": 5.5}
CUT = {"kind": "cut", "pass": 1, "at_s": 5.2}
PASS = {"kind": "pass", "index": 0, "tempo": 60, "start_s": 1.5}


def test_what_was_written_comes_back(tmp_path: Path) -> None:
    """Everything a journal takes is read back equal, floats to the last bit.

    Strokes come with the pedal's value, which the file has as lines of its own.
    """
    journal = Journal(tmp_path, header())
    played = play(journal)
    path = journal.finish({"hits": 32})
    assert path

    session = open_session(path)

    assert session.header == header()
    assert tuple(played) == session.strikes
    assert session.summary == {"hits": 32}
    assert [one.start_s for one in session.passes] == [2.0, 4.0]
    assert [one.end_s for one in session.passes] == [None, 5.0]
    assert [(rung.index, rung.clean, rung.failed) for rung in session.rungs] == [
        (0, True, ()),
        (1, False, ("late",)),
    ]
    assert session.marks[0].reason == "the kit is gone"
    assert session.idle == (Strike(0.2, 38, 64),)
    assert session.controls[0].number == 4
    assert session.clicks[0].late_s == 0.0007
    assert len(session.course().targets()) == 24
    assert not session.torn
    assert not session.recovered


@pytest.mark.parametrize("time_s", [0.1 + 0.2, 1e-17, 3.0, 12345.678901234567, -0.25])
@pytest.mark.parametrize("position", [None, 1 / 3])
def test_strikes_come_back_bit_for_bit(time_s: float, position: float | None) -> None:
    """A strike's line gives the same floats again."""
    strike = Strike(time_s, 38, 101, position)

    assert parse_session([*lines(), strike_line(strike)]).strikes == (strike,)


def test_file_cut_at_every_byte_of_its_end(tmp_path: Path) -> None:
    """However a crash tears the end off, the whole lines before it are read and nothing else."""
    whole = saved(tmp_path).read_bytes()
    for end in range(len(whole) - 1500, len(whole)):
        session = parse_session(whole[:end].splitlines(keepends=True))
        kept = whole[:end].split(b"\n")[1:-1]

        assert len(session.strikes) == sum(line.startswith(b"[") for line in kept)
        assert session.summary is None
        assert session.torn == (whole[end - 1 : end] != b"\n")


@pytest.mark.parametrize("end", [0, 1, 40, 400])
def test_torn_header_is_no_session(tmp_path: Path, end: int) -> None:
    """A file whose header never got whole is refused, not guessed at."""
    path = tmp_path / "torn.jsonl"
    path.write_bytes(header_line(header())[:end])

    with pytest.raises(BadInput, match=r"torn\.jsonl: this is no session file"):
        open_session(path)


def test_newer_version_is_refused_and_left_alone(tmp_path: Path) -> None:
    """A file of a newer version is refused with a sentence that says so, and not touched."""
    row = json.loads(header_line(header())) | {"version": session_lines.VERSION + 1}
    path = tmp_path / "new.jsonl"
    path.write_text(json.dumps(row) + "\n")
    before = path.read_bytes()

    with pytest.raises(BadInput, match=r"format version 2, this program reads up to 1"):
        open_session(path)

    assert path.read_bytes() == before


def test_older_version_goes_through_its_upgrade(monkeypatch: pytest.MonkeyPatch) -> None:
    """A header of an older version is turned into the present one step by step."""
    written = lines()
    monkeypatch.setattr(session_lines, "VERSION", 3)
    monkeypatch.setitem(
        session_lines._UPGRADES, 1, lambda row: row | {"player": row["player"] + " B"}
    )
    monkeypatch.setitem(
        session_lines._UPGRADES, 2, lambda row: row | {"player": row["player"] + " C"}
    )

    assert parse_session(written).header == replace(header(), player="Ada B C")


def test_unknown_kinds_are_passed_over() -> None:
    """A kind of line that only a later version writes does not keep the rest from being read."""
    session = parse_session(
        [*lines({"kind": "breath", "deep": True}, PASS), strike_line(Strike(1, 38, 9))]
    )

    assert len(session.strikes) == len(session.passes) == 1


@pytest.mark.parametrize(
    ("row", "word"),
    [
        ([1, 38], "must be"),
        ([1, 38, 101, 0.5, 0], "must be"),
        (["1", 38, 101], "time_s: must be a number"),
        ([1, 38.5, 101], "must be"),
        ([1, 128, 101], "note: must be .* from 0 to 127"),
        ([1, 38, -1], "velocity: must be .* from 0 to 127"),
        ([1, 38, True], "velocity: must be a whole number"),
        ([1, 38, 101, 2], "position"),
        ([10**99, 38, 101], "time_s: must be a number from -604800 to 604800"),
        ([float("nan"), 38, 101], "not JSON"),
        ([float("inf"), 38, 101], "not JSON"),
        ({"kind": 5}, "kind"),
        ({}, "kind"),
        (7, "table"),
        (PASS | {"index": 1}, "index"),
        (PASS | {"tempo": 1e9}, "tempo"),
        (PASS | {"start_s": 1e9}, "start_s"),
        ({"kind": "cut", "pass": 0, "at_s": 1}, "pass"),
        ({"kind": "rung", "index": 0, "tempo": 60, "clean": 1}, "clean"),
        ({"kind": "pause", "time_s": None}, "time_s"),
        (
            {"kind": "control", "control": "spin", "time_s": 1},
            "control: must be one of choke, control",
        ),
        ({"kind": "summary", "summary": [1]}, "summary"),
    ],
)
def test_wrong_lines_are_reported_with_their_place(row: object, word: str) -> None:
    """A line of the wrong kind, type or size is bad input that names the line."""
    with pytest.raises(BadInput, match=f"line 2.*{word}"):
        parse_session(lines(row))


@pytest.mark.parametrize(
    "raw",
    [
        b"\xff\xfe[\n",
        b"[1,38,[\n",
        b'[1,38,9{"kind":"pass"\n',
        b"\n",
        b"\x00\x00\n",
        b"[1e999,38,100]\n",
        b'{"kind":"\x07"}\n',
        b"[" * 150 + b"\n",
        b'{"a":' * 100_000 + b"\n",
        b'{"kind":' + b"9" * 5000 + b"}\n",
    ],
)
def test_garbage_is_reported_with_its_place(raw: bytes) -> None:
    """Bytes that are no JSON, nest too deeply or hold huge numbers are bad input on that line."""
    with pytest.raises(BadInput, match="line 2"):
        parse_session([*lines(), raw])


@pytest.mark.parametrize("raw", [b"[1,2\n", b"[1.5,38\x00\x00\x00]\n", b"[0.9, 3\xff8, 90]\n"])
def test_a_damaged_strike_is_left_out_and_said(raw: bytes) -> None:
    """The rest is read, no stroke is guessed, and the line is named wherever the session is."""
    session = parse_session([*lines([1.0, 38, 90]), raw, *lines([2.0, 38, 90])[1:]])

    assert [one.time_s for one in session.strikes] == [1.0, 2.0]
    assert session.damaged == (3,)
    reported = [
        text
        for text in session_words.session_lines(session, session_summary(session))
        if "damaged" in text
    ]
    assert len(reported) == 1
    assert reported[0].startswith("Line 3 of the file is damaged and was skipped")


def test_many_damaged_strikes_are_refused_and_so_is_any_other_damaged_line() -> None:
    """Beyond a few strikes, or where a pass may be lost, the line is named with a way out."""
    with pytest.raises(BadInput, match="line 5"):
        parse_session([*lines(), *[b"[1,2\n"] * (MOST_DAMAGED + 1)])
    with pytest.raises(BadInput, match=r"line 2.*not JSON") as refused:
        parse_session([*lines(), b'{"kind":"pa\n'])
    assert "put a copy of the file back" in str(refused.value)


def test_lines_after_the_summary_are_refused() -> None:
    """Nothing may follow the last line."""
    with pytest.raises(BadInput, match="line 3: there is a line after the summary"):
        parse_session(lines({"kind": "summary", "summary": {}}, PASS))


def test_passes_must_be_in_order() -> None:
    """A pass cannot begin before the one above it is half over, so none can be stacked."""
    with pytest.raises(BadInput, match="line 3"):
        parse_session(lines(PASS, PASS | {"index": 1, "start_s": 3.4}))

    with pytest.raises(BadInput, match="line 5"):
        parse_session(lines(PASS, PASS | AFTER, CUT, PASS | {"index": 2, "start_s": 3.4}))

    assert len(parse_session(lines(PASS, PASS | AFTER)).passes) == 2


def test_a_pass_that_never_began_is_in_nobody_s_way() -> None:
    """After a restart just before a pass, the next one may begin earlier than that one would."""
    session = parse_session(lines(PASS, PASS | AFTER, CUT, PASS | {"index": 2, "start_s": 5.3}))

    assert [one.start_s for one in session.passes[1:]] == [5.5, 5.3]


def test_too_many_strokes_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """Passes times notes are bounded before anything is laid out."""
    monkeypatch.setattr(parsing, "MOST_TARGETS", 20)
    with pytest.raises(BadInput, match="line 3: the session has more than 20 written strokes"):
        parse_session(lines(PASS, PASS | {"index": 1, "start_s": 9}))

    early = {"kind": "cut", "pass": 0, "at_s": 2.4}
    assert len(parse_session(lines(PASS, early, PASS | {"index": 1, "start_s": 9})).passes) == 2


def test_too_many_lines_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """The number of lines is bounded."""
    monkeypatch.setattr(parsing, "MOST_LINES", 2)
    with pytest.raises(BadInput, match="line 3: the file has more than 2 lines"):
        parse_session(lines([1, 38, 100], [2, 38, 100]))


def test_a_file_of_version_1_reads_for_ever() -> None:
    """The file kept from the first version gives the same session, whatever is added later."""
    session = open_session(Path(__file__).with_name("data") / "version-1.jsonl")

    assert session.header.player == "Ada"
    assert session.pattern == replace(header().pattern, level=1)
    assert [len(session.course().targets()), len(session.rungs)] == [24, 2]
    assert [strike for start in (2.0, 4.0) for strike in strikes(start)] == list(session.strikes)
    assert [mark.kind for mark in session.marks] == ["silent", "stall", "unplugged"]
    assert session.summary == {"counts": {"played": 24}}
    assert judge_session(session).target_outcome.count("played") == 24
