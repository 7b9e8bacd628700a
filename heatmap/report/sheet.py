"""A blank sheet for the clipboard, to be written on at the grill and typed in later, row by row."""

from __future__ import annotations

from html import escape

from heatmap.grill.grill import Grill
from heatmap.units import Display

_BLANK = "______"


def sheet_text(grill: Grill) -> str:
    """Return the blank sheet as plain text.

    Parameters
    ----------
    grill : Grill
        Its positions make the table, its burners the line of marks.

    Returns
    -------
    str
        Lines of at most 80 characters where the grid has up to nine columns.
    """
    columns, rows = grill.positions.columns, grill.positions.rows
    width = max(8, min(14, 70 // columns))
    middle = 4 + width * columns // 2
    lines = [
        *(f"{name}: {_BLANK * 3}" for name in ("Date and time", "Grill")),
        *_marks_lines(grill),
        f"Lid before the round: open / closed    Rails: dry / oiled    Shown in {Display(grill.units).degrees}",
        "",
        f"{'BACK':>{middle + 2}}",
        "    " + "".join(f"{column + 1:^{width}}" for column in range(columns)),
    ]
    for row in range(rows):
        lines += ["", f"  {chr(65 + row)} " + "".join(f"{_BLANK:^{width}}" for _ in range(columns)).rstrip()]
    lines += [
        "",
        f"{'YOU':>{middle + 1}}",
        "",
        f"Surface probe:  at {_BLANK}  reads {_BLANK}      Notes: {_BLANK * 4}",
        "",
        "Typed in later:  gratemap take   then a row at a time, left to right, like",
        f"    {_example(grill)}",
        "and - for a position left out; contact B2 610 for the probe; done at the end.",
    ]
    return "\n".join(lines)


def sheet_html(grill: Grill) -> str:
    """Return the blank sheet as a self-contained page that prints on one sheet of paper."""
    columns, rows = grill.positions.columns, grill.positions.rows
    head = "".join(f"<th>{column + 1}</th>" for column in range(columns))
    body = "".join(f"<tr><th>{chr(65 + row)}</th>{'<td></td>' * columns}</tr>" for row in range(rows))
    marks = "".join(f"<p>{escape(line.replace('_', ''))}<span></span></p>" for line in _marks_lines(grill))
    degrees = Display(grill.units).degrees
    return f"""<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><meta name="generator" content="gratemap sheet">
<title>Readings, {escape(grill.name or "grate")}</title><style>
@page {{ size: landscape; margin: 12mm }}
body {{ font: 15px/1.5 sans-serif; color: #000; max-width: 1000px; margin: 1em auto }}
table {{ border-collapse: collapse; width: 100%; table-layout: fixed }}
th {{ width: 2em; font-size: 20px }}
td {{ border: 2px solid #000; height: {max(36, min(100, 400 // rows))}px }}
p {{ margin: .4em 0 }} span {{ display: inline-block; border-bottom: 1px solid #000; min-width: 14em }}
.side {{ text-align: center; font-weight: bold; letter-spacing: .3em; margin: .3em }}
code {{ font-size: 15px }}
</style></head><body>
<p>Date and time <span></span> &nbsp; Grill <span></span></p>
{marks}
<p>Lid before the round: open / closed &nbsp;&nbsp; Rails: dry / oiled &nbsp;&nbsp; Shown in {degrees}</p>
<p class="side">BACK</p>
<table><tr><th></th>{head}</tr>{body}</table>
<p class="side">YOU</p>
<p>Surface probe at <span style="min-width:5em"></span> reads <span style="min-width:5em"></span>
 &nbsp; Notes <span></span></p>
<p>Typed in later: <code>gratemap take</code>, then a row at a time, left to right, like
 <code>{escape(_example(grill))}</code>; <code>-</code> for a position that was left out,
 <code>contact B2 610</code> for the probe, <code>done</code> at the end.</p>
<p>The grate, the rails and the lid burn: keep your sleeves and the sheet off them.</p>
</body></html>
"""


def _marks_lines(grill: Grill) -> list[str]:
    """Return a line to write the marks of the burners on; nothing where none can be set."""
    names = [burner.name for burner in grill.burners if burner.control != "none"]
    return [f"Marks, {name}: {_BLANK * 2}" for name in names]


def _example(grill: Grill) -> str:
    middle = round(Display(grill.units).temperature(grill.target.middle_c))
    numbers = " ".join(str(middle + 5 * (index % 3)) for index in range(grill.positions.columns))
    return f"A {numbers}" if grill.positions.columns > 1 else f"A1 {middle}"
