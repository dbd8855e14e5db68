"""Regular expressions: none has a repeat inside a repeat, which a text from outside makes slow."""

from __future__ import annotations

import ast
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

import trainer

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(trainer.__file__).parent
CALLS = {"compile", "fullmatch", "match", "search", "sub", "split", "findall", "finditer"}


def expressions(path: Path) -> Iterator[str]:
    """Yield the regular expressions a module writes out."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        match node:
            case ast.Call(
                func=ast.Attribute(value=ast.Name(id="re"), attr=name),
                args=[ast.Constant(value=str(text)), *_],
            ) if name in CALLS:
                yield text


def has_nested_repeats(text: str) -> bool:
    """Return whether a repeat without an end holds another one, in Python's own parsing."""
    parser: Any = re._parser  # type: ignore[attr-defined]

    def nested(part: Any, inside: bool) -> bool:
        if isinstance(part, (list, tuple, parser.SubPattern)):
            items = list(part)
            if items and items[0] in (parser.MAX_REPEAT, parser.MIN_REPEAT):
                endless = items[1][1] is parser.MAXREPEAT
                return (endless and inside) or nested(items[1][2], inside or endless)
            return any(nested(item, inside) for item in items)
        return False

    return nested(parser.parse(text), False)


def test_nested_repeats_are_found() -> None:
    """The search finds what it is for, and lets other repeats be."""
    assert has_nested_repeats(r"(a+)+b")
    assert has_nested_repeats(r"(?:x|[ab]*c)*")
    assert not has_nested_repeats(r"(a+)?b*(c{1,3}d+){0,2}")


@pytest.mark.parametrize("path", sorted(ROOT.rglob("*.py")), ids=lambda path: path.name)
def test_no_regular_expression_has_nested_repeats(path: Path) -> None:
    """Every expression of the program takes time in proportion to its text, or near it."""
    assert [text for text in expressions(path) if has_nested_repeats(text)] == []


def test_the_language_is_read_without_regular_expressions() -> None:
    """Stickings, paths and values come from strangers; their readers go through them by hand."""
    readers = [ROOT / "pattern" / "language" / f"{name}.py" for name in ("repeats", "spelling")]

    assert [text for path in readers for text in expressions(path)] == []
    assert sum(len([*expressions(path)]) for path in ROOT.rglob("*.py")) > 10
