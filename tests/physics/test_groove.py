"""Groove emissivity against a finer solution, the published integral equation's rows, rays, and limits."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heatmap.errors import InputError
from heatmap.physics import groove

REFERENCE = Path(__file__).parents[1] / "reference"


def reference_rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


# Radiosity integral equation of E. M. Sparrow & S. H. Lin 1962; strip method with Richardson check and, for two rows,
# 2e6 rays. No published table was found, so these are another computation and not print.
@pytest.mark.parametrize(
    "row",
    [row for row in reference_rows("groove_emissivity.csv") if row["geometry"] == "rectangular"],
    ids=lambda row: row["id"],
)
def test_agrees_with_integral_equation(row):
    found = groove.groove_emissivity(float(row["eps_wall"]), float(row["depth_over_width"]))
    assert found == pytest.approx(float(row["normal_view"]), abs=float(row["tolerance"]))


def escaping_share(depth_over_width: float, wall_emissivity: float, rays: int, seed: int) -> float:
    """Absorbed share of rays sent straight down into a groove with diffuse walls, by following every ray."""
    random = np.random.default_rng(seed)
    position = np.stack([random.uniform(0, 1, rays), np.full(rays, -depth_over_width)])
    normal = np.tile([[0.0], [1.0]], rays)  # all that goes straight down lands on the floor
    taken = random.uniform(size=rays) < wall_emissivity
    absorbed = int(taken.sum())
    position, normal = position[:, ~taken], normal[:, ~taken]
    while position.shape[1]:
        # Diffuse in three dimensions, seen in the cross section: the sine of the angle to the normal is
        # uniform.
        sine = random.uniform(-1, 1, position.shape[1])
        cosine = np.sqrt(1 - sine**2)
        across = np.stack([-normal[1], normal[0]])
        direction = cosine * normal + sine * across
        with np.errstate(divide="ignore"):
            to_side = np.where(direction[0] > 0, 1 - position[0], -position[0]) / direction[0]
            to_end = np.where(direction[1] > 0, -position[1], -depth_over_width - position[1]) / direction[1]
        side_first = to_side < to_end
        position = position + np.where(side_first, to_side, to_end) * direction
        hit_normal = np.where(
            side_first,
            np.stack([-np.sign(direction[0]), 0 * sine]),
            np.stack([0 * sine, -np.sign(direction[1])]),
        )
        inside = side_first | (direction[1] < 0)
        taken = inside & (random.uniform(size=sine.size) < wall_emissivity)
        absorbed += int(taken.sum())
        going_on = inside & ~taken
        position, normal = position[:, going_on], hit_normal[:, going_on]
    return absorbed / rays


@pytest.mark.parametrize(("depth_over_width", "wall"), [(1.0, 0.3), (0.5, 0.6), (2.0, 0.8)])
def test_agrees_with_rays(depth_over_width, wall):
    # By Kirchhoff's law what the groove absorbs from straight above is what it emits that way. 2e5 rays: 4
    # standard errors.
    share = escaping_share(depth_over_width, wall, rays=200_000, seed=20)
    error = np.sqrt(share * (1 - share) / 200_000)
    assert groove.groove_emissivity(wall, depth_over_width) == pytest.approx(share, abs=4 * error)


@pytest.mark.parametrize(("depth_over_width", "error"), [(0.3, 1e-5), (1.0, 1e-5), (3.0, 1e-4), (10.0, 8e-4)])
def test_agrees_with_finer_strips(depth_over_width, error):
    reflection, weight = groove._modes(depth_over_width, 320)
    for wall in (0.05, 0.3, 0.8):
        expected = np.sum(weight * wall / (1 - (1 - wall) * reflection))
        assert groove.groove_emissivity(wall, depth_over_width) == pytest.approx(expected, abs=error)


@given(wall=st.floats(0.02, 1.0), depth_over_width=st.sampled_from([0.0, 0.05, 0.4, 1.0, 3.0, 100.0]))
@settings(max_examples=100, deadline=None)
def test_a_groove_is_blacker_than_its_wall_and_never_more_than_black(wall, depth_over_width):
    assert wall - 1e-9 <= groove.groove_emissivity(wall, depth_over_width) <= 1 + 1e-6


def test_limits():
    assert groove.groove_emissivity(0.4, 0.0) == 0.4
    assert groove.groove_emissivity(1.0, 1.3) == pytest.approx(1.0, abs=1e-6)
    assert groove.groove_emissivity(0.4, 0.001) == pytest.approx(0.4, abs=2e-3)


def test_deeper_is_blacker():
    found = [groove.groove_emissivity(0.5, depth) for depth in (0.0, 0.25, 0.5, 1.0, 2.0, 4.0)]
    assert (np.diff(found) > 0).all()


def test_bad_input_is_refused():
    with pytest.raises(InputError, match="above 0 and at most 1"):
        groove.groove_emissivity(0.0, 1.0)
    with pytest.raises(InputError, match="depth .* 0 or more"):
        groove.groove_emissivity(0.5, -1.0)
