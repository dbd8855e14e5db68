"""The pattern language: what a pattern file may say.

A pattern file is TOML. It writes for the hands, for the feet, as a grid, or
all of them together:

    # every order of four places, two strokes on each: 24 bars
    title = "Twos on ride, toms and floor tom"
    meter = "2/4"

    [hands]
    sticking = "R L L R"
    value = "16"
    path = "ride x2, tom2 x2, tom1 x2, floor x2"
    orders = "all"

    [feet]
    ostinato = "offbeats"

HEADING, all optional: title, about (a sentence), tags (a list of words), level
(1 to 5; computed unless you say, trainer explain level), tempo (20 to 400
BPM), tempo_unit (the note value BPM counts; "4" unless you say, "4." in 6/8).

SECTION: what is at the top of the file, or in each [[section]]; a section
takes over from the top what it does not say itself, and `hands`, `feet` or
`bars` = "none" drops them. Its tables are written [section.hands] below it, or
in one line: hands = { sticking = "R L", value = "8" }.
  meter    "4/4" unless you say; a list goes round bar by bar: ["4/4", "7/8"].
           Groups of beats are written behind it: "7/8 3+2+2"; the click marks
           them
  length   how many bars; else as many as it takes until all comes round
           together
  times    repeats of the section
  title    a section's own name
  swing    a note value and how two of it share their time: "8 2:1", "16 60%",
           "8 3:1"; "shuffle" is "8 2:1". Strokes of tuplets stay where they
           are; "none" is straight
  tempo    a tempo of its own, held until another is written. A gradual change
           takes all of the section with its repeats, or its first bars:
           "80 to 120", "to 120", "to 60 over 2 bars". A metric modulation:
           "8t = 8", what was an 8t is an 8 from here on
  dynamics ppp pp p mp mf f ff fff; < is a crescendo to the mark behind it, > a
           diminuendo. Several parts share the section evenly: "p < f",
           "p < f > p", "pp p < f". They begin again with every repeat, and
           hold until others are written. Accents and ghosts are on top of them

    # a shuffle that gets slower and softer at the end
    swing = "shuffle"
    tempo = 96
    hands = { sticking = "R", value = "8", path = "ride" }

    [[section]]
    times = 3

    [[section]]
    tempo = "to 60"
    dynamics = "mf > pp"

    # two sections, the second in another meter
    hands = "RLRR LRLL"

    [[section]]
    title = "plain"
    times = 2

    [[section]]
    title = "in seven"
    meter = "7/8"
    hands = "RLRR LRLL RLRLRL"
    feet = { kick = "x------", value = "8" }

[hands]
  sticking  one letter a step: R, L, B (both hands), K (kick), H (hi-hat
            pedal), - (rest). > before a stroke accents it, brackets make it a
            ghost, small letters before it are grace notes, up to four: >R  (L)
            (R L)  lR flam  llR drag  lrlR ruff. zR is a buzz, a held sound
            that is judged by its first touch; a slash makes two measured
            strokes of one, two make four: /R is RR, //R is RRLL. Blanks,
            commas and bar lines | are for the eye. x4 repeats the stroke or
            word before it: R x4, RLRR x2; repeat bars a group:
            |: R L R R :| x2 (twice where no number is written). Without a
            sticking the hands strictly alternate.
  accents   a line of their own over the steps of the sticking, going round in
            its own time: > an accent, - none, g a ghost, with repeats as in a
            sticking: ">---->--"
  lead      "right"; "left" exchanges the hands, also those of a grid; "both"
            is the right hand's lead, then the left's: of each sticking, or of
            the whole section (twice as many bars) where the sticking
            alternates already (R L, a paradiddle), in a climb and on a grid
  value     1 2 4 8 16 32 64, with . dotted, t triplet, q quintuplet (5 in 4),
            s septuplet (7 in 4); t. dotted triplet. Other tuplets say what is
            in the time of what: 16(5/3), 32(11/8), with 2/3 4/3 5/3 7/3 5/6
            7/6 9/8 11/8 13/8 15/8; sextuplets are 16t, six a quarter. Several
            values make a climb, one a bar: "4 8t 16q 16s"
  back      true: the climb comes down again
  rhythm    instead of value: the value of each step, going round: "16 x4, 4"
  path      the drum of each stroke, with repeats as in a sticking:
            "snare x4, tom1 x4", "floor/rim, |: ride snare :| x2". A rest or a
            foot takes none. "hihat+snare": the right hand on the first, the
            left on the second. "snare~tom1": grace strokes on the snare
  per       "stroke", or one stop of the path for each "beat" (of the meter's
            lower number) or "bar"
  orders    "all" plays every order of the path's parts: what is between
            commas, or without any comma each drum or group; a number plays
            that many of them, drawn by seed
  seed      which draw: the same seed always gives the same orders
  each      how often each order is played before the next
  shift     moves the whole figure later by so many steps; what falls off comes
            first
  shift_accents
            moves accents and ghosts alone so many strokes later: the hands and
            the drums stay

    # accents, ghosts, flams, drags and both hands, left lead, an eighth late
    [hands]
    sticking = "|: >R L (R L) :| x2, lR L llR B"
    value = "8"
    path = "snare/rim, snare x3, hihat+floor x8"
    lead = "both"
    shift = 1

    # an accent every three strokes over paradiddles, in three bars
    length = 3

    [hands]
    sticking = "RLRR LRLL"
    accents = ">--"

    # a ruff from the snare to the tom, then rolls: measured, and as a buzz
    [hands]
    sticking = "lrlR - /R /L zR zL R -"
    value = "8"
    path = "snare~tom1, snare x5"

    # a climb there and back, one drum a beat
    [hands]
    value = "4 8 8t 16 16q 16t 16s 32"
    back = true
    path = "snare tom1 tom2 floor"
    per = "beat"

    # five stroke rolls over a path of three parts, five of its orders
    [hands]
    sticking = "R R L L >R L L R R >L"
    rhythm = "16 x4, 4"
    path = "snare tom1, tom2 x2, floor"
    orders = 5
    seed = 7

A sticking of more than two steps, or a grid, has to fill its bars. With a
length it runs over the bar lines instead (under orders it always does):

    # three against four
    length = 3
    hands = "R L L"
    feet = "quarters"

[feet]
  ostinato  a named one, from the list at the end; feet = "samba" is short for
            it
  kick, kick2, pedal
            a grid of steps, or "same as" a voice, hands, right hand, left hand
            or accents
  value     the step of the grids, 16 unless you say; for an ostinato its own
            unless you say

    # the kick goes along with the accents
    hands = { sticking = ">R L R >L R L >R L", path = "snare x7, tom1" }

    [feet]
    kick = "same as accents"
    pedal = "-x"
    value = "8"

[bars]: a grid for each voice, as tab is written. The key is a voice or
"voice/zone".
  x o stroke   X O accent   g ghost   f flam   d drag
  z buzz   F D Z with accent   R L that hand
  - . rest
  hihat o open, h half open; ride b bell; snare @ rim, w cross-stick; # grabs a
  cymbal on its step,
  a choke, which is no stroke: "X-#-". A | may be written between two bars.
  value     the step, 16 unless you say
  sticking  hands below the steps: R, L, B (the upper voice takes the right
            hand), - none. Without it the hands are assumed, and no figure
            speaks of them, unless you choose with
  hands     crossing (right on the cymbals, left on the drums between),
            open-handed (left on the hi-hat, right on its drums) or
            alternating; singles alternate in all three

    # a groove
    [bars]
    value = "8"
    sticking = "RRBR RRBR"
    hihat = "xxxx xxxo"
    snare = "--X- -gX-"
    "tom1/rim" = "-----x--"
    kick = "x--- xx--"

Voices: crash crash2 china splash ride ride2 hihat cowbell tambourine tom0 tom1
tom2 tom3 snare floor floor2, by foot kick kick2 pedal.

Ostinatos: samba bossa tumbao tresillo songo baiao quarters four half-time
offbeats pedal-quarters pedal-2-4 waltz son-clave-3-2 son-clave-2-3
rumba-clave-3-2 double-kick.

PHRASES: phrase names other patterns in turn, with changes and repeats, and |:
:| around a group. A section takes one by pattern, beside its own title, times,
swing, tempo and dynamics. They are played at the tempo that is written in the
phrase, else at that of the slowest.

    # three bars of a groove, one of another
    phrase = "|: unison-groove x3, linear-sixteenths bars=1 :| x2"

    # a figure before and after it is moved
    [[section]]
    pattern = "single-paradiddle feet=samba"
    times = 4

    [[section]]
    pattern = "single-paradiddle feet=samba shift=1"
    times = 4

A name with changes after it is a pattern too, wherever a pattern is named.
bars=3-4 and section=2 (a number or a title) take a part of it:
  trainer patterns show 'single-paradiddle path="snare x4, tom1 x4" feet=samba'
  trainer play 'changing-meters bars=2-3'
"""
