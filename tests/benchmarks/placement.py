"""How far from the best possible place is the place that is told?

Run by hand::

    python tests/benchmarks/placement.py [--seeds 60] [--numbers rail] [--heading 12] [--tuned] [--quick]

On make-believe grills with known truth: one round, with and without one contact reading, then the place for
a 7.5 by 5 in ellipse. Regret is the root mean square difference from the middle of the band inside the
footprint, in truth, once the grate has settled at its marks, less that of the best possible place inside the rim
(searched every half inch, and over every heading where it is free). Beside ours: always the middle of the
grate; the position whose raw reading is nearest to the target; and the best place on scipy's linear surface
through the raw readings. With --tuned the knobs stand at the best marks there are (known truth; a second a
grill to find), without it where the cook began.
"""

from __future__ import annotations

import copy
import sys
import time

import numpy as np
from surface import filled
from table import Row, alone

from heatmap.assessment import assess
from heatmap.decisions.placement import Footprint, Wanted, find_places, read_headings
from heatmap.decisions.placement.search import FREE_HEADINGS
from heatmap.errors import HeatmapError
from heatmap.synthetic import draw_grill

FOOD = Footprint(length_mm=7.5 * 25.4, width_mm=5.0 * 25.4)
STEP_MM = 12.7


def played(seed, numbers, contact, tuned):
    """Return the grill as it was at the median time of its round, and the round."""
    grill = draw_grill(seed, numbers=numbers)
    if tuned:
        grill.turn(grill.best_reachable()[0])
        grill.settle()
    then = copy.deepcopy(grill)
    labels = grill.grill.labels
    one = grill.play_round(1, contact_at=labels[len(labels) // 2] if contact else None)
    then.lid = "open"
    then._pass((one.taken_at - then.now).total_seconds())
    return then, one


def truth(grill, points_mm):
    """Return the true numbers held against the band at points (n, 2), once the grate has settled at its marks."""
    return grill._at(grill.compared_c(grill.held).reshape(grill.hidden.plate.rows, -1), points_mm)


def miss(values, points_weights, target_c):
    """Return the root mean square difference from the target over footprints (n, q)."""
    return np.sqrt((values - target_c) ** 2 @ points_weights)


class Places:
    """Every place the food can take, half an inch apart, and how any surface scores there."""

    def __init__(self, grill, options):
        grate = grill.grate
        self.centres, points = [], []
        for headings in options:
            half = np.array(FOOD.half_extent_mm(headings)) + grate.rim_mm
            lines = [
                np.arange(low, size - low + 1e-6, STEP_MM) for low, size in zip(half, grate.extent_mm, strict=True)
            ]
            x, y = np.meshgrid(*lines)
            centres = np.column_stack([x.ravel(), y.ravel()])
            offsets, self.weights = FOOD.area_rule_mm(headings)
            self.centres.append(centres)
            points.append(centres[:, None] + offsets)
        self.centres, self.points = np.concatenate(self.centres), np.concatenate(points)
        self.target = grill.target.middle_c

    def misses(self, surface):
        """Return the miss at every place for a surface, a function of points (n, 2)."""
        values = surface(self.points.reshape(-1, 2)).reshape(len(self.points), -1)
        return miss(values, self.weights, self.target)

    def nearest(self, point):
        """Return the index of the place nearest to a point."""
        return int(np.argmin(np.hypot(*(self.centres - point).T)))


def regrets(seed, numbers, contact, wanted, tuned=False):
    """Return the regret of each way of placing, in °F, and the processor time of ours in ms."""
    grill, one = played(seed, numbers, contact, tuned)
    assessment = assess(grill.grill, [one])
    start = time.process_time()
    best = find_places(assessment, wanted).places[0]
    milliseconds = 1000.0 * (time.process_time() - start)
    places = Places(grill.grill, [wanted.headings] if wanted.headings else [(h,) for h in FREE_HEADINGS])
    misses = places.misses(lambda points: truth(grill, points))
    points, weights = FOOD.area_rule_mm(best.headings)
    ours = miss(truth(grill, points + [best.x_mm, best.y_mm])[None], weights, places.target)[0]
    rail = [reading for reading in one.readings if reading.aim == "rail"]
    at, shown = (
        np.array([reading.point_mm for reading in rail]),
        np.array([reading.shown_c for reading in rail]),
    )
    ways = {
        "place": ours,
        "middle of the grate": misses[places.nearest(0.5 * np.array(grill.grill.grate.extent_mm))],
        "nearest raw reading": misses[places.nearest(at[np.argmin(np.abs(shown - places.target))])],
        "raw readings, linear": misses[np.argmin(places.misses(lambda points: filled(at, shown, points, "linear")))],
    }
    return {way: 1.8 * float(value - misses.min()) for way, value in ways.items()}, milliseconds


def rows(quick=False, seeds=60, numbers="rail", heading="12", tuned=False):
    """Return the regret of our place, held against the other ways, and the time of the search.

    `numbers` is rail or shown, `heading` one or two by the clock, or free; `tuned` turns the knobs to their best first.
    """
    seeds = 2 if quick else seeds
    headings = () if heading == "free" else read_headings(heading)
    wanted = Wanted(footprint=FOOD, headings=headings)
    found, times = {}, []
    for contact in (True, False):
        for seed in range(seeds):
            try:
                one, milliseconds = regrets(seed, numbers, contact, wanted, tuned)
            except HeatmapError as error:
                print(f"seed {seed}: {error}", file=sys.stderr)
                continue
            times.append(milliseconds)
            for way, regret in one.items():
                found.setdefault(("one contact reading" if contact else "infrared only", way), []).append(regret)
    told = []
    for (pinned, way), values in found.items():
        ours = found[pinned, "place"]
        if way != "place":
            told.append(
                Row(
                    what=f"place, median off the best place, {pinned}",
                    size=f"{len(ours)} grills, {numbers} numbers",
                    value=float(np.median(ours)),
                    unit="°F",
                    against=way,
                    other=float(np.median(values)),
                    also={
                        "mean °F": (float(np.mean(ours)), float(np.mean(values))),
                        "one in ten °F": (float(np.percentile(ours, 90)), float(np.percentile(values, 90))),
                    },
                )
            )
    size, slowest = f"{len(times)} mapped rounds", {"slowest ms": (max(times), None)}
    search = Row(what="place, the search", size=size, value=float(np.median(times)), unit="ms", also=slowest)
    return [*told, search]


if __name__ == "__main__":
    alone(rows, __doc__)
