"""Are readings where `next` says worth more than readings spread evenly?

Run by hand::

    python tests/benchmarks/next_spots.py [--fields 50] [--chosen 14] [--quick] [--json FILE]

Fields of the surface benchmark's families, in turn, on a grate of 24 by 18 in with a 6 x 4 grid of positions; a band of
50 °F placed where the field leaves some of the 24 positions in and some out. Each way of shooting gives a map; a
position's flag is right when the map calls it what it truly is. Counts: "likeliest" (called the likeliest of too
cold, in band, too hot) and "named" (the word of the map, where "unsure" counts as wrong). The readings at one position
are the same in every way of shooting. A third count, "not wrong", lets "unsure" pass.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
from surface import FAMILIES
from table import Row, alone

from heatmap.decisions.next_spots import Stakes
from heatmap.grill.grate import Grate, Positions
from heatmap.grill.grill import Grill, TargetBand
from heatmap.surface import WIDENING, fit_surface
from heatmap.taking.walk import walk_order
from heatmap.verdict.chances import named as verdict

NOISE_C = 2.0
WIDTH_MM, DEPTH_MM = 609.6, 457.2
BAND_C = 50.0 / 1.8


def grid():
    """Return the grill with its 24 positions and their places, (24, 2)."""
    grill = Grill(
        grate=Grate(width_mm=WIDTH_MM, depth_mm=DEPTH_MM),
        positions=Positions(rows=4, columns=6),
        target=TargetBand(low_c=280.0, high_c=280.0 + BAND_C),
    )
    return grill, np.array([grill.point_mm(label) for label in grill.labels])


def true_field(index, points_mm):
    """Return the truth at points and the lower edge of a band through the middle of it."""
    names = list(FAMILIES)
    rng = np.random.default_rng([2024, index])
    field = FAMILIES[names[index % len(names)]](rng)

    def at(p):
        return 300.0 + np.asarray(field(2 * p[:, 0] / WIDTH_MM - 1, 2 * p[:, 1] / DEPTH_MM - 1))

    truth = at(points_mm)
    low = float(np.quantile(truth, rng.uniform(0.25, 0.75)) - BAND_C * rng.uniform(0.2, 0.8))
    return truth, low, rng


def flags(points, shown, shot, low, truth):
    """Return the share of the 24 flags that is right: likeliest, named, and not named wrongly."""
    surface = fit_surface(points[shot], shown[shot], NOISE_C, extent_mm=(WIDTH_MM, DEPTH_MM))
    mean, std = surface.predict(points)
    true_word = np.where(truth < low, "too cold", np.where(truth > low + BAND_C, "too hot", "in band"))
    named, likeliest = verdict(mean, std, low, low + BAND_C)
    wrong = (named != true_word) & (named != "unsure")
    return float(np.mean(likeliest == true_word)), float(np.mean(named == true_word)), float(1.0 - np.mean(wrong))


def area_points():
    """Return places all over the grate."""
    from heatmap.decisions.next_spots import _area_points_mm

    return _area_points_mm(grid()[0])


def joint_covariance(surface, places):
    """Return the covariance of a fitted surface at places, (m, m), within and between its nodes."""
    within, means = [], []
    for part, kept in surface._parts:
        between = part.structure.covariance(places, part.points) @ part.basis
        for square, variance in zip(part.square[kept, 0], part.variance[kept], strict=True):
            means.append(square * between @ (part.projected / variance))
            within.append(
                square * part.structure.covariance(places, places) - (square**2 * between / variance) @ between.T
            )
    off = np.array(means) - surface._weights @ means
    return np.tensordot(surface._weights, within, axes=1) + (surface._weights[:, None] * off).T @ off


def choose(points, shown, start, count, low, batch):
    """Return the indices shot when each further one is what `next` asks for; `batch` at a time."""
    shot = list(start)
    while len(shot) < count:
        surface = fit_surface(points[shot], shown[shot], NOISE_C, extent_mm=(WIDTH_MM, DEPTH_MM))
        open_spots = [i for i in range(len(points)) if i not in shot]
        places = np.concatenate([points[open_spots], points[shot], area_points()])
        stakes = Stakes(
            grill=replace(grid()[0], target=TargetBand(low_c=low, high_c=low + BAND_C)),
            mean_c=surface.predict(places)[0],
            covariance_c2=(1.0 + WIDENING / len(surface.rail_c)) * joint_covariance(surface, places),
            noise_c2=np.full(len(open_spots), NOISE_C**2),
            shots=Counter(),
            asked_for=np.ones(len(places), dtype=bool),
            level_std_c=0.0,
        )
        shot += [open_spots[index] for index, _ in stakes.chosen(min(batch, count - len(shot)))]
    return shot


def widest(points, shown, start, count):
    """Return the indices shot when each further one is where the spread is largest."""
    shot = list(start)
    while len(shot) < count:
        surface = fit_surface(points[shot], shown[shot], NOISE_C, extent_mm=(WIDTH_MM, DEPTH_MM))
        std = surface.predict(points)[1]
        std[shot] = -1.0
        shot.append(int(np.argmax(std)))
    return shot


def spread_evenly(points, count):
    """Return the subset whose farthest position from any shot one is nearest (best of exchanges)."""
    rng = np.random.default_rng(1)
    gaps = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))

    def badness(subset):
        nearest = gaps[:, subset].min(axis=1)
        return nearest.max() * 10.0 + nearest.mean()

    best = None
    for _ in range(30):
        subset = list(rng.permutation(len(points))[:count])
        better = True
        while better:
            better = False
            for place in range(count):
                for other in set(range(len(points))) - set(subset):
                    trial = [*subset[:place], other, *subset[place + 1 :]]
                    if badness(trial) < badness(subset) - 1e-9:
                        subset, better = trial, True
        if best is None or badness(subset) < badness(best):
            best = subset
    return best


def rows(quick=False, fields=50, chosen=14):
    """Return the shares of right flags of each way of shooting, held against readings spread evenly."""
    fields = 3 if quick else fields
    grill, points = grid()
    walk = [grill.labels.index(label) for label in walk_order(grill)]
    even = spread_evenly(points, chosen)
    found = {}
    for index in range(fields):
        truth, low, rng = true_field(index, points)
        shown = truth + NOISE_C * rng.standard_normal(len(points))
        ways = {
            "spread evenly": even,
            "all 24": list(range(len(points))),
            "as next says, one at a time": choose(points, shown, walk[:5], chosen, low, 1),
            "as next says, the rest at once": choose(points, shown, walk[:5], chosen, low, 99),
            "largest spread first": widest(points, shown, walk[:5], chosen),
            "first of the walk": walk[:chosen],
        }
        for way, shot in ways.items():
            found.setdefault(way, []).append(flags(points, shown, shot, low, truth))
    means = {way: np.mean(scores, axis=0).tolist() for way, scores in found.items()}
    even = means.pop("spread evenly")
    return [
        Row(
            what=f"share of right flags: {way}",
            size=f"{fields} fields, {'24' if way == 'all 24' else chosen} of 24 shot",
            value=likeliest,
            unit="1",
            against="spread evenly",
            other=even[0],
            also={"named": (named, even[1]), "not wrong": (not_wrong, even[2])},
        )
        for way, (likeliest, named, not_wrong) in means.items()
    ]


if __name__ == "__main__":
    alone(rows, __doc__)
