"""The journal: writes a session to disk while it is played, and never holds up the playing.

The playing loop only hands lines over. A helper thread writes each at once, so that a killed
process loses what was played in the last moment at most, and syncs the file at every rung and at
most every second. It also keeps the whole session in memory (about a megabyte for an hour of steady
playing): when the disk fails, playing goes on, the player is told once, and `finish` saves the
session in another folder.
"""

from __future__ import annotations

import dataclasses
import tempfile
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.archive import format
from trainer.archive.ends import read_header
from trainer.archive.journal_file import save_whole
from trainer.archive.parse import parse
from trainer.archive.writer import Writer
from trainer.resources import user_folder

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trainer.archive.session import Click, Header, Mark, Rung, Session
    from trainer.kit.hits import Strike
    from trainer.midi.source import Control
    from trainer.practice.course import Pass

LONGEST_WAIT_S = 10.0
"""How long `finish` waits for a disk that hangs before it saves elsewhere."""


class Journal:
    """Takes a session down as it happens. Every method but `finish` returns at once.

    Raises BadInput for a header that could not be read again (a title without end), before anything
    is played. `folder` is made where it is missing. `elsewhere` are the folders tried at the end
    when it fails: by default the player's own recordings, the home folder and the system's folder
    for passing files.
    """

    def __init__(
        self, folder: Path, header: Header, *, elsewhere: Sequence[Path] | None = None
    ) -> None:
        read_header(format.header_line(header))
        self._header = header
        self._folder = folder
        self._elsewhere = elsewhere
        self._passes: list[Pass] = []
        self._rungs: list[Rung] = []
        self._strikes = 0
        self._closed = False
        self._writer = Writer(folder, header)
        self.path: Path | None = self._writer.path
        """Where the session is being written; None while it is only in memory."""

    def news(self) -> list[str]:
        """Return what the player should be told since the last call (at most one failure)."""
        news = self._writer.news
        return [news.popleft() for _ in range(len(news))]

    def pass_started(self, one: Pass) -> None:
        """A pass is laid out."""
        self._passes.append(one)
        self._writer.put(format.pass_line(one))

    def cut(self, pass_index: int, at_s: float) -> None:
        """A pass ends early: targets due at or after `at_s` are not judged."""
        self._passes[pass_index] = dataclasses.replace(self._passes[pass_index], end_s=at_s)
        self._writer.put(format.cut_line(pass_index, at_s))

    def strike(self, strike: Strike) -> None:
        """A raw strike, as it was stamped."""
        self._strikes += 1
        self._writer.put(format.strike_line(strike))

    def idle(self, strike: Strike) -> None:
        """A raw strike while nothing was asked: kept, and never judged."""
        self._writer.put(format.idle_line(strike))

    def control(self, control: Control) -> None:
        """A controller or choke."""
        self._writer.put(format.control_line(control))

    def click(self, click: Click) -> None:
        """A click went out."""
        self._writer.put(format.click_line(click))

    def timing(self, timing: dict[str, Any]) -> None:
        """How well time was kept, once at the end."""
        self._writer.put(format.timing_line(timing))

    def rung(self, rung: Rung) -> None:
        """A rung has its result; the disk is asked to keep everything so far."""
        self._rungs.append(rung)
        self._writer.put(format.rung_line(rung))
        self._writer.sync_soon()

    def mark(self, mark: Mark) -> None:
        """Playing stopped or went on."""
        self._writer.put(format.mark_line(mark))

    def session(self) -> Session:
        """Return the session as far as it was taken down, read from its own lines."""
        return parse(BytesIO(self._writer.whole(LONGEST_WAIT_S)))

    def finish(self, summary: dict[str, Any]) -> Path | None:
        """Write the last line and close; return where the session is, None where nowhere took it.

        Call it once; a second call changes nothing.
        """
        if not self._closed:
            self._writer.put(
                format.summary_line(
                    summary, self._header.pattern, self._passes, self._strikes, self._rungs
                )
            )
        self.close()
        return self.path

    def close(self) -> None:
        """Close without a last line; the next start finds the session and finishes it."""
        if self._closed:
            return
        self._closed = True
        whole = self._writer.stop(LONGEST_WAIT_S)
        if whole is not None:
            self.path = self._save_elsewhere(whole)

    def _save_elsewhere(self, whole: bytes) -> Path | None:
        for folder in self._folders():
            try:
                path = save_whole(folder, self._header, whole, LONGEST_WAIT_S)
            except OSError:
                continue
            self._writer.discard()
            self._writer.news.append(f"The session is saved in another place: {path}")
            return path
        self._writer.news.append("The session could be saved nowhere in full.")
        return self._writer.path

    def _folders(self) -> Iterator[Path]:
        if not self._writer.hangs and self._folder.is_dir():
            yield self._folder
        if self._elsewhere is not None:
            yield from self._elsewhere
        else:
            yield from (user_folder("recordings"), Path.home(), Path(tempfile.gettempdir()))
