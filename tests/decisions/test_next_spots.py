"""Which positions to shoot next."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from heatmap.assessment import assess
from heatmap.decisions.next_spots import (
    NextSpot,
    Stakes,
    expected_right_share,
    first_labels,
    next_spots,
    one_more_variance,
)
from heatmap.grill.grate import Grate, Positions
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings.reading import Reading, Round
from heatmap.verdict.chances import chance_arrays, chances
from heatmap.words.decision import why_text

LOW, HIGH = 288.0, 316.0


def grill(rows=3, columns=4):
    return Grill(
        grate=Grate(width_mm=610.0, depth_mm=457.0),
        target=TargetBand(low_c=LOW, high_c=HIGH),
        positions=Positions(rows=rows, columns=columns),
    )


def stakes_of(mean_c, covariance_c2):
    """Return what hangs on a shot at each of k places, whose readings have a variance of 4 and nothing in common."""
    k = len(mean_c)
    return Stakes(
        grill=grill(),
        mean_c=mean_c,
        covariance_c2=covariance_c2,
        noise_c2=np.full(k, 4.0),
        shots=Counter(),
        asked_for=np.ones(k, dtype=bool),
        level_std_c=0.0,
    )


def round_of(described, numbers):
    readings = []
    for index, (label, shown_c) in enumerate(numbers.items(), 1):
        x_mm, y_mm = described.point_mm(label)
        readings.append(Reading(id=index, shown_c=shown_c, x_mm=x_mm, y_mm=y_mm, position=label))
    return Round(number=1, session="", readings=tuple(readings))


def test_agrees_with_monte_carlo_of_reading_and_naming():
    """Draw truth and reading jointly, update by the rule for normal numbers, name, count."""

    from scipy.stats import multivariate_normal, norm

    rng = np.random.default_rng(4)
    mean = np.array([290.0, 300.0, 312.0])
    root = rng.standard_normal((3, 3)) * 8.0
    covariance = root @ root.T + 4.0 * np.eye(3)
    noise, level = 9.0, 3.0
    learned = covariance[0] ** 2 / (covariance[0, 0] + noise)
    expected = expected_right_share(mean, np.diag(covariance), learned, level, LOW, HIGH)
    count = 100_000
    truth = multivariate_normal(mean, covariance, seed=rng).rvs(count)
    reading = truth[:, 0] + np.sqrt(noise) * rng.standard_normal(count)
    gain = covariance[0] / (covariance[0, 0] + noise)
    after = mean + (reading - mean[0])[:, None] * gain
    left = np.sqrt(np.diag(covariance) - learned + level**2)
    # What is named is held against the band with the level's own luck.
    level_truth = truth + level * rng.standard_normal((count, 1))

    def word(values):
        return np.where(values < LOW, 0, np.where(values > HIGH, 2, 1))

    cold, hot = norm.cdf((LOW - after) / left), norm.cdf((after - HIGH) / left)
    named = np.argmax(np.stack([cold, 1.0 - cold - hot, hot]), axis=0)
    assert np.mean(named == word(level_truth), axis=0) == pytest.approx(expected, abs=0.006)  # Monte Carlo: 0.0016


def test_nothing_learned_changes_nothing_and_everything_learned_makes_sure():
    mean, variance = np.array([280.0, 300.0, 315.0]), np.full(3, 100.0)
    now = np.max(chance_arrays(mean, np.full(3, 10.0), LOW, HIGH), axis=0)
    assert expected_right_share(mean, variance, np.zeros(3), 0.0, LOW, HIGH) == pytest.approx(now)
    assert np.all(expected_right_share(mean, variance, variance, 0.0, LOW, HIGH) > 0.95)


def test_more_readings_never_lower_the_expected_share():
    rng = np.random.default_rng(1)
    mean, variance = rng.normal(300.0, 15.0, 40), rng.uniform(1.0, 200.0, 40)
    part = expected_right_share(mean, variance, 0.3 * variance, 2.0, LOW, HIGH)
    most = expected_right_share(mean, variance, 0.9 * variance, 2.0, LOW, HIGH)
    now = np.max(chance_arrays(mean, np.hypot(np.sqrt(variance), 2.0), LOW, HIGH), axis=0)
    assert np.all(part >= now - 2e-3)  # the quadrature's own error
    assert most.mean() > part.mean() > now.mean()


def test_the_edge_of_the_band_is_chosen_not_the_widest_spread():
    # Far too hot but little known, against nearly known at the edge of the band.
    mean, covariance = np.array([380.0, 316.0]), np.diag([400.0, 25.0])
    chosen = stakes_of(mean, covariance).chosen(2)
    assert [index for index, _ in chosen] == [1, 0]
    assert chosen[0][1] > 10 * chosen[1][1]


def test_the_second_choice_takes_the_first_as_shot():
    # Two places that move as one, and a third by itself: after one of the pair the other says nothing new.
    covariance = np.array([[60.0, 59.5, 0.0], [59.5, 60.0, 0.0], [0.0, 0.0, 40.0]])
    chosen = stakes_of(np.full(3, 316.0), covariance).chosen(2)
    assert chosen[1][0] == 2


def test_one_more_shot_at_a_place_adds_up_to_what_all_shots_know():
    shot, place = 3.0, 2.0
    information = sum(1.0 / one_more_variance(shot, place, before) for before in range(5))
    assert 1.0 / information == pytest.approx(shot**2 / 5 + place**2)


def test_the_rest_at_once_is_worth_what_they_are_worth_one_after_the_other():
    described = grill()
    shot = dict(zip("B2 A1 C4 A4 C1".split(), (300.0, 280.0, 320.0, 310.0, 295.0), strict=True))
    assessment = assess(described, [round_of(described, shot)])
    stakes = Stakes.of(assessment)
    everything = {spot.position: spot.gain for spot in stakes.best(12)}
    assert set(everything) == set(described.labels)
    assert sum(everything.values()) >= stakes.gain_of_the_rest() - 1e-3
    assert stakes.gain_of_the_rest() > 0.0


def test_next_spots_come_best_first_after_those_asked_for_anyway():
    described = grill()
    shot = dict(zip("B2 A1 C4 A4 C1".split(), (300.0, 280.0, 320.0, 316.0, 295.0), strict=True))
    spots = next_spots(assess(described, [round_of(described, shot)]), 3)
    assert len({spot.position for spot in spots}) == 3
    assert spots[0].gain > 0.0
    asked = next_spots(assess(described, [round_of(described, shot)]), 3, first=["C3", "A1"])
    assert [spot.position for spot in asked][:2] == ["C3", "A1"]
    assert asked[2].position not in ("C3", "A1")


@pytest.mark.parametrize(
    ("mean_c", "std_c", "shots", "gain", "says"),
    [
        # the edge of the band is the mean: one half, and the band is four standard deviations wide
        (HIGH, 7.0, 1, 0.02, "50 % likely too hot, 50 % in band; shot once already"),
        (LOW - 2.0, 2.0, 0, 0.02, "84 % likely too cold, but the places around it hang on it"),
        (302.0, 5.0, 2, 0.0, "99 % likely in band; hardly anything hangs on it; shot 2 times already"),
    ],
)
def test_why_a_position_is_chances_in_plain_words(mean_c, std_c, shots, gain, says):
    here = chances(mean_c, std_c, LOW, HIGH)
    assert why_text(NextSpot(position="B2", gain=gain, chances=here, shots=shots)) == says


def test_positions_are_named_after_a_recheck_of_nothing_but_a_blunder():
    described = grill()
    first = round_of(described, {label: 300.0 + index % 3 for index, label in enumerate(described.labels)})
    (wrong,) = round_of(described, {"B2": 740.0}).readings
    assessment = assess(described, (first, Round(number=2, session="", readings=(replace(wrong, id=99, round=2),))))
    assert not assessment.kept_spots
    assert all(np.isfinite(spot.gain) and spot.shots == 0 for spot in next_spots(assessment, 3))


def test_without_a_map_the_walk_is_followed():
    assert first_labels(grill(), ["B2", "C4"], 2) == ("A1", "A4")
