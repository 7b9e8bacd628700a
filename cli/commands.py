"""Every command, in the order the help lists them. A new command is a file with a function `command` and a line here.

The docstring of the function is the command's help; it ends with one example, on a line of its own so that it can be
copied. The files are imported when their command is asked for, so that the help comes at once.
"""

#: One line for the list; each lives in `cli` under its name, its function `command` or several in a group `app`.
COMMANDS = {
    "demo": "Run the whole job on the sample readings.",
    "grill": "Describe your grill, or check the description.",
    "take": "Take a round of readings: typed, piped, or from the gun's port.",
    "ready": "Say in one line what to do now.",
    "map": "Show the heat map of a round, with flags and evenness.",
    "explain": "Show how one reading became a rail temperature.",
    "next": "Say which positions to shoot next.",
    "burners": "Say which knob to turn to which mark.",
    "compare": "Say whether the change made the grate more even.",
    "history": "Show one line per round.",
    "place": "Say where to set the food down.",
    "sear": "Say how many seconds each turn lasts.",
    "gun": "Turn one reading into the true temperature.",
    "report": "Write everything on one HTML page.",
    "page": "Serve the grill-side page for a phone.",
    "rehearse": "Practise on a make-believe grill, indoors.",
    "ports": "List the serial ports there are.",
    "manual": "Read the manual.",
}
