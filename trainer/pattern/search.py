"""Finding patterns in a list by words, tags, level and limbs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from trainer.pattern.files import Entry


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is looked for. Every word has to stand in name, title, about or tags, every tag to be
    one of the pattern's; `level` None and `limb` "" take any.
    """

    words: tuple[str, ...] = ()
    tags: tuple[str, ...] = ()
    level: int | None = None
    limb: str = ""

    def fits(self, entry: Entry) -> bool:
        """Return whether a pattern is what is looked for."""
        if self.level not in (None, entry.level) or not set(self.tags) <= set(entry.tags):
            return False
        if self.limb and self.limb not in entry.limbs:
            return False
        text = f"{entry.name} {entry.title} {entry.about} {' '.join(entry.tags)}".lower()
        return all(word.lower() in text for word in self.words)


def tags(entries: Iterable[Entry]) -> dict[str, int]:
    """Return every tag and how many patterns have it, the commonest first, then by name."""
    found: dict[str, int] = {}
    for entry in entries:
        for tag in entry.tags:
            found[tag] = found.get(tag, 0) + 1
    return dict(sorted(found.items(), key=lambda one: (-one[1], one[0])))
