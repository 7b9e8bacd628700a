"""A round as grills give it is never refused; a reading that no rail can show is, by its name."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np

from heatmap import assess, load_grill, load_rounds
from heatmap.correct import Calibration, calibrate, correct_readings
from heatmap.correct.gun_view import GunView, NuisanceGrid
from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, Gun, Surroundings, TargetBand
from heatmap.physics.finishes import FINISHES
from heatmap.readings.reading import HIGHEST_SHOWN_C, LOWEST_SHOWN_C, Reading


def test_a_plain_round_whose_curve_asked_for_what_nobody_read() -> None:
    """Emissivity 0.53, rails near 560 °F, one contact reading: a make-believe grill drawn by another simulator."""
    folder = Path(__file__).parent / "refused_round"
    grill = load_grill(folder / "grill.toml")
    rounds = load_rounds(folder / "readings.csv", grill)
    for one in rounds:
        assessment = assess(grill, rounds, one.number)
        assert np.isfinite(assessment.mean_c).all()
        # Its valley shots are honest ones: two at one place may differ by the luck of the aim.
        assert all(pair.believed for pair in assessment.calibration.reference_pairs)


def between(random: np.random.Generator, low: float, high: float) -> float:
    """Draw evenly over a range, or, one time in four, one of its ends."""
    return float(random.choice([low, high])) if random.random() < 0.25 else float(random.uniform(low, high))


def drawn(random: np.random.Generator, part: type, *left_out: str) -> dict[str, float]:
    """Draw the quantities of a part of the grill file, each over the whole range that the file allows."""
    keys = {
        field.name: field.metadata["key"]
        for field in dataclasses.fields(part)
        if field.name not in left_out and not field.metadata["key"].many
    }
    limits = {
        name: (key.low + 1e-3 * key.low_open, key.high) for name, key in keys.items() if np.isfinite(key.low + key.high)
    }
    return {name: between(random, *ends) for name, ends in limits.items()}


def drawn_grill(random: np.random.Generator) -> Grill:
    """Draw a grate, its finish, a gun, what burns below and the weather."""
    grate = drawn(random, Grate, "width_mm", "depth_mm", "rim_mm")
    grate["rail_top_mm"] = between(random, 0.2, grate["rail_pitch_mm"]) if grate["rail_pitch_mm"] > 0.2 else 0.2
    if random.random() < 0.5:
        del grate["emissivity"], grate["emissivity_sd"]
    return Grill(
        grate=Grate(
            width_mm=600.0,
            depth_mm=450.0,
            rim_mm=25.0,
            finish=str(random.choice(list(FINISHES))),
            valley=random.choice([None, "floor", "open"]),
            **grate,
        ),
        target=TargetBand(low_c=288.0, high_c=316.0),
        gun=Gun(**drawn(random, Gun) | {"own_temperature_c": random.choice(["air", "none"])}),  # type: ignore[arg-type]
        surroundings=Surroundings(**drawn(random, Surroundings)),
        burners=(Burner(name="coals", control="none"),) if random.random() < 0.3 else (),
    )


def shots(random: np.random.Generator, grill: Grill, known: Calibration) -> list[Reading]:
    """Shoot three rails of 150 to 450 °C with all that is not known drawn from what the grill file says of it."""
    gun, prior = grill.gun, known.nuisance
    mean_share, share_sd = known.view().share
    within = np.clip(random.standard_normal(4), -2.5, 2.5)
    emissivity = grill.grate.rail_emissivity + grill.grate.rail_emissivity_sd * within[0]
    emissivity = float(np.clip(emissivity, prior.emissivity.min(), prior.emissivity.max()))
    valley_c = float(prior.mean(prior.valley_excess_c))
    spread_c = float(np.sqrt(prior.mean((prior.valley_excess_c - valley_c) ** 2)))
    mirrored_c = grill.surroundings.reflected_c + grill.surroundings.reflected_sd_c * within[2]
    truth = NuisanceGrid(
        emissivity=np.array([emissivity]),
        valley_emissivity=np.array([np.interp(emissivity, prior.emissivity, prior.valley_emissivity)]),
        valley_excess_c=np.array([valley_c + spread_c * within[1]]),
        reflected_c=np.array([max(mirrored_c, -120.0)]),
        weight=np.ones(1),
    )
    view = GunView(nuisance=truth, grill=grill, distance_mm=gun.distance_mm)
    share = float(np.clip(mean_share + share_sd * within[3], 0.0, 1.0))
    shown_c = view.shown_c(random.uniform(150.0, 450.0, 3), share=share)[0]
    error_c = np.maximum(gun.accuracy_c, 0.01 * gun.accuracy_percent * np.abs(shown_c)) * random.uniform(-1.0, 1.0)
    shown_c = (shown_c + error_c) * (1.0 + 0.01 * gun.repeatability_percent * np.clip(random.standard_normal(3), -2, 2))
    return [
        Reading(id=n, shown_c=float(one_c), x_mm=100.0 * n, y_mm=200.0)
        for n, one_c in enumerate(shown_c, start=1)
        if LOWEST_SHOWN_C <= one_c <= HIGHEST_SHOWN_C  # beyond that a gun shows no number
    ]


def test_no_round_of_any_grill_is_refused() -> None:
    """2,000 rounds, eight on each of 250 grills from the whole range of the grill file; and the curves of some."""
    random = np.random.default_rng(2026)
    shot = 0
    for number in range(250):
        grill = drawn_grill(random)
        known = calibrate(grill)
        rounds = [shots(random, grill, known) for _ in range(8)]
        spots = correct_readings([one for readings in rounds for one in readings], known)
        shot += len(spots)
        assert np.isfinite([(spot.rail_c, spot.own_std_c, spot.shared_std_c) for spot in spots]).all()
        if number % 4 == 0:
            assert np.isfinite(known._curve).all()
    assert shot > 4000
