"""The numbers that decide how a sear is computed and what a test piece may teach, each with what it rests on."""

#: Rail to face, crust left out [W/(m² K)]: the low end of the 250 to 650 of patties held between two plates, S.
#: Wichchukit, S. E. Zorrilla and R. P. Singh, "Contact heat transfer coefficient during double-sided cooking of
#: hamburger patties", Journal of Food Processing and Preservation 25 (2001). Food that lies by its own weight touches
#: less: of 403, their middle, and 250 the latter comes nearer to patties on one plate (rows TR-05 and TR-06 of
#: tests/reference/contact_cooking_trials.csv). On rails near 300 °C the two are less than a second of a turn apart.
CONTACT_W_M2K = 250.0

#: A turn longer than this roasts the outside rather than sears it. Assumed: sears last a minute or two.
LONGEST_TURN_S = 240.0

#: Standard deviations beyond which no conductance and no other unknown explains a peak, and beyond which nothing is to
#: be learned from it: a slip of the probe or of the pen. Assumed.
UNEXPLAINED, IMPOSSIBLE = 3.0, 6.0
#: A test that leaves more than this of the former spread taught little. Assumed.
LITTLE = 0.75
