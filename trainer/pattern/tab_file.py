"""A pattern as a tab file: headings, the tab that `trainer patterns show` prints, and what a grid
of characters cannot tell, so that `trainer.pattern.tab_read` gives back the same pattern.
"""

from __future__ import annotations

import json
from bisect import bisect_right
from collections import Counter
from itertools import groupby
from typing import TYPE_CHECKING

from trainer.pattern import tab
from trainer.pattern.model import note_order
from trainer.pattern.tab_read import from_text, note_words

if TYPE_CHECKING:
    from trainer.pattern.model import Pattern, Section


def to_text(pattern: Pattern) -> str:
    """Return the whole file."""
    grid = tab.write(pattern)
    lines = [*_headings(pattern), "", *grid, ""]
    lines += _values(pattern, from_text("\n".join(grid), pattern.name))
    read = from_text("\n".join(lines), pattern.name)
    written, found = Counter(pattern.notes), Counter(read.notes)
    changes = [("-", note) for note in (found - written).elements()]
    changes += [("+", note) for note in (written - found).elements()]
    changes.sort(key=lambda change: (note_order(change[1]), change[0] == "+"))
    lines += [f"{sign} {note_words(note)}" for sign, note in changes]
    return "\n".join(lines).rstrip("\n") + "\n"


def _values(pattern: Pattern, read: Pattern) -> list[str]:
    """Return a line for each bar with drums whose note values the grid does not show."""
    wanted, guessed = _by_bar(pattern), _by_bar(read)
    lines: dict[int, list[str]] = {}
    for (bar, voice), values in wanted.items():
        if values != guessed.get((bar, voice)):
            kinds = values[:1] if len(set(values)) == 1 else _joined(values)
            lines.setdefault(bar, []).append(" ".join([voice, *kinds]))
    return [f"bar {bar + 1}, values: {'; '.join(rows)}" for bar, rows in lines.items()]


def _by_bar(pattern: Pattern) -> dict[tuple[int, str], list[str]]:
    """Return the note values of each drum in each bar, one for each place it is struck."""
    found: dict[tuple[int, str], list[str]] = {}
    seen = set()
    starts = [bar.start for bar in pattern.bars]
    for note in pattern.notes:
        if not note.grace and (note.beat, note.voice) not in seen:
            seen.add((note.beat, note.voice))
            bar = bisect_right(starts, note.beat) - 1
            found.setdefault((bar, note.voice), []).append(note.value)
    return found


def _joined(values: list[str]) -> list[str]:
    runs = [(name, len(list(group))) for name, group in groupby(values)]
    return [name if count == 1 else f"{name}*{count}" for name, count in runs]


def _headings(pattern: Pattern) -> list[str]:
    rows = {
        "title": _text(pattern.title),
        "about": _text(pattern.about) if pattern.about else "",
        "tags": _list(pattern.tags),
        "level": str(pattern.level),
        "tempo": repr(float(pattern.tempo)),
        "tempo_unit": _text(str(pattern.tempo_unit)) if pattern.tempo_unit != 1 else "",
        "assumed": _list(pattern.assumed),
        "sections": _list([_section(section) for section in pattern.sections]),
    }
    return [f"{key} = {text}" for key, text in rows.items() if text]


def _text(text: str) -> str:
    """Return a text as TOML; JSON escapes the same way but for the delete character."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _list(texts: tuple[str, ...] | list[str]) -> str:
    return f"[{', '.join(map(_text, texts))}]" if texts else ""


def _section(section: Section) -> str:
    bars = f"{section.first_bar + 1}-{section.first_bar + section.bar_count}"
    times = f" x{section.times}" if section.times > 1 else ""
    return f"{bars}{times} {section.title}".rstrip()
