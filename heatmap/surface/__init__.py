"""The whole surface from a few spots: mean and own standard deviation anywhere on the grate."""

from heatmap.surface.fitting import METHODS, fit_surface
from heatmap.surface.gaussian_process import GaussianSurface
from heatmap.surface.surface import Surface

__all__ = ["METHODS", "GaussianSurface", "Surface", "fit_surface"]
