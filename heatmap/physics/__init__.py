"""Formulas that know no grill, each with its source."""

from heatmap import module_of

__getattr__ = module_of(__name__)
