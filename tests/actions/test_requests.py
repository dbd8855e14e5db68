"""What is asked to be played: every option of the commands, and what a session file keeps of it."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from typing import TYPE_CHECKING, Any

import human_takes
import pytest

from trainer import cli
from trainer.actions.prepare import prepare
from trainer.actions.requests import (
    DemoRequest,
    LadderRequest,
    PlayedOn,
    PlayRequest,
    RoutineRequest,
    Setup,
    course_of,
)
from trainer.commands import on_screen, play
from trainer.errors import BadInput
from trainer.show.pattern_words import missing_drum_lines

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.pattern.model import Pattern

ROLL = "single-stroke-roll"
SETUP = (
    *("--port", "simulated", "--kit", "room", "--latency", "4.5", "--seed", "7", "--thru", "Synth"),
    *("--pad-key", "crash=restart", "--count-in", "2", "--silent-bars", "1/4"),
    *("--strict", "studio", "--player", "Jo", "--recordings", "takes", "--out", "Module"),
    *("--click-note", "33", "--click-channel", "2", "--click-sound", "wood"),
    *("--click-volume", "0.5", "--send-clock", "Sequencer", "--click-parts", "2"),
    *("--click-on", "2,4", "--click-accents", "2", "--click-late", "1/8", "--click-swing", "60"),
)
COMMANDS: dict[str, tuple[type, tuple[str, ...]]] = {
    "play": (
        PlayRequest,
        (ROLL, "--tempo", "90", "--passes", "3", "--follow", "Clock"),
    ),
    "play for minutes": (
        PlayRequest,
        (ROLL, "--tempo", "90", "--minutes", "3", "--follow", "Clock"),
    ),
    "ladder": (
        LadderRequest,
        (
            *(ROLL, "--from", "70", "--step", "2", "--top", "90", "--passes", "3"),
            *("--minutes", "5", "--rest-every", "2", "--rest", "0.5"),
            *("--rule", "adaptive", "--clean-to-rise", "2"),
        ),
    ),
    "routine": (RoutineRequest, ("evening", "--again")),
}
SAME = {"fast"}
"""What has its default in the requests below: a session in simulated time is said in text."""
EXCLUDED = {"play": {"minutes"}, "play for minutes": {"passes"}}
"""What cannot be chosen together with one of the options given."""


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_reaches_the_request(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """No field keeps its default where every option is given: none of them is lost on the way."""
    asked: list[Any] = []
    monkeypatch.setattr("trainer.console.has_screen", lambda: True)
    monkeypatch.setattr(on_screen, "play", lambda request: asked.append(request) or 0)
    kind, own = COMMANDS[name]
    cli.run([name.split()[0], *own, *SETUP])
    (request,) = asked
    assert isinstance(request, kind)
    assert sorted(untouched(request)) == sorted(SAME | EXCLUDED.get(name, set()))


def test_every_option_of_the_demo_reaches_the_request(monkeypatch: pytest.MonkeyPatch) -> None:
    """The demo has no kit and no click of its own."""
    asked: list[Any] = []
    monkeypatch.setattr(play, "play", lambda request, _args: asked.append(request) or 0)
    own = ("--tempo", "90", "--passes", "3", "--seed", "7", "--fast", "--count-in", "2")
    rest = ("--silent-bars", "1/4", "--strict", "studio", "--player", "Jo", "--recordings", "takes")
    cli.run(["demo", ROLL, *own, *rest])
    played_on = PlayedOn("simulated", seed=7, fast=True)
    (request,) = asked
    assert request == DemoRequest(
        ROLL,
        90.0,
        3,
        Setup(played_on, request.setup.click, 2, "1/4", "studio", "Jo", "takes"),
    )


def untouched(request: object) -> list[str]:
    """Return the fields of a request and of what it holds that have their default."""
    found: list[str] = []
    for field in fields(request):  # type: ignore[arg-type]
        value = getattr(request, field.name)
        if is_dataclass(value):
            found += untouched(value)
        elif value == field.default:
            found.append(field.name)
    return found


@pytest.mark.parametrize(
    ("request_", "kept"),
    [
        (PlayRequest(ROLL), {"count_in": 1, "click_parts": 1, "seed": 1}),
        (PlayRequest(ROLL, 90.0, 4), {"tempo": 90.0, "passes": 4}),
        (DemoRequest(), {"count_in": 1, "seed": 1}),
        (LadderRequest(ROLL, 70.0), {"start": 70.0, "count_in": 1}),
        (Setup(silent_bars="1/4"), {"silent_bars": "1/4", "count_in": 1}),
    ],
)
def test_a_session_file_keeps_the_settings_that_were_chosen(
    request_: object, kept: dict[str, Any]
) -> None:
    """By the names of the options, and none that was left open."""
    course = course_of(request_)
    assert kept.items() <= course.items()
    assert None not in course.values()
    assert ("click_parts" in course) is not isinstance(request_, DemoRequest)


@pytest.mark.parametrize(
    ("request_", "fault"),
    [
        (PlayRequest("nothing-like-it"), "there is no pattern"),
        (PlayRequest(ROLL, 5000.0), "5000"),
        (PlayRequest(ROLL, passes=0), "--passes: 0 passes"),
        (
            PlayRequest(ROLL, setup=Setup(PlayedOn("keys", fast=True))),
            "--fast: simulated time",
        ),
        (
            PlayRequest(ROLL, setup=Setup(PlayedOn("keys"), count_in=17)),
            "--count-in",
        ),
        (
            PlayRequest(ROLL, setup=Setup(PlayedOn("keys"), silent_bars="4/4")),
            "--silent-bars",
        ),
        (
            PlayRequest(ROLL, setup=Setup(PlayedOn("keys"), strictness="easy")),
            "--strict",
        ),
        (
            PlayRequest(ROLL, setup=Setup(PlayedOn("keys", pad_keys=("x=y",)))),
            "--pad-key",
        ),
        (
            PlayRequest(ROLL, setup=Setup(PlayedOn("keys", kit="none"))),
            "there is no kit",
        ),
        (
            PlayRequest(ROLL, setup=Setup(PlayedOn("keys", latency_ms=2000))),
            "--latency",
        ),
        (LadderRequest(ROLL, rest=0.0, setup=Setup(PlayedOn("keys"))), "--rest"),
        (DemoRequest(ROLL, passes=-1), "--passes"),
    ],
)
def test_what_cannot_be_played_is_refused_before_anything_is_opened(
    request_: Any, fault: str
) -> None:
    """In one sentence that names the option, whichever face asked."""
    with pytest.raises(BadInput) as caught:
        prepare(request_)
    assert fault in str(caught.value)


def test_what_is_prepared_is_what_was_asked_for() -> None:
    """Tempo and passes as asked, else the pattern's tempo and no end; a demo takes a minute."""
    on_keys = Setup(PlayedOn("keys"))
    one = prepare(PlayRequest(ROLL, 91.0, 2, setup=on_keys))
    assert (one.tempo, one.passes, one.job.source.name) == (91.0, 2, "keys")
    assert prepare(PlayRequest(ROLL, setup=on_keys)).passes is None
    demo = prepare(DemoRequest(ROLL, 120.0))
    assert demo.passes == 30
    assert demo.job.player == "simulated player"
    ladder = prepare(LadderRequest(ROLL, setup=on_keys))
    assert ladder.ceiling is None
    assert ladder.tempo == ladder.job.pattern.tempo


@pytest.mark.parametrize("request_of", [PlayRequest, LadderRequest, DemoRequest])
def test_a_midi_pattern_is_read_through_the_kit_it_is_played_on(
    request_of: type, tmp_path: Path
) -> None:
    """Note 22 is the hi-hat of a kit that says so; elsewhere it is left out and named."""
    rows = [(480 * n, 22 if n % 2 else 42, 90) for n in range(16)]
    human_takes._file(rows, 120.0, 480).save(tmp_path / "edge.mid")
    (tmp_path / "mine.toml").write_text('[notes]\n22 = "hihat"\n')

    def pattern_on(kit: str | None) -> Pattern:
        setup = Setup(PlayedOn("simulated", kit), recordings=str(tmp_path))
        return prepare(request_of(str(tmp_path / "edge.mid"), setup=setup)).job.pattern

    own, plain = pattern_on(str(tmp_path / "mine.toml")), pattern_on(None)

    assert (own.strokes, plain.strokes) == (16, 8)
    assert list(missing_drum_lines(own, {})) == []
    assert "8 of note 22" in " ".join(missing_drum_lines(plain, {}))


def test_a_midi_pattern_of_unknown_notes_names_them(tmp_path: Path) -> None:
    """A file without one note of the kit is refused with the notes it has."""
    human_takes._file([(480 * n, 22, 90) for n in range(4)], 120.0, 480).save(tmp_path / "a.mid")

    with pytest.raises(BadInput, match="4 of note 22"):
        prepare(PlayRequest(str(tmp_path / "a.mid"), setup=Setup(PlayedOn("simulated"))))
