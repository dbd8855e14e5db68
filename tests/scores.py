"""Scores of one drum part in MusicXML as text, made of notes and measures, and what is read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.pattern.formats import musicxml_read

if TYPE_CHECKING:
    from fractions import Fraction

    from trainer.pattern.model import Pattern

SPOTS = {"snare": ("C", 5), "kick": ("F", 4), "hat": ("G", 5), "tom": ("E", 5)}
MIDI = {"snare": 39, "kick": 37, "hat": 43, "tom": 49}
"""Places on the staff, and General MIDI notes as MusicXML counts them, from 1."""


def stroke(
    drum: str = "snare", length: int = 4, inside: str = "", *, voice: int = 1, before: str = ""
) -> str:
    """Return a note of a number of sixteenths."""
    step, octave = SPOTS[drum]
    head = "<notehead>x</notehead>" if drum == "hat" else ""
    return (
        f"<note>{before}<unpitched><display-step>{step}</display-step>"
        f"<display-octave>{octave}</display-octave></unpitched><duration>{length}</duration>"
        f'<instrument id="P1-{drum}"/><voice>{voice}</voice>{head}{inside}</note>'
    )


def attributes(time: str = "<beats>4</beats><beat-type>4</beat-type>") -> str:
    """Return the head of the first measure: four parts a quarter."""
    return (
        f"<attributes><divisions>4</divisions><time>{time}</time>"
        "<clef><sign>percussion</sign></clef></attributes>"
    )


def score(*measures: str, midi: dict[str, int] | None = None, others: str = "") -> bytes:
    """Return a score of one drum part, with other parts before it."""
    numbers = MIDI if midi is None else midi
    rows = "".join(
        f'<score-instrument id="P1-{drum}"><instrument-name>{drum}</instrument-name>'
        "</score-instrument>"
        for drum in SPOTS
    ) + "".join(
        f'<midi-instrument id="P1-{drum}"><midi-channel>10</midi-channel>'
        f"<midi-unpitched>{number}</midi-unpitched></midi-instrument>"
        for drum, number in numbers.items()
    )
    inside = "".join(
        f'<measure number="{at}">{text}</measure>' for at, text in enumerate(measures, 1)
    )
    heads, bodies = others.split("|") if others else ("", "")
    return (
        f'<score-partwise version="4.0"><part-list>{heads}<score-part id="P1"><part-name>Drumset'
        f'</part-name>{rows}</score-part></part-list>{bodies}<part id="P1">{inside}</part>'
        "</score-partwise>"
    ).encode()


def read(*measures: str, **more: object) -> Pattern:
    """Return the pattern of a score."""
    return musicxml_read.read(score(*measures, **more), name="song")  # type: ignore[arg-type]


def places(pattern: Pattern) -> list[tuple[Fraction, str]]:
    """Return beats and voices of the main strokes."""
    return [(note.beat, note.voice) for note in pattern.notes if not note.grace]


FOUR = attributes() + stroke() * 4


def above(inside: str) -> str:
    """Return a direction of a kind."""
    return f"<direction><direction-type>{inside}</direction-type></direction>"


def words(text: str) -> str:
    """Return a direction in words."""
    return above(f"<words>{text}</words>")
