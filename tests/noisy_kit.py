"""A kit with faults that are known: what a clean strike becomes on its way through it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI, Kit

if TYPE_CHECKING:
    from random import Random


@dataclass(frozen=True)
class Faults:
    """What a made kit does. Times are seconds.

    `doubles` by voice: (share, earliest, latest, softest, loudest); `crosstalk` by (struck, shaken)
    the same, with times that may be negative; `curve` by voice: sent = velocity * gain + offset.
    """

    latency: float = 0.0
    doubles: dict[str, tuple[float, float, float, float, float]] = field(default_factory=dict)
    crosstalk: dict[tuple[str, str], tuple[float, float, float, float, float]] = field(
        default_factory=dict
    )
    curve: dict[str, tuple[float, float]] = field(default_factory=dict)


def made_faults(dice: Random) -> Faults:
    """Faults of a kit drawn at random, of the sizes that kits have (common practice)."""
    return Faults(
        latency=dice.uniform(0.003, 0.020),
        doubles={
            voice: (dice.uniform(0.1, 0.3), 0.005, dice.uniform(0.009, 0.016), 0.15, 0.5)
            for voice in ("snare", "tom1", "floor")
        },
        crosstalk={
            ("floor", "tom1"): (dice.uniform(0.1, 0.4), 0.001, 0.005, 0.05, 0.25),
            ("tom1", "tom2"): (dice.uniform(0.1, 0.4), 0.001, 0.004, 0.05, 0.2),
        },
        curve={"snare": (0.9, 10.0), "tom1": (0.7, 0.0), "floor": (0.8, 15.0)},
    )


def through(
    strikes: list[Strike], faults: Faults, dice: Random, kit: Kit = GENERAL_MIDI
) -> list[tuple[Strike, bool]]:
    """Return what the kit sends for clean strikes, each with whether a hand made it."""
    sent: list[tuple[Strike, bool]] = []
    for one in strikes:
        pad = kit.pad(one.note)
        voice = pad.voice if pad else ""
        gain, offset = faults.curve.get(voice, (1.0, 0.0))
        late = replace(
            one,
            time_s=one.time_s + faults.latency,
            velocity=max(1, min(127, round(one.velocity * gain + offset))),
        )
        sent.append((late, True))
        for rule, note in [
            (faults.doubles.get(voice), one.note),
            *(
                (rule, kit.note(pair[1]))
                for pair, rule in faults.crosstalk.items()
                if pair[0] == voice
            ),
        ]:
            if rule and note is not None and dice.random() < rule[0]:
                velocity = max(1, round(late.velocity * dice.uniform(rule[3], rule[4])))
                sent.append(
                    (Strike(late.time_s + dice.uniform(rule[1], rule[2]), note, velocity), False)
                )
    return sorted(sent, key=lambda row: row[0].time_s)


def singles(dice: Random, kit: Kit = GENERAL_MIDI, each: int = 60) -> list[Strike]:
    """Single strokes of every drum, a quarter of a second apart or more: a minute a few pads."""
    strikes, time_s = [], 1.0
    for voice in ("snare", "tom1", "tom2", "floor"):
        for _ in range(each):
            note = kit.note(voice)
            assert note is not None
            strikes.append(Strike(time_s, note, dice.randint(50, 110)))
            time_s += dice.uniform(0.25, 0.35)
    return strikes
