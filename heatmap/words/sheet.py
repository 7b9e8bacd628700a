"""What is printed on the blank sheet for the clipboard, above its table and below."""

from heatmap.grill.grill import Grill

#: Room for a number.
BLANK = "______"


def lines_above(grill: Grill) -> list[str]:
    """Return what is written down of the round."""
    return [
        *(f"{name}: {BLANK * 3}" for name in ("Date and time", "Grill")),
        *(f"Marks, {burner.name}: {BLANK * 2}" for burner in grill.settable),
        f"Lid before the round: open / closed    Rails: dry / oiled    Shown in {grill.display.degrees}",
    ]


def lines_below(grill: Grill) -> list[str]:
    """Return what is written down beside the table, and how all of it is typed in later, by an example."""
    middle = round(grill.display.temperature(grill.target.middle_c))
    first = [label for label in grill.labels if label[0] == "A"]
    numbers = " ".join(str(middle + 5 * (index % 3)) for index in range(len(first)))
    return [
        f"Surface probe:  at {BLANK}  reads {BLANK}      Notes: {BLANK * 4}",
        "",
        "Typed in later:  gratemap take   then a row at a time, left to right, like",
        f"    A {numbers}" if len(first) > 1 else f"    {first[0]} {middle}",
        "and - for a position left out; contact B2 610 for the probe; done at the end.",
        "The grate, the rails and the lid burn: keep your sleeves and the sheet off them.",
    ]
