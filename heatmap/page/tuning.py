"""The limits of the page: how much, how long, how many. Assumed, where nothing else is said."""

#: An entry is some hundred bytes; what the contract of the page allows.
LARGEST_BODY_BYTES = 64 * 1024
#: So many event streams at once; a team of ten with a second screen each.
MOST_STREAMS = 20
#: So many connections at once; browsers open about six each.
MOST_CONNECTIONS = 200
#: A request or a body that has not come by then is given up, and a reader that takes nothing for so long [s].
PATIENCE_S = 10.0
#: A beat goes out so often, so that a stream that was cut is noticed at both ends [s].
HEARTBEAT_S = 15.0
#: So many wrong tokens from one address in so many seconds; each is answered late, any more are refused.
WRONG_TOKENS, WRONG_WITHIN_S, WRONG_DELAY_S = 10, 60.0, 0.25
#: An entry may be told so much later than it was tapped: a phone that was out of reach for a day [s]; and so much
#: sooner: two clocks that do not agree [s].
LATEST_S, SOONEST_S = 86_400.0, 60.0
#: A map has at most so many cells; more would make a state of more than 64 KiB.
MOST_CELLS = 5000
#: So many of the latest readings of a round are drawn, for the same reason; a gun on a cable may send thousands.
MOST_SPOTS = 150
#: An entry that is not answered by then is not known to be kept [s]: the disk, or the keyboard's loop, hangs.
ANSWERED_WITHIN_S = 30.0
