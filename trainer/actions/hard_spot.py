"""Practising a hard spot: its bars in a loop at a slower tempo, then the whole pattern again."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.actions.requests import COMPUTER_KEYS, SIMULATED_PLAYER, PlayRequest, setup_on
from trainer.archive.session_file import open_session
from trainer.archive.session_list import KEYS, SIMULATED, input_kind
from trainer.archive.summary import allowed_in, judge_session
from trainer.errors import BadInput, TrainerError
from trainer.measure.clean import DEFAULT_TOLERANCE
from trainer.measure.hard_spot import SpotFigures, spot_change, spot_figures, worst_bar
from trainer.pattern.library import load_pattern
from trainer.pattern.model import MIN_TEMPO

if TYPE_CHECKING:
    from collections.abc import Collection

    from trainer.actions.replay import OpenedSession
    from trainer.actions.requests import Setup

SLOWER = 0.85
"""The loop is played at this share of the tempo at which the spot went wrong (our own choice)."""

LOOPS, WHOLES = 8, 2
"""How often the spot is played with its lead-in, and the whole pattern after it."""


@dataclass(frozen=True, slots=True)
class HardSpotRequest:
    """Bars `first` to `last` (from 0) of a pattern, the tempo (BPM) and figures they had."""

    pattern: str
    first: int
    last: int
    tempo: float
    before: SpotFigures
    setup: Setup

    @property
    def bars(self) -> range:
        """The bars of the spot."""
        return range(self.first, self.last + 1)

    @property
    def loop(self) -> PlayRequest:
        """The spot with a bar of lead-in, slower."""
        lead_in = max(0, self.first - 1)
        name = f"{self.pattern} bars={lead_in + 1}-{self.last + 1}"
        tempo = max(MIN_TEMPO, float(round(self.tempo * SLOWER)))
        return PlayRequest(name, tempo, LOOPS, setup=self.setup)

    @property
    def whole(self) -> PlayRequest:
        """The whole pattern at the tempo at which the spot went wrong."""
        return PlayRequest(self.pattern, self.tempo, WHOLES, setup=self.setup)


def hard_spot(opened: OpenedSession, marked: Collection[int] = ()) -> HardSpotRequest:
    """Return what practises the marked bars (from 0) of a session, or its worst bar.

    Marked bars are one stretch, from the first to the last. Raises BadInput where there is none, or
    where the pattern cannot be found any more.
    """
    session, take = opened.session, opened.take
    allowed = allowed_in(session) or DEFAULT_TOLERANCE
    worst = worst_bar(take, allowed)
    bars = sorted(marked) or ([] if worst is None else [worst])
    if not bars or not session.passes:
        raise BadInput("nothing written was played, so there is no hard spot")
    known = load_pattern(session.pattern.name)
    if len(known.bars) != len(session.pattern.bars):
        raise BadInput(
            "the pattern has changed since", where=session.pattern.name, fix="play it again first"
        )
    spot = range(bars[0], bars[-1] + 1)
    request = HardSpotRequest(
        session.pattern.name,
        spot[0],
        spot[-1],
        session.passes[-1].tempo,
        spot_figures(take, spot, allowed),
        setup_on(_port(session.header.source)),
    )
    load_pattern(request.loop.pattern)
    return request


def spot_result(request: HardSpotRequest, path: str | None) -> tuple[str, SpotFigures] | None:
    """Return whether the spot got better in a saved session, and its figures; None without one."""
    try:
        session = open_session(Path(path or ""))
    except (TrainerError, OSError):
        return None
    allowed = allowed_in(session) or DEFAULT_TOLERANCE
    after = spot_figures(judge_session(session), request.bars, allowed)
    return spot_change(request.before, after), after


def _port(source: str) -> str:
    """Return the port a session was played on, by the name of its source."""
    return {KEYS: COMPUTER_KEYS, SIMULATED: SIMULATED_PLAYER}.get(input_kind(source), source)
