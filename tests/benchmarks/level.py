"""How far is the map from the truth, and does it know, without and with one contact reading?

Run by hand: python tests/benchmarks/level.py [--seeds 40]

On make-believe grills whose rails are known: root mean square of the error of the level (mean over the area) and of the
shape (what is left), what the map claims for both, and how often the truth is inside its 95 %. No pass or fail.
"""

from __future__ import annotations

import argparse

import numpy as np

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


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=40)
    seeds = parser.parse_args().seeds
    print(f"{'°F, root mean square':22s} {'level':>6s} {'claimed':>8s} {'shape':>6s} {'claimed':>8s}  in 95 %")
    for contact in (False, True):
        rows = np.array([one(seed, contact) for seed in range(seeds)])
        level, shape, own, shared = 1.8 * np.sqrt(np.mean(rows[:, :4] ** 2, axis=0))
        name = "one contact reading" if contact else "infrared only"
        print(f"{name:22s} {level:6.0f} {shared:8.0f} {shape:6.0f} {own:8.0f}  {rows[:, 4].mean():.2f}")


if __name__ == "__main__":
    main()
