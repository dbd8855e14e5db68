"""The words beside the patterns at home: what is played on, what was played last, and the keys."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.style import Style
from rich.text import Text
from textual.binding import Binding

from trainer.report import plain
from trainer.screens.help import key_names

if TYPE_CHECKING:
    from collections.abc import Iterable

    from trainer.archive.index import Entry as Played
    from trainer.screens.home import Known

KEYS, SIMULATED = "keys", "simulated"


def source_words(source: str, known: Known) -> Text:
    """Return what is played on, and what else there is."""
    names = {KEYS: "the computer keys", SIMULATED: "a simulated player"}
    text = Text.assemble(("playing on ", "bold"), names.get(source, plain(source)))
    if not known.ports:
        text.append("\nno MIDI input is connected")
    return text.append("\nc changes it")


def menu(bindings: Iterable[object], across: int = 2) -> Text:
    """Return the keys that the footer does not show, in columns, each to be clicked as well."""
    keys = [one for one in bindings if isinstance(one, Binding)]
    beside = [one for one in keys if not one.show and one.action != "all"]
    down = -(-len(beside) // across)
    text = Text()
    for row in (beside[at::down] for at in range(down)):
        for one in row:
            name = key_names(one)
            style = Style(meta={"@click": f"screen.{one.action}"})
            text.append(f"{name} ", Style(bold=True) + style)
            text.append(one.description.ljust(MENU_COLUMNS - len(name) - 1), style)
        text.append("\n")
    text.rstrip()
    return text


MENU_COLUMNS = 15


def last_words(last: Played | None) -> Text:
    """Return what was played last."""
    if last is None:
        return Text("nothing played yet")
    tempos = f" at {last.tempos[1]:g} BPM" if last.tempos else ""
    minutes = f"{last.seconds / 60:.0f} min" if last.seconds >= 120 else f"{last.seconds:.0f} s"
    return Text.assemble(
        ("last time ", "bold"),
        f"{last.started:%d %B %Y, %H:%M}",
        f"\n{plain(last.title)}{tempos}, {minutes}",
        "\ng goes on from there",
    )
