"""The one way to a picture: both grounds, paper, texts that are nothing but text, whole files."""

from __future__ import annotations

import re
import shutil
import subprocess
import xml.etree.ElementTree as ET
from typing import TYPE_CHECKING

import pytest

from trainer.errors import BadInput
from trainer.show import svg

if TYPE_CHECKING:
    from pathlib import Path

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = "<script>alert(1)</script> & \x1b[2J\x00\ud800\ufffe"


def sheet() -> svg.Picture:
    """Return a picture with one of each."""
    made = svg.Picture(100, 50, HOSTILE)
    made.text(5, 20, HOSTILE, "heading")
    made.text(5, 40, HOSTILE, label=HOSTILE)
    made.shape("rect", "off", made.group(HOSTILE), x=1, y=2, width=3, height=4.123456789)
    return made


def brightness(colour: str) -> float:
    """Return how bright a colour is, from 0 to 255."""
    return sum(int(colour[at : at + 2], 16) for at in (1, 3, 5)) / 3


def test_a_text_is_nothing_but_text() -> None:
    """Whatever it holds, the file is well-formed and has no element of the text's making."""
    root = ET.fromstring(sheet().source())
    kinds = {one.tag.removeprefix(SVG) for one in root.iter()}
    assert kinds == {"svg", "title", "style", "rect", "g", "text", "tspan"}
    assert "\x1b" not in sheet().source()


def test_dark_only_on_a_dark_screen() -> None:
    """The dark ground is asked for by a screen that prefers it: paper and others get the light."""
    light, dark = svg.STYLE.split("@media screen and (prefers-color-scheme: dark)")
    for rules, bright in ((light, True), (dark, False)):
        paper, ink = (
            re.findall(rf"{name} {{ fill: (#\w+)", rules)[-1] for name in ("paper", "dot")
        )
        assert (brightness(paper) > brightness(ink)) is bright
        assert abs(brightness(paper) - brightness(ink)) > 180
    assert "@media" not in light


def test_the_ground_fills_the_window_and_the_picture() -> None:
    """A browser paints around the picture what lies under it; other readers see the rectangle."""
    assert "svg { background: #ffffff; }" in svg.STYLE
    root = ET.fromstring(sheet().source())
    paper = next(one for one in root.iter(f"{SVG}rect") if one.get("class") == "paper")
    assert (paper.get("width"), paper.get("height")) == ("100", "50")


def test_a_picture_replaces_an_older_one_whole(tmp_path: Path) -> None:
    """The file is put in its place at once, and no half of one lies beside it."""
    path = tmp_path / "one.svg"
    svg.save_picture(path, svg.Picture(10, 10, "old"))
    assert svg.save_picture(path, sheet()) == path
    assert ET.parse(path).getroot().get("width") == "100"
    assert [one.name for one in tmp_path.iterdir() if one.is_file()] == ["one.svg"]


def test_another_ending_is_refused(tmp_path: Path) -> None:
    """A file of another kind is never overwritten by a picture."""
    with pytest.raises(BadInput, match=r"end its name in \.svg"):
        svg.save_picture(tmp_path / "one.jsonl", sheet())
    assert not list(tmp_path.iterdir())


def test_a_renderer_draws_it(tmp_path: Path) -> None:
    """librsvg, where it is installed, draws the picture without a complaint."""
    if not shutil.which("rsvg-convert"):
        pytest.skip("rsvg-convert is not installed")
    svg.save_picture(tmp_path / "one.svg", sheet())
    done = subprocess.run(
        ["rsvg-convert", str(tmp_path / "one.svg")], capture_output=True, check=True
    )
    assert done.stdout.startswith(b"\x89PNG")
    assert not done.stderr
