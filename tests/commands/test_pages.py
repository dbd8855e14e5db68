"""The pages of the commands: the words of the command itself, and acts that do what it does."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from sessions import saved

from trainer import cli
from trainer.actions.advice import advice_on
from trainer.actions.replay import FolderShelf, ReplayRequest
from trainer.actions.requests import LadderRequest, PlayRequest, RoutineRequest, setup_on
from trainer.actions.ways import find_way
from trainer.archive import goals, routines
from trainer.errors import BadInput
from trainer.file_system import shipped_folder, user_folder
from trainer.pattern import library
from trainer.screens import pages_kit
from trainer.screens.dialogs import key_names
from trainer.screens.page_screen import PageScreen, screen_of_page
from trainer.screens.pages import PAGES, page_of
from trainer.show.page import ChooseQuestion, Page

if TYPE_CHECKING:
    from pathlib import Path


def text(page: Page) -> str:
    """Return all that a page tells."""
    return "\n".join("\n".join((part.heading, *part.lines)) for part in page.make(lambda _: None))


def act(page: Page, key: str, *words: str) -> object:
    """Do what a key of a page stands for."""
    (does,) = [one.does for one in page.acts if one.key == key]
    return does(*words)


@pytest.fixture
def played() -> Path:
    """Return the player's folder with the example sessions in it, as if played on a kit."""
    folder = user_folder("recordings")
    folder.mkdir(parents=True)
    for path in shipped_folder("recordings").glob("*.jsonl"):
        example = path.read_text()
        assert '"source":"simulated player"' in example
        kit = example.replace('"source":"simulated player"', '"source":"Pad box"', 1)
        (folder / path.name).write_text(kit)
    return folder


@pytest.mark.parametrize("name", PAGES)
def test_every_page_names_its_command_and_helps(name: str) -> None:
    """The command is one of ours, the guide says something, and no key stands for two acts."""
    page = page_of(name, "keys")
    assert page.command.split()[:2] == ["trainer", name]
    assert len(page.guide) > 60
    keys = [one.key for one in page.acts]
    common = [key for one in PageScreen.COMMON for key in one.key.split(",")]
    assert len({*keys, *common}) == len(keys) + len(common)
    assert all(key_names(one) for one in type(screen_of_page(page)).BINDINGS)


@pytest.mark.parametrize("name", ["explain", "goal", "ports"])
def test_a_page_says_what_the_command_says(
    name: str, played: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Word for word, apart from where lines are broken and what is drawn between."""
    goals.add(goals.Goal("Overture, last page", 152, "16"))
    monkeypatch.setattr("trainer.midi.ports.system", _two_ports)
    assert cli.run([name]) == 0
    reported = " ".join(text(page_of(name, "keys")).split())
    for line in capsys.readouterr().out.splitlines():
        assert " ".join(line.split()) in reported


def _two_ports() -> object:
    from trainer.midi.port_names import Port
    from trainer.midi.ports import System

    return System("test", (Port("test", 0, "Pad box", "Pad box", 0, "Pad box"),), ())


def test_goals_are_kept_and_forgotten(played: Path) -> None:
    """n keeps a goal, x forgets it once that was said twice, enter climbs what comes nearest."""
    page = page_of("goal", "Pad box")
    assert "No goals yet" in text(page)
    assert "strokes a second" in str(act(page, "n", "", "Overture", "100", "16"))
    assert "┃" in text(page)
    ladder = act(page, "enter", "Overture")
    assert isinstance(ladder, LadderRequest)
    assert ladder.pattern in [one.name for one in library.catalogue()]
    assert ladder.setup == setup_on("Pad box")
    act(page, "x", "Overture", "no")
    assert goals.load()
    act(page, "x", "Overture", "yes")
    assert not goals.load()


@pytest.mark.parametrize("tempo", ["fast", "", "nan", "0", "1e9"])
def test_a_tempo_that_makes_no_sense_is_refused_before_it_is_kept(tempo: str) -> None:
    """The question itself says why."""
    (new,) = [one for one in page_of("goal", "keys").acts if one.key == "n"]
    question = new.asks[1]("")
    assert question.refuses(tempo)  # type: ignore[union-attr]
    assert not question.refuses("152")  # type: ignore[union-attr]


def test_the_last_two_sessions_of_a_pattern_are_compared() -> None:
    """Without two there is nothing to compare; with them, the earlier one is A."""
    page = page_of("compare", "keys")
    assert "No pattern has been played in two sessions yet." in text(page)
    with pytest.raises(BadInput, match="no two sessions"):
        act(page, "enter", "")
    folder = user_folder("recordings")
    first = saved(folder).rename(folder / "20260228-183000-between-runs.jsonl")
    second = saved(folder)
    assert "2 sessions" in text(page)
    compared = act(page, "enter", "between-runs")
    assert isinstance(compared, Page)
    assert compared.command == f"trainer compare {first.stem} {second.stem}"
    assert "A: 1 Mar" in text(compared)
    assert first.name not in text(compared)
    assert "Nothing changed by more than chance would." in text(compared)


def test_any_two_sessions_can_be_chosen() -> None:
    """The second question leaves out what the first one took."""
    paths = [saved(user_folder("recordings")) for _ in range(3)]
    (choose,) = [one for one in page_of("compare", "keys").acts if one.key == "c"]
    first, second = (ask("between-runs", paths[0].stem) for ask in (choose.asks[1],) * 2)
    assert isinstance(first, ChooseQuestion)
    assert first == second
    assert paths[0].stem not in [value for value, _ in first.choices]
    assert {paths[1].stem, paths[2].stem} == {value for value, _ in first.choices}


def test_advice_is_reported_and_its_drill_practised(
    played: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A part a weakness with its evidence; enter saves the drill and plays it on the kit."""
    example = next(path for path in played.glob("*.jsonl") if _advised(path))
    page = act(page_of("advice", "Pad box"), "c", "", str(example))
    assert isinstance(page, Page)
    weak = [part for part in page.make(lambda _: None) if part.name]
    assert weak
    assert all(part.lines for part in weak)
    run = act(page, "enter", weak[0].name)
    assert isinstance(run, PlayRequest)
    assert run.setup == setup_on("Pad box")
    assert (user_folder("patterns") / f"{run.pattern}.toml").is_file()
    with pytest.raises(BadInput, match="no drill here"):
        act(page, "s", "")


def _advised(path: Path) -> bool:
    return bool(advice_on(path).findings)


def test_explain_finds_terms_by_a_word() -> None:
    """Only numbers that speak of it stay; what counts as clean has a page of its own."""
    page = page_of("explain", "keys")
    found = act(page, "slash", "", "FLAM")
    assert isinstance(found, Page)
    parts = [*found.make(lambda _: None)]
    assert parts
    assert all("flam" in f"{part.heading} {part.lines}".lower() for part in parts)
    nothing = act(page, "slash", "", "zither")
    assert isinstance(nothing, Page)
    assert "Nothing here" in text(nothing)
    clean = act(page, "c", "")
    assert isinstance(clean, Page)
    assert "loose" in text(clean)


def test_a_sheet_is_written_of_what_was_chosen(tmp_path: Path) -> None:
    """In the order of choosing; with nothing chosen, of the pattern under the cursor."""
    page = page_of("sheet", "keys")
    act(page, "enter", "single-paradiddle")
    act(page, "enter", "flam-tap")
    assert [line[:2] for line in text(page).splitlines() if line.strip()[0].isdigit()] == [
        " 2",
        " 1",
    ]
    reported = act(page, "p", "climb-odd-numbers", str(tmp_path / "week.musicxml"))
    assert str(tmp_path / "week.musicxml") in str(reported)
    written = (tmp_path / "week.musicxml").read_text()
    assert written.index("paradiddle") < written.index("lam tap")
    act(page, "enter", "flam-tap")
    assert "2" not in [line[:2].strip() for line in text(page).splitlines()]


def test_a_take_is_judged(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A MIDI file and its pattern make the words that the command prints, and can be replayed."""
    out = tmp_path / "my take.mid"
    assert cli.run(["patterns", "export", "fives-and-threes", "-o", str(out)]) == 0
    page = act(page_of("assess", "keys"), "enter", "", f"'{out}'", "fives-and-threes")
    assert isinstance(page, Page)
    assert "1 pass" in text(page)
    assert "192 strokes: 192 played" in text(page)
    again = act(page, "enter", "")
    assert again == ReplayRequest(tmp_path, str(out), pattern="fives-and-threes")
    assert FolderShelf(again).open(lambda step: None).summary["counts"]["played"] == 192


def test_a_routine_is_begun_around_a_pattern() -> None:
    """It is a file that the command reads; its name cannot be taken twice or leave the folder."""
    page = page_of("routine", "Pad box")
    assert "No routine yet." in text(page)
    assert "Written" in str(act(page, "n", "", "evening", "flam-tap"))
    path = str(routines.find_routine("evening"))
    assert cli.run(["routine", "evening", "--check"]) == 0
    assert "ladder, 15 minutes, Flam tap" in text(page)
    assert act(page, "enter", path) == RoutineRequest(path, setup=setup_on("Pad box"))
    for name in ("evening", "../evening", ""):
        with pytest.raises(BadInput):
            routines.begin_routine(name, "flam-tap")


def test_a_routine_with_faults_is_listed_with_them() -> None:
    """The others stay usable."""
    routines.begin_routine("evening", "flam-tap").with_name("bad.toml").write_text("title = 3")
    reported = text(page_of("routine", "keys"))
    assert "bad.toml, line 1" in reported
    assert "evening: 30 minutes" in reported


def test_the_timing_trial_runs_beside_the_screen(monkeypatch: pytest.MonkeyPatch) -> None:
    """It says how far it is, then what the command says."""
    monkeypatch.setattr(pages_kit, "TIMING_S", 1)
    reported: list[str] = []
    parts = [*page_of("timing", "keys").make(reported.append)]
    assert any("of 1 s" in one for one in reported)
    assert parts[0].heading.startswith("The program wakes up")


def test_each_way_opens_and_each_step_can_be_climbed() -> None:
    """What a way is about comes before its steps; the cursor on a step has its pattern."""
    page = page_of("way", "keys")
    parts = [*page.make(lambda _: None)]
    assert parts
    for part in parts:
        opened = act(page, "enter", part.name)
        assert isinstance(opened, Page)
        steps = [one.name for one in opened.make(lambda _: None) if one.name]
        assert len(steps) == len(find_way(user_folder("recordings"), part.name).steps)
        climbed = act(opened, "enter", steps[0])
        assert climbed == LadderRequest(steps[0], setup=setup_on("keys"))
