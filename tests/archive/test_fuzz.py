"""Session files as a stranger, a bad disk or a careless editor may leave them."""

from __future__ import annotations

import json
import os
import tempfile
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from damage import changed_bytes
from hypothesis import given, settings
from hypothesis import strategies as st
from sessions import header, play, saved

from trainer.archive import session_format
from trainer.archive.journal import Journal
from trainer.archive.recovery import Recovered, recover
from trainer.archive.session import LONGEST_FILE
from trainer.archive.session_file import open_session, parse_session
from trainer.archive.session_list import list_sessions
from trainer.archive.summary import cut_short, session_summary
from trainer.errors import BadInput
from trainer.kit.hits import Strike
from trainer.pattern.model import NOTE_VALUES, Level, Limb, Note, note_order
from trainer.practice.course import Pass
from trainer.show.session_words import session_lines

if TYPE_CHECKING:
    from trainer.archive.session import Session

FIXED = settings(max_examples=100, deadline=None, derandomize=True)


def sample() -> bytes:
    """Return the bytes of a good session."""
    with tempfile.TemporaryDirectory() as folder:
        return saved(Path(folder)).read_bytes()


GOOD = sample()
ROWS = [json.loads(line) for line in GOOD.splitlines()]

ODD = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-2, 200),
    st.integers(-(10**400), 10**400),
    st.floats(allow_nan=False, allow_infinity=False),
    st.floats(-10, 10),
    st.text(max_size=8),
    st.sampled_from(["\x1b[2J", "\ud800", "../../etc/passwd", "9/0", "snare", "rim"]),
    st.lists(st.integers(0, 3), max_size=3),
    st.dictionaries(st.sampled_from(["kind", "beat", "0"]), st.integers(0, 3), max_size=2),
)

TOKENS = [b"\n", b"NaN", b"1e999", b"[" * 200, b'{"a":' * 3000, b"\x00", b"\xff", b"9" * 5000, b'"']
DAMAGED = changed_bytes([GOOD], TOKENS)


def survives(data: bytes) -> list[str]:
    """Read, judge and show a file; anything but a session or BadInput escapes as it is.

    Returns the session as lines of text, or why there is none.
    """
    try:
        session = parse_session(BytesIO(data))
    except BadInput as error:
        return [str(error)]
    return use(session)


def use(session: Session) -> list[str]:
    """Do with a session what the commands do; return it as lines of text."""
    short = cut_short(session)
    summary = session_summary(short)
    json.dumps(summary, allow_nan=False)
    assert "\x1b" not in json.dumps(summary)
    return list(session_lines(short, summary, full=True))


@st.composite
def changed_values(draw: st.DrawFn) -> bytes:
    """Return a file in which one to three values of any kind were replaced, lost or repeated."""
    rows = json.loads(json.dumps(ROWS))
    for _ in range(draw(st.integers(1, 3))):
        place: Any = rows
        step = draw(st.integers(0, len(rows) - 1))
        while isinstance(place[step], (list, dict)) and place[step] and draw(st.booleans()):
            place = place[step]
            keys = range(len(place)) if isinstance(place, list) else sorted(place)
            step = draw(st.sampled_from(keys))
        change = draw(st.sampled_from(["replace", "replace", "lose", "repeat"]))
        if change == "lose" and len(rows) > 1:
            del place[step]
        elif change == "repeat" and isinstance(place, list):
            place.insert(draw(st.integers(0, len(place))), place[step])
        else:
            place[step] = draw(ODD)
    return b"".join(json.dumps(row).encode() + b"\n" for row in rows)


TIMES = st.one_of(st.floats(0, 12), st.floats(-600_000, 600_000), st.integers(0, 8))

NOTES = st.builds(
    Note,
    beat=st.fractions(0, 3, max_denominator=7),
    voice=st.sampled_from(["snare", "kick", "hihat", "tom1"]),
    limb=st.none() | st.sampled_from(Limb),
    level=st.sampled_from(Level),
    zone=st.sampled_from(["", "rim", "bell"]),
    value=st.sampled_from(list(NOTE_VALUES)),
    grace=st.integers(0, 3),
)

STRIKES = st.builds(
    Strike, TIMES, st.integers(0, 127), st.integers(1, 127), st.none() | st.floats(0, 1)
)


@st.composite
def odd_sessions(draw: st.DrawFn) -> bytes:
    """Return a file in which every value is allowed, however unlikely they are together."""
    notes = sorted(draw(st.lists(NOTES, max_size=6)), key=note_order)
    odd = replace(header(), pattern=replace(header().pattern, notes=tuple(notes)))
    lines = [session_format.header_line(odd)]
    start_s = draw(st.floats(-500_000, 12))
    for index in range(draw(st.integers(0, 3))):
        start_s += draw(st.floats(6, 30))
        tempo = draw(st.floats(20, 400))
        lines.append(session_format.pass_line(Pass(index, tempo, start_s)))
        if draw(st.booleans()):
            lines.append(session_format.cut_line(index, draw(TIMES)))
    lines += [session_format.strike_line(one) for one in draw(st.lists(STRIKES, max_size=12))]
    return b"".join(lines)


@settings(FIXED, max_examples=150)
@given(odd_sessions())
def test_unlikely_values(data: bytes) -> None:
    """A file whose values are all allowed is read, judged and shown, however odd it is."""
    assert use(parse_session(BytesIO(data)))


def test_a_place_that_no_drum_has_is_refused() -> None:
    """Which note it is and what is wrong are said."""
    odd = replace(header().pattern.notes[0], zone="nowhere")
    line = session_format.header_line(
        replace(header(), pattern=replace(header().pattern, notes=(odd,)))
    )
    with pytest.raises(BadInput, match=r"pattern\.notes\[0\]\.zone: must be a place on a drum"):
        parse_session(BytesIO(line))


@FIXED
@given(changed_values())
def test_changed_values(data: bytes) -> None:
    """A file with wrong values is either refused as bad input or read, judged and shown."""
    assert all(survives(data)[:1])


@FIXED
@given(DAMAGED)
def test_changed_bytes(data: bytes) -> None:
    """A file with damaged bytes is either refused as bad input or read, judged and shown."""
    assert all(survives(data)[:1])


@FIXED
@given(st.one_of(DAMAGED, changed_values(), st.binary(max_size=200)))
def test_a_folder_with_a_strange_file(data: bytes) -> None:
    """Listing and recovery pass over a strange file and never change what they cannot finish."""
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "strange.jsonl"
        path.write_bytes(data)
        listing = list_sessions(path.parent)
        assert len(listing.entries) + len(listing.faults) == 1

        if not any(isinstance(one, Recovered) for one in recover(path.parent, listing)):
            assert data == path.read_bytes()


def test_huge_file_is_refused_by_its_size(tmp_path: Path) -> None:
    """A file beyond the bound is refused before it is read."""
    path = tmp_path / "huge.jsonl"
    path.write_bytes(GOOD)
    os.truncate(path, LONGEST_FILE + 1)

    with pytest.raises(BadInput, match="larger than 64 MB"):
        open_session(path)


def test_a_line_without_end(tmp_path: Path) -> None:
    """A file of one endless line is bad input, not a torn session."""
    journal = Journal(tmp_path, header())
    play(journal)
    journal.close()
    assert journal.path
    with journal.path.open("ab") as file:
        file.write(b"[" * 20_000_000)

    with pytest.raises(BadInput, match="the line is too long"):
        open_session(journal.path)
