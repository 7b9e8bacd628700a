"""A handful of pictures compared with drawn ones that were looked at: letters removed, a tolerance for each.

To draw them anew after a wanted change: REDRAW_PICTURES=1 python -m pytest tests/pictures/test_baselines.py
and look at every one before it is kept.
"""

from __future__ import annotations

import io
import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure
from matplotlib.image import imread
from matplotlib.text import Text

from heatmap.assessment import Assessment
from heatmap.decisions.burner_advice import Change
from heatmap.decisions.decision import Decision
from heatmap.decisions.placement import Footprint, Placement
from heatmap.grill.grill import Grill
from heatmap.pictures import (
    difference_map,
    expected_map,
    heat_map,
    picture_bytes,
)
from heatmap.readings.reading import Reading
from heatmap.units import c_from_f
from heatmap.verdict.comparison import Comparison

BASELINES = Path(__file__).parent / "baseline"
Make = Callable[..., Assessment]


def bare(figure: Figure) -> np.ndarray:
    """Return the pixels of a figure without its letters, which differ between versions of the font renderer.

    The dots of the rim go as well: they snap to whole pixels, and the last digit of a sum says to which.
    """
    for artist in figure.findobj(lambda one: isinstance(one, Text) or one.get_gid() == "rim"):
        artist.set_visible(False)
    return imread(io.BytesIO(picture_bytes(figure, ".png", dpi=60)))[:, :, :3]


def root_mean_square(one: np.ndarray, other: np.ndarray) -> float:
    """Return the root mean square difference of two pictures in levels of 255."""
    assert one.shape == other.shape, "the picture has another size"
    return float(255.0 * np.sqrt(np.mean((one - other) ** 2)))


def compare(figure: Figure, name: str, tolerance: float) -> None:
    path = BASELINES / f"{name}.png"
    drawn = bare(figure)
    if os.environ.get("REDRAW_PICTURES"):
        path.write_bytes(picture_bytes(figure, ".png", dpi=60))
    assert path.exists(), f"no baseline {path.name}"
    assert root_mean_square(drawn, imread(path)[:, :, :3]) <= tolerance


def hill(u: np.ndarray, v: np.ndarray) -> np.ndarray:
    return 530.0 + 90.0 * np.exp(-((u - 0.7) ** 2) / 0.08 - ((v - 0.3) ** 2) / 0.2) + 15.0 * u


def test_unchanged_heat_map(make_assessment: Make, make_grill: Callable[..., Grill]):
    x_mm, y_mm = make_grill().point_mm("B2")
    extra = (
        Reading(id=80, shown_c=c_from_f(598.0), x_mm=x_mm, y_mm=y_mm, aim="contact"),
        Reading(id=81, shown_c=c_from_f(958.0), x_mm=x_mm, y_mm=y_mm),
    )
    made = make_assessment(hill, std_f=9.0, extra=extra, suspects={81}, knobs={"left": 4.0})
    compare(heat_map(made), "heat_map", 3.0)


def test_unchanged_ring_and_places(make_assessment: Make, placed: Callable[..., Placement], grates: dict[str, Grill]):
    steak = Footprint(length_mm=170.0, width_mm=100.0)
    placement = placed(steak, (150.0, 280.0, (2.0, 10.0)), (330.0, 130.0, (3.0,)))
    made = make_assessment(hill, std_f=4.0, grill=grates["ring"])
    compare(heat_map(made, placement=placement), "ring_and_places", 3.0)


def test_unchanged_difference(make_assessment: Make, compared: Callable[..., Comparison], grates: dict[str, Grill]):
    grill = grates["panels with seams"]
    before = make_assessment(hill, std_f=5.0, grill=grill)
    after = make_assessment(lambda u, v: hill(u, v) + 40.0 * (0.5 - u), std_f=5.0, number=2, grill=grill)
    compare(difference_map(compared(before, after, std_f=5.0 * np.sqrt(2.0))), "difference", 3.0)


def test_unchanged_two_maps(make_assessment: Make, advised: Callable[..., Decision], grates: dict[str, Grill]):
    made = make_assessment(hill, std_f=6.0, grill=grates["five by six, rails from side to side"])
    decision = advised(made, 284.0, Change(burner="left", from_mark=4.0, to_mark=5.0))
    compare(expected_map(made, decision, title="a"), "two_maps", 3.0)


def test_the_tolerance_catches_what_matters(make_assessment: Make):
    """A baseline test that cannot fail is none: lost hatching, a moved contour and lost marks must all exceed it."""
    reference = bare(heat_map(make_assessment(hill, std_f=9.0), title="a"))
    without_hatching = bare(heat_map(make_assessment(hill, std_f=0.1), title="a"))
    moved = bare(heat_map(make_assessment(lambda u, v: hill(u, v) + 4.0, std_f=9.0), title="a"))
    figure = heat_map(make_assessment(hill, std_f=9.0), title="a")
    for mark in figure.findobj(lambda artist: str(artist.get_gid() or "").startswith("mark ")):
        mark.set_visible(False)
    rows = min(len(reference), len(without_hatching))
    assert root_mean_square(without_hatching[: rows - 40], reference[: rows - 40]) > 6.0
    assert root_mean_square(moved, reference) > 6.0
    assert root_mean_square(bare(figure), reference) > 6.0
