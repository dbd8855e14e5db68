"""Patterns made by hypothesis: any values over any drums and feet, with all a note can say."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import strategies as st

from trainer.pattern.model import (
    DYNAMICS,
    FEET,
    HANDS,
    NOTE_VALUES,
    USUAL_VALUES,
    Bar,
    Dynamic,
    Level,
    Limb,
    Meter,
    Note,
    Pattern,
    Section,
    Swing,
    TempoChange,
    note_order,
)

METERS = (
    Meter(4, 4),
    Meter(3, 4),
    Meter(5, 8),
    Meter(5, 8, (2, 3)),
    Meter(6, 8),
    Meter(7, 8),
    Meter(7, 8, (3, 2, 2)),
    Meter(8, 8, (3, 3, 2)),
    Meter(2, 2),
)
HAND_SPOTS = (
    ("snare", ""),
    ("snare", "rim"),
    ("snare", "cross-stick"),
    ("hihat", ""),
    ("hihat", "open"),
    ("ride", ""),
    ("ride", "bell"),
    ("crash", ""),
    ("tom1", ""),
    ("tom2", ""),
    ("floor", ""),
)
FOOT_SPOTS = (("kick", Limb.RF), ("pedal", Limb.LF), ("kick2", Limb.LF))
SIMPLE = ("4", "8", "8t", "16", "16t", "16q", "16s", "32", "16(9/8)", "32(11/8)", "8t.")


@st.composite
def patterns(draw: st.DrawFn, values: tuple[str, ...] = SIMPLE, graces: bool = True) -> Pattern:
    """Return a pattern of one to four bars, each hand bar and foot bar in one note value."""
    meters = draw(st.lists(st.sampled_from(METERS), min_size=1, max_size=4))
    bars: list[Bar] = []
    notes: list[Note] = []
    for meter in meters:
        bars.append(Bar(bars[-1].end if bars else Fraction(0), meter))
        notes += draw(_line(bars[-1], values, graces, foot=False))
        notes += draw(_line(bars[-1], values, False, foot=True))
    if not notes:
        notes = [Note(Fraction(0), "snare", Limb.RH, value=values[0])]
    first = draw(st.integers(0, len(bars) - 1))
    sections = [Section("one", 0, first)] if first else []
    sections.append(Section("two", first, len(bars) - first))
    swing, tempo_changes, dynamics = draw(_feel(bars))
    return Pattern(
        name="made",
        swing=swing,
        tempo_changes=tempo_changes,
        dynamics=dynamics,
        title=draw(st.sampled_from(["Made", "R & L <hands>", "“Zwei” – drei", "a]]>b"])),
        bars=tuple(bars),
        notes=tuple(sorted(notes, key=note_order)),
        sections=tuple(sections),
        tempo=float(draw(st.integers(40, 240))),
    )


@st.composite
def _feel(
    draw: st.DrawFn, bars: list[Bar]
) -> tuple[tuple[Swing, ...], tuple[TempoChange, ...], tuple[Dynamic, ...]]:
    """Return swing, a change of tempo and a mark of loudness, each over a bar or none."""
    swing, changes, marks = [], [], []
    bar, other, third = (draw(st.sampled_from(bars)) for _ in range(3))
    if draw(st.booleans()):
        share = draw(st.sampled_from((Fraction(2, 3), Fraction(3, 5), Fraction(3, 4))))
        swing.append(Swing(bar.start, bar.end, draw(st.sampled_from(("8", "16"))), share))
    if draw(st.booleans()):
        gradual = draw(st.booleans())
        tempo, to = (float(draw(st.integers(40, 240))) for _ in range(2))
        changes.append(
            TempoChange(other.start, tempo, other.end, to)
            if gradual
            else TempoChange(other.start, tempo)
        )
    if draw(st.booleans()):
        one, two = (draw(st.sampled_from(DYNAMICS)) for _ in range(2))
        gradual = draw(st.booleans())
        marks.append(
            Dynamic(third.start, one, third.end, two) if gradual else Dynamic(third.start, one)
        )
    return tuple(swing), tuple(changes), tuple(marks)


@st.composite
def _line(
    draw: st.DrawFn, bar: Bar, values: tuple[str, ...], graces: bool, *, foot: bool
) -> list[Note]:
    fitting = [
        name
        for name in values
        if (bar.meter.length / NOTE_VALUES[name].length).denominator == 1
        and (name in USUAL_VALUES or bar.meter.unit <= 4)
    ]
    value = NOTE_VALUES[draw(st.sampled_from(fitting))]
    count = int(bar.meter.length / value.length)
    notes: list[Note] = []
    for step in sorted(draw(st.sets(st.integers(0, count - 1)))):
        beat = bar.start + step * value.length
        level = draw(st.sampled_from(Level))
        if foot:
            voice, limb = draw(st.sampled_from(FOOT_SPOTS))
            notes.append(Note(beat, voice, limb, level, value=value.name))
            continue
        voice, zone = draw(st.sampled_from(HAND_SPOTS))
        limb = draw(st.sampled_from(HANDS))
        buzz = draw(st.sampled_from((False, False, False, True)))
        notes.append(Note(beat, voice, limb, level, zone, value.name, buzz=buzz))
        other = HANDS[1 - HANDS.index(limb)]
        for grace in range(draw(st.sampled_from((0, 0, 0, 1, 2))) if graces else 0, 0, -1):
            notes.append(Note(beat, voice, other, Level.NORMAL, zone, value.name, grace))
    return notes


assert set(FEET) == {limb for _, limb in FOOT_SPOTS}
