"""The looks stay readable, also for eyes with two kinds of cones.

Sources: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, A physiologically-based model for
simulation of color vision deficiency, IEEE TVCG 15(6), 2009, table 1 (severity 1.0, on linear RGB);
the differences are CIE 1976 (CIE 15), of which about 2.3 is just noticeable (M. Mahy, L. Van
Eycken, A. Oosterlinck, 1994); the contrast is that of WCAG 2.1, 1.4.3 (at least 4.5 for text).
The sRGB curve and matrix are those of IEC 61966-2-1. The matrices were compared with several
independent implementations.
"""

from __future__ import annotations

from itertools import combinations

import pytest

from trainer.screens.themes import CONTRAST, NIGHT, PAPER, SIXTEEN, THEMES

EYES = {
    "common": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
    "protanopia": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deuteranopia": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritanopia": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}

PAIRS = (("off", "success"), ("success", "error"))
"""What must never be mistaken: off the beat and on it, clean and not clean."""

INKS = ("off", "success", "error", "warning")

Triple = tuple[float, float, float]


def linear(colour: str) -> Triple:
    """Return the linear light of a colour `#rrggbb`."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    curve = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
    return (curve[0], curve[1], curve[2])


def seen(colour: str, eye: str) -> Triple:
    """Return the light that eyes of this kind could not tell from the colour."""
    light = linear(colour)
    sums = [sum(a * b for a, b in zip(row, light, strict=True)) for row in EYES[eye]]
    return tuple(min(1.0, max(0.0, one)) for one in sums)  # type: ignore[return-value]


def lab(light: Triple) -> Triple:
    """Return CIE L*a*b* under D65."""
    red, green, blue = light
    x = 0.4124 * red + 0.3576 * green + 0.1805 * blue
    y = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    z = 0.0193 * red + 0.1192 * green + 0.9505 * blue
    first, second, third = (
        ratio ** (1 / 3) if ratio > 216 / 24389 else (24389 / 27 * ratio + 16) / 116
        for ratio in (x / 0.95047, y, z / 1.08883)
    )
    return 116 * second - 16, 500 * (first - second), 200 * (second - third)


def apart(one: str, other: str, eye: str) -> float:
    """Return how far two colours are apart for such eyes."""
    ends = zip(lab(seen(one, eye)), lab(seen(other, eye)), strict=True)
    return sum((a - b) ** 2 for a, b in ends) ** 0.5


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of WCAG."""
    lights = sorted(
        0.2126 * red + 0.7152 * green + 0.0722 * blue
        for red, green, blue in (linear(one), linear(other))
    )
    return (lights[1] + 0.05) / (lights[0] + 0.05)


def colours(theme) -> dict[str, str]:
    """Return the colours of a look by name."""
    names = ("success", "error", "warning", "foreground")
    return {name: getattr(theme, name) for name in names} | theme.variables


def test_the_arithmetic_gives_known_values() -> None:
    """Black and white have contrast 21; white is (100, 0, 0); pure red is (53, 80, 67)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert lab(linear("#ffffff")) == pytest.approx((100, 0, 0), abs=0.02)
    assert lab(linear("#ff0000")) == pytest.approx((53.24, 80.09, 67.20), abs=0.1)


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
@pytest.mark.parametrize("eye", EYES)
def test_what_must_not_be_mistaken_is_far_apart(theme, eye: str) -> None:
    """Off the beat from on it, clean from not clean: ten times a just noticeable difference."""
    for one, other in PAIRS:
        reported = colours(theme)
        assert apart(reported[one], reported[other], eye) >= 20, (one, other)


@pytest.mark.parametrize("theme", [NIGHT, PAPER, CONTRAST], ids=lambda theme: theme.name)
@pytest.mark.parametrize("eye", ["common", "protanopia", "deuteranopia"])
def test_all_inks_of_outcomes_differ(theme, eye: str) -> None:
    """Any two of them are six times a just noticeable difference apart; shapes say the rest."""
    reported = colours(theme)
    for one, other in combinations(INKS, 2):
        assert apart(reported[one], reported[other], eye) >= 14, (one, other)


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
def test_all_that_is_read_stands_out(theme) -> None:
    """Every ink has the contrast of text on the ground it is drawn on."""
    for name, colour in colours(theme).items():
        assert contrast(colour, theme.background) >= 4.5, name


def test_sixteen_colours_are_sixteen() -> None:
    """Drawn on a terminal of sixteen colours no two outcomes become the same one."""
    from rich.color import Color, ColorSystem

    reported = {name: Color.parse(colour) for name, colour in colours(SIXTEEN).items()}
    numbers = [reported[name].downgrade(ColorSystem.STANDARD).number for name in INKS]
    assert len(set(numbers)) == len(INKS)
