"""Every session file keeps how well time was kept in its own run, and texts round to it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainer.archive.recovery import recover
from trainer.archive.session_file import open_session
from trainer.engine.job import Engine, Job
from trainer.kit.model import GENERAL_MIDI
from trainer.midi.simulated_player import WORKING_TRAITS, SimulatedPlayer
from trainer.show.reading_words import reading_lines

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


class CoarsePlayer(SimulatedPlayer):
    """A player on a driver that counts in steps of 4 ms."""

    resolution_ms = 4.0

    def quality(self) -> dict[str, Any]:
        """Return what a source tells of its run."""
        return {"system": "coarse", "resolution_ms": self.resolution_ms}


def coarse(make_job: Callable[..., Job]) -> Job:
    """Return a short session on the coarse driver."""
    source = CoarsePlayer(GENERAL_MIDI, 5, WORKING_TRAITS)
    return make_job(passes=3, tempo=90.0, source=source, simulated=True)


def test_a_finished_session_keeps_its_figures_and_rounds_to_them(
    make_job: Callable[..., Job], tmp_path: Path
) -> None:
    """Driver, click and the finest time are in the file, and the text says why it is coarse."""
    Engine(coarse(make_job), lambda events: None).run()
    session = open_session(next((tmp_path / "recordings").glob("*.jsonl")))

    assert session.header.timing["source"]["system"] == "coarse"
    assert session.header.timing["click"] == {"click": "silent"}
    assert session.header.timing["resolution_ms"] == 4.0
    assert session.summary
    assert session.summary["resolution_ms"] == 4.0
    assert any("steps of 5 ms" in line for line in reading_lines(session.summary))


def test_a_session_that_is_cut_off_has_them_from_its_first_pass_on(
    make_job: Callable[..., Job], tmp_path: Path
) -> None:
    """What a crash leaves behind is read no finer than what was finished."""
    reported: list[str] = []
    engine = Engine(
        coarse(make_job), lambda events: reported.extend(type(one).__name__ for one in events)
    )
    engine.loop.start()
    while "PassEnded" not in reported:
        engine.loop.turn()
    engine.journal.close()  # without a summary, as after a crash
    folder = tmp_path / "recordings"
    assert recover(folder)

    session = open_session(next(folder.glob("*.jsonl")))
    assert session.recovered
    assert session.summary
    assert session.summary["resolution_ms"] == 4.0
