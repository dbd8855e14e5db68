"""What is chosen before playing: a few texts a pattern, and the request that they make.

Each choice is a text as it is shown and typed; an empty one leaves it to the settings, the pattern
or the program. The last choices of every pattern are kept in one file of the player's own, and can
be thrown away at any time.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

from trainer import settings
from trainer.actions.requests import ClickRequest, LadderRequest, PlayedOn, PlayRequest, Setup
from trainer.errors import BadInput, TrainerError
from trainer.file_system import read_bytes, user_folder, write_file
from trainer.measure.clean import STRICTNESS_LEVELS
from trainer.pattern.library import is_left_handed, load_pattern
from trainer.practice.course import check_tempo
from trainer.typed_json import Plain, encode, reader

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from trainer.actions.requests import SessionRequest

STEADY, LADDER = "one tempo", "ladder"
PASSES, MINUTES = "passes", "minutes"


@dataclass(frozen=True, slots=True)
class Choices:
    """The choices for one pattern. `length` is "8 passes" or "10 minutes", `lead` right or left."""

    kind: str = STEADY
    tempo: str = ""
    length: str = ""
    step: str = ""
    strict: str = ""
    count_in: str = ""
    click: str = ""
    sound: str = ""
    parts: str = ""
    on: str = ""
    accents: str = ""
    late: str = ""
    swing: str = ""
    silent: str = ""
    lead: str = ""
    input: str = ""


OFFERED: dict[str, tuple[str, ...]] = {
    "kind": (STEADY, LADDER),
    "tempo": ("",),
    "length": ("", "4 passes", "8 passes", "16 passes", "5 minutes", "10 minutes", "20 minutes"),
    "step": ("", "1", "2", "4"),
    "strict": ("", *STRICTNESS_LEVELS),
    "count_in": ("", "0", "1", "2", "4"),
    "click": ("", "audio"),
    "sound": ("", "wood", "tick", "tone"),
    "parts": ("", "1", "2", "3", "4", "1x4,2x4", "1x4,4x4"),
    "on": ("", "2,4", "1,3", "1", "4"),
    "accents": ("", "none", "2,4", "1,3", "3+3+2"),
    "late": ("", "1/8", "1/16"),
    "swing": ("", "50", "58", "62", "67"),
    "silent": ("", "1/2", "1/4", "2/4", "2/8", "1-3/4", "1-7/8", "20%", "40%"),
    "lead": ("", "right", "left"),
    "input": (),
}
"""What each choice offers, the program's own first; a number may be typed where one is offered."""

NUMBERS = ("tempo", "length", "step", "count_in")
"""Choices that a number can be typed for."""

FIGURE = {
    "parts": ("click_parts", "clicks a beat"),
    "on": ("click_on", "click on"),
    "accents": ("click_accents", "accents"),
    "late": ("click_late", "after beat"),
    "swing": ("click_swing", "swing"),
    "silent": ("silent_bars", "silent bars"),
}
"""Choices that make the click's figure: the text each is (`practice/click_figure.py`), its name."""


def request_of(pattern: str, chosen: Choices) -> SessionRequest:
    """Return the request that choices make for a pattern by name; raises BadInput."""
    name, setup = led_by(pattern, chosen.lead or settings.load().lead), _setup(chosen)
    _check_figure(name, chosen, setup)
    tempo = _number(chosen.tempo, "tempo", float)
    if tempo is not None:
        check_tempo(tempo)
    passes, minutes = length_of(chosen.length)
    if chosen.kind != LADDER:
        return PlayRequest(name, tempo, passes, minutes=minutes, setup=setup)
    step = _number(chosen.step, "step", float)
    ladder = LadderRequest(name, tempo, step=step, passes=passes, setup=setup)
    return ladder if minutes is None else replace(ladder, minutes=minutes)


def led_by(pattern: str, lead: str) -> str:
    """Return a pattern's name with the hand that leads; as it is where its hands have no lead.

    Names are those of the usual kit: on a left-handed one the left hand leads what is written for
    the right one.
    """
    if is_left_handed():
        lead = {"left": "", "right": "left"}.get(lead, lead)
    if not lead or "lead=" in pattern:
        return pattern
    changed = f"{pattern} lead={lead}"
    try:
        load_pattern(changed)
    except BadInput:
        return pattern
    return changed


def length_of(text: str) -> tuple[int | None, float | None]:
    """Return the passes or the minutes of a length, None for the other, or for no set end."""
    number, _, unit = text.partition(" ")
    if not number:
        return None, None
    if unit.startswith("minute"):
        return None, _number(number, "minutes", float)
    return _number(number, "passes", int), None


def _setup(chosen: Choices) -> Setup:
    out = chosen.click
    sound = chosen.sound or None
    click = ClickRequest(
        out,
        sound=sound if (out or settings.load().click) == "audio" else None,
        click_parts=chosen.parts or 1,
        click_on=chosen.on or None,
        click_accents=chosen.accents or None,
        click_late=chosen.late or None,
        click_swing=chosen.swing or None,
    )
    count_in = _number(chosen.count_in, "count-in", int)
    return Setup(
        PlayedOn(chosen.input),
        click,
        1 if count_in is None else count_in,
        chosen.silent or None,
        chosen.strict or None,
    )


def _check_figure(pattern: str, chosen: Choices, setup: Setup) -> None:
    """Raise BadInput where the click's figure is not understood or does not fit the pattern."""
    if any(getattr(chosen, key) for key in FIGURE):
        from trainer.actions.job import fitting_figure

        fitting_figure(setup, load_pattern(pattern), dict(FIGURE.values()).__getitem__)


def _number(text: str, where: str, kind: Callable[[str], Any]) -> Any:
    if not text:
        return None
    try:
        return kind(text)
    except ValueError:
        raise BadInput(f'"{text}" is no number', where=where, fix="type a number") from None


# The last choices

MOST_KEPT, LARGEST = 500, 2**20

_read = reader(Plain)


def _path() -> Path:
    return user_folder("choices") / "last.json"


def last_choices(pattern: str) -> Choices:
    """Return the last choices for a pattern; the program's own where there are none."""
    kept = _kept().get(pattern)
    if not isinstance(kept, dict):
        return Choices()
    texts = {key: kept.get(key) for key in asdict(Choices())}
    return Choices(**{key: text[:80] for key, text in texts.items() if isinstance(text, str)})


def keep_choices(pattern: str, chosen: Choices) -> None:
    """Keep the choices for a pattern; where nothing can be written they are not remembered."""
    kept = _kept()
    kept.pop(pattern, None)
    kept[pattern] = {key: value for key, value in asdict(chosen).items() if value}
    try:
        write_file(_path(), encode(dict([*kept.items()][-MOST_KEPT:])), own=True)
    except TrainerError:
        return


def _kept() -> dict[str, Any]:
    try:
        return dict(_read(read_bytes(_path(), LARGEST)))
    except BadInput:
        return {}
