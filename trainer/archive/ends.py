"""The first and the last line of a session file, checked: all that a history needs to read.

Every way a line can be wrong (not JSON, NaN, too deep, too long, another version) is BadInput.
"""

from __future__ import annotations

import json
import math
from datetime import datetime
from typing import TYPE_CHECKING, Any, NoReturn

from trainer.archive.format import FORMAT, VERSION
from trainer.archive.session import Header
from trainer.errors import BadInput
from trainer.fields import Fields
from trainer.kit import serial as kit_serial
from trainer.pattern import serial as pattern_serial

if TYPE_CHECKING:
    from collections.abc import Callable

LONGEST_HEADER = 16 * 2**20
LONGEST_LINE = 4 * 2**20
"""Bytes of a line: far above any real one, low enough for time and memory."""


def read_header(raw: bytes) -> Header:
    """Return the header that the first line holds."""
    fields = header_fields(raw)
    return Header(
        pattern=pattern_serial.from_dict(fields.table("pattern")),
        started=moment(fields.text("started")),
        kit=kit_serial.from_dict(fields.table("kit")),
        player=fields.text("player", ""),
        source=fields.text("source", ""),
        tolerance=fields.table("tolerance"),
        course=fields.table("course"),
        timing=fields.table("timing"),
        software=fields.text("software", ""),
    )


def header_fields(raw: bytes) -> Fields:
    """Return the values of the first line, of a version that is read here, still to be checked."""
    row = decode(raw, LONGEST_HEADER)
    if not isinstance(row, dict) or row.get("format") != FORMAT:
        raise BadInput("this is no session file", mend="choose a file that the trainer saved")
    return Fields(_upgraded(row), "the header")


_UPGRADES: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {}
"""For each older version, the step that turns its header into one of the next version."""


def _upgraded(row: dict[str, Any]) -> dict[str, Any]:
    version = Fields(row, "the header").whole("version", 1, 10**9)
    if version > VERSION:
        raise BadInput(
            f"the file is of format version {version}, this program reads up to {VERSION}",
            mend="install the newer program; the file was left as it is",
        )
    for step in range(version, VERSION):
        row = _UPGRADES[step](row)
    return row


def summary_fields(raw: bytes) -> Fields | None:
    """Return the values of a last line, still to be checked; None where it is no summary."""
    row = decode(raw, LONGEST_LINE)
    return Fields(row) if isinstance(row, dict) and row.get("kind") == "summary" else None


def moment(text: str) -> datetime:
    """Return a date and time with its zone."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        moment = datetime.min
    if moment.tzinfo is None or not 1970 <= moment.year <= 9000:
        raise BadInput('"started" of the header must be a date and time with its zone')
    return moment


def decode(raw: bytes, longest: int, mend: str = "it was damaged or edited") -> Any:
    """Return the JSON value of a line of at most `longest` bytes; else raises BadInput."""
    if len(raw) > longest:
        raise BadInput("the line is too long", mend="this was not written by the trainer")
    try:
        return _DECODER.decode(raw.decode("utf-8"))
    except RecursionError:
        raise BadInput("the line is nested too deeply") from None
    except ValueError:
        raise BadInput("the line is not JSON", mend=mend) from None


def _refuse(_: str) -> NoReturn:
    raise ValueError


def _finite(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError
    return value


_DECODER = json.JSONDecoder(parse_constant=_refuse, parse_float=_finite)
