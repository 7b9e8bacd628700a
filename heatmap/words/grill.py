"""What is told of the description of a grill."""

from __future__ import annotations

from heatmap.grill.grill import Grill
from heatmap.grill.layout import misplaced


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
