"""Measuring a kit at an open port: doubles, crosstalk and power; pedal, strike places and chokes.

Each measurement yields steps (what to play next, what was found), and reports every second how
long is left. `trainer.show.kit_words` has the words for both.
"""

from __future__ import annotations

import math
import time
from collections import Counter
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.kit import kits
from trainer.kit.hits import Controllers, Strike
from trainer.kit.learning import (
    CHOKE_TIMES,
    HiHatNoteLearner,
    PedalLearner,
    PlaceLearner,
    place_name,
)
from trainer.kit.survey import power_curve, stroke_velocities, survey_strikes
from trainer.midi.hit_source import Control

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Iterator, Mapping
    from pathlib import Path

    from trainer.kit.hits import Pedal
    from trainer.kit.model import Kit, Pad
    from trainer.kit.survey import Survey
    from trainer.midi.hit_source import SourceEvent
    from trainer.midi.kit_input import MidiSource

    Report = Callable[["KitProgress"], object]
    Steps = Iterator["KitStep"]

LOOK_S = 0.005
STRENGTHS = ("soft", "normal", "hard")
STRENGTH_SECONDS = 15.0

QUIET_S = 0.7
"""So long nothing may come before the next question: what still comes answers the last one."""

ASKED_S = 8.0
"""How long each question waits; what a kit does not send is left out."""

PLACED = ("snare", "ride")
"""Voices for which kits send the place of a stroke, where they send it at all (common practice)."""


@dataclass(frozen=True, slots=True)
class KitStep:
    """Something to play, or something found; `kind` says what (the keys of `kit_words.STEPS`).

    `seconds` is how long to play, `strength` one of STRENGTHS, `number` a controller or note,
    `name` a voice or a port, `path` the file of the kit where something was kept.
    """

    kind: str
    seconds: float = 0.0
    strength: str = ""
    number: int = -1
    name: str = ""
    pad: Pad | None = None
    pedal: Pedal | None = None
    survey: Survey | None = None
    path: Path | None = None


@dataclass(frozen=True, slots=True)
class KitProgress:
    """How many seconds are left, and how many strokes came from each place, the last one first.

    `question` is True while a question waits for an answer.
    """

    seconds_left: int
    question: bool = False
    counts: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Heard:
    """A look at a port: the time since listening began, new strokes, and whether the kit went.

    `gone` is True where it went since the last look, False where it is back, else None.
    """

    now_s: float
    strikes: list[Strike]
    gone: bool | None


def no_report(_progress: KitProgress) -> None:
    """Report to nobody."""


def listen(source: MidiSource, seconds: float | None = None) -> Iterator[Heard]:
    """Look at an open port again and again, for some seconds or until nobody asks any more."""
    began, gone = time.perf_counter(), False
    while seconds is None or time.perf_counter() - began < seconds:
        now = time.perf_counter() - began
        strikes = [one for one in source.poll(now) if isinstance(one, Strike)]
        changed, gone = source.lost != gone, source.lost
        yield Heard(now, strikes, gone if changed else None)
        time.sleep(LOOK_S)


def survey_kit(
    kit: Kit, source: MidiSource, seconds: float, *, power: bool = True, report: Report = no_report
) -> Steps:
    """Measure doubles, crosstalk and power and keep them; BadInput where no stroke comes."""
    yield KitStep("singles", seconds)
    strikes = yield from _gather(source, seconds, kit, report)
    if not strikes:
        raise BadInput(
            f"nothing came from {source.name}",
            fix="strike a pad and look with trainer kit watch whether anything arrives",
        )
    found = survey_strikes(strikes, kit)
    yield KitStep("survey", survey=found)
    kit = replace(kit, rules=found.rules(), surveyed=True)
    yield KitStep("kept", path=kits.save(kit))
    if power:
        kit = yield from _with_power(kit, source, report)
        yield KitStep("kept", path=kits.save(kit))


def _with_power(kit: Kit, source: MidiSource, report: Report) -> Generator[KitStep, None, Kit]:
    """Take soft, normal and hard strokes in turn, and return the kit with the curves they give."""
    velocities = []
    for strength in STRENGTHS:
        yield KitStep("strength", STRENGTH_SECONDS, strength)
        strikes = yield from _gather(source, STRENGTH_SECONDS, kit, report)
        if not strikes:
            yield KitStep("no strength", strength=strength)
            return kit
        velocities.append(stroke_velocities(strikes, kit))
    power = dict(kit.power)
    for pad in velocities[1]:
        curve = power_curve(*(one.get(pad, []) for one in velocities))
        if curve:
            power[pad] = curve
        else:
            yield KitStep("even power", pad=pad)
    return replace(kit, power=power)


def _gather(
    source: MidiSource, seconds: float, kit: Kit, report: Report
) -> Generator[KitStep, None, list[Strike]]:
    """Return the strokes of some seconds; yield where the kit goes away or comes back."""
    found: list[Strike] = []
    left = math.inf
    for heard in listen(source, seconds):
        found += heard.strikes
        if heard.gone is not None:
            yield KitStep("gone" if heard.gone else "back", name=f"{source.name} {source.trouble}")
        if (whole := math.ceil(seconds - heard.now_s)) < left:
            left = whole
            report(KitProgress(left, counts=_counts(found, kit)))
    return found


def _counts(strikes: list[Strike], kit: Kit) -> Mapping[str, int]:
    names = [place_name(pad) if (pad := kit.pad(one.note)) else "?" for one in strikes]
    return Counter(reversed(names))


def learn_controllers(kit: Kit, source: MidiSource, report: Report = no_report) -> Steps:
    """Take pedal, strike places and chokes in turn, and keep what the kit sends for them."""
    ask = _Question(kit, source, report)
    pedal = yield from _pedal(ask)
    places = yield from _places(ask, pedal.controller if pedal else None)
    chokes = yield from _chokes(ask)
    found = Controllers(pedal, places, chokes)
    yield KitStep("kept", path=kits.save(replace(kit, controllers=found)))


@dataclass(frozen=True, slots=True)
class _Question:
    """What every question needs: the kit, its port, and who gets how long it still waits."""

    kit: Kit
    source: MidiSource
    report: Report

    def answers(self) -> Iterator[SourceEvent]:
        """Yield what arrives for as long as a question waits."""
        began, left = time.perf_counter(), math.inf
        while (now := time.perf_counter() - began) < ASKED_S:
            if (whole := math.ceil(ASKED_S - now)) < left:
                left = whole
                self.report(KitProgress(left, question=True))
            yield from self.source.poll(now)
            time.sleep(LOOK_S)

    def settle(self) -> None:
        """Wait until the last answer is over, for as long as a question waits at most."""
        began = last = time.perf_counter()
        while (now := time.perf_counter()) - last < QUIET_S and now - began < ASKED_S:
            if any(self.source.poll(now - began)):
                last = now
            time.sleep(LOOK_S)

    def voice(self, note: int) -> str:
        """Return which voice a note is, empty where the kit does not know it."""
        pad = self.kit.pad(note)
        return pad.voice if pad else ""


def _pedal(ask: _Question) -> Generator[KitStep, None, Pedal | None]:
    yield KitStep("press pedal")
    learner = PedalLearner()
    for one in ask.answers():
        if isinstance(one, Control) and one.kind == "control":
            learner.control(one.number, one.value)
        elif isinstance(one, Strike) and ask.voice(one.note) == "pedal":
            learner.pedal_note()
        found = learner.learned()
        if found:
            yield KitStep("pedal", pedal=found)
            ask.settle()
            zones = yield from _one_note(ask, found)
            return replace(found, zones=zones)
    yield KitStep("no pedal")
    return None


def _one_note(ask: _Question, pedal: Pedal) -> Generator[KitStep, None, bool]:
    """Take the hi-hat closed and open; return whether only the pedal says which it was."""
    yield KitStep("closed and open")
    learner = HiHatNoteLearner(pedal)
    for one in ask.answers():
        if isinstance(one, Strike) and ask.voice(one.note) == "hihat":
            learner.stroke(one.note, one.pedal)
        if learner.enough:
            break
    if not learner.enough:
        yield KitStep("few hi-hats")
    else:
        yield KitStep("one hi-hat note" if learner.one_note() else "two hi-hat notes")
    return learner.one_note()


def _places(ask: _Question, pedal: int | None) -> Generator[KitStep, None, dict[str, int]]:
    found: dict[str, int] = {}
    for voice in PLACED:
        ask.settle()
        yield KitStep("strike places", name=voice)
        learner = PlaceLearner(pedal)
        for one in ask.answers():
            if isinstance(one, Control) and one.kind == "control":
                learner.control(one.number, one.value)
            elif isinstance(one, Strike) and ask.voice(one.note) == voice:
                learner.stroke()
            if learner.enough:
                break
        number = learner.learned()
        if number is None:
            yield KitStep("no places", name=voice)
        else:
            yield KitStep("places", number=number)
            found[voice] = number
    return found


def _chokes(ask: _Question) -> Generator[KitStep, None, tuple[int, ...]]:
    ask.settle()
    yield KitStep("grab cymbals")
    grabbed: dict[int, int] = {}
    for one in ask.answers():
        if isinstance(one, Control) and one.kind == "choke" and one.value:
            grabbed[one.number] = grabbed.get(one.number, 0) + 1
            if grabbed[one.number] == CHOKE_TIMES:
                yield KitStep("choke", number=one.number, name=ask.voice(one.number))
    found = tuple(note for note, times in sorted(grabbed.items()) if times >= CHOKE_TIMES)
    if not found:
        yield KitStep("no choke")
    return found
