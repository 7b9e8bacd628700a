"""How far from the best possible place is the place that is told?

Run by hand::

    python tests/benchmarks/placement.py [--seeds 60] [--numbers rail] [--heading 12] [--tuned]

On make-believe grills with known truth: one round, with and without one contact reading, then the place for
a 7.5 by 5 in ellipse. Regret is the root mean square difference from the middle of the band inside the
footprint, in truth, at the time the round stands for, less that of the best possible place inside the rim
(searched every half inch, and over every heading where it is free). Beside ours: always the middle of the
grate; the position whose raw reading is nearest to the target; and the best place on scipy's linear surface
through the raw readings. With --tuned the knobs stand at the best marks there are (known truth; a second a
grill to find), without it where the cook began.
"""

from __future__ import annotations

import argparse
import copy
import json
import time
from pathlib import Path

import numpy as np

from heatmap.assessment import assess
from heatmap.errors import HeatmapError
from heatmap.placement import Footprint, Wanted, find_places, read_headings
from heatmap.placement.search import FREE_HEADINGS
from heatmap.rehearsal import draw_grill
from heatmap.surface import fit_surface

FOOD = Footprint(length_mm=7.5 * 25.4, width_mm=5.0 * 25.4)
STEP_MM = 12.7


def played(seed, numbers, contact, tuned):
    """Return the grill as it was at the median time of its round, and the round."""
    grill = draw_grill(seed, numbers=numbers)
    if tuned:
        grill.settle(grill.best_reachable()[0])
    then = copy.deepcopy(grill)
    labels = grill.grill.labels
    one = grill.play_round(1, contact_at=labels[len(labels) // 2] if contact else None)
    then._blow()
    then.lift_lid()
    then.wait((one.taken_at - then.now).total_seconds() / 60.0)
    return then, one


def truth(grill, points_mm):
    """Return the true numbers held against the band at points (n, 2)."""
    if grill.grill.target.numbers == "rail":
        return grill.truth_c(points_mm)
    gun, cells = grill.hidden.gun, grill.cells_mm
    heat = grill._at(grill._heat(grill._delivered), cells) / grill.hidden.nominal_w_m2
    share = np.full(len(cells), grill.grill.grate.rail_top_mm / grill.grill.grate.rail_pitch_mm)
    shown = gun.shown_c(grill.grill, grill.truth_c(cells), np.zeros(len(cells)), heat, share)
    return grill._at(shown.reshape(grill.hidden.plate.rows, -1), points_mm)


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
                np.arange(low, size - low + 1e-6, STEP_MM)
                for low, size in zip(half, grate.extent_mm, strict=True)
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
    raw = fit_surface(at, shown, None, extent_mm=grill.grill.grate.extent_mm, method="linear")
    ways = {
        "place": ours,
        "middle of the grate": misses[places.nearest(0.5 * np.array(grill.grill.grate.extent_mm))],
        "nearest raw reading": misses[places.nearest(at[np.argmin(np.abs(shown - places.target))])],
        "raw readings, linear": misses[np.argmin(places.misses(lambda points: raw.predict(points)[0]))],
    }
    return {way: 1.8 * float(value - misses.min()) for way, value in ways.items()}, milliseconds


def main():
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=60)
    parser.add_argument("--numbers", choices=["rail", "shown"], default="rail")
    parser.add_argument("--heading", default="12", help='one or two headings, or "free"')
    parser.add_argument(
        "--tuned", action="store_true", help="turn the knobs to the best marks there are first"
    )
    parser.add_argument("--json", help="write the table here")
    options = parser.parse_args()
    headings = () if options.heading == "free" else read_headings(options.heading)
    wanted = Wanted(footprint=FOOD, headings=headings)
    rows, times = {}, []
    for contact in (True, False):
        for seed in range(options.seeds):
            try:
                found, milliseconds = regrets(seed, options.numbers, contact, wanted, options.tuned)
            except HeatmapError as error:
                print(f"seed {seed}: {error}")
                continue
            times.append(milliseconds)
            for way, regret in found.items():
                rows.setdefault(("one contact" if contact else "no contact", way), []).append(regret)
    print(
        f"{options.seeds} grills, band in {options.numbers} numbers, heading {options.heading}; regret in °F"
    )
    print(f"{'':36}{'median':>8}{'mean':>8}{'90 %':>8}")
    for (pinned, way), values in rows.items():
        told = (np.median(values), np.mean(values), np.percentile(values, 90))
        print(f"{pinned:14}{way:22}" + "".join(f"{value:8.1f}" for value in told))
    print(f"search on a mapped round: median {np.median(times):.0f} ms, slowest {max(times):.0f} ms")
    if options.json:
        table = {" / ".join(key): values for key, values in rows.items()}
        Path(options.json).write_text(json.dumps(table, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
