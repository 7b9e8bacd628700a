"""The whole surface from a few spots: mean and own standard deviation anywhere on the grate."""

from heatmap.surface.blunders import Judged, find_suspects
from heatmap.surface.fitting import METHODS, fit_surface
from heatmap.surface.gaussian_process import GaussianSurface
from heatmap.surface.recheck import RecheckSurface, recheck_surface
from heatmap.surface.surface import Surface

__all__ = [
    "METHODS",
    "GaussianSurface",
    "Judged",
    "RecheckSurface",
    "Surface",
    "find_suspects",
    "fit_surface",
    "recheck_surface",
]
