"""The job of a session: its click, its judge and its options as a setup says."""

from __future__ import annotations

from functools import partial
from random import randrange
from typing import TYPE_CHECKING, Any

from trainer import settings
from trainer.actions.playing_on import read_pad_keys
from trainer.engine.job import Job
from trainer.errors import BadInput
from trainer.measure.clean import DEFAULT_TOLERANCE, STRICTNESS_LEVELS, clean_verdict, level_name
from trainer.midi.click import AudioClick, ClickOut, ClickSound, SilentClick, StrokeSounds
from trainer.pattern.as_played import bar_beats
from trainer.practice.click_figure import FIGURE_TEXTS, read_figure
from trainer.practice.plan import SessionOptions

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.actions.requests import ClickRequest, PlayedOn, Setup
    from trainer.kit.model import Kit
    from trainer.measure.clean import Tolerance
    from trainer.midi.click import Click
    from trainer.midi.hit_source import HitSource
    from trainer.midi.midi_clock import ClockOut
    from trainer.pattern.model import Pattern
    from trainer.practice.click_figure import ClickFigure
    from trainer.practice.plan import TempoPlan

MOST_COUNT_IN = 16


def make_job(
    setup: Setup,
    pattern: Pattern,
    kit: Kit,
    plan: TempoPlan,
    source: HitSource,
    course: dict[str, Any],
    click: Click | None = None,
) -> Job:
    """Return the job of playing a pattern by a plan, with everything else as the setup says.

    `course` is what the session file keeps of the request. Raises BadInput.
    """
    allowed = tolerance_of(setup)
    return Job(
        pattern=pattern,
        kit=kit,
        plan=plan,
        source=source,
        click=click or click_of(setup.click),
        folder=settings.recordings_folder(setup.recordings),
        check=partial(clean_verdict, allowed=allowed),
        options=SessionOptions(
            read_pad_keys(setup.played_on.pad_keys, kit), fitting_figure(setup, pattern)
        ),
        player=setup.player or settings.load().player,
        tolerance=allowed.to_dict(),
        course=course,
        simulated=setup.played_on.fast,
        clock_out=_clock_out(setup.click, pattern),
        sounds=_sounds(setup.played_on, kit),
    )


def check_passes(passes: int | None, default: int | None) -> int | None:
    """Return how many passes are played; raises BadInput for none."""
    if passes is None:
        return default
    if passes < 1:
        raise BadInput(
            f"{passes} passes cannot be played", where="--passes", fix="choose 1 or more"
        )
    return passes


def check_count_in(setup: Setup) -> int:
    """Return the bars of the count-in; raises BadInput out of range."""
    if not 0 <= setup.count_in <= MOST_COUNT_IN:
        raise BadInput(
            f"a count-in of {setup.count_in} bars is out of range",
            where="--count-in",
            fix=f"choose 0 to {MOST_COUNT_IN}",
        )
    return setup.count_in


def tolerance_of(setup: Setup) -> Tolerance:
    """Return how strictly passes are judged: as chosen, as set, or the default.

    A level of the setup counts as it is, without the figures that the settings change.
    """
    chosen = settings.load()
    if chosen.clean and not setup.strictness:
        return chosen.clean
    level = level_name(setup.strictness or chosen.strictness or DEFAULT_TOLERANCE.level)
    if level not in STRICTNESS_LEVELS:
        raise BadInput(
            f'there is no level "{level}"',
            where="--strict" if setup.strictness else "strictness of the settings",
            fix=f"choose {', '.join(STRICTNESS_LEVELS)}",
        )
    return STRICTNESS_LEVELS[level]


def option_name(text: str) -> str:
    """Return the option that a text of the click's figure is given by."""
    return f"--{text.replace('_', '-')}"


def fitting_figure(
    setup: Setup, pattern: Pattern, named: Callable[[str], str] = option_name
) -> ClickFigure:
    """Return what the click plays over a pattern; raises BadInput where no bar fits."""
    figure = click_figure(setup, named)
    beats = sorted({bar_beats(pattern, bar.meter) for bar in pattern.bars})
    if not any(figure.fits(count) for count in beats):
        have = " or ".join(map(str, beats))
        raise BadInput(
            f"bars of this pattern have {have} beats",
            where=named("click_accents" if figure.groups else "click_on"),
            fix=f"choose beats of such a bar; groups of eighths need {named('click_parts')} 2",
        )
    return figure


def click_figure(setup: Setup, named: Callable[[str], str] = option_name) -> ClickFigure:
    """Return what the click plays; raises BadInput with the name of what is not understood."""
    wanted = setup.click
    texts = {name: getattr(wanted, name, getattr(setup, name, None)) for name in FIGURE_TEXTS}
    given = {name: str(text) for name, text in texts.items() if text is not None}
    return read_figure(given, randrange(2**32), named)


def click_of(wanted: ClickRequest) -> Click:
    """Return the click that was chosen, not opened yet; silent where no output is named."""
    out = wanted.out or settings.load().click
    _check_click(wanted, out)
    if not out:
        return SilentClick()
    if out == "audio":
        volume = 0.8 if wanted.volume is None else wanted.volume
        return AudioClick(wanted.sound or "wood", volume)
    chosen: dict[str, int] = {}
    if wanted.note is not None:
        chosen |= dict.fromkeys(("note", "accent_note", "sub_note"), wanted.note)
    if wanted.channel is not None:
        chosen["channel"] = wanted.channel
    return ClickOut(out, ClickSound(**chosen))


def _check_click(wanted: ClickRequest, out: str) -> None:
    """Refuse what would change nothing: options of another kind of click, or of none."""
    for name, audio in (("note", False), ("channel", False), ("sound", True), ("volume", True)):
        given = getattr(wanted, name) is not None
        if given and (not out or audio != (out == "audio")):
            raise BadInput(
                "this changes nothing here",
                where=f"--click-{name}",
                fix="it goes with --out audio" if audio else "it goes with --out NAME",
            )


def _clock_out(wanted: ClickRequest, pattern: Pattern) -> ClockOut | None:
    """Return the MIDI clock to send along, not opened yet."""
    if not wanted.clock_to:
        return None
    from trainer.midi.midi_clock import ClockOut

    return ClockOut(pattern, wanted.clock_to)


def _sounds(played_on: PlayedOn, kit: Kit) -> StrokeSounds | None:
    """Return what lets strokes be heard, not opened yet; in simulated time there is no delay."""
    if not played_on.thru or played_on.fast:
        return None
    return StrokeSounds(played_on.thru, kit)
