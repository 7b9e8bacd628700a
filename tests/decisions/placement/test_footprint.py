"""Outlines: area averages and overlaps against geometry, sizes and headings as people write them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import dblquad

from heatmap.decisions.placement import Footprint, heading_text, read_headings, read_size
from heatmap.errors import GrillError, InputError
from heatmap.grill.grill import Food

ELLIPSE = Footprint(length_mm=190.0, width_mm=125.0)
CLOCK = (12.0, 1.0, 2.5, 3.0, 7.0, 10.0)


# Second moments of plane areas over their area: ellipse with half axes a, b: a²/4 along a. J. M. Gere, Mechanics of
# Materials, appendix D (from memory).
def test_published_second_moments_of_area() -> None:
    along, across = 95.0**2 / 4, 62.5**2 / 4
    points, weights = ELLIPSE.area_rule_mm((12.0,))
    assert weights.sum() == pytest.approx(1.0, abs=1e-12)
    assert weights @ points == pytest.approx([0.0, 0.0], abs=1e-9)
    assert weights @ points**2 == pytest.approx([across, along], rel=1e-12)  # 12: length straight away, along y
    assert weights @ (points[:, 0] * points[:, 1]) == pytest.approx(0.0, abs=1e-9)


def test_agrees_with_quadrature_of_scipy_on_a_bump() -> None:
    def bump(y: float, x: float) -> float:
        return float(np.exp(-((x - 30.0) ** 2 + (y + 20.0) ** 2) / (2 * 60.0**2)))

    half = lambda x: 95.0 * np.sqrt(1.0 - (x / 62.5) ** 2)  # noqa: E731
    whole, _ = dblquad(bump, -62.5, 62.5, lambda x: -half(x), half)
    points, weights = ELLIPSE.area_rule_mm((12.0,))
    ours = weights @ np.array([bump(y, x) for x, y in points])
    assert ours == pytest.approx(whole / (np.pi * 95.0 * 62.5), rel=1e-5)


def test_headings_go_by_the_clock() -> None:
    """12 is straight away from the cook, 3 to the right; the length lies along the heading."""
    assert ELLIPSE.half_extent_mm((12.0,)) == pytest.approx((62.5, 95.0))
    assert ELLIPSE.half_extent_mm((3.0,)) == pytest.approx((95.0, 62.5))
    points, weights = ELLIPSE.area_rule_mm((2.0,))
    assert weights @ (points[:, 0] * points[:, 1]) > 0  # up to the right
    points, weights = ELLIPSE.area_rule_mm((10.0,))
    assert weights @ (points[:, 0] * points[:, 1]) < 0
    both, share = ELLIPSE.area_rule_mm((2.0, 10.0))
    assert share @ (both[:, 0] * both[:, 1]) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("heading", CLOCK)
def test_edge_lies_on_the_outline_and_the_area_within(heading: float) -> None:
    food = ELLIPSE
    angle = np.linspace(0, 2 * np.pi, 721)
    directions = np.column_stack([np.cos(angle), np.sin(angle)])
    reach = food.reach_mm(heading, directions)
    assert np.all(food.edge_mm((heading,)) @ directions.T <= reach + 1e-9)
    assert np.all(food.area_rule_mm((heading,))[0] @ directions.T < reach)
    assert (food.edge_mm((heading,)) @ directions.T).max(axis=0) == pytest.approx(reach, rel=0.04)


def test_agrees_with_the_distance_of_circles() -> None:
    plate = Footprint(length_mm=100.0, width_mm=100.0)
    apart = np.array([(30.0, 40.0), (60.0, 80.0), (0.0, 130.0)])
    assert plate.gaps_mm(apart, (12.0,), (2.0,)) == pytest.approx([-50.0, 0.0, 30.0], abs=0.6)


def test_agrees_with_points_of_both_outlines() -> None:
    """A gap means no point of one lies in the other, an overlap that one does, at random places."""
    rng = np.random.default_rng(5)
    wrong = 0
    for _ in range(300):
        apart = rng.uniform(-220.0, 220.0, 2)
        mine, other = rng.uniform(1.0, 13.0, 2)
        gap = float(ELLIPSE.gaps_mm(apart, (mine,), (other,)))
        overlap = _overlap(apart, mine, other)
        assert not (gap > 0 and overlap)
        wrong += gap < -3.0 and not overlap
    assert wrong == 0


def _overlap(apart: np.ndarray, mine: float, other: float) -> bool:
    """Look for a point of a fine grid over one outline inside the other."""
    side = np.linspace(-1.0, 1.0, 81)
    unit = np.stack(np.meshgrid(side, side), axis=-1).reshape(-1, 2)
    unit = unit[(unit**2).sum(axis=1) <= 1.0]
    angle = np.radians(30.0 * mine)
    along, across = np.array([np.sin(angle), np.cos(angle)]), np.array([np.cos(angle), -np.sin(angle)])
    points = 95.0 * unit[:, :1] * along + 62.5 * unit[:, 1:] * across - apart
    angle = np.radians(30.0 * other)
    a = points @ [np.sin(angle), np.cos(angle)] / 95.0
    b = points @ [np.cos(angle), -np.sin(angle)] / 62.5
    return bool((a**2 + b**2 <= 1.0).any())


@pytest.mark.parametrize(
    ("text", "size"),
    [("7.5x5", (7.5, 5.0)), (" 190 X 125 ", (190.0, 125.0)), ("7,5×5", (7.5, 5.0)), (".5x3.", (0.5, 3.0))],
)
def test_sizes_as_people_write_them(text: str, size: tuple[float, float]) -> None:
    assert read_size(text) == size


@pytest.mark.parametrize("text", ["7.5", "x", "7.5x5x1", "axb", "", "nanx5", "1e400x5"])
def test_malformed_size_is_one_line(text: str) -> None:
    with pytest.raises(InputError, match="write LENGTHxWIDTH, such as 7.5x5"):
        read_size(text)


@pytest.mark.parametrize("text", ["0x5", "7.5x0", "-7x5", "7x-5"])
def test_size_must_be_one_of_food(text: str) -> None:
    with pytest.raises(GrillError, match="must be at least 25.4 and at most 1016 mm"):
        Food(size_mm=tuple(25.4 * side for side in read_size(text)))


def test_headings_as_people_write_them() -> None:
    assert read_headings("12") == (12.0,)
    assert read_headings("2, 10") == (2.0, 10.0)
    assert read_headings("1:30") == read_headings("1.5") == (1.5,)
    assert read_headings("12:30") == (12.5,)
    assert heading_text((2.0, 10.5)) == "2 and 10:30"


@pytest.mark.parametrize("text", ["13", "0", "2,14", "0:59"])
def test_headings_off_the_clock(text: str) -> None:
    with pytest.raises(GrillError, match="must be at least 1 and at most 12.99"):
        Food(headings=read_headings(text))


def test_more_than_two_headings() -> None:
    with pytest.raises(GrillError, match="it must be of at most 2"):
        Food(headings=read_headings("2,6,10"))


@pytest.mark.parametrize("text", ["noon", "1:75", "1:", ":30", "", "2,", "-1", "nan", "inf"])
def test_headings_that_cannot_be_read(text: str) -> None:
    with pytest.raises(InputError, match="cannot be read; write an hour of the clock"):
        read_headings(text)


def test_outlines_that_cannot_be() -> None:
    for size in (0.0, -1.0, np.nan, np.inf):
        with pytest.raises(InputError, match="the length of the food is"):
            Footprint(length_mm=size, width_mm=10.0)
