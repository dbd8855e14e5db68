"""The summary of a session: always computed from the whole session, the same way everywhere.

What is saved at the end, what a replay shows and what a crash left to be finished all come from
here, so they agree to the last bit.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainer.practice.take import judge

if TYPE_CHECKING:
    from trainer.archive.session import Session
    from trainer.practice.outcomes import Judged


def judged(session: Session) -> Judged:
    """Return every outcome of a session, judged with its own kit and passes."""
    return judge(session.course(), session.strikes, session.kit)


def summarise(session: Session) -> dict[str, Any]:
    """Return the reading of a session as the summary that is saved and shown."""
    # The reading needs numpy, which must not be loaded while somebody plays.
    from trainer.measure.reading import read

    return read(judged(session)).to_dict()
