"""Every number of a reading has its sentence, and no sentence is about nothing."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from fnmatch import fnmatchcase

import pytest
from handmade import course, judged, levels, line, pattern, player, walk

from trainer.cli import run
from trainer.measure import clean
from trainer.measure.reading import read_take
from trainer.pattern.model import Level
from trainer.settings import settings_file
from trainer.show.glossary import GLOSSARY, glossary_word
from trainer.show.grounds import GROUNDS, NAMES
from trainer.show.reading_keys import KEY_EXPLANATIONS, key_explanation, summary_keys
from trainer.show.reading_words import reading_lines


def _rich_summary() -> dict:
    """A summary that holds every kind of number: errors, levels, unisons, a change of value."""
    hands = line("snare tom1 " * 8) + line("snare snare " * 4, value="8", start=4)
    accented = levels(
        pattern(hands, line("kick " * 8, value="4", limbs="K")),
        lambda i, note: (Level.ACCENT, Level.GHOST, Level.NORMAL, Level.NORMAL)[i % 4],
    )
    play = player(1, 8.0)
    made = judged(
        course(accented, 4),
        offset_ms=lambda target: None if target.index % 17 == 0 else play(target),
        outcome=lambda target: "rim" if target.index % 13 == 0 else "played",
        extras=[(3.0, "extra"), (3.5, "double")],
        position=lambda target: 0.2,
    )
    return read_take(made).to_dict()


def _open_summary() -> dict:
    """A summary of an open block: nothing is written and four strokes came."""
    empty = replace(walk(), notes=())
    made = judged(course(empty, 1), extras=[(2.0 + 0.5 * beat, "extra") for beat in range(4)])
    return read_take(made).to_dict()


def test_every_number_of_a_reading_is_explained() -> None:
    """Each key of a rich summary and of an empty one has a sentence."""
    empty = read_take(judged(course(walk(), 0))).to_dict()
    for summary in (_rich_summary(), _open_summary(), empty):
        assert [key for key in summary_keys(summary) if key_explanation(key) is None] == []


def test_no_sentence_is_about_nothing() -> None:
    """Each line of the table is met by a key of a rich summary."""
    found = [*summary_keys(_rich_summary()), *summary_keys(_open_summary())]

    unmet = [
        known for known in KEY_EXPLANATIONS if not any(fnmatchcase(key, known) for key in found)
    ]
    assert unmet == []


def test_the_command_shows_one_number_a_part_or_all(capsys: pytest.CaptureFixture[str]) -> None:
    """`explain` takes a key as --json names it, the head of a part, or nothing."""
    assert run(["explain", "offset.by_voice.snare.mean"]) == 0
    assert "minus is early" in " ".join(capsys.readouterr().out.split())

    assert run(["explain", "unisons", "--json"]) == 0
    assert set(json.loads(capsys.readouterr().out)) == {
        "unisons",
        *(k for k in KEY_EXPLANATIONS if k[:8] == "unisons."),
    }

    assert run(["explain", "--keys"]) == 0
    assert capsys.readouterr().out.count("\n    ") >= len(KEY_EXPLANATIONS)

    assert run(["explain"]) == 0
    printed = capsys.readouterr().out
    assert all(f"\n{word:<22} " in f"\n{printed}" for word in GLOSSARY)
    assert max(map(len, printed.splitlines())) <= 79

    assert run(["explain", "--json"]) == 0
    assert set(json.loads(capsys.readouterr().out)) == {*GLOSSARY, *KEY_EXPLANATIONS}


def test_a_word_says_what_it_is_what_is_normal_and_what_to_do(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The three parts are lines of their own, then where the numbers are explained."""
    assert run(["explain", "limp"]) == 0
    heads = [text.split(":")[0] for text in capsys.readouterr().out.splitlines() if text[0] != " "]
    assert heads == ["limp", "Normal", "To do", "Ground", "Claim", "Checked", "Numbers"]


@pytest.mark.parametrize("word", ["clock", "level", "limp", "ceiling", "clean", "gap", "margin"])
def test_words_of_the_screens_are_explained(word: str) -> None:
    """Words that the screens print without a key have an entry, with more than a definition."""
    entry = GLOSSARY[glossary_word(word) or ""]
    assert entry.normal or entry.do


def test_every_statement_has_its_ground_its_claim_and_how_it_was_checked(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A word of the glossary only names a thing, or says what the statement behind it rests on."""
    assert set(GROUNDS) | NAMES == set(GLOSSARY)
    assert not set(GROUNDS) & NAMES
    for word, ground in GROUNDS.items():
        assert all(len(part.split()) >= 2 and part.endswith(".") for part in ground), word
        assert GLOSSARY[word].normal or GLOSSARY[word].do, word

    assert run(["explain", "margin"]) == 0
    printed = capsys.readouterr().out
    assert all(f"\n{head}: " in printed for head in ("Ground", "Claim", "Checked"))


@pytest.mark.parametrize("word", [*GLOSSARY, "left foot", "RH", "unison", "drift"])
def test_no_line_about_a_word_is_broken_by_the_terminal(
    word: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every word is found by its own name, and its page fits into 79 columns."""
    assert run(["explain", *word.split()]) == 0
    assert max(map(len, capsys.readouterr().out.splitlines())) <= 79


def test_clean_is_first_said_in_ms_at_the_players_tempo_and_value(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """60 BPM in eighths is 500 ms, counted as 400: 2.5% of that times the level (Friberg 1995)."""
    assert run(["explain", "clean", "--tempo", "60", "--value", "8", "--strict", "solid"]) == 0
    first, head, spread, *_ = capsys.readouterr().out.splitlines()
    assert "60 BPM in 8ths (500 ms apart)" in first
    assert head.split() == ["solid"]
    solid = clean.STRICTNESS_LEVELS["solid"]
    assert float(spread.split()[-1]) == pytest.approx(0.025 * 400 * solid.spread_times)


@pytest.mark.parametrize(
    "words",
    [["--value", "3"], ["--tempo", "0"], ["--tempo", "nan"], ["--strict", "sloppy"]],
)
def test_what_clean_cannot_be_said_at_is_bad_input(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """An unknown value or level and no tempo are one sentence that names the option."""
    assert run(["explain", "clean", *words]) == 2
    assert capsys.readouterr().err.startswith(f"{words[0]}: ")


def test_an_unknown_number_is_answered_with_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    """A misspelt key is bad input, with a remedy."""
    assert run(["explain", "offset.spred"]) == 2
    assert 'did you mean "offset.spread"' in capsys.readouterr().err


def test_what_counts_as_clean_is_reported_with_its_grounds(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """`trainer explain clean` gives the sources and every figure of every level."""
    assert run(["explain", "clean"]) == 0
    reported = capsys.readouterr().out
    for word in ("Friberg", "Hirsh", "loose", "solid", "tight", "gap_ms"):
        assert word in reported


def test_every_word_at_the_head_of_a_printed_line_is_explained(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A drummer can ask for each word as the summary prints it, without the colon."""
    reported = [text for text in reading_lines(_rich_summary())[1:] if ":" in text]
    heads = {re.split(r"[:,(]| \d", text.strip())[0].strip() for text in reported}
    heads = {head for head in heads if head and head[0].isupper()}
    assert {"Time", "Unisons hand and foot", "Evenness", "Strays"} <= heads
    for head in [*heads, "Sure", "Lope", "Limp", "Move", "ceiling", "Strays:", "during a rung"]:
        word = head.split(" hand")[0]
        assert run(["explain", *word.split()]) == 0, word
    assert "chance" not in capsys.readouterr().err


def test_a_printed_word_brings_its_numbers(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The word comes first, its numbers by their names in --json after it; each key is known."""
    assert run(["explain", "limp", "--json"]) == 0
    assert list(json.loads(capsys.readouterr().out)) == ["limp", "evenness.lope"]
    for word in GLOSSARY.values():
        for key in word.keys:
            assert key in KEY_EXPLANATIONS or any(
                known.startswith(f"{key}.") for known in KEY_EXPLANATIONS
            ), key


def test_sure_says_what_its_shares_are(capsys: pytest.CaptureFixture[str]) -> None:
    """Both shares of the line that says how sure the alignment is are explained."""
    assert run(["explain", "sure"]) == 0
    reported = " ".join(capsys.readouterr().out.split())
    assert "twice the pairs" in reported
    assert "thrown at random" in reported


def test_clean_shows_the_players_own_figures(capsys: pytest.CaptureFixture[str]) -> None:
    """What settings.toml changes has a column of its own; no name of the code is shown."""
    settings_file().parent.mkdir(parents=True, exist_ok=True)
    settings_file().write_text("[clean]\ngap_ms = 12.5\n")

    assert run(["explain", "clean"]) == 0
    reported = capsys.readouterr().out
    assert "yours" in reported
    row = next(text for text in reported.splitlines() if text.startswith("  gap_ms"))
    assert row.split()[-1] == "12.5"
    assert "NOISE" not in reported
    assert "FEWEST" not in reported
    assert (clean.FALSE_ALARM_SHARE, clean.FEWEST_STROKES) == (
        1 / 50,
        8,
    )  # as the page says in words
