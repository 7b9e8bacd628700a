"""Nodes spread over log-normal priors, held against the standard library's normal and scipy's discrepancy."""

from __future__ import annotations

import math

import numpy as np
import pytest

from heatmap.gaussian import LogNormal, spread_nodes


@pytest.mark.parametrize("quantile", [0.02, 0.3, 0.5, 0.97])
def test_agrees_with_scipys_log_normal(quantile):
    from scipy.stats import lognorm

    prior = LogNormal(120.0, 0.4)
    assert prior.at(quantile) == pytest.approx(lognorm(s=0.4, scale=120.0).ppf(quantile))


def test_steps_are_the_medians_of_equally_likely_parts():
    from scipy.stats import lognorm

    prior = LogNormal(120.0, 0.4, steps=3)
    values = sorted({prior.at(quantile) for quantile in np.linspace(0.001, 0.999, 300)})
    assert values == pytest.approx(lognorm(s=0.4, scale=120.0).ppf([1 / 6, 1 / 2, 5 / 6]))


def test_nodes_are_more_even_than_drawn_ones():
    """By the centred discrepancy of their quantiles, in as many dimensions and with as many nodes as the grate's."""

    from scipy.stats import lognorm, qmc

    dimensions, count = 7, 24
    priors = [LogNormal(1.0, 1.0)] * dimensions
    quantiles = lognorm(s=1.0).cdf(np.array(list(spread_nodes(priors, count))))
    drawn = [np.random.default_rng(seed).uniform(size=(count, dimensions)) for seed in range(50)]
    assert qmc.discrepancy(quantiles) < np.quantile([qmc.discrepancy(one) for one in drawn], 0.05)


def test_means_over_the_nodes_are_near_the_priors():
    """The mean logarithm of each; a mean of independent draws would be off by its standard error."""
    priors = [LogNormal(2.0, 0.5), LogNormal(50.0, 0.7, steps=3), LogNormal(0.1, 0.6)]
    logs = np.log(np.array(list(spread_nodes(priors, 24))))
    for column, prior in zip(logs.T, priors, strict=True):
        assert abs(column.mean() - math.log(prior.median)) < 0.5 * prior.log_std / math.sqrt(24)
