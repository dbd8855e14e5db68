"""The glossary: the words that the program prints, for a drummer.

Each word says what it is, what is normal (with its source where there is one) and what to do, and
names the numbers it is computed from, as keys of `trainer.show.reading_keys`. A test fails when a
printed line starts with a word that is missing here.
"""

from __future__ import annotations

from typing import NamedTuple


class GlossaryEntry(NamedTuple):
    """A printed word: what it is, what is normal, what to do, and the keys of its numbers.

    `normal` and `do` are empty where there is nothing to say.
    """

    what: str
    normal: str = ""
    do: str = ""
    keys: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """The whole entry as one text."""
        return " ".join(part for part in (self.what, self.normal, self.do) if part)


GLOSSARY: dict[str, GlossaryEntry] = {
    # A take and how it is read
    "pass": GlossaryEntry("Once through the pattern.", keys=("passes",)),
    "take": GlossaryEntry("What you played, from the first stroke to the last."),
    "session": GlossaryEntry("One practice of one pattern, saved in one file."),
    "reading": GlossaryEntry(
        "All the numbers of a take. Replay, summary and history compute them the same way."
    ),
    "n": GlossaryEntry(
        "How many strokes a number is from.",
        "It is shown beside every average of fewer than 100.",
        "Do not trust an average of ten strokes.",
    ),
    "interval": GlossaryEntry(
        "The range in which the true value is, 9 (or 95) times out of 10 (or 100).",
        "The fewer strokes, the wider. Twice as narrow takes four times as many strokes.",
    ),
    "chance": GlossaryEntry(
        "Every take differs a little from the next. A difference is shown only where it is more "
        "than chance would do. In statistics: significant at 5% after Holm's correction over "
        "everything the summary compares (Holm 1979).",
        "Most differences between two takes of one evening are chance.",
    ),
    "sure": GlossaryEntry(
        "How well a pattern fits a recorded take. First number: twice the pairs of note and stroke "
        "over all notes and strokes. Second number: how steadily the strokes keep to it, where 0% "
        "is strokes thrown at random and 100% is a take of this pattern.",
        "Both near 100%.",
        "First high, second low: the strokes are there, but not in steady time. Both low: check "
        "the pattern and the kit.",
    ),
    "tempo": GlossaryEntry(
        "Quarter notes a minute (BPM): as chosen, else as the file says, else as played.",
        "One hand manages 5 to 7 strokes a second, so two hands 16ths at 150 to 210 BPM "
        "(Fujii and others 2009).",
        keys=("tempo_low", "tempo_high"),
    ),
    "no steady tempo": GlossaryEntry(
        "The strokes drift more than 100 ms from any one tempo. The tempo is then followed, a few "
        "bars at a time, and offsets are measured against that.",
        "Rare with a click.",
        "Record with a click, or give --tempo.",
    ),
    "break": GlossaryEntry(
        "The recording stops and continues later, or elsewhere. Nothing was due in between."
    ),
    "start": GlossaryEntry("When beat 1 of the first pass falls, in seconds of the file."),
    # Time
    "time": GlossaryEntry(
        "How early or late your strokes are on average, and how much that varies; below it each "
        "limb.",
        "Professionals at 60 and 120 BPM: right hand some 2 ms, left hand and kick some 10 ms "
        "early; at 200 BPM the right hand some 10 ms late (Fujii and others 2011).",
        "A steady offset is feel, or latency: measure that with trainer kit latency. Work on the "
        "spread.",
        ("offset.mean", "offset.spread", "offset.by_limb"),
    ),
    "offset": GlossaryEntry(
        "Time from the written stroke to yours, after the kit's latency is taken out.",
        "Around 10 ms early is common; see time.",
        keys=("offset.mean",),
    ),
    "spread": GlossaryEntry(
        "How much your strokes vary around their average. Two in three are within one spread.",
        "Listeners notice one stroke off by 6 ms in fast strokes, by 2.5% of the gap between slow "
        "ones (Friberg and Sundberg 1995). What counts as clean: trainer explain clean.",
        "Slow down until it is clean, then up again in small steps.",
        ("offset.spread",),
    ),
    "within a pass": GlossaryEntry(
        "Your time creeps ahead of the click, or behind it, from the start of a pass to its end.",
        do="Mute the click every other bar: --silent-bars 1/2.",
        keys=("offset.drift",),
    ),
    "evenness": GlossaryEntry(
        "How much the time from one hand stroke to the next varies, whatever the click does.",
        "About 1.4 times the spread, if strokes vary independently.",
        "Larger than that: look for a limp. Single strokes on one pad first.",
        ("evenness.spread", "evenness.relative"),
    ),
    "limp": GlossaryEntry(
        "Strokes go long-short, because one hand is late between two strokes of the other.",
        "The left hand of right-handers is usually the slower one, in drummers less than in others "
        "(Fujii and Oda 2006).",
        "Lead with the late hand; accent it.",
        ("evenness.lope",),
    ),
    "from": GlossaryEntry(
        "You rush or drag where the note value changes.",
        do="Practise only the change: one bar before it, one bar after it.",
        keys=("evenness.changes.*",),
    ),
    "swing": GlossaryEntry(
        "Two equal note values played long and short: 8 2:1 makes the first of two 8ths twice as "
        "long as the second. Offsets are against the swung places.",
        "Straight unless the pattern says so.",
        'In a pattern: swing = "8 2:1", or shuffle. trainer patterns language shows all.',
    ),
    "feel": GlossaryEntry(
        "How notes are played: swing, tempo changes, dynamics, your steady offset from the click.",
        do="A steady offset is no fault: work on the spread.",
    ),
    "rest": GlossaryEntry(
        "A written silence, - in a sticking. Between rungs: the break that you chose.",
        do="A hit in a rest is a stray stroke.",
    ),
    "figure": GlossaryEntry("A few strokes that repeat, a paradiddle for instance."),
    "hands and feet": GlossaryEntry(
        "RH right hand, LH left hand, RF right foot, LF left foot, as they are written.",
    ),
    "unisons": GlossaryEntry(
        "Two limbs meant to land together: how far apart, who is first, and in how many of them "
        "the order is audible.",
        "Two sounds are heard as two from 2 to 3 ms on, their order from some 20 ms on (Hirsh "
        "1959, in Watson 2004).",
        "Play the pair alone, slowly, then put it back.",
        ("unisons.by_kind",),
    ),
    "order audible": GlossaryEntry(
        "Two limbs at least 20 ms apart: a listener hears which one was first.",
        do="See unisons.",
        keys=("unisons.by_kind.*.flams",),
    ),
    "gap": GlossaryEntry(
        "Time between the two limbs of a unison.", "Under 10 ms hardly anybody hears an order."
    ),
    "flam": GlossaryEntry(
        "A grace note before a stroke, where it is written. Limbs that land apart are shown as "
        "unisons.",
        keys=("unisons.by_kind.*.flams",),
    ),
    "move": GlossaryEntry(
        "A hand's way from one drum to another. It is shown where that hand lands later, wider or "
        "off the pad more often than when it stays on a drum, by more than chance.",
        do="trainer advice writes a drill for the move.",
        keys=("moves.by_move",),
    ),
    "power": GlossaryEntry(
        "How hard you hit, as the kit sends it (velocity, 1 to 127), and how much strokes that "
        "should be equal vary.",
        "Kits differ: compare only takes from one kit.",
        "Same stick height for both hands, in front of a mirror.",
        ("power.mean", "power.uneven", "power.balance"),
    ),
    "accents": GlossaryEntry(
        "How much louder accents are than ordinary strokes, and how many of them are.",
        do="Raise the accent's stick height; keep the others low.",
        keys=("power.accents", "power.accents_right"),
    ),
    "ghost notes": GlossaryEntry(
        "How much softer ghost notes are than ordinary strokes, and how many of them are.",
        do="Lower the stick, do not slow it down.",
        keys=("power.ghosts", "power.ghosts_right"),
    ),
    "dynamics": GlossaryEntry(
        "How much louder you play from one mark (p, mp, mf) to the next, and how many crescendos "
        "and diminuendos go the way they are written.",
        "No standard says how loud a mark is; the simulated player takes 12 steps of velocity.",
        "Play the loudest and the softest bar in turn first.",
        ("power.dynamics", "power.dynamics_right"),
    ),
    "bounce": GlossaryEntry(
        "What follows the first touch of a buzz. It is no stray; only the first touch is judged.",
        keys=("counts.bounce",),
    ),
    # What went wrong
    "also": GlossaryEntry(
        "Hits that are not strokes of the pattern: strays, double triggers, crosstalk; rims where "
        "the head is written; strokes before the start and after the end, which do not count.",
        keys=(
            "counts.extra",
            "counts.double",
            "counts.rim",
            "counts.before",
            "counts.after",
        ),
    ),
    "strays": GlossaryEntry(
        "Hits that belong to no written stroke, by pad.",
        do="Strays on a pad next to a loud one: trainer kit survey.",
        keys=("touch.strays",),
    ),
    "double triggers": GlossaryEntry(
        "The pad sends one stroke twice. The kit does that, and it never counts against you.",
        "None, once the kit's filter is measured.",
        "trainer kit survey, or the pad's mask time in the module.",
        ("touch.doubles",),
    ),
    "crosstalk": GlossaryEntry(
        "A stroke shakes the pad beside it. The kit does that, and it never counts against you.",
        "None, once the kit's filter is measured.",
        "trainer kit survey, or mount the pads apart.",
        ("counts.crosstalk",),
    ),
    "missed": GlossaryEntry(
        "Written strokes without a hit.",
        do="Many on one pad: raise its sensitivity in the module.",
        keys=("counts.missed",),
    ),
    "wrong pad": GlossaryEntry(
        "In time, but on another pad.", do="Slow the move down.", keys=("counts.wrong_pad",)
    ),
    "zones": GlossaryEntry(
        "The right pad, another zone of it than is written: head for rim, closed for open.",
        "Only zones that the kit can send count.",
        keys=("touch.zones.*",),
    ),
    # Over time
    "during a rung": GlossaryEntry(
        "What changes from the first to the last strokes of a rung.",
        do="Fewer passes a rung, or a slower one.",
        keys=("staying.rung",),
    ),
    "over the session": GlossaryEntry(
        "What changes over all rungs of the same tempo.",
        do="Rest, or stop for today.",
        keys=("staying.session",),
    ),
    "after a mistake": GlossaryEntry(
        "How many strokes pass after a missed one, or one on a wrong pad, until time, power and "
        "place are as usual.",
        "Nothing is shown where nothing lasts, or with fewer than 8 mistakes.",
        "Play on through mistakes: practise with the click, and never stop for one.",
        ("after_mistakes",),
    ),
    "where spread comes from": GlossaryEntry(
        "A model's estimate: how much of the spread is your inner clock, how much the limb.",
        do="See clock and limb.",
        keys=("sources.silent", "sources.click"),
    ),
    "clock": GlossaryEntry(
        "The part of your spread that comes from your sense of time: a late stroke makes the next "
        "ones late too (Wing and Kristofferson 1973).",
        "We know no measured figure for drummers.",
        "Larger than limb: play with the click muted in some bars (--silent-bars).",
        ("sources.silent", "sources.click"),
    ),
    "limb": GlossaryEntry(
        "The part of your spread that comes from the hand or foot itself: one stroke late, the "
        "next on time again.",
        "We know no measured figure for drummers.",
        "Larger than clock: that limb alone, slowly.",
        ("sources.silent", "sources.click"),
    ),
    "worth practising": GlossaryEntry(
        "The moves, limbs, note values or changes that cost most, the costliest first.",
        "Shown only where it is more than chance would do; see chance.",
        "trainer advice writes a drill for each.",
        ("advice",),
    ),
    # Getting faster
    "ladder": GlossaryEntry(
        "A pattern climbed in tempo, rung by rung. It finds your ceiling in large steps, then "
        "stays where 4 rungs in 5 are clean.",
        "Unless you choose a start, it starts 10% below the tempo where 3 rungs in 4 were clean, "
        "never below what was clean last time.",
        "Other ways to climb: --rule steady, adaptive or longer.",
    ),
    "rung": GlossaryEntry(
        "One tempo of a ladder. It lasts as long as the answer needs, 32 to some 192 strokes, "
        "unless you choose how many passes (sequential test, Wald 1945).",
        "Clear cases take 32 strokes, close ones over 100.",
        "Nothing: play until it says clean or not clean.",
    ),
    "ceiling": GlossaryEntry(
        "The tempo at which half the rungs of a pattern are clean, from all your ladders on it, "
        "with its 90% interval.",
        "Under ten rungs the interval is wide.",
        "Practise below it: that is where rungs are clean.",
    ),
    "fastest clean": GlossaryEntry(
        "The fastest tempo that you played clean: the fastest clean rung, or without a ladder "
        "whole passes at one tempo with as many strokes as a rung has.",
        "It is what happened once; the ceiling is what to expect.",
        "Home, history and trainer sheet --clean show it. Compare it on one kit and level only.",
    ),
    "closest to its limit": GlossaryEntry(
        "What used up most of its limit in the fastest clean rung: the next thing to fail.",
        do="Practise that first: trainer explain clean shows the limits.",
    ),
    "each hand alone": GlossaryEntry(
        "The ceiling of each hand, from its own strokes in one ladder, and how much lower both "
        "together are. The limit is named where one hand is lower by more than chance.",
        "None is named where both are alike.",
        "Give the hand that is the limit a ladder of its own.",
    ),
    "length costs": GlossaryEntry(
        "How much of your ceiling goes with every doubling of a rung, and the ceilings of a burst "
        "(32 strokes) and of a long rung (512). Only rungs of a chosen length count.",
        "Its interval is one of 90%.",
        "trainer ladder PATTERN --rule longer makes rungs of many lengths.",
    ),
    "at this rate": GlossaryEntry(
        "When your ceiling reaches a goal if it rises as it did: a line through the ceilings of "
        "your ladders, and the days between which its 90% interval crosses the goal.",
        "Withheld with fewer than 6 ladders or 14 days. It knows of no plateau.",
        "Play a ladder on several days a week: dates move as you do.",
    ),
    "week off": GlossaryEntry(
        "How much more your ceiling changes over a gap of 5 days or more than between ladders "
        "closer together, from at least 4 of each.",
        "Shown only where it is more than chance would do.",
    ),
    "tonight": GlossaryEntry(
        "An evening laid out. A warm-up at 65% of what you play clean. Then what pays most: what "
        "is assigned, the pattern that limits a goal, a drill for the weakest point, the next step "
        "of a way, what is due again after 2, 4, 8 to 30 days.",
        "Each is a ladder of some minutes; they take turns. A rest of 2.5 minutes comes after at "
        "most 15 minutes of playing, one of 10 once an hour.",
        "Change it by hand, save it as a routine. Rest earlier if you want to.",
    ),
    "margin": GlossaryEntry(
        "Your ceiling over the tempo you need, in strokes a second, with its 90% interval. Safe: "
        "even the low end is +10% or more. In reach: the high end is 0 or more. Above: not yet.",
        "+10% is a reserve for a bad night.",
        "Below 0: start with the drills of trainer advice.",
    ),
    "clean": GlossaryEntry(
        "Good enough to go up: few misses, small spread, even hands, small gaps, even power.",
        "trainer explain clean shows the limits in ms at your tempo.",
    ),
    "level": GlossaryEntry(
        "How strict clean is: loose, solid or tight. Of a pattern: how hard it is at its own "
        "tempo, 1 to 5. That is computed from strokes a second of hand and foot, moves, crossed "
        "hands, feet between the hands, what is off the beat, sticking, note values and meter.",
        "Solid is the default. A hand manages 5 to 7 strokes a second (Fujii and others 2009); "
        "what each ground is worth is our own choice.",
        "Choose with --strict, or strictness in settings.toml. trainer patterns show prints what "
        "makes a pattern hard, in points; the level is 1 and a point for each level more.",
    ),
    "latency": GlossaryEntry(
        "Time from the stroke until its note arrives. It is taken out of all times.",
        "9 ms from a pad, 15 ms through a computer's sounds (Schultz and van Vugt 2016); players "
        "do not notice 10 ms (Jack and others 2018).",
        "Measure it with a cable: trainer kit latency.",
    ),
    "doubt": GlossaryEntry(
        "Why the numbers of a take may mislead: few strokes fit, or no steady time.",
        do="Check pattern, tempo and kit, then replay it.",
    ),
    "hit map": GlossaryEntry(
        "The pattern as a grid, steps across and drums down, with what landed in each cell."
    ),
}

FORMER_WORDS = {
    "lope": "limp",
    "besides": "also",
    "inside a pass": "within a pass",
    "as a rung goes on": "during a rung",
    "of the accents": "accents",
    "of the ghost notes": "ghost notes",
    "more than chance": "chance",
}
"""Words that older sessions and files use, and what they are called today."""

_LIMBS = ("rh", "lh", "rf", "lf", "hand", "foot", "left hand", "left foot", "right hand")
_OTHER_NAMES = dict.fromkeys((*_LIMBS, "right foot"), "hands and feet")
_OTHER_NAMES |= {"drift": "within a pass", "forecast": "at this rate", "in reach": "margin"}
"""Other words for the same, as screens print them."""


def glossary_word(word: str) -> str | None:
    """Return the glossary's form of a printed word: any case, singular or plural, or a former one.

    None for a word that is not printed.
    """
    wanted = " ".join(word.casefold().split())
    wanted = FORMER_WORDS.get(wanted, _OTHER_NAMES.get(wanted, wanted))
    forms = (wanted, f"{wanted}s", wanted.removesuffix("s"), wanted.removesuffix("es"))
    return next((form for form in forms if form in GLOSSARY), None)
