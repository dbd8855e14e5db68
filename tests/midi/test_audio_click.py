"""The audio click as a process: what happens when there is no sound, or when it dies."""

import pickle
import time

import pytest

from trainer.errors import BadInput
from trainer.midi.click import AudioClick

pytest.importorskip("sounddevice", reason="the audio extra is not installed", exc_type=Exception)


def test_no_sound_output_is_one_sentence_with_the_next_best_way(monkeypatch):
    """An output that is not there is bad input that offers the MIDI click; no process is left."""
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "no-such-server")
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    click = AudioClick(device="no such device at all")
    with pytest.raises(BadInput, match="MIDI click"):
        click.open(time.perf_counter())
    assert click.send("beat", 1.0) == 1.0
    click.close()


def test_unknown_sound_is_bad_input():
    """A sound that there is not is reported before anything plays."""
    with pytest.raises(BadInput, match="audio click"):
        AudioClick("gong").open(time.perf_counter())


def test_audio_click_can_be_sent_to_another_process():
    """Before it is opened it can be pickled, because the engine opens it in its process."""
    assert pickle.loads(pickle.dumps(AudioClick("tick", 0.5))).volume == 0.5


@pytest.mark.jack
def test_audio_click_plays_and_shows_how_it_went(jack):
    """Clicks on a real stream are on time but for the server's gaps; the figures come at the end.

    A server without real-time rights drops blocks on a busy machine; a click just then comes late.
    """
    click = AudioClick("tick")
    zero = time.perf_counter()
    click.open(zero)
    began = time.perf_counter() - zero + 0.5
    for count in range(10):
        due = began + 0.1 * count
        assert click.send("beat", due) == due
    time.sleep(2.0)
    click.close()
    click.close()
    figures = click.quality()
    assert figures["blocks"] > 50
    assert figures["late_clicks"] <= min(figures["gaps"], 5)


@pytest.mark.jack
def test_death_of_the_audio_process_silences_but_never_stops(jack):
    """When the audio process dies, clicks go on in silence and the loss is reported."""
    click = AudioClick("tick")
    click.open(time.perf_counter())
    assert click._process
    click._process.kill()
    click._process.wait()
    for count in range(3):
        assert click.send("beat", float(count)) == count
    assert click.lost
    click.close()
    assert click.quality()["lost"]
