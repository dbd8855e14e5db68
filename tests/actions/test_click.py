"""Which click the options ask for."""

import argparse

import pytest

from trainer.actions.job import click_figure, click_of
from trainer.actions.requests import Setup
from trainer.commands import play_options
from trainer.errors import BadInput
from trainer.midi.click import AudioClick, ClickOut, SilentClick


def asked(*arguments):
    """The click that options of the command line ask for."""
    parser = argparse.ArgumentParser()
    play_options.add_kit_options(parser)
    play_options.add_session_options(parser)
    play_options.add_click_options(parser)
    return play_options.setup_of(parser.parse_args(arguments)).click


def figure(*arguments):
    """The figure that options of the command line ask for."""
    return click_figure(Setup(click=asked(*arguments)))


def test_no_output_is_silent():
    """Without a word about it the click is silent."""
    assert isinstance(click_of(asked()), SilentClick)


def test_midi_click_has_the_note_and_channel_asked_for():
    """A note and a channel go into every kind of click."""
    click = click_of(asked("--out", "Mod", "--click-note", "33", "--click-channel", "2"))
    assert isinstance(click, ClickOut)
    assert click.name == "Mod"
    assert {click.sound.message(kind)[:2] for kind in ("accent", "beat", "sub")} == {(0x91, 33)}


def test_audio_is_an_output_of_its_own():
    """`--out audio` is the sound card, with sound and volume."""
    click = click_of(asked("--out", "audio", "--click-sound", "tick", "--click-volume", "0.3"))
    assert isinstance(click, AudioClick)
    assert (click.sound, click.volume) == ("tick", 0.3)


@pytest.mark.parametrize("parts", ["0", "9", "4x"])
def test_clicks_to_a_beat_have_a_range(parts):
    """No click, or a rattle, to a beat is bad input that names the option."""
    with pytest.raises(BadInput, match=r"--click-parts: .*1 to 8"):
        figure("--click-parts", parts)


def test_options_make_the_figure():
    """Every option of the click's figure is in the figure."""
    made = figure(
        *("--click-parts", "2x4,4x4", "--click-on", "2,4", "--click-accents", "2"),
        *("--click-late", "1/16", "--click-swing", "60"),
    )
    assert made.parts == ((2, 4), (4, 4))
    assert (made.on, made.accents) == ({2, 4}, {2})
    assert (float(made.late), made.swing) == (0.25, 0.6)


@pytest.mark.parametrize(
    ("options", "fault"),
    [
        (["--click-note", "33"], "--click-note: .* it goes with --out NAME"),
        (["--out", "audio", "--click-channel", "2"], "--click-channel: .* it goes with --out NAME"),
        (["--click-volume", "0.5"], "--click-volume: .* it goes with --out audio"),
        (["--out", "Mod", "--click-sound", "tick"], "--click-sound: .* it goes with --out audio"),
    ],
)
def test_what_would_change_nothing_is_refused(options, fault):
    """An option of a click that is not there, or of another kind, is named, not passed over."""
    with pytest.raises(BadInput, match=fault):
        click_of(asked(*options))
