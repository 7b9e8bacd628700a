"""The numbers that decide what is said to do, each with what it rests on."""

from __future__ import annotations

from heatmap.units import c_difference_from_f

#: The food fits where at least this share of its footprint, over all its headings, lies in the band. Assumed.
FITS_SHARE = 0.8
#: Without food: the zone is good where at least this share of its area lies in the band. Assumed.
ZONE_SHARE = 0.9
#: From this chance on that it fits the answer is sear, unless the cook asks for another. Assumed; tests/benchmarks/
#: stopping.py counts how often it truly fits where it is said.
AT_LEAST = 0.7

#: A change of marks is worth its wait from this chance on that it helps, and from this gain in the zone's share or in
#: the chance that the food fits. Assumed; tests/benchmarks/stopping.py.
TURN_CHANCE, TURN_SHARE, TURN_FIT = 0.7, 0.05, 0.10
#: A food that fits with less than this has nothing to lose by a change that helps the zone. Assumed.
LITTLE_CHANCE = 0.3
#: A knob turned since the round before goes back more than half its way only when the turn hurt with this chance.
#: Assumed: a change and its wait are not to be spent twice for a doubt.
TAKE_BACK_CHANCE = 0.9

#: Shots are asked for where so many at the most make it sear with this chance: they take a minute where a turn takes a
#: quarter of an hour. Assumed; tests/benchmarks/stopping.py.
MOST_SHOTS, SHOTS_SETTLE = 5, 0.3
#: A chance of less than this part of what is asked for is not looked at: no few shots raise it so far. Assumed.
HOPELESS = 0.1

#: A map older than this no longer speaks for the grate, min: twice the time in which half a change comes; assumed.
STALE_MIN = 20.0
#: A round older than this was another occasion, which a re-check cannot bring up to date. Assumed.
SAME_SESSION_MIN = 12 * 60.0
#: Time to shoot a round after a wait, min (common practice, no source).
ROUND_MIN = 2.0
#: A change has come when so much of it has; what is told of every wait is the time until then. Assumed.
COME = 0.9
#: A grate that has lost less than this since its lid was lifted is as good as one that was not opened, °C. Assumed.
LID_MATTERS_C = float(c_difference_from_f(9.0))
#: The level is what limits where knowing it would raise the chance by so much. Assumed.
LEVEL_LIMITS = 0.1
