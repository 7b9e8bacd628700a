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


def depth(row: dict[str, str]) -> float:
    if row["geometry"] == "V":
        return groove.v_depth_over_width(float(row["opening_angle_deg"]))
    return float(row["depth_over_width"])


# Radiosity integral equation of E. M. Sparrow & S. H. Lin 1962; strip method with Richardson check and,
# for two rows, 2e6 rays. No published table was found, so these are another computation and not print.
# `uniform` is the cavity formula of Incropera, chapter 13; its last digit is the eighth.
@pytest.mark.parametrize("row", reference_rows("groove_emissivity.csv"), ids=lambda row: row["id"])
def test_agrees_with_integral_equation(row):
    wall, tolerance = float(row["eps_wall"]), float(row["tolerance"])
    here = {"depth_over_width": depth(row), "shape": row["geometry"]}
    assert groove.groove_emissivity(wall, **here) == pytest.approx(float(row["value"]), abs=tolerance)
    normal = groove.groove_emissivity(wall, **here, view="normal")
    assert normal == pytest.approx(float(row["normal_view"]), abs=tolerance)
    uniform = groove.uniform_groove_emissivity(wall, **here)
    assert uniform == pytest.approx(float(row["uniform_radiosity"]), abs=5e-9)


def escaping_share(depth_over_width: float, wall_emissivity: float, rays: int, seed: int) -> float:
    """Absorbed share of diffuse rays sent into a rectangular groove, by following every ray."""
    random = np.random.default_rng(seed)
    position = np.stack([random.uniform(0, 1, rays), np.zeros(rays)])
    normal = np.tile([[0.0], [-1.0]], rays)
    absorbed = 0
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
    # By Kirchhoff's law what the mouth absorbs of diffuse radiation is what it emits. 2e5 rays: 4
    # standard errors.
    share = escaping_share(depth_over_width, wall, rays=200_000, seed=20)
    error = np.sqrt(share * (1 - share) / 200_000)
    assert groove.groove_emissivity(wall, depth_over_width) == pytest.approx(share, abs=4 * error)


@pytest.mark.parametrize("shape", ["rectangular", "V"])
@pytest.mark.parametrize(("depth_over_width", "error"), [(0.3, 1e-5), (1.0, 1e-5), (4.0, 1e-4)])
def test_agrees_with_finer_strips(shape, depth_over_width, error):
    fine = groove._modes(depth_over_width, shape, 320)
    for wall in (0.05, 0.3, 0.8):
        for view in ("hemispherical", "normal"):
            expected = np.sum(getattr(fine, view) * wall / (1 - (1 - wall) * fine.reflection))
            found = groove.groove_emissivity(wall, depth_over_width, shape=shape, view=view)
            assert found == pytest.approx(expected, abs=error)


@given(
    wall=st.floats(0.02, 1.0),
    depth_over_width=st.sampled_from([0.05, 0.4, 1.0, 3.0]),
    shape=st.sampled_from(["rectangular", "V"]),
    view=st.sampled_from(["hemispherical", "normal"]),
)
@settings(max_examples=100, deadline=None)
def test_a_groove_is_blacker_than_its_wall_and_never_more_than_black(wall, depth_over_width, shape, view):
    found = groove.groove_emissivity(wall, depth_over_width, shape=shape, view=view)
    assert wall - 1e-9 <= found <= 1 + 1e-6


@pytest.mark.parametrize(
    ("shape", "depth_over_width", "most"),
    [("rectangular", 1.0, 0.01), ("rectangular", 2.0, 0.03), ("rectangular", 4.0, 0.08)]
    + [("V", 1.0, 0.02), ("V", 2.0, 0.06), ("V", 4.0, 0.12)],
)
def test_agrees_with_the_cavity_formula_as_closely_as_stated(shape, depth_over_width, most):
    # Incropera chapter 13: too high because it spreads the radiosity evenly over the walls.
    wall = np.linspace(0.02, 1.0, 50)
    exact = groove.groove_emissivity(wall, depth_over_width, shape=shape)
    excess = groove.uniform_groove_emissivity(wall, depth_over_width, shape=shape) - exact
    assert excess.min() > -1e-4
    assert excess.max() < most


@pytest.mark.parametrize("view", ["hemispherical", "normal"])
@pytest.mark.parametrize("shape", ["rectangular", "V"])
def test_limits(shape, view):
    assert groove.groove_emissivity(0.4, 0.0, shape=shape, view=view) == 0.4
    assert groove.groove_emissivity(1.0, 1.3, shape=shape, view=view) == pytest.approx(1.0, abs=1e-6)
    assert groove.groove_emissivity(0.4, 0.001, shape=shape, view=view) == pytest.approx(0.4, abs=2e-3)


def test_deeper_is_blacker_over_all_directions():
    found = groove.groove_emissivity(0.5, np.array([0.0, 0.25, 0.5, 1.0, 2.0, 4.0]))
    assert (np.diff(found) > 0).all()


def test_shapes_broadcast():
    found = groove.groove_emissivity(np.array([[0.3], [0.6]]), np.array([0.0, 1.0, 2.0]))
    assert found.shape == (2, 3)
    assert found[1, 2] == groove.groove_emissivity(0.6, 2.0)


def test_bad_input_is_refused():
    with pytest.raises(InputError, match="above 0 and at most 1"):
        groove.groove_emissivity(0.0, 1.0)
    with pytest.raises(InputError, match="depth .* 0 or more"):
        groove.groove_emissivity(0.5, -1.0)
    with pytest.raises(InputError, match="'rectangular' or 'V', not 'U'"):
        groove.groove_emissivity(0.5, 1.0, shape="U")
    with pytest.raises(InputError, match="'hemispherical' or 'normal'"):
        groove.groove_emissivity(0.5, 1.0, view="sideways")
    with pytest.raises(InputError, match="between 0 and 180"):
        groove.v_depth_over_width(180.0)
