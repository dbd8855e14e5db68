"""Learning pads from strokes: agreement, skipping and going back with the kick, shared notes."""

from __future__ import annotations

from dataclasses import replace

from trainer.kit import kit_file
from trainer.kit.hits import DoubleRule, FilterRules, PowerCurve, Strike
from trainer.kit.learning import PLACES_TO_LEARN, STROKES, Learning, place_name
from trainer.kit.model import GENERAL_MIDI, Pad
from trainer.kit.survey import check_page


class _Player:
    """Strikes a learning kit, a third of a second apart, and keeps what was reported."""

    def __init__(self) -> None:
        self.learning = Learning("mine", "Kit")
        self.reported = [one.kind for one in self.learning.begin()]
        self.now = 0.0

    def hit(self, *notes: int, velocity: int = 90) -> list[str]:
        kinds = []
        for note in notes:
            self.now += 0.33
            kinds += [one.kind for one in self.learning.strike(Strike(self.now, note, velocity))]
        self.reported += kinds
        return kinds

    def wait(self, seconds: float = 1.0) -> list[str]:
        self.now += seconds
        kinds = [one.kind for one in self.learning.settle(self.now)]
        self.reported += kinds
        return kinds


def test_four_strokes_that_agree_are_a_pad() -> None:
    """A stray note does not spoil it; then the next place is asked for."""
    player = _Player()

    assert player.hit(33, 33, 40, 33, 33)[-2:] == ["learned", "ask"]
    assert player.learning.notes == {33: Pad("kick", "head")}
    assert player.learning.asked == Pad("snare", "head")


def test_one_kick_skips_and_two_go_back() -> None:
    """With the sticks in the hands: the kick is the key, once it is known."""
    player = _Player()
    player.hit(33, 33, 33, 33)
    player.hit(50, 50, 50, 50)
    assert player.learning.asked == Pad("snare", "rim")

    assert player.hit(33) == []
    assert player.wait() == ["ask"]
    assert player.learning.asked == Pad("snare", "cross-stick")
    player.hit(33, 33)
    assert player.learning.asked == Pad("snare", "rim")
    player.hit(33, 33)
    assert player.learning.asked == Pad("snare", "head")
    assert 50 not in player.learning.notes


def test_two_zones_that_send_one_note_are_spotted() -> None:
    """The second zone is reported as shared; the first keeps the note."""
    player = _Player()
    player.hit(33, 33, 33, 33)
    player.hit(50, 50, 50, 50)

    assert "shared" in player.hit(50, 50, 50, 50)
    assert player.learning.shared == [(Pad("snare", "head"), Pad("snare", "rim"), 50)]
    assert player.learning.kit.pad(50) == Pad("snare", "head")


def test_a_shaken_pad_does_not_count_as_an_answer() -> None:
    """Of notes within one stroke the loudest is meant, whichever comes first."""
    player = _Player()
    for _ in range(4):
        player.now += 0.4
        player.learning.strike(Strike(player.now, 48, 20))
        player.learning.strike(Strike(player.now + 0.002, 33, 100))
        player.learning.strike(Strike(player.now + 0.006, 48, 25))

    assert player.learning.notes == {33: Pad("kick", "head")}


def test_strokes_that_never_agree_are_given_up_for_now() -> None:
    """A flood of different notes is unclear, and nothing is learned from it."""
    player = _Player()

    assert "unclear" in player.hit(*range(60, 70))
    assert player.learning.notes == {}
    assert player.learning.asked == PLACES_TO_LEARN[0]


def test_one_note_for_all_pads_ends_without_a_lie() -> None:
    """Every further place is reported as sharing the note; only the first has it."""
    player = _Player()
    player.hit(*[38] * 4)
    for _ in PLACES_TO_LEARN[1:]:
        player.wait()
        player.hit(38)
        player.wait()

    assert player.learning.done
    assert player.learning.notes == {38: Pad("kick", "head")}


def test_what_was_learned_stays_when_it_ends_early() -> None:
    """The kit so far has the learned notes as its own, General MIDI for the rest, and its port."""
    player = _Player()
    player.hit(33, 33, 33, 33)
    kit = player.learning.kit

    assert kit.pad(33) == Pad("kick", "head")
    assert kit.note("kick") == 33
    assert kit.own == {33}
    assert kit.pad(48) == Pad("tom1", "head")
    assert kit.ports == ("Kit",)


def test_a_kit_that_is_known_keeps_what_is_not_learned_again() -> None:
    """One pad is learned again; the others, and all that was measured, stay."""
    known = replace(
        GENERAL_MIDI,
        name="mine",
        title="Cellar",
        notes={20: Pad("snare", "head"), 21: Pad("snare", "rim"), 36: Pad("kick", "head")},
        own=frozenset({20, 21, 36}),
        latency_s=0.0075,
        rules=FilterRules({"snare": DoubleRule(0.012, 0.5)}),
        power={Pad("snare", "head"): PowerCurve(30, 70, 110)},
        ports=("Kit",),
        surveyed=True,
    )
    learning = Learning("mine", "Kit:pads", known=known)
    learning.begin()
    for place in range(STROKES):
        learning.strike(Strike(place * 0.4, 33, 90))

    assert learning.kit == replace(
        known,
        notes={20: Pad("snare", "head"), 21: Pad("snare", "rim"), 33: Pad("kick", "head")},
        own=frozenset({20, 21, 33}),
    )
    assert learning.before(Pad("snare", "rim")) == 21


def test_a_shared_note_is_kept_in_the_kit() -> None:
    """The page of the kit says later that two places sound the same."""
    player = _Player()
    player.hit(*[33] * 4, *[50] * 4, *[50] * 4)

    kit = player.learning.kit
    assert kit.same == {Pad("snare", "rim"): 50}
    assert any("same note for both" in line and "rim" in line for line in check_page(kit))
    assert kit_file.kit_from_toml(kit_file.kit_to_toml(kit), "mine") == kit


def test_a_flood_is_no_answer() -> None:
    """Two thousand notes a second teach nothing, end nothing, and are reported as what they are."""
    learning = Learning("mine", "Kit")
    learning.begin()
    kinds = {
        one.kind for count in range(4000) for one in learning.strike(Strike(count / 2000, 38, 90))
    }

    assert "flood" in kinds
    assert len(learning.notes) <= 1
    assert learning.at <= 1


def test_places_are_asked_for_in_words() -> None:
    """The head of a drum goes unsaid, other zones are named."""
    assert place_name(Pad("snare", "head")) == "snare"
    assert place_name(Pad("snare", "rim")) == "snare, rim"
    assert place_name(Pad("hihat", "closed")) == "hi-hat, closed"
