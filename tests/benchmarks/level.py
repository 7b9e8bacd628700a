"""How far is the map from the truth, and does it know, without and with a contact reading or shots from close up?

Run by hand: python tests/benchmarks/level.py [--seeds 40]

On make-believe grills whose rails are known: root mean square of the error of the level (mean over the area) and of the
shape (what is left), what the map claims for both, and how often the truth is inside its 95 %. No pass or fail.
"""

from __future__ import annotations

import numpy as np
from table import Row, alone

from heatmap.assessment import assess
from heatmap.correct import close_up_mm
from heatmap.readings.reading import Round
from heatmap.synthetic import draw_grill

WAYS = ("infrared only", "infrared only, pairs from close up", "one contact reading")


def one(seed: int, way: str) -> tuple[float, ...]:
    """Return level error, shape error, claimed own and shared standard deviation [°C], and the share covered."""
    grill = draw_grill(seed)
    points, labels = grill.cells_mm[grill.inside], grill.grill.labels
    contact_at = "B2" if "contact" in way else None
    near_mm = close_up_mm(grill.grill) if "close" in way else None
    half = len(labels) // 2
    first = grill.play_round(1, order=labels[:half], contact_at=contact_at, close_up_mm=near_mm)
    truth = grill.truth_c(points)  # the map stands for the middle of its round
    second = grill.play_round(1, order=labels[half:], contact_at=contact_at, close_up_mm=near_mm)
    played = Round(number=1, session=first.session, readings=first.readings + second.readings)
    assessment = assess(grill.grill, [played])
    mean, own = assessment.surface.predict(points)
    error = mean - truth
    covered = np.abs(error) < 1.96 * np.hypot(own, assessment.shared_std_c)
    own_c = float(np.sqrt(np.mean(own**2)))
    return float(error.mean()), float(error.std()), own_c, assessment.shared_std_c, float(covered.mean())


def rows(quick: bool = False, seeds: int = 40) -> list[Row]:
    """Return level and shape, for each way to take the first round."""
    seeds = 3 if quick else seeds
    found = []
    for name in WAYS:
        values = np.array([one(seed, name) for seed in range(seeds)])
        level, shape, own, shared = (1.8 * np.sqrt(np.mean(values[:, :4] ** 2, axis=0))).tolist()
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
