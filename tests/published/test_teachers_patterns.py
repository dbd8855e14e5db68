"""Fifteen patterns as a teacher would write them, with what they must sound like written by hand.

Nothing here is computed by the program: the times (seconds of one pass at the pattern's own tempo,
from beat 1, as fractions), drums and hands of every stroke were worked out on paper from how each
figure is notated. The figures are common practice; their names are the trade's. A grace stroke is
marked with ~ and its time is not written, because that is a matter of touch.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from trainer import toml_text
from trainer.pattern.language import notation
from trainer.practice.course import Pass, pass_targets

# Jazz time: eighths of 2:1 at 120, the ride on 1, 2, the and of 2, 3, 4, the and of 4.
JAZZ = """
tempo = 120
swing = "8 2:1"
[bars]
value = "8"
sticking = "R-RR R-RR"
ride  = "x-xx x-xx"
pedal = "--x- --x-"
"""
JAZZ_SOUND = """
0 ride RH
1/2 ride RH
1/2 pedal LF
5/6 ride RH
1 ride RH
3/2 ride RH
3/2 pedal LF
11/6 ride RH
"""

# The same beat straight: only the two ands move.
STRAIGHT = JAZZ.replace("8 2:1", "none")
STRAIGHT_SOUND = JAZZ_SOUND.replace("5/6 ", "3/4 ").replace("11/6 ", "7/4 ")

# Sixteenths a little lazy: 60% at 60, so that the second of two comes after 0.3 s of 0.5 s.
LAZY = """
tempo = 60
swing = "16 60%"
meter = "1/4"
hands = { sticking = "R L R L", value = "16", path = "hihat" }
"""
LAZY_SOUND = """
0 hihat RH
3/10 hihat LH
1/2 hihat RH
4/5 hihat LH
"""

# A shuffle in triplets as it is written out, with a ghost in the middle of the first.
SHUFFLE = """
tempo = 60
meter = "2/4"
[bars]
value = "8t"
sticking = "RLR BLR"
hihat = "x-x x-x"
snare = "-g- X--"
kick = "x-- ---"
"""
SHUFFLE_SOUND = """
0 hihat RH
0 kick RF
1/3 snare LH ghost
2/3 hihat RH
1 hihat RH
1 snare LH accent
5/3 hihat RH
"""

# Seven eighths in 3+2+2 at 210 eighths a minute: a group of three lasts 6/7 s, one of two 4/7 s.
SEVEN = """
tempo = 210
tempo_unit = "8"
meter = "7/8 3+2+2"
[bars]
value = "8"
sticking = "RRR RR RR"
hihat = "xxx xx xx"
kick  = "x-- x- x-"
"""
SEVEN_SOUND = """
0 hihat RH
0 kick RF
2/7 hihat RH
4/7 hihat RH
6/7 hihat RH
6/7 kick RF
8/7 hihat RH
10/7 hihat RH
10/7 kick RF
12/7 hihat RH
"""

# Flam tap at 60: a flam and a tap with the same hand, from either side.
FLAM_TAP = """
tempo = 60
meter = "1/4"
hands = { sticking = "lR R rL L", value = "16" }
"""
FLAM_TAP_SOUND = """
~ snare LH
0 snare RH
1/4 snare RH
~ snare RH
1/2 snare LH
3/4 snare LH
"""

# Five stroke rolls in short notation: a slash through two eighths, then the accent.
FIVE = """
tempo = 60
meter = "3/4"
hands = { sticking = "/R /L >R - - -", value = "8" }
"""
FIVE_SOUND = """
0 snare RH
1/4 snare RH
1/2 snare LH
3/4 snare LH
1 snare RH accent
"""

# A long roll in short notation: two slashes through a quarter are four sixteenths, RRLL.
LONG = """
tempo = 60
meter = "2/4"
hands = { sticking = "//R R", value = "4" }
"""
LONG_SOUND = """
0 snare RH
1/4 snare RH
1/2 snare LH
3/4 snare LH
1 snare RH
"""

# A four stroke ruff: three taps on the snare lead to the high tom, then a rest.
RUFF = """
tempo = 60
meter = "2/4"
hands = { sticking = "lrlR -", value = "4", path = "snare~tom1" }
"""
RUFF_SOUND = """
~ snare LH
~ snare RH
~ snare LH
0 tom1 RH
"""

# The left hand accents too: every third stroke of single sixteenths, three quarters long.
THIRDS = """
tempo = 60
meter = "3/4"
hands = { sticking = "R L", value = "16", accents = ">--" }
"""
THIRDS_SOUND = """
0 snare RH accent
1/4 snare LH
1/2 snare RH
3/4 snare LH accent
1 snare RH
5/4 snare LH
3/2 snare RH accent
7/4 snare LH
2 snare RH
9/4 snare LH accent
5/2 snare RH
11/4 snare LH
"""

# Three against four: the hands in three quarters of a bar, the foot in four.
THREE = """
tempo = 60
meter = "3/4"
[bars]
value = "4"
sticking = "RLR"
snare = "xxx"
[feet]
kick = "x"
value = "8."
"""
THREE_SOUND = """
0 snare RH
0 kick RF
3/4 kick RF
1 snare LH
3/2 kick RF
2 snare RH
9/4 kick RF
"""

# Getting faster: quarters from 60 to 120 over a bar; each beat is 1/8 s shorter than the last.
FASTER = """
tempo = "60 to 120"
hands = { sticking = "R L R L", value = "4" }
"""
FASTER_SOUND = """
0 snare RH
15/16 snare LH
28/16 snare RH
39/16 snare LH
"""

# Metric modulation: the triplets of the first beat become the eighths of what follows.
MODULATED = """
tempo = 60
meter = "1/4"
[[section]]
hands = { sticking = "R L R", value = "8t" }
[[section]]
tempo = "8t = 8"
hands = { sticking = "L R", value = "8" }
"""
MODULATED_SOUND = """
0 snare RH
1/3 snare LH
2/3 snare RH
1 snare LH
4/3 snare RH
"""

# Three bars of a beat and a bar of fill around the drums, in two quarters at 120.
PHRASE = """
tempo = 120
meter = "2/4"
[[section]]
times = 3
[section.bars]
value = "4"
sticking = "RB"
hihat = "xx"
snare = "-x"
[[section]]
hands = { sticking = "R L R L", value = "8", path = "snare, tom1, tom2, floor" }
"""
PHRASE_SOUND = """
0 hihat RH
1/2 hihat RH
1/2 snare LH
1 hihat RH
3/2 hihat RH
3/2 snare LH
2 hihat RH
5/2 hihat RH
5/2 snare LH
3 snare RH
13/4 tom1 LH
7/2 tom2 RH
15/4 floor LH
"""

# Five strokes in the time of three sixteenths, which are 3/4 s at 60.
FIVES = """
tempo = 60
meter = "3/16"
hands = { sticking = "R L R L R", value = "16(5/3)" }
"""
FIVES_SOUND = """
0 snare RH
3/20 snare LH
6/20 snare RH
9/20 snare LH
12/20 snare RH
"""

PATTERNS = {
    "jazz": (JAZZ, JAZZ_SOUND),
    "straight": (STRAIGHT, STRAIGHT_SOUND),
    "lazy sixteenths": (LAZY, LAZY_SOUND),
    "shuffle": (SHUFFLE, SHUFFLE_SOUND),
    "seven in 3+2+2": (SEVEN, SEVEN_SOUND),
    "flam tap": (FLAM_TAP, FLAM_TAP_SOUND),
    "five stroke roll": (FIVE, FIVE_SOUND),
    "long roll": (LONG, LONG_SOUND),
    "ruff": (RUFF, RUFF_SOUND),
    "accents of three": (THIRDS, THIRDS_SOUND),
    "three against four": (THREE, THREE_SOUND),
    "accelerando": (FASTER, FASTER_SOUND),
    "metric modulation": (MODULATED, MODULATED_SOUND),
    "three and one": (PHRASE, PHRASE_SOUND),
    "five in three": (FIVES, FIVES_SOUND),
}


def played(source: str) -> list[tuple[float | None, str, str, str]]:
    """Return time (None for a grace stroke), drum, limb and level of every stroke of a pass."""
    pattern = notation.read(toml_text.parse(source), "test", source)
    targets = pass_targets(pattern, Pass(0, pattern.tempo, 0.0), 0)
    return [
        (
            None if one.note.grace else pytest.approx(one.time_s, abs=1e-9),
            one.note.voice,
            str(one.note.limb),
            one.note.level.value,
        )
        for one in targets
    ]


def written(sound: str) -> list[tuple[float | None, str, str, str]]:
    """Return the strokes of a list written by hand, in its order."""
    found = []
    for line in sound.split("\n"):
        if line:
            time_s, voice, limb, *level = line.split()
            when = None if time_s == "~" else float(Fraction(time_s))
            found.append((when, voice, limb, level[0] if level else "normal"))
    return found


@pytest.mark.parametrize("name", PATTERNS)
def test_a_teachers_pattern_sounds_as_it_is_meant(name: str) -> None:
    """Every stroke comes when, where and with the hand that it must; simultaneous ones in any
    order.
    """
    source, sound = PATTERNS[name]
    found, expected = played(source), written(sound)

    assert len(found) == len(expected)
    left = list(found)
    for stroke in expected:
        assert stroke in left, f"{stroke} is not played"
        left.remove(stroke)
    # Grace strokes have no time of their own, so their order is what is compared.
    assert [one[1:3] for one in found if one[0] is None] == [
        one[1:3] for one in expected if one[0] is None
    ]


def test_there_are_fifteen_of_them() -> None:
    """None is lost, and none is the same as another."""
    assert len(PATTERNS) == len({source for source, _ in PATTERNS.values()}) == 15
