"""What can go wrong in a way the player can fix.

Code below the faces raises these; only `trainer.console` turns them into words on standard error
and an exit status.
"""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator


LONGEST_WORDS = 400
"""Letters of what is quoted in an error at most: a name from outside may have thousands."""


def _clipped(text: str) -> str:
    """Return a text as it is, or with its middle left out."""
    half = LONGEST_WORDS // 2
    return text if len(text) <= LONGEST_WORDS else f"{text[:half]}…{text[-half:]}"


class TrainerError(Exception):
    """Root of every error the program explains to its user.

    `what` is one plain sentence without a trailing stop; `where` names the file and the place in
    it (or the option); `fix` says what to do about it.
    """

    status = 1

    def __init__(self, what: str, *, where: str | None = None, fix: str | None = None) -> None:
        super().__init__(what)
        self.what = what
        self.where = where
        self.fix = fix

    def at(self, where: str) -> TrainerError:
        """Put a place in front of the one already known (a file around a line) and return self."""
        self.where = f"{where}, {self.where}" if self.where else where
        return self

    def __str__(self) -> str:
        what = _clipped(self.what)
        text = f"{_clipped(self.where)}: {what}" if self.where else what
        said = f"{text}; {self.fix}" if self.fix else text
        return said if said.endswith("?") else f"{said}."


class BadInput(TrainerError):
    """A file, option or port that cannot be used as given (exit status 2)."""

    status = 2


class Faults(BadInput):
    """Several faults of one file, each with its place."""

    def __init__(self, faults: list[BadInput]) -> None:
        super().__init__(f"{len(faults)} faults")
        self.faults = faults

    def at(self, where: str) -> Faults:
        """Put a place in front of every fault and return self."""
        for fault in self.faults:
            fault.at(where)
        return self

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)


def raise_faults(faults: list[BadInput]) -> None:
    """Raise a single fault as it is, several as Faults; do nothing for none."""
    if faults:
        raise faults[0] if len(faults) == 1 else Faults(faults)


class Failure(TrainerError):
    """Something outside failed while running (exit status 1)."""


@contextmanager
def named(where: str) -> Iterator[None]:
    """Put a place in front of whatever is raised inside: the file around a line, say."""
    try:
        yield
    except TrainerError as error:
        error.at(where)
        raise
