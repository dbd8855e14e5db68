"""The audio click's blocks: where clicks fall, on time, exact, and placed again after a gap."""

import random
from array import array
from itertools import pairwise

import pytest

from trainer.errors import BadInput
from trainer.midi import audio_track
from trainer.midi.audio_track import FIRST_LOOK, ClickTrack, Placing
from trainer.practice.click_figure import PLAYING, Beat, read_figure

RATE, BLOCK = 48000, 256
SPIKE = {"beat": array("f", [1.0, 0.5]), "accent": array("f", [0.9, 0.4])}


class Card:
    """A sound card that plays a track: when each sample is heard, drift and gaps included."""

    def __init__(self, track, drift=0.0, held=0.0, seed=1, began_s=7.0):
        self.track, self.drift, self.held = track, drift, held
        self.random = random.Random(seed)
        self.now_s = began_s
        self.heard = []

    def play(self, blocks, gap=False):
        """Play blocks; each is asked for up to `held` seconds after it should be."""
        for number in range(blocks):
            late = self.random.uniform(0, self.held) if self.random.random() < 0.7 else 0.0
            out = self.track.block(BLOCK, self.now_s + late, gap and not number)
            step = (1 + self.drift) / RATE
            self.heard += [
                self.now_s + place * step
                for place, sample in enumerate(memoryview(out).cast("f"))
                if sample > 0.8
            ]
            self.now_s += BLOCK * step

    def lose(self, blocks):
        """Let time pass in which nothing is asked for."""
        self.now_s += blocks * BLOCK / RATE


def opened(**card):
    """A track on a card that has played long enough to be placed."""
    track = ClickTrack(SPIKE, RATE)
    card = Card(track, **card)
    card.play(FIRST_LOOK)
    return track, card


def ask(track, first_s, count, step_s=0.04):
    """Ask for clicks and return when they are due."""
    due = [first_s + i * step_s for i in range(count)]
    for one in due:
        track.add(one, "beat")
    return due


def test_clicks_are_heard_when_due_and_exact_to_the_sample():
    """On a sound card without drift every interval is exact and every click on time to a sample."""
    track, card = opened(held=0.002)
    due = ask(track, card.now_s + 0.1, 100)
    card.play(900)
    assert len(card.heard) == 100
    assert all(round((b - a) * RATE) == 1920 for a, b in pairwise(card.heard))
    assert max(abs(h - d) for h, d in zip(card.heard, due, strict=True)) < 1.5 / RATE


def test_nothing_sounds_before_the_card_is_known():
    """A click asked for in the first moments waits; it is left out when it is far too late."""
    track = ClickTrack(SPIKE, RATE)
    card = Card(track)
    track.add(card.now_s, "beat")
    card.play(FIRST_LOOK + 2)
    assert card.heard == []
    assert (track.late, track.left_out) == (1, 1)


def test_click_a_little_late_sounds_at_once():
    """A click asked for after its time, but not much, is played and counted."""
    track, card = opened()
    track.add(card.now_s - 0.010, "beat")
    card.play(2)
    assert len(card.heard) == 1
    assert (track.late, track.left_out) == (1, 0)


@pytest.mark.parametrize("reported", [True, False])
def test_a_gap_places_the_clicks_again(reported):
    """After lost blocks later clicks are on time again, at once when the driver reports it."""
    track, card = opened()
    due = ask(track, card.now_s + 0.01, 45)
    card.play(100)
    card.lose(3)
    card.play(300, gap=reported)
    wrong = [d for h, d in zip(card.heard, due, strict=True) if abs(h - d) > 1.5 / RATE]
    assert track.placing.moves == pytest.approx([3 * BLOCK / RATE])
    assert len(wrong) <= (1 if reported else 3)


def test_drift_of_the_card_is_followed():
    """A sound card 100 millionths slow never puts a click off by more than 0.6 ms."""
    track, card = opened(drift=1e-4, held=0.002)
    due = ask(track, card.now_s + 0.1, 500)
    card.play(4000)
    assert max(abs(h - d) for h, d in zip(card.heard, due, strict=True)) < 0.0006


def test_held_up_callbacks_alone_move_nothing():
    """Callbacks that come late without a gap do not move the clicks."""
    placing, rng = Placing(RATE), random.Random(3)
    for block in range(2000):
        late = rng.choice([0.0, 0.0, 0.004, 0.020])
        placing.see(block * BLOCK, 1.0 + block * BLOCK / RATE + late)
    assert placing.moves == []
    assert placing.frame(1.5) == 24000


def test_a_sound_goes_on_in_the_next_block():
    """A sound longer than what is left of a block is continued without a break."""
    ramp = array("f", [i / 1000 for i in range(1, 601)])
    track = ClickTrack({"beat": ramp}, RATE)
    now = 0.0
    for _ in range(FIRST_LOOK):
        track.block(BLOCK, now)
        now += BLOCK / RATE
    track.add(now + 100 / RATE, "beat")
    heard = array("f")
    for _ in range(4):
        heard.frombytes(track.block(BLOCK, now))
        now += BLOCK / RATE
    assert list(heard[100:700]) == list(ramp)
    assert not any(heard[:100])
    assert not any(heard[700:])


@pytest.mark.parametrize("sound", audio_track.SOUNDS)
def test_sounds_start_at_silence_never_clip_and_die_away(sound):
    """Every sound begins at 0, stays within -1 to 1 and has died away at its end."""
    for kind in audio_track.LEVEL:
        made = audio_track.click_samples(sound, kind, 44100)
        assert made[0] == 0.0
        assert max(map(abs, made)) <= 1.0
        assert max(map(abs, made[-44:])) < 0.06 * max(map(abs, made))


def test_accent_is_louder_than_beat_than_subdivision():
    """The kinds of click are told apart by level, and volume scales all of them."""
    peaks = [
        max(audio_track.click_samples("wood", kind, 48000)) for kind in ("accent", "beat", "sub")
    ]
    assert peaks == sorted(peaks, reverse=True)
    assert max(audio_track.click_samples("wood", "beat", 48000, 0.0)) == 0.0


@pytest.mark.parametrize(("sound", "volume"), [("gong", 0.5), ("wood", 1.5), ("wood", -0.1)])
def test_unknown_sound_or_volume_is_bad_input(sound, volume):
    """A sound that there is not, or a volume out of range, says what to choose."""
    with pytest.raises(BadInput, match="choose"):
        audio_track.click_samples(sound, "beat", 48000, volume)


@pytest.mark.parametrize(
    "texts",
    [
        {"click_on": "2,4", "click_late": "1/8"},
        {"click_parts": "2", "click_swing": "67", "click_accents": "3+3+2"},
        {"click_parts": "1x1,4x1", "silent_bars": "1-2/3"},
    ],
)
def test_a_figure_is_heard_as_it_is_written(texts):
    """Every click of a figure that is not silent sounds at its time, to a sample, and no other."""
    track, card = opened()
    figure = read_figure(texts)
    start_s = card.now_s + 0.2
    bars = [
        Beat(start_s + (4 * bar + beat) * 0.3, PLAYING, bar, beat, 4, 0.3)
        for bar in range(6)
        for beat in range(4)
    ]
    due = [
        one.time_s
        for beat in bars
        if not figure.silent.silent(beat.bar, beat.bar)
        for one in figure.clicks(beat, beat.bar, silent=False)
    ]
    for at in due:
        track.add(at, "beat")
    card.play(int(8 * RATE / BLOCK))
    assert len(card.heard) == len(due)
    assert max(abs(h - d) for h, d in zip(card.heard, due, strict=True)) < 1.5 / RATE
