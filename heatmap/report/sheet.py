"""A blank sheet for the clipboard, to be written on at the grill and typed in later, row by row."""

from __future__ import annotations

from heatmap.grill.grill import Grill

_BLANK = "______"


def sheet_text(grill: Grill) -> str:
    """Return the blank sheet as plain text; lines of at most 80 characters where the grid has up to nine columns."""
    columns = grill.positions.columns
    width = max(8, min(14, 70 // columns))
    middle = 4 + width * columns // 2
    lines = [
        *(f"{name}: {_BLANK * 3}" for name in ("Date and time", "Grill")),
        *(f"Marks, {burner.name}: {_BLANK * 2}" for burner in grill.burners if burner.control != "none"),
        f"Lid before the round: open / closed    Rails: dry / oiled    Shown in {grill.display.degrees}",
        "",
        f"{'BACK':>{middle + 2}}",
        "    " + "".join(f"{column + 1:^{width}}" for column in range(columns)),
    ]
    for row, labels in enumerate(grill.grid):
        lines += ["", f"  {chr(65 + row)} " + "".join(f"{_BLANK if at else '':^{width}}" for at in labels).rstrip()]
    lines += [
        "",
        f"{'YOU':>{middle + 1}}",
        "",
        f"Surface probe:  at {_BLANK}  reads {_BLANK}      Notes: {_BLANK * 4}",
        "",
        "Typed in later:  gratemap take   then a row at a time, left to right, like",
        f"    {_example(grill)}",
        "and - for a position left out; contact B2 610 for the probe; done at the end.",
        "The grate, the rails and the lid burn: keep your sleeves and the sheet off them.",
    ]
    return "\n".join(lines)


def _example(grill: Grill) -> str:
    middle = round(grill.display.temperature(grill.target.middle_c))
    first = [label for label in grill.labels if label[0] == "A"]
    numbers = " ".join(str(middle + 5 * (index % 3)) for index in range(len(first)))
    return f"A {numbers}" if len(first) > 1 else f"{first[0]} {middle}"
