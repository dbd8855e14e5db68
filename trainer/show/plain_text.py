"""A session as plain lines of text, for a screen reader or without a screen, and its keys.

One line a bar says how many strokes were played, how early or late on average, and what went wrong
on which drum; `every_hit` adds a line for each stroke. A line has at most 79 columns and no escape
codes. The keys are those of the play screen.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from trainer.console import wrapped
from trainer.kit.voices import VOICES
from trainer.midi import keyboard
from trainer.practice import events
from trainer.practice.events import Command
from trainer.practice.outcomes import CROSSTALK, DOUBLE, EXTRA, RIM, WRONG_PAD
from trainer.show import live_words
from trainer.show.live_words import NO_FIT, fits_written, pass_number, pause_words
from trainer.show.number_words import count_text
from trainer.show.session_progress import NO_FRAME, TimeLeft

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trainer.pattern.model import Pattern
    from trainer.show.session_progress import SessionFrame


class PlainText:
    """Turns events into lines. `passes` is how many there will be, None for no set end."""

    def __init__(
        self,
        pattern: Pattern,
        passes: int | None,
        *,
        every_hit: bool = False,
        around: SessionFrame = NO_FRAME,
    ) -> None:
        self.pattern, self.passes, self.every_hit = pattern, passes, every_hit
        self._around = around
        self._time_left = TimeLeft(pattern, around.seconds, passes)
        self._begins = True
        self._now_s = 0.0
        self._silent: set[tuple[int, int]] = set()
        self._started: dict[int, events.PassStarted] = {}
        self._cut: set[int] = set()

    def lines(self, event: events.Event) -> list[str]:
        """Return the lines an event is worth, at most 79 columns wide; most are worth none."""
        return [part for line in self._lines_of(event) for part in wrapped(line)]

    def _lines_of(self, event: events.Event) -> list[str]:
        self._time_left.hear(event)
        if isinstance(event, events.BeatStarted):
            self._now_s = event.time_s
            if event.silent:
                self._silent.add((event.pass_index, event.bar))
        match event:
            case events.TempoChosen(at_s=float(at_s)):
                seconds = max(0.0, at_s - self._now_s)
                return [f"{live_words.tempo_change_words(event.tempo, seconds)}."]
            case events.BeatStarted() if self._begins:
                self._begins = False
                return [*self._beginning(event), *_lines(event)]
            case events.Paused() if self._around.pads:
                return [
                    f"{_capitalised(pause_words(event.reason))}. {self._around.pads} continues."
                ]
            case events.PassStarted():
                self._started[event.pass_index] = event
                return []
            case events.PassCut():
                self._cut.add(event.pass_index)
                return []
            case events.HitJudged(final=True) if self.every_hit:
                return self._begun(event.pass_index) + self._hit(event)
            case events.TargetMissed() if self.every_hit:
                missed = f"  {self._meant(event.note_index)}: missed."
                return [*self._begun(event.pass_index), missed]
            case events.BarEnded():
                place = event.pass_index, event.bar
                silent = place in self._silent
                self._silent.discard(place)
                bar = _bar(event, silent=silent) if self.pattern.notes else _open_bar(event)
                return self._begun(event.pass_index) + bar
            case _:
                return _lines(event)

    def _beginning(self, event: events.BeatStarted) -> list[str]:
        """Return what is known at the first beat: rung, block, time left."""
        rung = f"rung 1 at {event.tempo:g} BPM" if self._around.ladder else ""
        left = live_words.time_left_words(self._around.block, self._time_left.seconds)
        known = ", ".join(part for part in (rung, left) if part)
        return [f"{_capitalised(known)}."] if known else []

    def _begun(self, pass_index: int) -> list[str]:
        """Return the heading of a pass before the first line about it."""
        started = self._started.pop(pass_index, None)
        if started is None:
            return []
        of = f" of {self.passes}" if self.passes else ""
        number = pass_number(pass_index, self._cut)
        # A ladder says the time at the end of each rung.
        left = (
            "" if self._around.ladder else live_words.time_left_words("", self._time_left.seconds)
        )
        return [f"Pass {number}{of} at {started.tempo:g} BPM{left and f', {left}'}."]

    def _hit(self, event: events.HitJudged) -> list[str]:
        voice = voice_words(event.voice) if event.voice else f"note {event.note}, not in the kit"
        if event.note_index is None:
            kind = {EXTRA: "extra", DOUBLE: "double trigger", CROSSTALK: "crosstalk"}
            return [f"  {voice}: {kind.get(event.outcome, event.outcome)}."]
        if event.outcome == WRONG_PAD:
            return [f"  {voice} instead of {self._meant(event.note_index)}."]
        zone = ", rim" if event.outcome == RIM else f", {event.instead}" * bool(event.instead)
        return [f"  {voice}: {live_words.early_or_late(event.offset_s or 0.0)}{zone}."]

    def _meant(self, note_index: int) -> str:
        return voice_words(self.pattern.notes[note_index].voice)


def _capitalised(sentence: str) -> str:
    """Return a sentence with its first letter in upper case."""
    return sentence[:1].upper() + sentence[1:]


def voice_words(voice: str) -> str:
    """Return a voice's name as people say it."""
    return VOICES[voice].title


def _bar(event: events.BarEnded, *, silent: bool) -> list[str]:
    silence = ", click silent" if silent else ""
    text = f"Bar {event.bar + 1}{silence}: {event.played} of {event.targets} played"
    if not fits_written(event.offset_mean_s, event.offset_spread_s):
        return [f"{text}; {NO_FIT}"]
    if event.offset_mean_s is not None:
        text += f", {live_words.early_or_late(event.offset_mean_s)} on average"
    if event.offset_spread_s is not None:
        text += f", spread {round(event.offset_spread_s * 1000)} ms"
    faults = [*_by_voice("missed", event.missed), *_by_voice("wrong pad for", event.wrong)]
    faults += [f"{event.extra} extra"] if event.extra else []
    faults += [f"{event.rim} on the rim"] if event.rim else []
    faults += [count_text(event.double, "double trigger")] if event.double else []
    faults += [_times(zones, count) for zones, count in event.zones.items()]
    return [f"{text}; {', '.join(faults)}." if faults else f"{text}."]


def _open_bar(event: events.BarEnded) -> list[str]:
    """Return a bar in which nothing is written."""
    return [f"Bar {event.bar + 1}: {count_text(event.extra, 'stroke')}."]


def _by_voice(what: str, counts: Mapping[str, int]) -> list[str]:
    return [_times(f"{what} {voice_words(voice)}", count) for voice, count in counts.items()]


def _times(what: str, count: int) -> str:
    return f"{what} x{count}" if count > 1 else what


def _rung(event: events.RungEnded) -> list[str]:
    verdict = "clean" if event.clean else "not clean"
    text = f"{event.tempo:g} BPM {verdict}"
    if event.strokes:
        text += f" after {count_text(event.strokes, 'stroke')}"
    if event.tightest:
        text += f"; closest to its limit: {event.tightest}"
    if event.failed:
        text += f": {'; '.join(event.failed)}"
    if event.next_tempo is not None:
        text += f". Next: {event.next_tempo:g} BPM"
        left = live_words.minutes_words(event.seconds_left)
        text += f", {left} left" if left else ""
    return [text + "."]


def _lines(event: events.Event) -> list[str]:
    """Return the lines of the events that need nothing but themselves."""
    match event:
        case events.BeatStarted(phase="count-in", bar=0, beat=0):
            return [f"Count-in: {event.beats} beats to the bar."]
        case events.RungEnded():
            return _rung(event)
        case events.RestStarted():
            return [f"Rest: {count_text(round(event.until_s - event.time_s), 'second')}."]
        case events.TempoChosen():
            return [f"{live_words.tempo_change_words(event.tempo, None)}."]
        case events.Paused():
            return [f"{_capitalised(pause_words(event.reason))}."]
        case events.Resumed():
            return [f"Continuing at bar {event.bar + 1}." if event.bar else "Continuing."]
        case events.Notice():
            return [event.text]
        case _:
            return []


COMMAND_KEYS = {
    " ": Command("toggle"),
    "r": Command("restart"),
    "+": Command("tempo", 1.0),
    "=": Command("tempo", 1.0),
    "-": Command("tempo", -1.0),
    "q": Command("quit"),
}


def key_commands(keys: str, pressed_s: float = 0.0) -> list[Command]:
    """Return the commands of some keys; a key without one may be a pad.

    `pressed_s` is the `time.perf_counter()` at which they were pressed.
    """
    pad = Command("key", pressed_s)
    return [COMMAND_KEYS.get(key) or replace(pad, text=key) for key in keys]


def key_help_lines(pads: bool, *, left_handed: bool = False) -> list[str]:
    """Return the keys in lines, with those that are `pads` when they are the kit."""
    lines = ["Space pauses and continues, r restarts, + and - change the tempo, q saves and ends."]
    if pads:
        lines += [
            "Pads, as the kit looks from the stool:",
            *(f"  {row}" for row in key_rows(left_handed=left_handed)),
        ]
    return lines


def key_rows(*, left_handed: bool = False) -> list[str]:
    """Return which computer keys play which drum, a line for each row of the keyboard."""
    return [
        "".join(f"{keys} {VOICES[voice].title.lower()}".ljust(18) for keys, voice in row).rstrip()
        for row in keyboard.key_rows(left_handed=left_handed)
    ]
