"""Texts of the old spelling: each is shown the way it is written now."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer import toml_text
from trainer.archive import goals
from trainer.errors import BadInput
from trainer.kit.kit_file import kit_from_toml, kit_to_toml
from trainer.kit.model import Pad
from trainer.pattern import library
from trainer.pattern.formats.tab_file import pattern_from_tab
from trainer.pattern.json_data import pattern_from_dict, pattern_to_dict
from trainer.pattern.language import changes, notation, spelling
from trainer.pattern.language.old_spelling import LONGEST, is_old, present_spelling

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.mark.parametrize(
    ("old", "now"),
    [
        ("R*3 L", "R x3 L"),
        ("RLR*3", "RL R x3"),
        ("RlRrL*2", "RlR rL x2"),
        ("R (L)*2", "R (L) x2"),
        ("R(L R)*2", "R (L R) x2"),
        ("[R L R R]*2", "|: R L R R :| x2"),
        ("[RLRR]*2 | >R", "RLRR x2 | >R"),
        ("[[R]*2 L]*2", "|: R x2 L :| x2"),
        ("snare*4", "snare x4"),
        ("snare*4 tom1*4", "snare x4, tom1 x4"),
        ("[ride snare]*2", "|: ride snare :| x2"),
        ("[snare tom1] tom2*2 floor", "snare tom1, tom2 x2, floor"),
        ("snare:rim", "snare/rim"),
        ("hihat+snare:rim*2, floor", "hihat+snare/rim x2, floor"),
        ("|: snare:rim floor :| x2", "|: snare/rim floor :| x2"),
        ("16*4 4", "16 x4, 4"),
        ("R]", ""),
        ("[R", ""),
        ("*3", ""),
        ("R*", ""),
        ("[]*2", ""),
    ],
)
def test_the_present_spelling_of_an_old_text(old: str, now: str) -> None:
    """Repeats, groups and zones of each kind, and nothing where the text was wrong before too."""
    assert present_spelling(old) == now
    assert is_old(old)
    assert not is_old(now)


@pytest.mark.parametrize(
    ("reader", "old", "words"),
    [
        (spelling.path, "snare*4", 'write "snare x4"'),
        (spelling.path, "[ride snare]*2", 'write "|: ride snare :| x2"'),
        (spelling.path, "snare:rim", 'write "snare/rim"'),
        (spelling.sticking, "[R L R R]*2", 'write "|: R L R R :| x2"'),
        (spelling.values, "16*4 4", 'write "16 x4, 4"'),
        (spelling.spot, "snare:rim", 'write "snare/rim"'),
        (spelling.path, "snare:rim*", 'zones as "snare/rim"'),
        (spelling.path, "snare*4 " * LONGEST, 'repeats as "snare x4"'),
        (lambda text: spelling.grid(text, "snare"), "x-s-", "write w for a cross-stick"),
        (lambda text: pattern_from_tab(text, "t"), "SN |o-S-|", "line 1: .* write W for"),
        (lambda text: pattern_from_tab(text, "t"), "SN:rim |o-|", 'line 1: .*; write "SN/rim"'),
        (
            lambda text: pattern_from_tab(text, "t"),
            "SN |oo|\n\nbar 1, values: snare 8*2",
            'line 3: .* write "8 x2"',
        ),
        (lambda text: kit_from_toml(text, "k"), '[notes]\n40 = "snare:rim"', 'write "snare/rim"'),
        (lambda text: kit_from_toml(text, "k"), '[same]\n"snare:rim" = 9', 'write "snare/rim"'),
    ],
)
def test_an_old_text_is_refused_with_the_present_one(
    reader: Callable[[str], Any], old: str, words: str
) -> None:
    """One sentence says how to write it now."""
    with pytest.raises(BadInput, match=words.replace("|", r"\|")) as caught:
        reader(old)

    assert str(caught.value).count("old spelling") <= 1
    assert "\n" not in str(caught.value)


def test_an_old_key_of_a_grid_is_refused_with_its_line() -> None:
    """The key of a zone is named with the line it is on."""
    source = '[bars]\n"tom1:rim" = "x---"'
    with pytest.raises(BadInput, match=r'line 2, bars\.tom1:rim: .*; write "tom1/rim"'):
        notation.read(toml_text.parse(source), "t", source)


@pytest.mark.parametrize(
    ("old", "now"),
    [
        (
            "flam-tap path='snare*4 tom1*4' feet=samba",
            "flam-tap path='snare x4, tom1 x4' feet=samba",
        ),
        ("climb sticking='[R L]*2'", "climb sticking='|: R L :| x2'"),
        ("climb path='snare*'", "climb path='snare*'"),
        ("climb title='four *'", "climb title='four *'"),
        ('climb path="snare*4', 'climb path="snare*4'),
        ("any * name = at all", "any * name = at all"),
    ],
)
def test_a_saved_name_is_read_in_the_present_spelling(old: str, now: str) -> None:
    """Sessions of a changed pattern go on under the name that it has today."""
    saved = pattern_to_dict(library.load_pattern("single-paradiddle")) | {"name": old}

    assert changes.present_name(old) == pattern_from_dict(saved).name == now
    assert changes.present_name(now) == now


def test_a_goal_names_its_pattern_in_the_present_spelling() -> None:
    """Goals and sessions of a pattern are found by one name, whenever they were written."""
    text = '[[goal]]\nname = "Gig"\ntempo = 90\nvalue = "16"\npattern = "flam-tap path=snare*4"'

    assert goals.read(text)[0].pattern == "flam-tap path='snare x4'"


def test_a_kit_is_read_as_it_is_written() -> None:
    """The zones of a kit are written in the spelling that is read."""
    source = '[notes]\n31 = "snare/cross-stick"\n[same]\n"snare/rim" = 31\n'
    kit = kit_from_toml(source, "k")

    assert kit.notes[31] == Pad("snare", "cross-stick")
    assert kit_from_toml(kit_to_toml(kit), "k") == kit


OLD_PATHS = st.recursive(
    st.sampled_from(["snare", "tom1", "floor:rim", "hihat+snare"]),
    lambda inner: st.one_of(
        st.builds("{}*{}".format, st.sampled_from(["snare", "ride:bell"]), st.integers(1, 4)),
        st.builds("[{} {}]*{}".format, inner, inner, st.integers(1, 3)),
        st.builds("[{} {}]".format, inner, inner),
        st.builds("{} {}".format, inner, inner),
    ),
    max_leaves=6,
)


def old_stops(text: str) -> list[str]:
    """Return the drums of an old path, written out by the rules it was read by then."""
    stack: list[list[list[str]]] = [[]]
    words = text.replace("[", " [ ").replace("]", " ] ").replace("*", " *").split()
    for word in words:
        if word == "[":
            stack.append([])
        elif word == "]":
            stack[-2].append([one for part in stack.pop() for one in part])
        elif word.startswith("*"):
            stack[-1][-1] *= int(word[1:])
        else:
            stack[-1].append([word.replace(":", "/")])
    return [one for part in stack[0] for one in part]


@given(old=OLD_PATHS)
def test_the_present_spelling_names_the_same_drums(old: str) -> None:
    """However repeats and groups are nested, the present text plays what the old one played."""
    stops = [str(stop) for part in spelling.path(present_spelling(old)) for stop in part]

    assert stops == old_stops(old)
