"""What is asked before playing: choices, numbers, and what is remembered of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from stage import shown, wait_until

from trainer import settings
from trainer.actions.choices import FIGURE, LADDER, OFFERED, Choices, last_choices, request_of
from trainer.actions.requests import LadderRequest, PlayRequest, setup_on
from trainer.errors import BadInput
from trainer.screens.before_playing import BeforePlayingScreen, SettingsScreen
from trainer.screens.trainer_app import TrainerApp

if TYPE_CHECKING:
    from textual.screen import Screen

ROLL = "single-stroke-roll"
SIZES = [(80, 24), (100, 30), (200, 60)]


def asking(screen: Screen[Any]) -> tuple[TrainerApp, list[Any]]:
    """Return the app on a screen, and what that is left with."""
    left: list[Any] = []
    return TrainerApp(lambda app: app.push_screen(screen, left.append)), left


async def test_enter_starts_with_what_the_pattern_and_the_settings_say() -> None:
    """Nothing has to be chosen: the request is the one of the command without options."""
    app, left = asking(BeforePlayingScreen(ROLL, "Roll", "keys"))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "80, the pattern's own" in shown(app))
        await pilot.press("enter")
        await wait_until(pilot, lambda: left)
    assert left == [PlayRequest(ROLL, setup=setup_on("keys"))]


async def test_choices_are_remembered_for_the_pattern() -> None:
    """A tempo that was typed and a length that was chosen are there again the next time."""
    app, left = asking(BeforePlayingScreen(ROLL, "Roll", "keys"))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "▶ Play" in shown(app))
        await pilot.press("down", "9", "6", "5", "backspace", "down", "right", "right")
        await wait_until(pilot, lambda: "8 passes" in shown(app))
        await pilot.press("enter")
        await wait_until(pilot, lambda: left)
    assert left == [PlayRequest(ROLL, 96.0, 8, setup=setup_on("keys"))]
    assert last_choices(ROLL).tempo == "96"
    assert last_choices("double-stroke-roll") == Choices()
    again, _ = asking(BeforePlayingScreen(ROLL, "Roll", "keys"))
    async with again.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "8 passes" in shown(again))


async def test_the_click_s_figure_is_typed_kept_and_played() -> None:
    """Signs that are keys elsewhere are typed here; the request has the figure, and it is kept."""
    app, left = asking(BeforePlayingScreen(ROLL, "Roll", "keys"))
    figure = {"parts": "1x4,4x4", "on": "2,4", "accents": "3+1", "late": "1/8", "silent": "1-3/4"}
    keys = {",": "comma", "+": "plus", "-": "minus", "/": "slash"}
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "▶ Play" in shown(app))
        for key, text in figure.items():
            while app.screen.key != key:  # type: ignore[attr-defined]
                await pilot.press("down")
            await pilot.press(*(keys.get(sign, sign) for sign in f"{text}9"), "backspace")
            await wait_until(pilot, lambda text=text: f" {text}\n" in shown(app))
        await pilot.press("enter")
        await wait_until(pilot, lambda: left)
    setup = left[0].setup
    click = (setup.click.click_parts, setup.click.click_on, setup.click.click_accents)
    assert (*click, setup.click.click_late, setup.silent_bars) == tuple(figure.values())
    assert {key: getattr(last_choices(ROLL), key) for key in figure} == figure


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (["swing", "right"], "swing: a swing needs two clicks to a beat; set clicks a beat to 2"),
        (["accents", "7"], ""),
        (["on", "7"], "click on: bars of this pattern have 4 beats"),
        (["silent", "4", "slash", "4"], 'silent bars: "4/4" is not understood'),
    ],
)
async def test_a_figure_that_cannot_be_is_refused_on_the_screen(rows: list[str], said: str) -> None:
    """The row is named as the screen names it, and nothing starts."""
    app, left = asking(BeforePlayingScreen(ROLL, "Roll", "keys"))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "▶ Play" in shown(app))
        while app.screen.key != rows[0]:  # type: ignore[attr-defined]
            await pilot.press("down")
        await pilot.press(*rows[1:], "enter")
        if said:
            await wait_until(pilot, lambda: said in " ".join(shown(app).split()))
        else:
            await wait_until(pilot, lambda: left)
        assert bool(left) is not bool(said)


def test_every_figure_that_is_offered_can_be_played() -> None:
    """Each is understood, and fits a pattern in 4/4 that has the clicks it needs."""
    for key in FIGURE:
        for text in OFFERED[key]:
            chosen = Choices(**{"parts": "2", key: text, "input": "keys"})
            if key == "accents" and text == "3+3+2":
                assert request_of(ROLL, chosen).setup.click.click_accents == text
            assert isinstance(request_of(ROLL, chosen), PlayRequest)


async def test_what_cannot_be_played_is_said_on_the_screen() -> None:
    """A tempo out of range is refused where it was typed, and nothing starts."""
    app, left = asking(BeforePlayingScreen(ROLL, "Roll", "keys"))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "▶ Play" in shown(app))
        await pilot.press("down", "9", "9", "9", "enter")
        await wait_until(pilot, lambda: "999 BPM is out of range" in shown(app))
        assert not left


@pytest.mark.parametrize("size", SIZES)
async def test_nothing_is_cut_at_any_size(size: tuple[int, int]) -> None:
    """Every row is shown whole, with the keys below."""
    app, _ = asking(BeforePlayingScreen(ROLL, "Roll", "keys", LADDER))
    async with app.run_test(size=size) as pilot:
        await wait_until(pilot, lambda: "below your ceiling" in shown(app))
        for words in ("Step", "Strict", "Silent bars", "Lead hand", "Input", "Settings", "Start"):
            await wait_until(pilot, lambda words=words: words in shown(app))


def test_minutes_a_ladder_and_silent_bars_make_their_requests() -> None:
    """Each text has its place in the request."""
    chosen = Choices(length="5 minutes", silent="1/4", count_in="0", strict="tight", input="keys")
    found = request_of(ROLL, chosen)
    assert isinstance(found, PlayRequest)
    assert (found.minutes, found.passes) == (5.0, None)
    assert (found.setup.silent_bars, found.setup.count_in) == ("1/4", 0)
    assert found.setup.strictness == "tight"
    ladder = request_of(ROLL, Choices(LADDER, "70", "10 minutes", "2", lead="left"))
    assert ladder == LadderRequest(
        f"{ROLL} lead=left", 70.0, step=2.0, minutes=10.0, setup=setup_on("")
    )
    with pytest.raises(BadInput, match="is no number"):
        request_of(ROLL, Choices(tempo="fast"))


async def test_lasting_settings_go_into_one_file_and_leave_the_rest_alone() -> None:
    """A comment and other keys of the file stay; what is taken back leaves it."""
    path = settings.settings_file()
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text('# mine\nplayer = "Jo"\nlead = "left"\n')
    app, left = asking(SettingsScreen())
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "right-handed" in shown(app))
        await pilot.press("down", "down", "right", "down", "right")
        await wait_until(pilot, lambda: "left-handed" in shown(app))
        await pilot.press("enter")
        await wait_until(pilot, lambda: left == [None])
    assert path.read_text().startswith('# mine\nplayer = "Jo"\n')
    known = settings.load()
    assert (known.player, known.left_handed, known.lead) == ("Jo", True, "")
