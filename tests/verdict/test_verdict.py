"""Words, shares and spreads against other ways of computing them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heatmap.verdict.chances import chance_arrays, chances, evenness, named
from heatmap.verdict.tuning import SURE

LOW_C, HIGH_C = 288.0, 316.0
GRID_X, GRID_Y = np.meshgrid(np.linspace(20.0, 580.0, 29), np.linspace(20.0, 430.0, 21))
POINTS = np.column_stack([GRID_X.ravel(), GRID_Y.ravel()])


def told(samples_c: np.ndarray, offsets_c: np.ndarray | None = None, points: np.ndarray = POINTS):
    offsets_c = np.zeros(len(samples_c)) if offsets_c is None else offsets_c
    mean_c = samples_c.mean(axis=0)
    return evenness(points, mean_c + 7.0, mean_c, samples_c, offsets_c, LOW_C, HIGH_C)


@pytest.mark.parametrize(
    ("mean_c", "std_c", "word"),
    [
        (302.0, 5.0, "in band"),
        (302.0, 40.0, "unsure"),
        (320.0, 5.0, "unsure"),
        (322.0, 5.0, "too hot"),
        (280.0, 5.0, "too cold"),
        (288.0, 1.0, "unsure"),
        (300.0, 0.0, "in band"),
    ],
)
def test_published_words(mean_c: float, std_c: float, word: str) -> None:
    """A word from 80 % on; Φ(0.8416) = 0.8 (NIST/SEMATECH handbook, table 1.3.6.7.1, from memory)."""
    assert named(np.array([mean_c]), np.array([std_c]), LOW_C, HIGH_C)[0][0] == word


def test_published_edge_of_the_words() -> None:
    for beyond, sure in ((0.8417, True), (0.8415, False)):
        assert (named(np.array(HIGH_C + beyond * 5.0), np.array(5.0), 0.0, HIGH_C)[0] == "too hot") == sure


@settings(deadline=None)
@given(
    mean_c=st.floats(100.0, 500.0),
    std_c=st.floats(0.0, 200.0),
    low_c=st.floats(200.0, 300.0),
    width_c=st.floats(0.1, 100.0),
)
def test_agrees_with_scipy_stats(mean_c: float, std_c: float, low_c: float, width_c: float) -> None:
    from scipy.stats import norm

    told = chances(mean_c, std_c, low_c, low_c + width_c)
    assert sum(told.values()) == pytest.approx(1.0, abs=1e-9)
    if std_c > 1e-3:
        below = norm.cdf(low_c, mean_c, std_c)
        above = norm.sf(low_c + width_c, mean_c, std_c)
        assert told["too cold"] == pytest.approx(below, abs=1e-12)
        assert told["too hot"] == pytest.approx(above, abs=1e-12)
    likeliest = max(told, key=lambda word: told[word])
    word = likeliest if told[likeliest] >= SURE else "unsure"
    assert named(np.array([[mean_c]]), np.array([[std_c]]), low_c, low_c + width_c)[0][0, 0] == word


def test_chances_of_arrays_keep_their_shape() -> None:
    mean_c = np.linspace(250.0, 350.0, 12).reshape(3, 4)
    parts = chance_arrays(mean_c, np.full((3, 4), 10.0), LOW_C, HIGH_C)
    assert all(part.shape == (3, 4) for part in parts)
    np.testing.assert_allclose(sum(parts), 1.0)
    assert SURE == 0.8


def test_a_known_plane() -> None:
    """A plane has a spread, tilts and corners that can be written down."""
    plane_c = 302.0 + 0.05 * (POINTS[:, 0] - 300.0) - 0.02 * (POINTS[:, 1] - 225.0)
    one = told(np.tile(plane_c, (5, 1)))
    assert one.right_minus_left_c.difference_c == pytest.approx(0.05 * 560.0)
    assert one.back_minus_front_c.difference_c == pytest.approx(-0.02 * 410.0)
    assert one.right_minus_left_c.std_c == pytest.approx(0.0, abs=1e-9)
    assert (one.hottest.x_mm, one.hottest.y_mm) == (580.0, 20.0)
    assert (one.coldest.x_mm, one.coldest.y_mm) == (20.0, 430.0)
    assert one.hottest.rail_c - one.hottest.compared_c == pytest.approx(7.0)
    assert one.std_c == pytest.approx(plane_c.std())
    assert one.p95_minus_p5_c == pytest.approx(np.subtract(*np.percentile(plane_c, [95, 5])))
    share = np.mean((plane_c >= LOW_C) & (plane_c <= HIGH_C))
    shares = (one.share_in_band_low, one.share_in_band, one.share_in_band_high)
    assert shares == pytest.approx((share, share, share))


def test_limits_come_from_joint_samples() -> None:
    """Cells that move together leave the share wide open; the same cells one by one would not."""
    rng = np.random.default_rng(3)
    together = 302.0 + 20.0 * rng.standard_normal((2000, 1)) + np.zeros(len(POINTS))
    apart = 302.0 + 20.0 * rng.standard_normal((2000, len(POINTS)))
    joint, single = told(together), told(apart)
    assert joint.share_in_band == pytest.approx(single.share_in_band, abs=0.03)
    assert (joint.share_in_band_low, joint.share_in_band_high) == (0.0, 1.0)
    assert single.share_in_band_high - single.share_in_band_low < 0.1
    assert joint.std_c == pytest.approx(0.0, abs=1e-9)


def test_level_moves_the_share_and_not_the_spread() -> None:
    rng = np.random.default_rng(4)
    samples_c = 302.0 + 6.0 * rng.standard_normal((400, len(POINTS)))
    offsets_c = 15.0 * rng.standard_normal(400)
    still, moving = told(samples_c), told(samples_c, offsets_c)
    assert moving.share_in_band < still.share_in_band
    assert moving.share_in_band_high - moving.share_in_band_low > 0.5
    assert moving.p95_minus_p5_c == still.p95_minus_p5_c
    assert moving.std_c == still.std_c


def test_ten_degrees_more_everywhere_leave_the_evenness() -> None:
    samples_c = 302.0 + 8.0 * np.random.default_rng(5).standard_normal((50, len(POINTS)))
    one, hotter = told(samples_c), told(samples_c + 10.0)
    for name in ("p95_minus_p5_c", "std_c"):
        assert getattr(hotter, name) == pytest.approx(getattr(one, name))
    assert hotter.right_minus_left_c.difference_c == pytest.approx(one.right_minus_left_c.difference_c)
    assert hotter.hottest.compared_c == pytest.approx(one.hottest.compared_c + 10.0)


def test_mirrored_grate_mirrors_the_tilt() -> None:
    samples_c = 302.0 + 0.03 * POINTS[:, 0] + np.random.default_rng(6).standard_normal((50, len(POINTS)))
    mirrored = POINTS * [-1.0, 1.0] + [600.0, 0.0]
    one, other = told(samples_c), told(samples_c, points=mirrored)
    assert other.right_minus_left_c.difference_c == pytest.approx(-one.right_minus_left_c.difference_c)
    assert other.back_minus_front_c.difference_c == pytest.approx(one.back_minus_front_c.difference_c)
    assert other.hottest.x_mm == pytest.approx(600.0 - one.hottest.x_mm)
    assert other.share_in_band == one.share_in_band
