"""What each statement about the player rests on: its ground, what it claims, how that was checked.

A statement is a word of the glossary (`trainer.show.glossary`) behind which a number, a limit or an
advice is shown. Its *ground* is a source, common practice, or a choice of our own; its *claim* is
how often it is right; *checked* is on which simulated players, with the figures of the last run of
`tests/bench`. "Four kinds of player" are those of `tests/simulated_takes.py`: errors that forget
each other, that wander and come back, 1/f noise, and limbs that wander each for itself. Words that
only name a thing are in `NAMES`; a test fails for a word of the glossary that is in neither.
"""

from __future__ import annotations

from typing import NamedTuple


class Ground(NamedTuple):
    """What a statement rests on, what it claims, and how the claim was checked."""

    ground: str
    claim: str
    checked: str

    def lines(self) -> tuple[str, str, str]:
        """Return the three as lines with their heads."""
        return f"Ground: {self.ground}", f"Claim: {self.claim}", f"Checked: {self.checked}"


_HOLDS = "The true value is inside its interval 95 times of 100."
_BEYOND = "A player without the fault is shown one in at most 1 of 20 takes."
_COUNT = Ground(
    "A count of what the kit sent, sorted by the matcher.",
    "None beyond the count; its share has Wilson's 95% interval (1927).",
    "Takes with planted mishaps, whose true outcome is known (bench_matcher).",
)
_TREND = Ground(
    "Theil and Sen's robust slope; what wanders and comes back is no trend.",
    _HOLDS + " " + _BEYOND,
    "In 60 takes without a trend of each of four kinds of player it held in 92 to 100 of 100, "
    "but in 82 for power with 1/f noise, and in 85 to 95 for spread where time wanders: believe a "
    "trend that comes twice. A fade of 30 steps of power was found in at least 8 of 10.",
)
_SOURCE = Ground(
    "Wing and Kristofferson's model (1973), fitted to strokes while the click is silent.",
    "An estimate under that model: whoever plays otherwise is described wrongly.",
    "Simulated players with known clock and limb parts came out right on average.",
)
_LEVELS = Ground(
    "Common practice: levels are heard against ordinary strokes, never absolutely.",
    _HOLDS,
    "Takes of four kinds of player with accents and ghost notes as loud as they should be.",
)

GROUNDS: dict[str, Ground] = {
    "interval": Ground(
        "Student, chi-square and Wilson intervals, with neighbouring strokes counted as alike.",
        "The true value is inside 95 (or 90) times of 100, as it says beside each.",
        "Every interval that is shown, for four kinds of player, is in the table of "
        "tests/bench/bench_intervals.py; those that hold less are named beside their words.",
    ),
    "chance": Ground(
        "Holm's correction (1979) over all that a summary compares, Bonferroni's for two takes.",
        _BEYOND,
        "Two takes of one simulated player differed in at most 5 of 200 comparisons, whichever of "
        "four kinds; a spread 20% smaller was found in all of them.",
    ),
    "sure": Ground(
        "Our own choice of two shares.",
        "None: it orders candidates, and a low second share warns.",
        "Takes like those of people, made by other code (bench_takes).",
    ),
    "no steady tempo": Ground(
        "Our own choice: 100 ms from any one tempo.",
        "Offsets are then against the followed tempo, so slow drift is not in them.",
        "Takes with planted drift and without (bench_takes).",
    ),
    "time": Ground(
        "Offsets are plain differences; what drummers show is Fujii and others (2011).",
        _HOLDS,
        "In two-minute takes of four kinds of player it held in 92 to 100 of 100, for all strokes "
        "and each limb; where nothing wanders a limb's is up to twice as wide as need be.",
    ),
    "offset": Ground(
        "The difference itself, less the kit's latency.",
        _HOLDS,
        "In two-minute takes of four kinds of player it held in 92 to 100 of 100, for all strokes "
        "and each limb; where nothing wanders a limb's is up to twice as wide as need be.",
    ),
    "spread": Ground(
        "Standard deviation; what is heard is Friberg and Sundberg (1995).",
        _HOLDS,
        "In two-minute takes of four kinds of player it held in 92 to 97 of 100; with 1/f noise, "
        "whose spread itself differs from take to take, in 87 to 92.",
    ),
    "within a pass": Ground(
        "Theil and Sen's robust slope inside each pass.",
        _HOLDS,
        "In 60 two-minute takes of each of four kinds of player it held in 93 of 100 or more.",
    ),
    "evenness": Ground(
        "Standard deviation of the time from stroke to stroke.",
        _HOLDS,
        "In two-minute takes of four kinds of player it held in 92 of 100 or more.",
    ),
    "limp": Ground(
        "Each stroke against the middle of the two around it; Fujii and Oda (2006).",
        _HOLDS + " " + _BEYOND,
        "In 60 two-minute takes of each of four kinds of player it held in 93 of 100 or more.",
    ),
    "from": Ground(
        "The jump of the offset where the note value changes. Our own choice.",
        _HOLDS + " " + _BEYOND,
        "In 60 two-minute takes of each of four kinds of player it held in 93 of 100 or more.",
    ),
    "unisons": Ground(
        "Gaps are plain differences; what is heard is Hirsh (1959, in Watson 2004).",
        _HOLDS,
        "Mean and size held in 96 to 100 of 100 takes, the spread in 88 where limbs wander apart.",
    ),
    "order audible": Ground(
        "20 ms (Hirsh 1959, in Watson 2004).",
        _HOLDS + " Unisons in a row that are alike count as fewer.",
        "In 400 takes of each of four kinds of player it held in 94 to 97 of 100.",
    ),
    "move": Ground(
        "A move is compared with staying on a drum, within blocks of some 24 strokes.",
        _HOLDS + " " + _BEYOND,
        "Later and wider held in 92 of 100 or more for four kinds of player.",
    ),
    "power": Ground(
        "MIDI velocity, whose curve every maker chooses: only one kit compares with itself.",
        _HOLDS,
        "Balance and unevenness held in 87 to 98 of 100 takes. With 1/f noise and accents the mean "
        "power of a limb held in 77 to 83 only: trust the differences.",
    ),
    "accents": _LEVELS,
    "ghost notes": _LEVELS,
    "dynamics": _LEVELS,
    "strays": _COUNT,
    "missed": _COUNT,
    "wrong pad": _COUNT,
    "zones": _COUNT,
    "during a rung": _TREND,
    "over the session": _TREND,
    "after a mistake": Ground(
        "Strokes after mistakes against others of the same block. Our own choice.",
        "An effect is shown with at least 8 mistakes, where it is more than chance would do.",
        "An after-effect of four strokes was found in at least 9 of 10 takes; where there was "
        "none, none was shown in at least 85 of 100.",
    ),
    "where spread comes from": _SOURCE,
    "clock": _SOURCE,
    "limb": _SOURCE,
    "worth practising": Ground(
        "What would take most off the spread if it were as good as the rest. Our own choice.",
        _BEYOND,
        "Planted faults of moves, limbs, note values and changes, and players without any.",
    ),
    "ladder": Ground(
        "Some 15% of errors teach machines and animals fastest (Wilson and others 2019), people "
        "tasks neither sure nor hopeless (Guadagnoli and Lee 2004); that 4 in 5 suits drumming is "
        "our own choice.",
        "After 20 rungs of a first ladder the ceiling is known, with no end open.",
        "In simulated first ladders of 20 rungs its error (root mean square) was 1.3%, 1.7% and "
        "2.6% where clean turns to not clean within 9, 13 and 22% of tempo. With the last, 20 "
        "rungs all at the true ceiling could do no better than 2.2%.",
    ),
    "rung": Ground(
        "Wald's sequential test (1945); how long a rung may be is our own choice.",
        "A spread of 0.9 of its limit is called not clean at most once in 50, one of 1.2 clean at "
        "most once in 20, where strokes forget each other.",
        "At 0.9 of evenness's limit 100 of 100 were clean for four kinds of player. At 1.2 it was "
        "3 of 100 where strokes forget each other, but 75 where the limbs wander apart and 98 or "
        "more where all wanders: a rung sees little of a slow wander.",
    ),
    "ceiling": Ground(
        "A logistic curve over tempo, followed as a level that moves (Bayesian filter).",
        "Its interval holds the true tempo 90 times of 100.",
        "Players who were still, learned 0.1 to 0.5% a session or had good and bad days: held in "
        "95 to 100 of 100 (bench_intervals).",
    ),
    "fastest clean": Ground("What happened.", "None beyond that.", "Ladders with known rungs."),
    "closest to its limit": Ground(
        "Each figure over its limit.",
        "None: it is which share was largest in one rung.",
        "Where strokes forget each other it is evenness, as it should be.",
    ),
    "each hand alone": Ground(
        "Each hand's strokes of one ladder judged alone.",
        "Equal hands get a weaker one named in at most 1 of 10.",
        "In simulated ladders the weaker of two hands was named in at least 9 of 10.",
    ),
    "length costs": Ground(
        "A line of the ceiling over doublings of length. Our own choice.",
        "Its interval holds the true loss 90 times of 100.",
        "Held in at least 9 of 10 simulated players (bench_coach).",
    ),
    "at this rate": Ground(
        "A line through the ceilings of your ladders. It knows of no plateau.",
        "The ceiling four weeks ahead is in the interval 90 times of 100.",
        "Held in at least 49 of 50 players who learned, had good and bad days or weeks off, and in "
        "47 of 50 who stopped gaining that day; the last day was mostly open.",
    ),
    "week off": Ground(
        "Changes over gaps of 5 days or more against shorter ones.",
        _HOLDS,
        "Held in at least 94 of 100; where nothing was lost a change was shown in at most 6 of "
        "100; a loss of 6% was found in 56 to 97 of 100, by how much form varies.",
    ),
    "margin": Ground(
        "Ceiling over the tempo needed; the 10% of reserve are our own choice.",
        "As the ceiling's: 90 of 100. With a fall of the usual slope a safe goal is clean in 6 of "
        "7 rungs.",
        "In 300 simulated players a goal at 93% of the true ceiling was never called safe, one 10% "
        "above it in reach in at most 14 of 100.",
    ),
    "clean": Ground(
        "What listeners notice (Friberg and Sundberg 1995, Hirsh 1959) times our own choices.",
        "In a rung of chosen length each figure fails a player at the limit once in 50 at most.",
        "See rung.",
    ),
    "level": Ground(
        "Hands manage 5 to 7 strokes a second (Fujii and others 2009); the points are our own.",
        "None: an order of patterns, not a forecast of how they go.",
        "Every shipped pattern is held to the level it says.",
    ),
    "tempo": Ground(
        "As chosen, written or fitted; rates of hands are Fujii and others (2009).",
        "A fitted tempo is the one that most strokes keep to.",
        "Takes like those of people, made by other code (bench_takes).",
    ),
    "latency": Ground(
        "Measured with a cable; usual figures are Schultz and van Vugt (2016).",
        "The median of the strokes measured.",
        "Cables in software with known delay, on JACK and ALSA.",
    ),
    "tonight": Ground(
        "What is mixed and spaced over days is kept better (Shea and Morgan 1979; Cepeda and "
        "others 2006; both from memory, and on other tasks than drumming). Rests and warm-up are "
        "common practice.",
        "Over a goal's patterns it gains more than one pattern every evening.",
        "In simulated learners, whose learning is assumed, it gained 1.05 to 2.5 times as much "
        "over four patterns. On one alone it mostly gained less. Where long practice of one never "
        "wears off, another one each evening, without warm-up and rests, gained more.",
    ),
    "double triggers": _COUNT,
    "crosstalk": _COUNT,
}

_THINGS = "pass take session reading n break start gap flam bounce also doubt swing feel"
NAMES = frozenset([*_THINGS.split(), "hit map", "rest", "figure", "hands and feet"])
"""Words of the glossary that name a thing, and state nothing about the player."""
