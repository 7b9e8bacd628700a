"""Do valley shots without a contact reading make the level of the rails better, round by round, and does it know?

Run by hand: python tests/benchmarks/valley_rounds.py [--seeds 40]

Make-believe grills with rails, finishes, guns and distances as varied as grills are; four rounds at other marks, each
with two valley shots from the usual distance. Two families of valleys: as make-believe grills have them, and as wide
as the prior takes them to be (15 ± 45 °C over the rail). In half of the grills a hand misses anew with every shot, in
half always alike at one place. Root mean square of the error of the level (mean over the area) after one to four
rounds, and what is claimed. No pass or fail.

Settled on: seeds 100 to 139. For reporting: any other, by default from 500 on.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from table import Row, alone

from heatmap.assessment import assess
from heatmap.correct.tuning import VALLEY_EXCESS_C
from heatmap.physics.groove import groove_emissivity
from heatmap.readings.reading import Round
from heatmap.synthetic import RehearsalGrill, draw_grill
from heatmap.units import mm_from_in

FAMILIES = ("usual valleys", "wide valleys")
ROUNDS, VALLEY_SHOTS, FIRST_SEED = 4, 2, 500


class SteadyHand(RehearsalGrill):
    """A cook who misses alike whenever the same place is shot the same way."""

    __slots__ = ()

    def _seen_c(self, point, aim, distance_mm):
        place = [round(point[0]), round(point[1]), int(aim == "valley"), round(distance_mm or 0.0)]
        kept, self.random = self.random, np.random.default_rng(place)
        try:
            return RehearsalGrill._seen_c(self, point, aim, distance_mm)
        finally:
            self.random = kept


def drawn(seed: int, family: str) -> RehearsalGrill:
    """Return a make-believe grill with other rails, another finish, another gun and another valley."""
    played, random = draw_grill(seed), np.random.default_rng([seed, FAMILIES.index(family)])
    pitch = float(random.choice([0.5, 0.625, 0.6875, 0.75, 1.0]))
    top, height = pitch * random.uniform(0.25, 0.55), random.uniform(0.3, 0.9)
    stated = float(random.uniform(0.5, 0.95))
    emissivity = float(np.clip(random.normal(stated, 0.05), 0.4, 0.98))
    between, is_open = groove_emissivity(emissivity, height / (pitch - top)), random.random() < 0.3
    if is_open:
        between = random.uniform(0.95, 0.99)
    grate = replace(
        played.grill.grate,
        rail_pitch_mm=mm_from_in(pitch),
        rail_top_mm=mm_from_in(top),
        rail_height_mm=mm_from_in(height),
        emissivity=stated,
        emissivity_sd=0.05,
        valley="open" if is_open else "floor",
    )
    gun = replace(
        played.grill.gun,
        distance_mm=mm_from_in(float(random.choice([5.0, 6.0, 7.0, 8.0, 10.0, 12.0, 14.0]))),
        accuracy_percent=float(random.choice([1.0, 1.5, 2.0])),
    )
    view = played.hidden.gun
    usual_c = view.valley_excess_c, view.valley_base_c
    wide_c = (VALLEY_EXCESS_C[0], random.normal(0.0, VALLEY_EXCESS_C[1]))
    excess_c, base_c = wide_c if family == "wide valleys" else usual_c
    vars(view).update(
        emissivity=emissivity,
        valley_emissivity=float(np.clip(between + random.normal(0.0, 0.02), 0.3, 0.99)),
        valley_excess_c=excess_c,
        valley_base_c=base_c,
        gain_percent=random.uniform(-1.0, 1.0) * gun.accuracy_percent,
        rail_phase_mm=random.uniform(0.0, mm_from_in(pitch)),
    )
    played.grill = replace(played.grill, grate=grate, gun=gun)
    if seed % 2:
        played.__class__ = SteadyHand
    return played


def session(seed: int, family: str) -> tuple[RehearsalGrill, list[tuple[Round, float]]]:
    """Return the grill and its rounds, each with the true level in its middle [°C]."""
    played, random = drawn(seed, family), np.random.default_rng([seed, 7])
    points, labels = played.cells_mm[played.inside], played.grill.labels
    half, found = len(labels) // 2, []
    for number in range(1, ROUNDS + 1):
        first = played.play_round(number, order=labels[:half])
        level_c = float(played.truth_c(points).mean())
        second = played.play_round(number, order=labels[half:])
        places = random.choice(labels, VALLEY_SHOTS, replace=False)
        valleys = tuple(played.shoot(str(place), "valley", number=number) for place in places)
        readings = first.readings + second.readings + valleys
        found.append((Round(number=number, session="", readings=readings), level_c))
        played.turn({one.name: float(random.choice(one.settable[2:-2])) for one in played.grill.burners})
        played.settle()
    return played, found


def one(seed: int, family: str) -> list[tuple[float, float]]:
    """Return error of the level and what is claimed [°C], of the bare first round, then after one to four rounds."""
    played, found = session(seed, family)
    points = played.cells_mm[played.inside]
    bare = replace(found[0][0], readings=found[0][0].with_aim("rail"))
    logs = [[bare], *([each for each, _ in found[:count]] for count in range(1, ROUNDS + 1))]
    truths_c = [found[0][1], *(level_c for _, level_c in found)]
    assessed = [assess(played.grill, log) for log in logs]
    return [
        (float(each.surface.predict(points)[0].mean()) - level_c, each.shared_std_c)
        for each, level_c in zip(assessed, truths_c, strict=True)
    ]


def rows(quick: bool = False, seeds: int = 40) -> list[Row]:
    """Return the level after none to four rounds with valley shots, for each family."""
    seeds, found = (3 if quick else seeds), []
    for family in FAMILIES:
        values = np.array([one(FIRST_SEED + seed, family) for seed in range(seeds)])
        for count, (off, claimed) in enumerate(1.8 * np.sqrt(np.mean(values**2, axis=0))):
            told = f"level off, root mean square, {count or 'no'} round{'s' * (count != 1)} with valley shots, {family}"
            size = f"{seeds} grills"
            found.append(Row(what=told, size=size, value=off, unit="°F", against="as claimed", other=claimed))
    return found


if __name__ == "__main__":
    alone(rows, __doc__)
