"""Readings that cannot be are found; steep edges and hot stripes are not taken for them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from heatmap.errors import InputError
from heatmap.surface import find_suspects
from heatmap.surface.blunders import Hearsay, gather_evidence, widest_gaps
from heatmap.surface.digits import meant_numbers
from heatmap.surface.places import check_readings
from heatmap.surface.trends import Trends

EXTENT = (600.0, 450.0)


def positions(columns, rows, rng):
    x, y = np.meshgrid((np.arange(columns) + 0.5) / columns * 600, (np.arange(rows) + 0.5) / rows * 450)
    return np.stack([x.ravel(), y.ravel()], axis=1) + rng.normal(0, 8, (columns * rows, 2))


def gentle_c(points, rng):
    u, v = points[:, 0] / 300 - 1, points[:, 1] / 225 - 1
    a, b, c = rng.normal(0, 10, 3)
    return 305 + a * u + b * v + c * u * u


def shown_round(seed, columns=4, rows=3):
    rng = np.random.default_rng(seed)
    points = positions(columns, rows, rng)
    shown = np.round((gentle_c(points, rng) + rng.normal(0, 2.5, len(points))) * 1.8 + 32)
    return rng, points, shown


def judge(points, shown, own=2.5, **more):
    return find_suspects(points, (shown - 32) / 1.8, own, extent_mm=EXTENT, shown=shown, **more)


@pytest.mark.parametrize(
    ("number", "meant", "slip"),
    [
        (58, 585, "a dropped digit"),
        (5885, 585, "a doubled digit"),
        (5585, 585, "a doubled digit"),
        (855, 585, "two digits swapped"),
        (385, 585, "a wrong digit"),
    ],
)
def test_slips_of_the_hand_are_undone(number, meant, slip):
    assert any(m.number == meant and m.slip == slip for m in meant_numbers(number))


def test_slips_keep_the_decimal_point():
    assert any(m.number == 301.5 and m.slip == "two digits swapped" for m in meant_numbers(310.5, 1))


@pytest.mark.parametrize("own", [2.5, None])
@pytest.mark.parametrize(("kind", "slip"), [(0, "a dropped digit"), (1, "a doubled digit"), (2, "two digits swapped")])
def test_slip_is_found_and_the_number_meant_is_near(own, kind, slip):
    for seed in range(4):
        rng, points, shown = shown_round(seed)
        shown[5] = np.round(shown[5] / 10) * 10 + 5  # ends in 5, so that a swap matters
        digits, wrong = str(int(shown[5])), shown.copy()
        wrong[5] = float([digits[:2], digits[:2] + digits[1:], digits[1] + digits[0] + digits[2:]][kind])
        if abs(wrong[5] - shown[5]) < 100:
            continue
        judged = judge(points, wrong, own)
        assert [i for i, one in enumerate(judged) if one.suspect] == [5]
        assert judged[5].slip == slip
        assert judged[5].meant_shown == pytest.approx(shown[5], abs=20)
        assert judged[5].reason == f"{slip}? {judged[5].meant_shown:.0f} would fit"
        assert abs(judged[5].expected_shown - shown[5]) < 25


@pytest.mark.parametrize("off", [-200.0, 200.0])
def test_a_shot_through_the_gap_is_found(off):
    for seed in range(4):
        _, points, shown = shown_round(seed, 6, 4)
        shown[9] += off
        judged = judge(points, shown)
        assert [i for i, one in enumerate(judged) if one.suspect] == [9]
        if judged[9].slip == "other":
            way = "high" if off > 0 else "low"
            assert f"too {way} for its place: a shot through the gap, or the wrong spot?" in judged[9].reason


def test_two_blunders_side_by_side_do_not_hide_each_other():
    found = 0
    for seed in range(8):
        _, points, shown = shown_round(seed)
        shown[5] += 190
        shown[6] += 210
        found += {i for i, one in enumerate(judge(points, shown)) if one.suspect} == {5, 6}
    assert found >= 6


def test_the_last_number_again_is_said():
    _, points, shown = shown_round(1)
    shown[4] = 471
    shown[5] = 471
    judged = judge(points, shown)
    assert judged[5].suspect
    assert judged[5].slip == "the last number again"
    assert judged[5].reason == "the same number as the shot before: was it read again?"


def test_numbers_are_turned_with_the_correction_given():
    """The gun shows 20 % of the rise over 400 °F too little: slips are looked for in what it shows."""
    _, points, shown = shown_round(2)

    def rail_c(numbers):
        return (400 + (numbers - 400) * 1.25 - 32) / 1.8

    wrong = shown.copy()
    wrong[5] = float(str(int(shown[5]))[:2])
    judged = find_suspects(points, rail_c(wrong), 3.0, extent_mm=EXTENT, shown=wrong, rail_from_shown=rail_c)
    assert judged[5].suspect
    assert judged[5].meant_shown == pytest.approx(shown[5], abs=20)
    assert judged[5].expected_shown == pytest.approx(shown[5], abs=20)


def stripe(points, rng):
    return 290 + 45 * np.exp(-(((points[:, 0] / 600 - rng.uniform(0.2, 0.8)) / 0.1) ** 2))


def edge(points, rng):
    return 290 + 40.0 * (points[:, 0] / 600 > rng.uniform(0.3, 0.7))


def cold_corner(points, rng):
    return 310 - 50 * np.exp(-((points[:, 0] / 600) ** 2 + (points[:, 1] / 450) ** 2) / 0.08)


@pytest.mark.parametrize("own", [2.5, None])
def test_false_alarms_are_at_most_one_in_a_hundred(own):
    alarms, readings = 0, 0
    for seed in range(6):
        for field in (gentle_c, stripe, edge, cold_corner):
            for columns, rows in ((4, 2), (4, 3), (6, 4)):
                rng = np.random.default_rng(seed)
                points = positions(columns, rows, rng)
                shown = np.round((field(points, rng) + rng.normal(0, 2.5, len(points))) * 1.8 + 32)
                judged = judge(points, shown, own)
                alarms += sum(one.suspect for one in judged)
                readings += len(judged)
    assert alarms <= 0.01 * readings


def test_gross_errors_are_found():
    """One reading of a round off by at least 100 °F (56 °C), more than five predictive standard deviations."""
    found, made = 0, 0
    for seed in range(25):
        rng, points, shown = shown_round(seed)
        at = rng.integers(len(shown))
        shown[at] += rng.choice([-1, 1]) * rng.uniform(100, 300)
        one = judge(points, shown)[at]
        off = abs(one.expected_c - (shown[at] - 32) / 1.8)
        if off > 5 * np.hypot(one.expected_std_c, 2.5):
            made += 1
            found += one.suspect
    assert made >= 15
    assert found >= 0.9 * made


def test_with_few_places_nobody_is_accused():
    points = np.array([[100.0, 100.0], [500.0, 100.0], [300.0, 400.0], [300.0, 200.0]])
    judged = judge(points, np.array([585.0, 590.0, 58.0, 580.0]))
    assert not any(one.suspect for one in judged)


def test_shapes_are_checked():
    _, points, shown = shown_round(0)
    with pytest.raises(InputError, match=r"shown has shape \(3,\); give one number per reading"):
        find_suspects(points, (shown - 32) / 1.8, 2.0, extent_mm=EXTENT, shown=shown[:3])


@pytest.fixture(scope="module")
def evidence():
    """Return the evidence of a small round with drift and one wrong reading, and the covariance of a few nodes."""
    rng = np.random.default_rng(3)
    points = np.array([(x, y) for y in (60.0, 220.0, 380.0) for x in (60.0, 220.0, 380.0, 540.0)])
    minutes = np.linspace(-1.0, 1.0, len(points))[:, None]
    rail_c = 290.0 + 0.03 * points[:, 0] + rng.normal(0.0, 3.0, len(points)) + minutes[:, 0]
    rail_c[5] += 40.0
    readings = check_readings(points, rail_c, 2.0, 1.0, (600.0, 450.0))
    found = gather_evidence(readings, minutes, np.zeros(1), np.array([2.5]), Trends(extent_mm=(600.0, 450.0)))
    everyone = range(len(points))
    return found, {node: np.linalg.inv(found.block(everyone, everyone)[node]) for node in (0, 133, 479)}


@pytest.mark.parametrize("left_out", [[4], [2, 7], [0, 5, 11]])
def test_agrees_with_the_normal_density_of_what_is_left_out(evidence, left_out):
    """Leaving readings out divides the evidence by their density given the others (scipy, written-out covariance)."""
    found, covariances = evidence
    kept = [i for i in range(len(found.values_c)) if i not in left_out]
    for node, covariance in covariances.items():
        everyone, others = (
            multivariate_normal(np.zeros(len(part)), covariance[np.ix_(part, part)]).logpdf(found.values_c[part])
            for part in (range(len(found.values_c)), kept)
        )
        expected = found.log_posterior[node] + others - everyone
        assert found.without(left_out)[node] == pytest.approx(expected, abs=1e-8)
        assert found.rest(left_out[:-1]).without_one_more[node, left_out[-1]] == pytest.approx(expected, abs=1e-8)
        if len(left_out) == 2:
            first, second, log = found.without_pairs(np.arange(len(found.values_c)))
            pair = np.flatnonzero((first == left_out[0]) & (second == left_out[1]))[0]
            assert log[node, pair] == pytest.approx(expected, abs=1e-8)


def test_agrees_with_the_conditional_normal_distribution(evidence):
    """What the others say, with two suspects set aside: the textbook conditional mean and variance."""
    found, covariances = evidence
    suspects = frozenset({5, 8})
    said = Hearsay.of(found, suspects)
    for node, covariance in covariances.items():
        for i in (0, 5, 8, 10):
            kept = [j for j in range(len(found.values_c)) if j != i and j not in suspects]
            weights = np.linalg.solve(covariance[np.ix_(kept, kept)], covariance[kept, i])
            assert said.mean[node, i] == pytest.approx(weights @ found.values_c[kept], abs=1e-7)
            variance = covariance[i, i] - weights @ covariance[kept, i] - found.noise_c2[node, i]
            assert said.variance[node, i] == pytest.approx(max(variance, 0.0), rel=1e-6, abs=1e-6)


def test_the_widest_gap_seen_from_a_corner_a_side_and_the_middle():
    points = np.array([(x, y) for y in (0.0, 1.0, 2.0) for x in (0.0, 1.0, 2.0)])
    gaps = np.rad2deg(widest_gaps(np.concatenate([points, points[:1]])))  # one of them shot twice
    assert gaps[[0, 1, 4, 9]] == pytest.approx([270.0, 180.0, 45.0, 270.0])
