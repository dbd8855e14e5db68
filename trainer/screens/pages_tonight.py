"""The page of tonight's practice: its blocks and why, started by enter or changed by hand."""

from __future__ import annotations

from dataclasses import replace
from threading import Lock
from typing import TYPE_CHECKING

from trainer.actions.requests import PlayedOn, RoutineRequest, Setup
from trainer.actions.tonight import (
    USUAL_MINUTES,
    Tonight,
    TonightRequest,
    keep_evening,
    plan_tonight,
    save_evening,
)
from trainer.archive.routines import check_routine_name
from trainer.errors import BadInput
from trainer.practice import evening as change
from trainer.practice.evening import Evening, check_minutes
from trainer.settings import existing_recordings_folder
from trainer.show import session_words as words
from trainer.show.page import (
    Page,
    PageAct,
    PagePart,
    TextQuestion,
    number_refused_by,
    refused_by,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from trainer.show.page import ReportProgress

GUIDE = (
    "What is worth playing tonight, by what you have played. Each block says why it is there. "
    "Enter starts it as a routine. s puts the next best pattern in its place. x takes it out. "
    "+ and - change its minutes. u and d move it. w saves the evening as a routine of yours. "
    "m lays out another length. “trainer explain tonight” has the grounds."
)
KEYS = "+ longer, - shorter, u up, d down: the block under the cursor"


def tonight_page(port: str) -> Page:
    """Return the page for what is played on."""
    return evening_page(TonightRequest(existing_recordings_folder(), port))


def evening_page(request: TonightRequest) -> Page:
    """Return the page of an evening; what was changed by hand lasts as long as it is open."""
    return _EveningPage(request).page()


class _EveningPage:
    """An evening while it is changed by hand. Parts of the page are named by a block's number."""

    def __init__(self, request: TonightRequest) -> None:
        self.request = request
        self.found: Tonight | None = None
        self._one_by_one = Lock()  # keys that are pressed quickly act on threads of their own

    def page(self) -> Page:
        """Return the page with its keys."""
        return Page(
            "Tonight: what is worth playing, and why",
            GUIDE,
            "trainer tonight",
            self._parts,
            (
                PageAct("enter", "Start", "Play it as a routine", self._start),
                PageAct("s", "Swap", "The next best pattern instead", self._change(change.swapped)),
                PageAct("x", "Take out", "Take the block out", self._change(change.without)),
                PageAct("m", "Minutes", "Lay out another length", self._lay_out, (self._minutes,)),
                PageAct("w", "Save", "Save it as a routine of yours", self._save, (_name,)),
                _aside("plus", "Longer", "A minute longer", self._change(_longer, 1.0)),
                _aside("minus", "Shorter", "A minute shorter", self._change(_longer, -1.0)),
                _aside("u", "Up", "Play the block earlier", self._change(change.moved, -1)),
                _aside("d", "Down", "Play the block later", self._change(change.moved, 1)),
                _aside("c", "Continue", "Continue the evening begun today", self._continue),
            ),
        )

    def _parts(self, progress: ReportProgress) -> Iterator[PagePart]:
        if self.found is None:
            progress("reading the sessions …")
            self.found = plan_tonight(self.request)
        remarks = [f"  {line}" for line in words.evening_remarks(self.found)]
        remarks += ["  Begun today and not finished: c continues it"] * bool(self.found.begun)
        yield PagePart(words.evening_title(self.found.evening), (*remarks, f"  {KEYS}"))
        for place, one in enumerate(self.found.evening.blocks, 1):
            why = f"      {words.why_words(one)}"
            yield PagePart(f"{place:>3}  {words.evening_block_words(one)}", (why,), str(one.number))
        yield PagePart(words.TAKE_CARE)

    @property
    def _now(self) -> Tonight:
        if self.found is None:
            raise BadInput("the evening is not laid out yet", fix="wait a moment")
        return self.found

    def _change(self, how: Callable[..., Evening], *more: float) -> Callable[[str], None]:
        def act(name: str) -> None:
            if not name:
                raise BadInput("there is no block here", fix="put the cursor on one")
            with self._one_by_one:
                self.found = replace(self._now, evening=how(self._now.evening, int(name), *more))

        return act

    def _request(self, path: object) -> RoutineRequest:
        asked = self.request
        folder = str(asked.folder)
        return RoutineRequest(
            str(path), setup=Setup(PlayedOn(asked.port), player=asked.player, recordings=folder)
        )

    def _start(self, _under: str) -> RoutineRequest:
        return self._request(keep_evening(self._now.evening))

    def _continue(self, _under: str) -> RoutineRequest:
        begun = self._now.begun or plan_tonight(self.request).begun
        if begun is None:
            raise BadInput("no evening of today was begun", fix="press enter to start this one")
        return self._request(begun)

    def _minutes(self, _under: str) -> TextQuestion:
        usual = self.request.minutes or USUAL_MINUTES
        return TextQuestion(
            "How many minutes tonight, with rests?", f"{usual:g}", number_refused_by(check_minutes)
        )

    def _lay_out(self, _under: str, minutes: str) -> None:
        self.request = replace(self.request, minutes=float(minutes))
        self.found = plan_tonight(self.request)

    def _save(self, _under: str, name: str) -> str:
        return f"Written: {save_evening(self._now.evening, name)}"


def _aside(key: str, label: str, tooltip: str, does: Callable[[str], object]) -> PageAct:
    """Return an act that the footer has no room for."""
    return PageAct(key, label, tooltip, does, show=False)


def _longer(evening: Evening, number: int, by: float) -> Evening:
    minutes = change.block_of(evening, number).block.minutes + by
    return change.with_minutes(evening, number, minutes)


def _name(_under: str) -> TextQuestion:
    return TextQuestion("What is the routine to be called?", "", refused_by(check_routine_name))
