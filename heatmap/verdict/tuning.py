"""The numbers that decide what a map is said to mean, each with what it rests on."""

from datetime import timedelta

#: A word other than "unsure" is used from this chance on. Assumed; tests/benchmarks/sessions.py counts which spots it
#: leaves unsure, and which it misses or flags falsely.
SURE = 0.8
#: A place leans clearly from this chance on: two to one. Assumed.
LEANS = 2.0 / 3.0

#: A round is asked about when this share of its shots would be in the band in the other unit, the band taken wider by
#: this share of its width on both sides. No shot can be in both. Assumed.
MOST_SHOTS, WIDER = 2.0 / 3.0, 0.5
#: So many shots that all show one number are no grate: at most places the number of the place beside it is another.
#: Assumed.
MANY_ALIKE = 8
#: So many rows that another repeats are no accident. Assumed.
MANY_TWICE = 3
#: A clock may be off, and a time zone mistaken, by no more than this. Assumed.
FAR_AHEAD = timedelta(days=2)
#: Guns are set from 0.10 upwards (common practice, no source), and no rail for food looks so bright to them.
LEAST_SETTING = 0.15
