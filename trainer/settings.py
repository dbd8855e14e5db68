"""The player's settings: a small TOML file of what would otherwise be typed every time.

    recordings = "~/drums/recordings"    where sessions are saved
    player = "Jo"                        the label on each session
    kit = "my-kit"                       a kit by name or file
    strictness = "solid"                 what counts as clean
    click = "Kit"                        the MIDI output the click goes to
    system = "jack"                      the only MIDI system to use, where there are several
    input = "TD-17"                      what is played on: a part of a MIDI input's name, or keys
    lead = "left"                        the hand that leads, in patterns that leave it open
    left_handed = true                   a mirrored kit: hands, feet and computer keys too
    weekly_minutes = 120                 how long you mean to practise in a week

    [clean]                              single figures of what counts as clean
    gap_ms = 12

The file is `settings.toml` in the folder that TRAINER_HOME names, else in the platform's folder for
settings. An option on the command line always wins.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.checked import FaultList, as_it_is, choice, flag, number, read_fields, text
from trainer.errors import BadInput
from trainer.file_system import NoSuchFile, expand_home, read_text, user_folder, write_text

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trainer.measure.clean import Tolerance

LARGEST = 2**16
MINUTES_A_WEEK = 7 * 24 * 60


@dataclass(frozen=True, slots=True)
class Settings:
    """What the player has set; an empty text means the program's own choice, as does None."""

    recordings: str = ""
    player: str = ""
    kit: str = ""
    strictness: str = ""
    click: str = ""
    system: str = ""
    input: str = ""
    lead: str = ""
    left_handed: bool = False
    weekly_minutes: float | None = None
    clean: Tolerance | None = None


SETTING_KEYS = tuple(field.name for field in fields(Settings))


def settings_file() -> Path:
    """Return where the settings are, whether or not the file exists."""
    home = os.environ.get("TRAINER_HOME")
    if home:
        return Path(home) / "settings.toml"
    from platformdirs import user_config_path

    return user_config_path("midi-kit-trainer", appauthor=False) / "settings.toml"


def load(path: Path | None = None) -> Settings:
    """Return the settings, all empty where there is no file; a fault in it is BadInput."""
    path = path or settings_file()
    try:
        return _settings(read_text(path, LARGEST))
    except NoSuchFile:
        return Settings()
    except BadInput as error:
        raise error.at(str(path)) from None


def _settings(source: str) -> Settings:
    """Return the settings a TOML text holds; raises BadInput or Faults with lines and keys."""
    from trainer.toml_text import parse

    faults = FaultList(source)
    readers = dict.fromkeys(SETTING_KEYS, text) | {
        "clean": as_it_is,
        "weekly_minutes": number(1, MINUTES_A_WEEK),
        "lead": choice("right", "left"),
        "left_handed": flag,
    }
    found = read_fields(parse(source), readers, faults, ())
    faults.show()
    if "clean" in found:
        found["clean"] = _clean(found["clean"], found.get("strictness", ""), source)
    return Settings(**found)


def save(changes: Mapping[str, Any]) -> None:
    """Put some settings into the file; an empty text or False takes a key out.

    What else the file says stays, comments too. Raises BadInput for what could not be read again.
    """
    from trainer.toml_text import changed_text, parse

    path = settings_file()
    try:
        source = read_text(path, LARGEST)
    except NoSuchFile:
        source = ""
    before = parse(source) if source else {}
    after = {key: value for key, value in {**before, **changes}.items() if value not in ("", False)}
    text = changed_text(source, before, after)
    _settings(text)
    write_text(path, text, LARGEST)


def _clean(table: Any, strictness: str, source: str) -> Tolerance:
    """Return what counts as clean: the level that is set, with the figures of `[clean]`."""
    from trainer.measure.clean import read_tolerance

    if strictness and isinstance(table, dict):
        table = {"level": strictness, **table}
    return read_tolerance(table, source)


def strictness_levels(own: str = "yours") -> dict[str, Tolerance]:
    """Return the levels by name; where the settings change single figures, with those as `own`.

    Settings that cannot be read are left out: they are reported where they are used.
    """
    from trainer.measure.clean import STRICTNESS_LEVELS

    try:
        changed = load().clean
    except BadInput:
        changed = None
    levels = dict(STRICTNESS_LEVELS)
    return levels if changed is None or changed in levels.values() else {**levels, own: changed}


def existing_recordings_folder(option: str | None = None) -> Path:
    """Return the folder sessions are read from; BadInput for one requested that is not there."""
    folder = recordings_folder(option)
    if option and not os.path.isdir(folder):
        raise BadInput("there is no such folder", where=option[:200], fix="check the path")
    return folder


def recordings_folder(option: str | None = None) -> Path:
    """Return where sessions are saved: the option, else the setting, else the player's folder."""
    chosen = option or load().recordings
    return expand_home(chosen) if chosen else user_folder("recordings")
