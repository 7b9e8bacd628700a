"""How far is the map from the truth, and does it know, without and with one contact reading?

Run by hand: python tests/benchmarks/level.py [--seeds 40]

On make-believe grills whose rails are known: root mean square of the error of the level (mean over the area) and of the
shape (what is left), what the map claims for both, and how often the truth is inside its 95 %. No pass or fail.
"""

from __future__ import annotations

import numpy as np
from table import Row, alone

from heatmap.assessment import assess
from heatmap.rehearsal import draw_grill


def one(seed: int, contact: bool) -> tuple[float, ...]:
    """Return level error, shape error, claimed own and shared standard deviation [°C], and the share covered."""
    grill = draw_grill(seed)
    played = grill.play_round(1, contact_at="B2" if contact else None)
    points = grill.cells_mm[grill.inside]
    truth = grill.truth_c(points)
    assessment = assess(grill.grill, [played])
    mean, own = assessment.surface.predict(points)
    error = mean - truth
    covered = np.abs(error) < 1.96 * np.hypot(own, assessment.shared_std_c)
    own_c = float(np.sqrt(np.mean(own**2)))
    return float(error.mean()), float(error.std()), own_c, assessment.shared_std_c, float(covered.mean())


def rows(quick: bool = False, seeds: int = 40) -> list[Row]:
    """Return level and shape, without and with a contact reading."""
    seeds = 3 if quick else seeds
    found = []
    for contact in (False, True):
        values = np.array([one(seed, contact) for seed in range(seeds)])
        level, shape, own, shared = (1.8 * np.sqrt(np.mean(values[:, :4] ** 2, axis=0))).tolist()
        name = "one contact reading" if contact else "infrared only"
        covered = float(values[:, 4].mean())
        for what, off, claimed in (("level", level, shared), ("shape", shape, own)):
            told = f"{what} of the map off, root mean square, {name}"
            found.append(
                Row(what=told, size=f"{seeds} grills", value=off, unit="°F", against="as claimed", other=claimed)
            )
        told = f"95 % intervals cover, {name}"
        found.append(Row(what=told, size=f"{seeds} grills", value=covered, unit="1", against="as claimed", other=0.95))
    return found


if __name__ == "__main__":
    alone(rows, __doc__)
