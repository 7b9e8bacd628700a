"""What is told of the description of a grill."""

from __future__ import annotations

from collections.abc import Sequence

from heatmap.grill.grill import Grill
from heatmap.grill.layout import misplaced
from heatmap.grill.quantities import Units
from heatmap.physics.finishes import find_finish
from heatmap.units import STDS_95, Display

WHAT_GOES_ON = "What goes on? Asked once, kept in the grill file; Enter takes what stands in brackets."
A_FEW_QUESTIONS = "A few questions. Enter takes what stands in brackets; ? helps; < goes back."


def file_comment(units: Units) -> str:
    """Return what stands at the top of a new grill file."""
    display = Display(units)
    return (
        f"A grill for gratemap. Numbers are in {'inches' if units == 'us' else 'mm'} and {display.degrees}.\n"
        "x runs to the right, y away from you, both from the front left corner of the grate."
    )


def written_sentence(file: str, *, rails: bool) -> str:
    """Say that a grill file is written, and what comes next; `rails`, that they are of the usual size."""
    measure = " Measure the rails when you can and put them in." if rails else ""
    return f"Written: {file}.{measure} Now: gratemap take"


def food_kept_sentence(file: str) -> str:
    """Say where the food is kept."""
    return f"Kept in {file} under [food]."


def mend_lines(file: str, problems: Sequence[str]) -> list[str]:
    """Say what is wrong in a grill file."""
    if len(problems) == 1:
        return [f"gratemap: {file}: {problems[0]}"]
    return [f"gratemap: {file}: {len(problems)} things to mend:", *(f"  {line}" for line in problems)]


def checked_lines(grill: Grill) -> list[str]:
    """Say which positions there are, what the finish is taken to be, and what was taken as usual."""
    positions = grill.positions_text
    lines = [f"{positions[0].upper()}{positions[1:]}."]
    if grill.grate.emissivity is None:
        finish = find_finish(grill.grate.finish)
        known = "assumed, no published value" if finish.assumed else finish.source
        between = f"{finish.emissivity:.2f} ± {STDS_95 * finish.emissivity_sd:.2f}"
        lines.append(f"Emissivity of {finish.name}: {between} ({known}).")
        if finish.remark:
            lines.append(f"  {finish.remark}")
    if grill.assumed:
        lines += ["Taken as usual, because the file does not say:", *(f"  {line}" for line in grill.assumed)]
    return lines


def misplaced_sentences(grill: Grill) -> list[str]:
    """Warn of every burner that lies elsewhere than its name says: turned about, advice would make things worse."""
    found = misplaced(grill)
    if not found:
        return []
    from heatmap.verdict.regions import region_name  # what it imports takes long

    # A burner is as long as the grate, or nearly: of the side's three parts the middle one stands for all.
    return [
        f'Burner "{name}" is laid at the {region_name(x_mm, y_mm, grill.grate).removeprefix("centre ")}, but its name '
        f"says {word}: put right where it lies, or its name."
        for name, word, (x_mm, y_mm) in found
    ]


def zone_text(grill: Grill) -> str:
    """Return what should be in band, as a sentence calls it: "the grate", "the left half", "the zone"."""
    zone = grill.target.zone
    return "the grate" if zone == "all" else f"the {zone}" if isinstance(zone, str) else "the zone"
