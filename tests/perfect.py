"""A make-believe grill whose gun, probe, hand, memory and weather make no errors: what is left is the grill."""

from __future__ import annotations

import numpy as np

from heatmap.synthetic import RehearsalGrill, draw_grill


def draw_perfect(seed: int, **options) -> RehearsalGrill:
    """Draw a make-believe grill and take every error away; options as those of `draw_grill`."""
    grill = draw_grill(seed, **options)
    vars(grill.hidden.gun).update(
        patches=np.zeros_like(grill.hidden.gun.patches),
        valley_excess_c=0.0,
        valley_base_c=0.0,
        gain_percent=0.0,
        repeatability_percent=0.0,
        aim_sd_mm=0.0,
    )
    vars(grill.hidden).update(
        probe_offset_c=0.0,
        probe_reads_low_c=0.0,
        probe_scatter_sd_c=0.0,
        wind_round_sd=0.0,
        hand_miss_sd=0.0,
        blunder_chance=0.0,
    )
    grill.settle()
    return grill
