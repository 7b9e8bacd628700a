"""The Gaussian machine: a prior conditioned on noisy readings, averaged over what it leaves open. Knows no grill."""

from heatmap.gaussian.averaging import Average, LogNormal, mixed, spread_nodes, weighed
from heatmap.gaussian.conditioner import Conditioned, checked_variance, lower_triangle
from heatmap.gaussian.kernels import in_one_line, matern32, same_places, scaled_distance, squared_exponential
from heatmap.gaussian.robust import fit_robustly

__all__ = [
    "Average",
    "Conditioned",
    "LogNormal",
    "checked_variance",
    "fit_robustly",
    "in_one_line",
    "lower_triangle",
    "matern32",
    "mixed",
    "same_places",
    "scaled_distance",
    "spread_nodes",
    "squared_exponential",
    "weighed",
]
