from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from trainer.archive.session_list import FIGURES, SessionEntry
from trainer.show.pictures import MOST_DOTS, MOST_PANELS, history_picture

SVG = "{http://www.w3.org/2000/svg}"
START = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)
TODAY = date(2026, 4, 20)


def entry(day: int, **more: object) -> SessionEntry:
    """Return a ladder of ten minutes, a little faster every day, clean up to its last rung."""
    top = 80.0 + day
    base = SessionEntry(
        Path(f"{day}.jsonl"),
        START + timedelta(days=day),
        "between-runs",
        "Between two runs",
        "Ada",
        True,
        600.0,
        5,
        800,
        (60.0, top),
        ((top - 10, True), (top - 5, True), (top, False)),
        dict.fromkeys(FIGURES),
    )
    return replace(base, **more)  # type: ignore[arg-type]


def drawn(entries: list[SessionEntry]) -> ET.Element:
    """Draw some sessions and read the picture as XML."""
    return ET.fromstring(history_picture(entries, TODAY).source())


def texts(picture: ET.Element) -> list[str]:
    """Return all that is written in a picture."""
    return [one.text or "" for one in picture.iter(f"{SVG}text")]


def test_a_dot_for_each_session_and_a_line_for_the_ceiling() -> None:
    """Each session has its dot, later ones to the right and faster ones higher up."""
    picture = drawn([entry(day) for day in range(6)])

    dots = [
        (float(one.get("cx", 0)), float(one.get("cy", 0))) for one in picture.iter(f"{SVG}circle")
    ]
    assert len(dots) == 6
    assert dots == sorted(dots, key=lambda dot: (dot[0], -dot[1]))
    assert len(list(picture.iter(f"{SVG}polyline"))) == 1
    assert "Between two runs" in texts(picture)
    assert any(text.startswith("Ada: ceiling ") for text in texts(picture))


def test_everything_lies_inside() -> None:
    """No dot and no end of a band leaves its panel, whatever the numbers are."""
    odd = [entry(0, tempos=(1.0, 1e12)), entry(1, tempos=(20.0, 20.0)), entry(0, pattern="b")]
    picture = drawn(odd)
    width, height = (float(picture.get(key, 0)) for key in ("width", "height"))

    for one in picture.iter(f"{SVG}circle"):
        assert 0 <= float(one.get("cx", -1)) <= width
        assert 0 <= float(one.get("cy", -1)) <= height


@pytest.mark.parametrize("title", ["<script>alert(1)</script>", "a & b", "\x00\x1b[2J\ud800\ufffe"])
def test_a_title_is_nothing_but_text(title: str) -> None:
    """Whatever a pattern is called, the picture stays valid and holds no element of its making."""
    picture = drawn([entry(0, title=title)])

    kinds = {one.tag.removeprefix(SVG) for one in picture.iter()}
    drawn_as = {"svg", "title", "style", "rect", "g", "text", "line", "circle"}
    assert kinds <= drawn_as | {"polygon", "polyline"}


def test_the_picture_stays_small() -> None:
    """Many sessions and many patterns are thinned out."""
    many = drawn([entry(day, rungs=()) for day in range(3000)])
    assert len(list(many.iter(f"{SVG}circle"))) <= MOST_DOTS

    wide = drawn([entry(day, pattern=f"p{day}") for day in range(40)])
    assert len(list(wide.iter(f"{SVG}g"))) == MOST_PANELS + 1


def test_nothing_to_draw() -> None:
    """Without a session the picture says so."""
    assert "No session with a pass." in texts(drawn([]))
    assert "No session with a pass." in texts(drawn([entry(0, tempos=None)]))


def test_each_week_played_is_a_bar_with_its_days() -> None:
    """The longest week is full height, others in proportion; a week without practice has no bar."""
    played = [entry(1, seconds=900.0), entry(2, seconds=900.0), entry(14, seconds=7200.0)]
    picture = drawn(played)

    bars = [one for one in picture.iter(f"{SVG}rect") if one.get("width") == "10"]
    assert [float(one.get("height", 0)) for one in bars] == [22.5, 90.0]
    assert any(text.startswith("150 minutes in 48 weeks") for text in texts(picture))
    assert {"2", "1"} <= set(texts(picture))
