"""Beats and clicks to come: laid out ahead, handed out when due, dropped by a cut."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING, TypeVar

from trainer.practice import beats
from trainer.practice.events import BeatStarted

if TYPE_CHECKING:
    from collections.abc import Iterable

    from trainer.pattern.model import Pattern
    from trainer.practice.beats import Beat, DueClick
    from trainer.practice.course import Pass

NEVER = float("inf")

ROOM_S = 0.020
"""A pass is not settled this shortly before a click: its verdict can take some milliseconds."""

Due = TypeVar("Due", "BeatStarted", "DueClick")


class Schedule:
    """The beats and clicks of what is laid out, in time order.

    The click leaves out the last `silent_bars` of every `silent_of` bars since the count-in (0:
    none), and sounds `parts` times a beat.
    """

    def __init__(self, pattern: Pattern, silent_bars: int, silent_of: int, parts: int) -> None:
        self._pattern, self._parts = pattern, parts
        self._silent_bars, self._silent_of = silent_bars, silent_of
        self._beats: deque[BeatStarted] = deque()
        self._clicks: deque[DueClick] = deque()
        self._bars = 0
        self._put_off = False

    def count_in(self, pass_index: int, tempo: float, start_s: float, bars: int) -> None:
        """Lay out the count-in that leads up to a pass; the turn of silent bars begins anew."""
        self._bars = 0
        self._add(beats.count_in(self._pattern, tempo, start_s, bars), pass_index, tempo)

    def lay_out(self, one: Pass) -> None:
        """Lay out a pass."""
        self._add(beats.pass_beats(self._pattern, one), one.index, one.tempo)

    def clear(self) -> None:
        """Drop all that is to come."""
        self._beats.clear()
        self._clicks.clear()

    @property
    def next_beat_s(self) -> float:
        """When the next beat begins."""
        return self._beats[0].time_s if self._beats else NEVER

    @property
    def next_click_s(self) -> float:
        """When the next click is due."""
        return self._clicks[0].time_s if self._clicks else NEVER

    def put_off(self, now: float) -> bool:
        """Return True, once, where a click is due so soon that judging, which takes time, waits."""
        self._put_off = self.next_click_s - now < ROOM_S and not self._put_off
        return self._put_off

    def beats(self, now: float) -> list[BeatStarted]:
        """Return the beats that have begun, once each."""
        return _until(self._beats, now)

    def clicks(self, until_s: float) -> list[DueClick]:
        """Return the clicks due up to a second, once each."""
        return _until(self._clicks, until_s)

    def _add(self, found: Iterable[Beat], pass_index: int, tempo: float) -> None:
        for one in found:
            silent = one.phase == beats.PLAYING and self._is_silent(one)
            self._beats.append(
                BeatStarted(
                    one.time_s, one.phase, pass_index, one.bar, one.beat, one.beats, tempo, silent
                )
            )
            self._clicks.extend(one.clicks(self._parts, silent))

    def _is_silent(self, beat: Beat) -> bool:
        """Return True in a silent bar; the bar is counted with its last beat."""
        of = self._silent_of
        silent = bool(of) and self._bars % of >= of - self._silent_bars
        self._bars += beat.beat == beat.beats - 1
        return silent


def _until(queue: deque[Due], second: float) -> list[Due]:
    found: list[Due] = []
    while queue and queue[0].time_s <= second:
        found.append(queue.popleft())
    return found
