"""Texts as drummers spell them: what they mean, and that no text at all breaks their readers."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.errors import BadInput, Faults
from trainer.pattern.language import notation, sections, spelling
from trainer.pattern.language.rows import OSTINATOS
from trainer.pattern.model import NOTE_VALUES, Level

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.mark.parametrize(
    ("text", "who", "graces"),
    [
        ("R L R R", "RLRR", ["", "", "", ""]),
        ("RLRR", "RLRR", ["", "", "", ""]),
        ("lRrL", "RL", ["L", "R"]),
        ("llR rrL", "RL", ["LL", "RR"]),
        ("R x3 L", "RRRL", [""] * 4),
        ("R×3L", "RRRL", [""] * 4),
        ("R x 3 L", "RRRL", [""] * 4),
        ("RL x2 B", "RLRLB", [""] * 5),
        ("R Lx2 B", "RLLB", [""] * 4),
        ("|: R L :| x2 B", "RLRLB", [""] * 5),
        ("|:R L:|B", "RLRLB", [""] * 5),
        ("|: R L :||: B :| x1", "RLRLB", [""] * 5),
        ("|: |: R :| L :| x2", "RRLRRL", [""] * 6),
        ("|: R x2, L :| x2", "RRLRRL", [""] * 6),
        ("R|L, -\nKH", "RL-KH", [""] * 5),
    ],
)
def test_stickings(text: str, who: str, graces: list[str]) -> None:
    """Letters with or without blanks, grace letters before them, repeats and groups."""
    strokes = spelling.sticking(text)

    assert "".join(stroke.who for stroke in strokes) == who
    assert [stroke.graces for stroke in strokes] == graces


@pytest.mark.parametrize(
    ("text", "levels"),
    [
        (">R L (R)", ["accent", "normal", "ghost"]),
        ("(R L)R", ["ghost", "ghost", "normal"]),
        ("(R L) x2", ["ghost"] * 4),
        ("R(L R) x2", ["normal", "ghost", "ghost"] * 2),
        ("(R - L)", ["ghost", "normal", "ghost"]),
        ("l>R >lR (lR)", ["accent", "accent", "ghost"]),
    ],
)
def test_accents_and_ghosts(text: str, levels: list[str]) -> None:
    """An accent stands before its stroke or its grace letters; brackets hold for all inside."""
    assert [stroke.level for stroke in spelling.sticking(text)] == [Level(one) for one in levels]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("R X", '"X" is not a stroke'),
        (">(R)", "accent and a ghost"),
        ("(R", "a ( is never closed"),
        ("R)", "a ) closes no ("),
        ("(R :| L)", "a :| closes no |:"),
        ("rR", "other hand"),
        ("lB", "other hand"),
        (">-", "rest"),
        ("R x0", "out of range"),
        ("x4 R", 'nothing is before "x4"'),
        ("R, x4", 'nothing is before "x4"'),
        ("R x2 x4", 'nothing is before "x4"'),
        ("|: R L", "a |: is never closed"),
        ("R :|", "a :| closes no |:"),
        ("", "empty"),
    ],
)
def test_stickings_that_cannot_be_read(text: str, words: str) -> None:
    """The message shows the part that is wrong."""
    with pytest.raises(BadInput) as caught:
        spelling.sticking(text)

    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("kick", "a foot plays the kick"),
        ("snare/bell", "the snare has no zone"),
        ("snare/", "the snare has no zone"),
        ("snares", 'did you mean "snare"'),
        ("snare+", 'no voice ""'),
        ("x3", "nothing is before"),
    ],
)
def test_paths_that_cannot_be_read(text: str, words: str) -> None:
    """Unknown voices and zones are named with the nearest or all that are known."""
    with pytest.raises(BadInput) as caught:
        spelling.path(text)

    assert words in str(caught.value)


def test_a_part_of_a_path_is_a_drum_with_its_repeats_or_a_group() -> None:
    """Orders exchange parts, so their borders are kept."""
    parts = spelling.path("snare x2 |: tom1 floor/rim :| x2 hihat+snare")

    assert [len(part) for part in parts] == [2, 4, 1]
    assert str(parts[1][1]) == "floor/rim"
    assert str(parts[2][0]) == "hihat+snare"


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("snare x4, tom1 x4", ["snare snare snare snare", "tom1 tom1 tom1 tom1"]),
        ("snare tom1, tom2 x2, floor", ["snare tom1", "tom2 tom2", "floor"]),
        ("|: ride, snare :|, floor,", ["ride snare ride snare", "floor"]),
        ("|: ride, snare :| floor", ["ride snare ride snare", "floor"]),
    ],
)
def test_a_part_of_a_path_with_commas_is_what_is_between_them(text: str, parts: list[str]) -> None:
    """A comma parts drums as on paper; inside a group it is for the eye."""
    assert [" ".join(map(str, part)) for part in spelling.path(text)] == parts


def test_values_are_repeated_like_drums() -> None:
    """Four sixteenths and a quarter, with or without blanks and commas."""
    for text in ("16 x4, 4", "16x4 4", "|: 16 16 :| 4"):
        assert [value.name for value in spelling.values(text)] == ["16"] * 4 + ["4"]


@pytest.mark.parametrize(
    ("reader", "text", "faults"),
    [
        (spelling.sticking, "R L Q X L", ['step 3: "Q" is', 'step 4: "X" is']),
        (spelling.sticking, "RLQRX", ['step 3: "Q" is', 'step 5: "X" is']),
        (spelling.sticking, "|: R Q :| x2 L Q", ['steps 2, 4: "Q" is']),
        (spelling.sticking, "R :| Q |: L", ['step 2: "Q" is', "closes no", "never closed"]),
        (spelling.sticking, ">(R) (L rR", ["step 1", "never closed", "step 3"]),
        (spelling.row_hands, "R K >L", ["steps 2, 3: below a grid"]),
        (
            spelling.path,
            "snarr tom9 x4 snare/edgy kick",
            ["drum 1: there", "drum 2: there", "drum 3: the snare", "drum 4: a foot"],
        ),
        (spelling.values, "16 17 18", ['value 2: "17"', 'value 3: "18"']),
        (lambda text: spelling.grid(text, "snare"), "x?q-?", ['steps 2, 5: "?"', 'step 3: "q"']),
        (sections.read_meters, "4/4 4/5 x", ["meter 2: 4/5", "meter 3: x"]),
    ],
)
def test_every_fault_of_a_text_is_reported_at_once(
    reader: Callable[[str], Any], text: str, faults: list[str]
) -> None:
    """Each wrong word comes once, with all its places in the text as written and a remedy."""
    with pytest.raises(BadInput) as caught:
        reader(text)

    reported = caught.value.faults if isinstance(caught.value, Faults) else [caught.value]
    assert len(reported) == len(faults)
    assert all(one.fix for one in reported)
    for words in faults:
        assert sum(words in str(one) for one in reported) == 1


def test_a_fault_at_many_places_lists_the_first_ones() -> None:
    """The same wrong sign all over a line is one sentence."""
    with pytest.raises(BadInput, match=r"^steps 1, 2, 3, 4, 5, 6 and 94 more: ") as caught:
        spelling.grid("?" * 100, "snare")

    assert not isinstance(caught.value, Faults)


MARKS = st.text(
    st.sampled_from("RLBKHlr>()[]*-0123456789 |,:+/.x×Xogfdsnaremtui\n\x00é"), max_size=40
)


@pytest.mark.parametrize(
    "reader",
    [
        spelling.sticking,
        spelling.path,
        spelling.values,
        spelling.spot,
        spelling.row_hands,
        lambda text: spelling.grid(text, "hihat"),
    ],
)
@given(text=MARKS)
def test_any_text_is_read_or_refused_in_words(reader: Callable[[str], Any], text: str) -> None:
    """Whatever is typed, a reader returns something or raises BadInput with a sentence."""
    with suppress(BadInput):
        assert reader(text)


PLAIN = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), MARKS, st.sampled_from(["all", "none"])
)
VALUES = st.recursive(
    PLAIN,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=6,
)
GOOD = {
    "meter": st.sampled_from(["4/4", "7/8", "3/4"]),
    "length": st.integers(1, 5),
    "sticking": st.sampled_from(["R L", "RLRR LRLL", "lR (L) B"]),
    "value": st.sampled_from(sorted(NOTE_VALUES)),
    "path": st.sampled_from(["snare", "snare x3, tom2", "hihat+snare floor/rim"]),
    "orders": st.one_of(st.just("all"), st.integers(1, 4)),
    "ostinato": st.sampled_from(sorted(OSTINATOS)),
}


def tables(keys: list[str], extra: dict[str, st.SearchStrategy[Any]]) -> st.SearchStrategy[Any]:
    """Return tables whose values are sometimes right and sometimes anything at all."""
    fields = {key: st.one_of(GOOD.get(key, VALUES), VALUES) for key in keys} | extra
    return st.fixed_dictionaries({}, optional=fields)


HANDS = tables(sorted(notation.HANDS_FIELDS), {"odd": VALUES})
FEET = tables(sorted(notation.FEET_FIELDS), {"odd": VALUES})
BARS = tables([*notation.BARS_FIELDS, "snare", "hihat/open", "hihat:open", "ride/none"], {})
INNER: dict[str, st.SearchStrategy[Any]] = {
    "hands": st.one_of(HANDS, HANDS, VALUES),
    "feet": st.one_of(FEET, VALUES),
    "bars": st.one_of(BARS, VALUES),
}
SECTIONS = st.lists(st.one_of(tables(sorted(notation.SECTION_FIELDS), INNER), VALUES), max_size=3)
FILES = tables(sorted(notation.TOP_FIELDS), {**INNER, "section": st.one_of(SECTIONS, VALUES)})


@settings(max_examples=400, deadline=None)
@given(table=FILES)
def test_any_table_is_a_pattern_or_refused_in_words(table: dict[str, Any]) -> None:
    """Whatever a file holds, in whatever place, it is read or reported as BadInput."""
    with suppress(BadInput):
        made = notation.read(table, "any")

        assert made.notes
        assert all(0 <= note.beat < made.length for note in made.notes)
