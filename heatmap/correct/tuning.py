"""The numbers that decide what a reading says of its rail, each with what it rests on."""

from heatmap.units import mm_from_in

# What is not known before any reading.

#: How much hotter than the rail the valley looks to the gun, mean and standard deviation, °C. Burner covers look
#: hotter, the bare floor of the firebox colder (common practice, no source); wide on purpose.
VALLEY_EXCESS_C = (15.0, 45.0)
#: Glowing coals lie open to the gun between the rails (common practice, no source).
COALS_EXCESS_C = (100.0, 100.0)
#: How much the valley's excess differs from place to place on one grate, °C (common practice, no source).
VALLEY_PLACE_SD_C = 8.0
#: Between rails with nothing close below the gun looks into a hot box through slits: nearly black. Assumed.
OPEN_VALLEY_EMISSIVITY = 0.98
#: Emissivity of an opaque surface stays inside these, unless the grill file itself says otherwise. Assumed.
LOWEST_EMISSIVITY, HIGHEST_EMISSIVITY = 0.03, 0.99
#: Rails are looked for between these: no cooking grate is colder or hotter, and iron melts at some 1150 °C (a
#: limit, not a guess; it bounds cases of very low emissivity).
LOWEST_RAIL_C, HIGHEST_RAIL_C = -60.0, 1100.0

# What contact, patch and valley readings teach.

#: No more than this many of the latest contact, of the patch and of the valley readings are asked; older ones add next
#: to nothing. So many pairs from close up, or one at each position where there are fewer, bring what pairs can.
#: Assumed.
MOST_PAIRS = 12
#: A reading farther than this many standard deviations from what is possible is not believed. Assumed.
BELIEVABLE = 4.0
#: So many other pairs from close up are needed to call one odd. Assumed.
OTHER_PAIRS = 3
#: How far a piece of valley or a patch of seasoning reaches: a hand's breadth. Assumed.
PLACE_REACH_MM = 60.0
#: How well the mean share of rail in a spot is known: some 10 % of what a gun sees comes from around the spot it is
#: sold for (ASTM E1256, from memory), which brings rail shot and valley shot together by a tenth. Assumed.
SHARE_MODEL_SD = 0.03
#: How much of the variance of where a hand misses comes again when the same place is shot the same way; the rest is new
#: with every shot. Assumed: were it all of it, two honest shots at one place could not differ.
AIM_REPEATS = 0.5

# What is asked of a cook, and what is told.

#: As near as a gloved hand holds a gun over a hot grate for a moment (assumed): 4 in, or 100 mm.
NEAR_US_MM, NEAR_SI_MM = mm_from_in(4.0), 100.0
#: The shares of rail in the two shots must differ by this, or so many pairs say too little. Assumed.
LEAST_APART = 0.2
#: With less of the gun's answer from the rail itself than this, the number is that of the valley beside it. Assumed.
LEAST_OWN_PART = 0.1
#: Farther off than this, °C, in one case of twenty, is no answer: a seasoned grate of narrow rails leaves some 60 open.
#: Assumed.
MOST_HALF_RANGE_C = 100.0
#: More of the chance than this at the ends of what is looked at, and the range is no range but those ends. Assumed.
MOST_AT_ENDS = 0.01
