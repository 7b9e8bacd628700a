"""The Gaussian machine: a prior conditioned on noisy readings, averaged over what it leaves open. Knows no grill."""

from heatmap.gaussian.averaging import Average, average, mixed, weighed
from heatmap.gaussian.conditioner import Conditioned, checked_variance, condition, lower_triangle
from heatmap.gaussian.hyperparameters import LogNormal, spread_nodes
from heatmap.gaussian.kernels import matern32, same_places, scaled_distance, squared_exponential
from heatmap.gaussian.robust import fit_robustly

__all__ = [
    "Average",
    "Conditioned",
    "LogNormal",
    "average",
    "checked_variance",
    "condition",
    "fit_robustly",
    "lower_triangle",
    "matern32",
    "mixed",
    "same_places",
    "scaled_distance",
    "spread_nodes",
    "squared_exponential",
    "weighed",
]
