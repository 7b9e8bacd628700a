"""Where to shoot just before the sear."""

from __future__ import annotations

import numpy as np
import pytest

from heatmap.assessment import assess
from heatmap.grill.grate import Grate, Positions
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings.reading import Reading, Round
from heatmap.taking.recheck_spots import SHOTS, recheck_labels


def assessed(temperature_c, rows=3, columns=4):
    grill = Grill(
        grate=Grate(width_mm=610.0, depth_mm=457.0),
        target=TargetBand(low_c=288.0, high_c=316.0),
        positions=Positions(rows=rows, columns=columns, margin_mm=60.0),
    )
    readings = []
    for index, label in enumerate(grill.labels, 1):
        x_mm, y_mm = grill.point_mm(label)
        shown_c = temperature_c(x_mm, y_mm)
        readings.append(Reading(id=index, shown_c=shown_c, x_mm=x_mm, y_mm=y_mm, position=label))
    return assess(grill, (Round(number=1, session="", readings=tuple(readings)),))


def points_of(assessment, labels):
    return np.array([assessment.grill.point_mm(label) for label in labels])


@pytest.fixture(scope="module")
def leaning():
    """In band at the left, far too hot at the right."""
    return assessed(lambda x_mm, y_mm: 300.0 + 150.0 * max(x_mm - 250.0, 0.0) / 360.0)


@pytest.mark.parametrize("place_mm", [(60.0, 60.0), (300.0, 220.0), (610.0, 0.0)])
def test_it_is_shot_around_the_food_nearest_first_and_never_in_one_line(leaning, place_mm):
    labels = recheck_labels(leaning, place_mm)
    assert len(set(labels)) == SHOTS
    gaps = np.hypot(*(points_of(leaning, labels) - place_mm).T)
    assert gaps.tolist() == sorted(gaps.tolist())
    every = np.hypot(*(points_of(leaning, leaning.grill.labels) - place_mm).T)
    assert gaps[0] == every.min()
    spread = points_of(leaning, labels) - points_of(leaning, labels).mean(axis=0)
    assert np.linalg.svd(spread, compute_uv=False)[-1] > 50.0


def test_without_a_place_it_is_where_the_band_is_likeliest(leaning):
    labels = recheck_labels(leaning)
    assert points_of(leaning, labels)[:, 0].mean() < 0.5 * leaning.grill.grate.width_mm


def test_three_in_a_row_give_way_to_one_beside_the_row():
    wide = assessed(lambda x_mm, y_mm: 300.0, rows=2, columns=8)  # neighbours along the row are much nearer
    labels = recheck_labels(wide, wide.grill.point_mm("A4"), 3)
    assert labels[:2] in (("A4", "A3"), ("A4", "A5"))
    assert labels[2].startswith("B")
