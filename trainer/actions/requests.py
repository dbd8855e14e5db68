"""What can be asked to be played: plain values, with the defaults of the commands.

A request names things as the player does (a pattern, a port, a kit); `actions.prepare` finds them.
Empty texts and None mean the player's settings, or the program's own choice.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

COMPUTER_KEYS, SIMULATED_PLAYER = "keys", "simulated"
NO_PORT = (COMPUTER_KEYS, SIMULATED_PLAYER)
"""What can be played on that is no MIDI port."""

DEMO_PATTERN = "fives-and-threes"
DEMO_PLAYER = "simulated player"

COURSE_FIELDS = (
    *("tempo", "passes", "count_in", "silent_bars", "click_parts", "seed"),
    *("click_on", "click_accents", "click_late", "click_swing"),
    *("start", "step", "top", "rule"),
)
"""What a session file keeps of a request."""


@dataclass(frozen=True, slots=True)
class PlayedOn:
    """What is played on: `port` is a part of a MIDI input's name, or one of NO_PORT.

    `pad_keys` are texts such as "crash=restart". `seed` and `fast` (in simulated time) are for the
    simulated player. `thru` is the MIDI output that strokes are heard at.
    """

    port: str = ""
    kit: str | None = None
    latency_ms: float | None = None
    pad_keys: tuple[str, ...] = ()
    seed: int = 1
    fast: bool = False
    thru: str = ""


@dataclass(frozen=True, slots=True)
class ClickRequest:
    """The click: `out` is a part of a MIDI output's name, or "audio".

    What it plays is written as `trainer.practice.click_figure` says; without a text it is a click a
    beat. `clock_to` is the MIDI output that a MIDI clock is sent to.
    """

    out: str = ""
    note: int | None = None
    channel: int | None = None
    sound: str | None = None
    volume: float | None = None
    clock_to: str = ""
    click_parts: int | str | None = 1
    click_on: str | None = None
    click_accents: str | None = None
    click_late: str | None = None
    click_swing: str | None = None


@dataclass(frozen=True, slots=True)
class Setup:
    """What every session needs beside what is played: the kit, the click, strictness, the folder.

    `count_in` is in bars, `silent_bars` a text such as "1/4" (`trainer.practice.click_figure`).
    """

    played_on: PlayedOn = PlayedOn()
    click: ClickRequest = ClickRequest()
    count_in: int = 1
    silent_bars: str | None = None
    strictness: str | None = None
    player: str = ""
    recordings: str | None = None


def setup_on(port: str) -> Setup:
    """Return the setup of playing on a port, with everything else as it is set."""
    return Setup(PlayedOn(port))


@dataclass(frozen=True, slots=True)
class PlayRequest:
    """A pattern at one tempo (BPM), or led by the MIDI clock of the input `follow`.

    Without `passes` or `minutes` it continues until the player ends it; minutes are as many whole
    passes as they hold, one at least.
    """

    pattern: str
    tempo: float | None = None
    passes: int | None = None
    follow: str = ""
    setup: Setup = Setup()
    minutes: float | None = None


@dataclass(frozen=True, slots=True)
class DemoRequest:
    """A pattern played by a simulated player, without a click; about a minute without `passes`."""

    pattern: str = DEMO_PATTERN
    tempo: float | None = None
    passes: int | None = None
    setup: Setup = Setup(
        PlayedOn(SIMULATED_PLAYER), ClickRequest(click_parts=None), player=DEMO_PLAYER
    )


@dataclass(frozen=True, slots=True)
class LadderRequest:
    """A pattern climbed in tempo; BPM, and minutes. Without `start`, from below the ceiling.

    Without `step` and `rule` it is aimed; a step alone means the steady rule.
    """

    pattern: str
    start: float | None = None
    step: float | None = None
    top: float | None = None
    passes: int | None = None
    minutes: float = 20.0
    rest_every: float | None = None
    rest: float = 1.0
    rule: str | None = None
    clean_to_rise: int = 1
    setup: Setup = Setup()


@dataclass(frozen=True, slots=True)
class RoutineRequest:
    """A routine by name or file; `again` begins at its first block, whatever was done before."""

    file: str
    again: bool = False
    setup: Setup = Setup()


SessionRequest = PlayRequest | DemoRequest | LadderRequest
"""What makes one session."""

Request = SessionRequest | RoutineRequest
"""Anything that can be played."""


def request_at(request: SessionRequest, tempo: float) -> SessionRequest:
    """Return the same request at another tempo (BPM); a ladder starts there."""
    if isinstance(request, LadderRequest):
        return replace(request, start=tempo)
    return replace(request, tempo=tempo)


def course_of(request: object) -> dict[str, Any]:
    """Return what a session file keeps of a request: the settings that were chosen."""
    given = dict(_flat(request))
    return {name: given[name] for name in COURSE_FIELDS if given.get(name) is not None}


def _flat(request: object) -> list[tuple[str, Any]]:
    """Return the fields of a request and of what it holds, by name."""
    found: list[tuple[str, Any]] = []
    for field in fields(request):  # type: ignore[arg-type]
        value = getattr(request, field.name)
        found += _flat(value) if is_dataclass(value) else [(field.name, value)]
    return found
