from __future__ import annotations

import os
from pathlib import Path

import pytest

from trainer.errors import BadInput
from trainer.settings import Settings, load, recordings_folder, settings_file


def write(text: str) -> None:
    """Put a settings file where the program looks for it."""
    settings_file().parent.mkdir(parents=True, exist_ok=True)
    settings_file().write_text(text, encoding="utf-8")


def test_no_file_means_no_settings() -> None:
    """Without a file every setting is the program's own choice."""
    assert Settings() == load()


def test_settings_are_read() -> None:
    """Each key sets its value and leaves the others alone."""
    write('player = "Ada"\nrecordings = "~/drums"\n')

    assert Settings(player="Ada", recordings="~/drums") == load()


def test_option_wins_over_setting_wins_over_default() -> None:
    """Recordings go where the option says, else the setting, else the player's own folder."""
    assert recordings_folder() == Path(os.environ["TRAINER_HOME"]) / "recordings"

    write('recordings = "/data/drums"')

    assert recordings_folder() == Path("/data/drums")
    assert recordings_folder("here") == Path("here")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('recording = "x"', r'line 1, recording: unknown key; did you mean "recordings"'),
        ("zzz = 1", "choose recordings, player"),
        ("player = 7", "line 1, player: is not a text; put it in quotes"),
        ("player = ", "not TOML"),
        ("a = " + "[" * 10_000, "not TOML"),
        ('player = "a\\u0000b"', r"U\+0000"),
        ("clean = 3", "clean: is not a table"),
        ("a = 1\nb = 2", "line 2, b"),
    ],
)
def test_faults_name_file_and_fix(text: str, words: str) -> None:
    """A fault in the settings names the file, the fault and the nearest known key."""
    write(text)

    with pytest.raises(BadInput, match=rf"settings\.toml.*{words}"):
        load()


def test_figures_of_what_counts_as_clean_override_the_level() -> None:
    """A `[clean]` table changes single figures of the level that is set."""
    write('strictness = "studio"\n[clean]\ngap_ms = 12\n')
    clean = load().clean

    assert clean is not None
    assert (clean.level, clean.gap_ms) == ("tight", 12.0)


def test_a_fault_in_the_clean_table_names_file_line_and_fix() -> None:
    """A misspelt figure is reported like any other fault of the settings."""
    write("[clean]\ngap = 12\n")

    with pytest.raises(BadInput, match=r'settings\.toml, line 2, clean\.gap: .*"gap_ms"'):
        load()
