"""What every maker of hits keeps to, tested over all of them."""

import pytest

from trainer.midi.keyboard import KeySource
from trainer.midi.kit_input import MidiSource


@pytest.fixture(params=["keys", "port"])
def source(request):
    """Each maker of hits; the port one opened at a real kit."""
    if request.param == "keys":
        return KeySource()
    request.getfixturevalue("sender")("Any Kit")
    return MidiSource("any kit")


def test_a_source_opens_polls_and_closes_twice(source):
    """Opening, polling with nothing played, and closing twice all work, and nothing is lost."""
    source.open(0.0)
    source.expect([])
    assert source.poll(0.1) == []
    assert not source.lost
    assert source.name
    assert isinstance(source.quality(), dict)
    source.close()
    source.close()
