"""Titles full of markup: in no format that is written do they become anything but text."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import pytest

from trainer import cli
from trainer.pattern.formats import musicxml_read
from trainer.show.svg import Picture

if TYPE_CHECKING:
    from pathlib import Path

TITLES = (
    "<script>alert(1)</script>",
    "</text><script>alert(1)</script>",
    "]]><script>alert(1)</script>",
    "<!--<script>-->",
    "--><img src=x onerror=alert(1)>",
    "<svg onload=alert(1)>",
    "<a href='javascript:alert(1)'>x</a>",
    "<foreignObject><iframe src='//x'/></foreignObject>",
    "</title></head><body onload=alert(1)>",
    "</style><style>@import '//x'</style>",
    "&lt;script&gt;alert(1)&lt;/script&gt;",
    "&#60;script&#62;",
    "&xxe; <!ENTITY xxe SYSTEM 'file:///etc/passwd'>",
    "<?php echo 1 ?><?xml-stylesheet href='//x'?>",
    '" onload="alert(1)',
    "' onload='alert(1)",
    "<use href='//x#y'/>",
    "<image href='file:///etc/passwd'/>",
    '#image("/etc/passwd") #eval("1")',
    '#include "/etc/passwd"',
    "\\input{/etc/passwd} $\\write18{id}$",
    "(/JavaScript) /OpenAction << /S /URI >>",
    "[link=//x]x[/link] [bold]",
    "{{7*7}} ${7*7} `id` $(id)",
    "%s %n {0} {title}",
    "= + - @ cmd|' /C calc'!A0",
)
KNOWN_NAMES = {"script", "iframe", "foreignObject", "a", "img", "image", "body", "use", "link"}


@pytest.fixture
def patterns(tmp_path: Path) -> list[str]:
    """Write a pattern of a bar for each title."""
    names = []
    for number, title in enumerate(TITLES):
        path = tmp_path / f"p{number}.toml"
        quoted = title.replace("\\", "\\\\").replace('"', '\\"')
        path.write_text(f'title = "{quoted}"\nabout = "{quoted}"\nhands = "RL"\n')
        names.append(str(path))
    return names


def _names(root: ET.Element) -> set[str]:
    return {str(one.tag).rpartition("}")[2] for one in root.iter()}


def _attributes(root: ET.Element) -> set[str]:
    return {name for one in root.iter() for name in one.attrib}


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.names: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.names |= {name for name, _ in attrs}


def _sheet(patterns: list[str], path: Path) -> None:
    assert cli.run(["sheet", *patterns, "-o", str(path), "--title", TITLES[1]]) == 0


def test_musicxml(patterns: list[str], tmp_path: Path) -> None:
    """Every title reads back as it was written, and nothing else came of it."""
    for name, title in zip(patterns, TITLES, strict=True):
        path = tmp_path / "one.musicxml"
        path.unlink(missing_ok=True)
        _sheet([name], path)
        root = ET.fromstring(path.read_text())
        assert not _names(root) & KNOWN_NAMES
        assert b"<!ENTITY" not in path.read_bytes()
        assert title in {one.text for one in root.iter()} | {musicxml_read.read(path).title}


@pytest.mark.parametrize("ending", [".svg", ".html"])
def test_pages(ending: str, patterns: list[str], tmp_path: Path) -> None:
    """An engraved page has no element and no attribute that runs or loads anything."""
    pytest.importorskip("verovio")
    _sheet(patterns, tmp_path / f"page{ending}")
    pages = sorted(tmp_path.glob(f"page*{ending}"))
    assert pages
    for path in pages:
        tags = _Tags()
        tags.feed(path.read_text())
        found = tags.tags & {*map(str.lower, KNOWN_NAMES)} - {"body"}
        assert found <= {"use"}  # the signs of the music font, each within the page itself
        assert all(target.startswith("#") for target in _targets(path.read_text()))
        assert not {name for name in tags.names if name.startswith("on")}
        if ending == ".svg":
            assert not {
                one for one in _attributes(ET.fromstring(path.read_text())) if one[:2] == "on"
            }


def _targets(page: str) -> list[str]:
    return re.findall(r"<[^>]*\bhref=[\"']([^\"']*)", page)


def test_pdf(patterns: list[str], tmp_path: Path) -> None:
    """A PDF has no script, no action and no link."""
    pytest.importorskip("typst")
    pytest.importorskip("verovio")
    _sheet(patterns[:8], tmp_path / "page.pdf")
    data = (tmp_path / "page.pdf").read_bytes()
    for name in (b"/JavaScript", b"/JS", b"/OpenAction", b"/URI", b"/Launch", b"/EmbeddedFile"):
        assert name not in data


@pytest.mark.parametrize("title", TITLES)
def test_pictures(title: str) -> None:
    """A picture shows such a text, as its title, a group's, a label's or a text's."""
    picture = Picture(100, 50, title)
    picture.text(1, 2, title, label=title, parent=picture.group(title))
    root = ET.fromstring(picture.source())
    assert not _names(root) & KNOWN_NAMES
    assert not {one for one in _attributes(root) if one.startswith("on")}
    assert sum(title in (one.text or "") + (one.tail or "") for one in root.iter()) == 3
