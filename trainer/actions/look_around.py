"""What there is to play, on what, and what was played: all that home shows."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trainer import settings
from trainer.archive.session_list import list_sessions
from trainer.midi.connection import PortWatch
from trainer.pattern.library import catalogue

if TYPE_CHECKING:
    from trainer.archive.session_list import SessionEntry
    from trainer.pattern.library import PatternEntry


@dataclass(frozen=True, slots=True)
class Known:
    """The MIDI inputs, the patterns, and the sessions, the oldest first."""

    ports: tuple[str, ...] = ()
    patterns: tuple[PatternEntry, ...] = ()
    sessions: tuple[SessionEntry, ...] = ()

    @property
    def last(self) -> SessionEntry | None:
        """The last session in which a stroke was played."""
        return next((one for one in reversed(self.sessions) if one.played and one.tempos), None)


class Surroundings:
    """Looks at ports and files; each look may take its time. `close` lets the ports go."""

    def __init__(self) -> None:
        self._watch = PortWatch()

    def look(self) -> Known:
        """Return everything, the files read again."""
        folder = settings.recordings_folder(None)
        sessions = list_sessions(folder).entries if folder.is_dir() else ()
        return Known(self._watch.look(), tuple(catalogue()), sessions)

    def look_at_ports(self, known: Known) -> Known:
        """Return what is known with the inputs as they are now."""
        return replace(known, ports=self._watch.look())

    def close(self) -> None:
        """Let the ports go: what is played opens clients of its own. The next look opens them."""
        self._watch.close()
        self._watch = PortWatch()
