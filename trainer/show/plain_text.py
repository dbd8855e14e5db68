"""A session as plain lines of text, for a screen reader or without a screen, and its keys.

One line a bar says how many strokes were played, how early or late on average, and what went wrong
on which drum; with `every_hit` there is one line for each stroke as well. No escape codes. The keys
are the same ones as on the play screen.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from trainer.kit.voices import VOICES
from trainer.midi.keyboard import KEY_VOICES
from trainer.practice import events as told
from trainer.practice.events import Command
from trainer.practice.outcomes import CROSSTALK, DOUBLE, EXTRA, RIM, WRONG_PAD
from trainer.show import live_words
from trainer.show.live_words import NO_FIT, fits_written, pass_number, pause_words
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
        self._started: dict[int, told.PassStarted] = {}
        self._cut: set[int] = set()

    def lines(self, event: told.Event) -> list[str]:
        """Return the lines an event is worth; most are worth none."""
        self._time_left.hear(event)
        match event:
            case told.BeatStarted() if self._begins:
                self._begins = False
                return [*self._beginning(event), *_lines(event)]
            case told.Paused() if self._around.pads:
                return [
                    f"{_capitalised(pause_words(event.reason))}. {self._around.pads} continues."
                ]
            case told.PassStarted():
                self._started[event.pass_index] = event
                return []
            case told.PassCut():
                self._cut.add(event.pass_index)
                return []
            case told.HitJudged(final=True) if self.every_hit:
                return self._begun(event.pass_index) + self._hit(event)
            case told.TargetMissed() if self.every_hit:
                missed = f"  {self._meant(event.note_index)}: missed."
                return [*self._begun(event.pass_index), missed]
            case told.BarEnded():
                return self._begun(event.pass_index) + _bar(event)
            case _:
                return _lines(event)

    def _beginning(self, event: told.BeatStarted) -> list[str]:
        """Return what is known at the first beat: the rung, the block, the time left."""
        rung = f"rung 1 at {event.tempo:g} BPM" if self._around.ladder else ""
        left = live_words.time_left_words(self._around.block, self._time_left.seconds)
        known = ", ".join(part for part in (rung, left) if part)
        return [f"{_capitalised(known)}."] if known else []

    def _begun(self, pass_index: int) -> list[str]:
        """Return the heading of a pass before the first thing that is told of it."""
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

    def _hit(self, event: told.HitJudged) -> list[str]:
        voice = voice_words(event.voice) if event.voice else f"note {event.note}, not in the kit"
        if event.note_index is None:
            kind = {EXTRA: "extra", DOUBLE: "double trigger", CROSSTALK: "crosstalk"}
            return [f"  {voice}: {kind.get(event.outcome, event.outcome)}."]
        if event.outcome == WRONG_PAD:
            return [f"  {voice} instead of {self._meant(event.note_index)}."]
        zone = ", rim" if event.outcome == RIM else f", {event.instead}" * bool(event.instead)
        return [f"  {voice}: {offset_words(event.offset_s or 0.0)}{zone}."]

    def _meant(self, note_index: int) -> str:
        return voice_words(self.pattern.notes[note_index].voice)


def _capitalised(sentence: str) -> str:
    """Return a sentence with its first letter in upper case."""
    return sentence[:1].upper() + sentence[1:]


def voice_words(voice: str) -> str:
    """Return a voice's name as people say it."""
    return VOICES[voice].title


def offset_words(offset_s: float) -> str:
    """Return an offset rounded to a millisecond, in words."""
    ms = round(abs(offset_s) * 1000)
    if not ms:
        return "on time"
    return f"{ms} ms {'early' if offset_s < 0 else 'late'}"


def _bar(event: told.BarEnded) -> list[str]:
    text = f"Bar {event.bar + 1}: {event.played} of {event.targets} played"
    if not fits_written(event.offset_mean_s, event.offset_spread_s):
        return [f"{text}; {NO_FIT}"]
    if event.offset_mean_s is not None:
        text += f", {offset_words(event.offset_mean_s)} on average"
    if event.offset_spread_s is not None:
        text += f", spread {round(event.offset_spread_s * 1000)} ms"
    faults = [*_by_voice("missed", event.missed), *_by_voice("wrong pad for", event.wrong)]
    counts = ((event.extra, "extra"), (event.rim, "on the rim"), (event.double, "double trigger"))
    faults += [f"{count} {what}" for count, what in counts if count]
    faults += [
        f"{zones} {count} times" if count > 1 else zones for zones, count in event.zones.items()
    ]
    return [f"{text}; {', '.join(faults)}." if faults else f"{text}."]


def _by_voice(what: str, counts: Mapping[str, int]) -> list[str]:
    return [
        f"{what} {voice_words(voice)}" + (f" {count} times" if count > 1 else "")
        for voice, count in counts.items()
    ]


def _rung(event: told.RungEnded) -> list[str]:
    verdict = "clean" if event.clean else "not clean"
    text = f"{event.tempo:g} BPM was {verdict}"
    if event.failed:
        text += f": {'; '.join(event.failed)}"
    if event.next_tempo is not None:
        text += f". Next: {event.next_tempo:g} BPM"
        left = live_words.minutes_words(event.seconds_left)
        text += f", {left} left" if left else ""
    return [text + "."]


def _lines(event: told.Event) -> list[str]:
    """Return the lines of the events that need nothing but themselves."""
    match event:
        case told.BeatStarted(phase="count-in", bar=0, beat=0):
            return [f"Count-in: {event.beats} beats to the bar."]
        case told.RungEnded():
            return _rung(event)
        case told.RestStarted():
            return [f"Rest for {event.until_s - event.time_s:.0f} seconds."]
        case told.TempoChosen():
            return [f"From the next pass on: {event.tempo:g} BPM."]
        case told.Paused():
            return [f"{_capitalised(pause_words(event.reason))}."]
        case told.Resumed():
            return ["Continuing."]
        case told.Notice():
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
    """Return what the player asks for by keys; one that asks for nothing may be a pad.

    `pressed_s` is the `time.perf_counter()` at which they were pressed.
    """
    pad = Command("key", pressed_s)
    return [COMMAND_KEYS.get(key) or replace(pad, text=key) for key in keys]


def key_help_lines(pads: bool) -> list[str]:
    """Return the lines that tell the keys, with those that are `pads` when they are the kit."""
    lines = ["Space pauses and continues, r restarts, + and - change the tempo, q saves and ends."]
    if pads:
        voices = dict.fromkeys(KEY_VOICES.values())
        keys = {
            voice: " ".join(key for key, v in KEY_VOICES.items() if v == voice) for voice in voices
        }
        lines.append("Pads: " + ", ".join(f"{voice} {keys[voice]}" for voice in voices) + ".")
    return lines
