"""The numbers of the model's prior that decide something, each with what it was settled on.

All temperatures are on the heat scale (:class:`heatmap.grate_model.response.HeatScale`), °C near the middle of the
band.
"Settled on make-believe grills" means tests/benchmarks/sessions.py, the families and seeds named there for settling;
there 25 min pass between rounds, and a quarter of an hour more passed while it was done.
"""

from heatmap.gaussian import LogNormal

#: Standard deviations of what is new in every round: level, and each tilt at the edge of the grate. A change of
#: convection by a tenth moves a grate by about 5 °C (heat balance of the make-believe grill).
ROUND_C = (6.0, 3.0, 3.0)
#: The same where no burner is known to give the heat, as over coals. Assumed.
BARE_ROUND_C = (20.0, 3.0, 3.0)
#: Warming or cooling during a round [°C/min]: a grate still preheating rises by some 5, a settled one by none (common
#: practice, no source).
DRIFT_C_PER_MIN = 4.0
#: What the burners leave unexplained in every round alike: level. Tilts, bends and the field share one amplitude.
BASE_LEVEL_C = 70.0
#: Fall-off along the edge, and over what share of the shorter side.
RIM_C, RIM_SHARE = 6.0, 0.12
#: A step where panels meet.
SEAM_STEP_C = 12.0
#: How uncertain the heat of the lowest flame is, as an opening, for each burner.
LOWEST_FLAME_STD = 0.35
#: What another session, state of the lid or surface adds: level, two tilts, three bends.
GROUP_C = (40.0, 15.0, 15.0, 8.0, 8.0, 8.0)
#: What a round adds whose marks are not all known: the same, and a field.
UNKNOWN_MARKS_C, UNKNOWN_FIELD_C = GROUP_C, 12.0
#: How much of the usual drop after the lid is lifted a grill shows: spread from grill to grill, from round to round.
LID_SHARE_STD, LID_ROUND_STD = 0.4, 0.1
#: No shot is better known than this.
LEAST_NOISE_C = 0.5
#: A reading in so many is a blunder, and is off by about so much [°C].
BLUNDER_CHANCE, BLUNDER_STD_C = 0.03, 60.0
#: One mark in so many is written down wrong, by about so much of the knob's range. Assumed.
WRONG_MARK_CHANCE, WRONG_MARK_STD = 0.03, 0.35
#: A grill in so many has its burners laid wrong in one of these ways in its file. Assumed.
OTHER_LAYOUT_CHANCE = 0.03
#: A layout is looked into whose log evidence at the likeliest node beats that of the one told by so much; one that is
#: behind the likeliest by so much is dropped; when all others are together more likely than this, the cook is told.
#: Settled on make-believe grills, and on mirrored and turned plates of tests/benchmarks/other_grills.py, seeds 0-9.
LAYOUT_GAIN, LAYOUT_BEHIND, LAYOUT_TOLD = 0.1, 7.0, 0.9
#: The newest rounds that are looked at; older ones have little left to say and cost time.
MOST_ROUNDS = 12
#: They hold no more spots than this, all together: 12 rounds of 48 do. The time grows with the cube of it.
MOST_SPOTS = 600

#: Hyper-parameters: so many nodes are tried, spread over their log-normal priors, and weighed by their evidence.
#: Settled on make-believe grills; the medians alone cover too little.
NODES = 40
#: Nodes that together hold less weight than this are dropped; no figure moves by it.
LEFT_OUT = 0.02
#: So many of the likeliest are tried for other rounds of the same log, older by more than a map looks back. In a log of
#: 1,000 invented rounds they held 99 % of the weight there.
LIKELY_NODES = 6
REACH_MM, LENGTH = LogNormal(125.0, 0.25, steps=3), LogNormal(0.75, 0.5, steps=3)
BASE_C, FIELD_C = LogNormal(8.0, 0.6), LogNormal(6.0, 0.6)
OWN_SHARE = LogNormal(0.07, 0.7)
#: Under one node of three the burners' own fields have a length of their own, so many times the reach: heat that lands
#: between rows of spots is then not thought known. Plates are covered better by it, and no map is worse; under more
#: nodes seasoning is taken for heat.
OWN_EVERY, OWN_LENGTH = 3, 0.4
#: So many nodes more have base and fields so many times as large, for a grill unlike what is expected of one: without
#: them its true readings are taken for blunders.
WIDE_NODES, WIDE_TIMES = 6, 2.5
NOISE, PLACE = LogNormal(1.2, 0.5), LogNormal(0.35, 0.6)
#: The same where no burner's place or mark is known: base and the field of a round carry the whole pattern.
BARE_LENGTH, BARE_BASE_C, BARE_FIELD_C = LogNormal(0.8, 0.5, steps=3), LogNormal(16.0, 0.6), LogNormal(5.0, 0.7)
