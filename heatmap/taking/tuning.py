"""The numbers that decide while a round is taken, each with what it rests on."""

from heatmap.units import c_difference_from_f

# Is the grate still heating up?

#: A grate that rises by less than this a minute is steady enough to be mapped, °C a minute: over the two minutes of a
#: round that is 6 °F, no more than one shot scatters. Assumed.
STEADY_C_PER_MIN = float(c_difference_from_f(3.0))
#: Shots within this time say nothing of a rise: at 5 °F a minute, a grate well on its way, it is half a step of the
#: display. Assumed.
SHORTEST_S = 5.0
#: Only the latest shots count: a rise slows down, so old ones mislead. Assumed: time for two or three shots at each of
#: a few positions, and short beside the ten minutes and more that a grate takes to settle (common practice, no source).
WINDOW_S = 150.0

# Is a number to be believed?

#: How likely a number is a blunder before it is held against the others; how many of those are slips of the hand, the
#: rest being anything, with this half-width [°C]. Assumed.
BLUNDER_CHANCE, SLIP_SHARE, BROAD_SCALE_C = 0.02, 0.4, 100.0
#: From which chance of a blunder on the cook is asked: a question costs one key, a wrong number the map. Settled on
#: rounds of make-believe grills and of plates, the burners told right or wrong (tests/benchmarks/other_grills.py, seeds
#: 0-7): asking from 0.9 on finds 72 % of the slips of tests/benchmarks/slips.py and asks about 0 of 1,200 honest
#: numbers, from 0.3 on 80 % and 4.
ASKED_FROM = 0.3
#: With too few readings for a map, places of one grate differ by this standard deviation about their mean, °C: wider
#: than grates are (20 to 40 °C, common practice, no source), so that only what cannot be is asked about.
FEW_READINGS_STD_C = 60.0
#: The first shot of all can only be held against the air and the band: on the way from the one to the middle of the
#: other no grate worth a map is nearer to the air than this, and none is farther beyond. Assumed; it catches every
#: number that lost a digit.
FIRST_LOW_SHARE, FIRST_HIGH_SHARE = 1.0 / 3.0, 2.0
#: Within so many standard deviations a reading fits, and no slip is looked for: 19 of 20 good ones lie within (normal
#: distribution); that it is enough for a hand at a grill is assumed.
FITS = 2.0

# What was typed again.

#: The same doubtful number again, within this, is a second witness and not a slip of the hand, °C: two shots at one
#: place by hand differ by a few °F (common practice, no source), a slip by far more.
SAME_AGAIN_C = float(c_difference_from_f(6.0))
#: More readings than this at one go were not shot by a hand just now; they are not judged one by one. Assumed: more
#: than anybody keeps in mind before typing them.
BY_HAND = 10
#: Two honest shots at one place differ by no more than so many standard deviations of their difference (normal
#: distribution: 1 pair in 400), and a number typed again by less is a repeat.
REPEATS = 3.0

# The map while a round is taken.

#: From so many readings on the running map and verdict are shown; with a full round before them, from so many.
FEWEST, FEWEST_AFTER_A_FULL_ROUND = 5, 2
#: With more readings than this the map waits for the end: it would hold up the shooting.
MOST_ON_THE_SPOT = 600
#: Nobody is told to stop before so many: fewer are not worth reading as a map.
FEWEST_TO_STOP = 8
