"""Formulas that know no grill, each with its source."""
