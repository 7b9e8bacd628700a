"""Own and shared uncertainty of a spot: the GUM's rules, its worked examples, and Monte Carlo of the whole
forward view."""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from heatmap.correct import ReferencePair, Trail, calibrate, correct_readings
from heatmap.correct.tuning import VALLEY_EXCESS_C, VALLEY_PLACE_SD_C
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, Gun, Probe, Surroundings, TargetBand
from heatmap.physics.grey_body import true_temperature
from heatmap.physics.groove import groove_emissivity
from heatmap.physics.planck import band_radiance, band_temperature
from heatmap.physics.spot import rail_share
from heatmap.readings.reading import Reading
from heatmap.units import c_difference_from_f, c_from_f, k_from_c

REFERENCE = Path(__file__).parent.parent / "reference"
TARGET = TargetBand(low_c=288.0, high_c=316.0)
GRILL = Grill(grate=Grate(width_mm=600.0, depth_mm=450.0), target=TARGET)


def reading(shown_c: float, **changes: object) -> Reading:
    return Reading(**({"id": 1, "shown_c": shown_c, "x_mm": 100.0, "y_mm": 100.0} | changes))  # type: ignore[arg-type]


def gum_rows(quantity: str) -> list[list[float]]:
    """Return numbers of a quantity in gum_values.csv (GTC 1.5.1; sources in the file): arguments, then the
    value."""
    with (REFERENCE / "gum_values.csv").open(newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["quantity"] == quantity]
    assert rows
    return [[float(row[f"arg{n}"]) for n in range(1, 10) if row[f"arg{n}"]] + [float(row["value"])] for row in rows]


def plate(
    emissivity: float, emissivity_sd: float, setting: float, own_f: float, background: tuple[float, float]
) -> Grill:
    """Describe a solid plate seen by a gun without errors of its own."""
    return Grill(
        grate=Grate(
            width_mm=600.0,
            depth_mm=450.0,
            rail_top_mm=19.05,
            rail_pitch_mm=19.05,
            emissivity=emissivity,
            emissivity_sd=emissivity_sd,
            emissivity_patch_sd=0.0,
        ),
        target=TARGET,
        gun=Gun(
            emissivity_setting=setting,
            own_temperature_c=float(c_from_f(own_f)),
            display_step_c=0.0,
            accuracy_percent=0.0,
            accuracy_c=0.0,
            repeatability_percent=0.0,
        ),
        surroundings=Surroundings(
            reflected_c=float(c_from_f(background[0])),
            reflected_sd_c=float(c_difference_from_f(background[1])),
        ),
    )


def propagated(function: Callable[..., float], means: list[float], stds: list[float]) -> float:
    """Combine independent inputs: JCGM 100:2008, equation 10, with derivatives by central differences."""
    total = 0.0
    for index, std in enumerate(stds):
        ends = [means[:index] + [means[index] + way * 1e-3 * std] + means[index + 1 :] for way in (-1, 1)]
        total += ((function(*ends[1]) - function(*ends[0])) / 2e-3) ** 2
    return total**0.5


# JCGM 100:2008, equations 10 and 13, on the measurement equation: u of one spot. The reference uses the
# Planckian form of the band, which is within 1e-3 of the exact band here; 14.955 °F for the first row, 15.03
# °F by Monte Carlo.
@pytest.mark.parametrize("row", gum_rows("spot_u_F"))
def test_published_uncertainty_of_one_spot(row: list[float]) -> None:
    shown, setting, emissivity, background, own, u_shown, u_emissivity, u_background, value = row
    one = plate(emissivity, u_emissivity, setting, own, (background, u_background))

    def rail_f(shown_f: float, eps: float, background_f: float) -> float:
        kelvin = true_temperature(
            k_from_c(c_from_f(shown_f)),
            emissivity=eps,
            setting=setting,
            reflected_k=k_from_c(c_from_f(background_f)),
            gun_k=k_from_c(c_from_f(own)),
        )
        return float(kelvin) * 1.8

    first_order = propagated(rail_f, [shown, emissivity, background], [u_shown, u_emissivity, u_background])
    assert first_order == pytest.approx(value, rel=2e-3)
    # The same through a spot, where the gun's accuracy limit stands for u(shown): limit over √3 (4.3.7). The
    # spot is not of first order and keeps emissivity below 0.99, which is felt where the mean is near it.
    limit_c = float(c_difference_from_f(u_shown * 3**0.5))
    (spot,) = correct_readings(
        [reading(float(c_from_f(shown)))],
        calibrate(replace(one, gun=replace(one.gun, accuracy_c=limit_c))),
    )
    assert spot.own_std_c == 0.0
    assert spot.shared_std_c is not None
    assert spot.shared_std_c * 1.8 == pytest.approx(value, rel=0.02 if emissivity < 0.9 else 0.06)


def test_published_uncertainty_of_two_spots() -> None:
    """What two spots share stays in their mean and nearly cancels in their difference: 15.116 and 8.081
    °F."""
    (mean_row,), (difference_row,) = gum_rows("two_spot_mean_u_F"), gum_rows("two_spot_diff_u_F")
    first, setting, emissivity, background, own, u_shown, u_emissivity, u_background, second, u_mean = mean_row
    one = plate(emissivity, u_emissivity, setting, own, (background, u_background))
    # A display step is a rectangle: u(shown) of its own for each reading is the step over √12 (4.3.7 and
    # F.2.2.1).
    step_c = float(c_difference_from_f(u_shown * 12**0.5))
    known = calibrate(replace(one, gun=replace(one.gun, display_step_c=step_c)))
    shown_c = np.array([float(c_from_f(first)), float(c_from_f(second))])
    own_variance = [spot.own_std_c**2 for spot in correct_readings([reading(c) for c in shown_c], known)]  # type: ignore[operator]
    corrected = known.correct(shown_c)
    cases_c = corrected.cases_c
    assert np.all(corrected.gun_std_c == 0.0)

    def spread(values: np.ndarray) -> float:
        return float(known.nuisance.mean((values - known.nuisance.mean(values)) ** 2))

    of_mean = (spread(cases_c.mean(axis=1)) + sum(own_variance) / 4) ** 0.5
    of_difference = (spread(cases_c[:, 1] - cases_c[:, 0]) + sum(own_variance)) ** 0.5
    assert of_mean * 1.8 == pytest.approx(u_mean, rel=0.02)
    assert of_difference * 1.8 == pytest.approx(difference_row[-1], rel=0.02)


# JCGM 100:2008, H.1 (components read in the GTC manual, combined to 32 nm) and 5.2.2 (ten resistors): what
# the GUM does with parts that are independent, and with parts that are the same for all.
def test_published_combination_of_parts_by_the_trail() -> None:
    ((*_, combined),) = gum_rows("H1_uc")
    assert np.sqrt(np.sum(np.square([25.0, 9.7, 2.9, 16.6]))) == pytest.approx(combined, rel=1e-6)
    told = Trail(reading(300.0), calibrate(GRILL))
    own, shared = list(told.own.values()), list(told.shared.values())
    assert len(own) == 5
    assert len(shared) == 4
    assert np.sqrt(np.sum(np.square(own))) == pytest.approx(told.spot.own_std_c, rel=1e-9)
    # Each alone, the others at their best estimates: not of first order, but nearly so on a seasoned grate.
    assert np.sqrt(np.sum(np.square(shared))) == pytest.approx(told.spot.shared_std_c, rel=2e-3)


def test_a_contact_reading_ties_the_shared_parts_together() -> None:
    """It knows the sum and not the parts: each alone shrinks less than what they add up to."""
    contact = reading(318.0, aim="contact")
    known = calibrate(GRILL, [ReferencePair(reading=contact, infrared_c=302.0, infrared_std_c=1.5)])
    before, after = (Trail(reading(300.0), one) for one in (calibrate(GRILL), known))
    for source, std_c in after.shared.items():
        assert 0.0 < std_c < 1.1 * before.shared[source]
    assert after.spot.shared_std_c is not None
    assert np.sqrt(np.sum(np.square(list(after.shared.values())))) > after.spot.shared_std_c


class Forward:
    """The gun's view drawn at random, written down independently of the correction: aim, patches, valley,
    rounding."""

    def __init__(self, grill: Grill, count: int, seed: int) -> None:
        self.grill, self.count, self.rng = grill, count, np.random.default_rng(seed)

    def shared(self) -> dict[str, np.ndarray]:
        normal, grate, around = self.rng.standard_normal, self.grill.grate, self.grill.surroundings
        emissivity = grate.rail_emissivity + grate.rail_emissivity_sd * normal(20 * self.count)
        emissivity = emissivity[(emissivity > 0.03) & (emissivity < 0.99)][: self.count]
        return {
            "emissivity": emissivity,
            "valley_c": VALLEY_EXCESS_C[0] + VALLEY_EXCESS_C[1] * normal(self.count),
            "reflected_c": around.reflected_c + around.reflected_sd_c * normal(self.count),
            "bias": self.rng.uniform(-1.0, 1.0, self.count),
        }

    def shown(self, rail_c: np.ndarray, shared: dict[str, np.ndarray], distance_mm: float) -> np.ndarray:
        gun, grate, normal = self.grill.gun, self.grill.grate, self.rng.standard_normal
        offset_mm = gun.aim_sd_mm * distance_mm / gun.distance_mm * normal(self.count)
        spot_mm = max(distance_mm / gun.distance_to_spot, gun.smallest_spot_mm)
        share = rail_share(offset_mm, spot_mm, grate.rail_top_mm, grate.rail_pitch_mm)
        patchy = np.clip(shared["emissivity"] + grate.emissivity_patch_sd * normal(self.count), 0.02, 1.0)
        valley_c = rail_c + shared["valley_c"] + VALLEY_PLACE_SD_C * normal(self.count)
        rail = patchy * band_radiance(k_from_c(rail_c)) + (1 - patchy) * band_radiance(k_from_c(shared["reflected_c"]))
        groove = groove_emissivity(
            shared["emissivity"], grate.rail_height_mm / (grate.rail_pitch_mm - grate.rail_top_mm)
        )
        valley = groove * band_radiance(k_from_c(valley_c))
        valley = valley + (1 - groove) * band_radiance(k_from_c(shared["reflected_c"]))
        seen = share * rail + (1 - share) * valley
        setting, own_c = gun.emissivity_setting, self.grill.gun_own_c
        assert own_c is not None
        shown_c = band_temperature((seen - (1 - setting) * band_radiance(k_from_c(own_c))) / setting) - 273.15
        shown_c = shown_c + np.maximum(gun.accuracy_c, 0.01 * gun.accuracy_percent * shown_c) * shared["bias"]
        shown_c = shown_c * (1 + 0.01 * gun.repeatability_percent * normal(self.count))
        return np.round(shown_c / gun.display_step_c) * gun.display_step_c


@pytest.mark.parametrize("distance_mm", [304.8, 120.0])
def test_agrees_with_monte_carlo_of_the_forward_view(distance_mm: float) -> None:
    """Own and shared parts, apart, within 10 %, and rail ± 1.96 standard deviations covers 95 % (JCGM
    101:2008)."""
    count, rail_c = 3000, 300.0
    forward, known = Forward(GRILL, count, seed=8), calibrate(GRILL)
    rails = np.full(count, rail_c)
    shown_c = forward.shown(rails, forward.shared(), distance_mm)
    spots = correct_readings([reading(float(c), distance_mm=distance_mm) for c in shown_c], known)
    rail = np.array([spot.rail_c for spot in spots])
    total = np.array([np.hypot(spot.own_std_c, spot.shared_std_c) for spot in spots])  # type: ignore[arg-type]
    assert abs(rail.mean() - rail_c) < 0.15 * total.mean()
    assert rail.std() == pytest.approx(total.mean(), rel=0.1)
    assert 0.93 <= np.mean(np.abs(rail - rail_c) <= 1.96 * total) <= 0.98

    # Own: what is new with every shot, on 100 make-believe grates of 30 shots each.
    grates = {name: np.repeat(values[:100], 30) for name, values in forward.shared().items()}
    alone_c = forward.shown(rails, grates, distance_mm)
    spots = correct_readings([reading(float(c), distance_mm=distance_mm) for c in alone_c], known)
    within = np.array([spot.rail_c for spot in spots]).reshape(100, 30).var(axis=1, ddof=1)
    expected = np.array([spot.own_std_c for spot in spots])
    assert np.sqrt(np.mean(expected**2)) == pytest.approx(np.sqrt(within.mean()), rel=0.1)


def test_aim_is_a_lottery_close_up_and_steady_at_a_pitch() -> None:
    """±0.21 of share at a 0.5 in spot, ±0.03 at 1 in (plain geometry); the trail names what that costs."""
    known = calibrate(GRILL)
    aim = {
        distance_mm: next(
            std_c
            for source, std_c in Trail(reading(300.0, distance_mm=distance_mm), known).own.items()
            if "aim" in source
        )
        for distance_mm in (152.4, 304.8)
    }
    assert aim[152.4] > 4 * aim[304.8]


def test_a_contact_spot_is_the_probe_and_its_habit() -> None:
    probe = Probe(accuracy_c=3.0, reads_low_c=4.0)
    (spot,) = correct_readings([reading(300.0, aim="contact")], calibrate(replace(GRILL, probe=probe)))
    assert spot.rail_c == 304.0
    assert spot.own_std_c == pytest.approx((3.0**2 / 3 + 4.0**2) ** 0.5)
    assert spot.shared_std_c == 0.0


@pytest.mark.parametrize("aim", ["valley", "patch"])
def test_valley_and_patch_say_nothing_of_the_rail_by_themselves(aim: str) -> None:
    (spot,) = correct_readings([reading(300.0, aim=aim)], calibrate(GRILL))
    assert spot.rail_c is None
    assert spot.own_std_c is None
    told = Trail(reading(300.0, aim=aim), calibrate(GRILL))
    assert [step.after_c for step in told.steps] == [300.0]


def test_readings_keep_their_order_whatever_the_distance() -> None:
    readings = [reading(250.0 + n, id=n, distance_mm=(None, 200.0, 304.8)[n % 3]) for n in range(9)]
    spots = correct_readings(readings, calibrate(GRILL))
    assert [spot.reading.id for spot in spots] == list(range(9))
    alone = [correct_readings([one], calibrate(GRILL))[0] for one in readings]
    for spot, single in zip(spots, alone, strict=True):
        assert spot.rail_c == pytest.approx(single.rail_c, abs=1e-3)
    assert correct_readings([], calibrate(GRILL)) == ()


def test_the_trail_walks_from_the_display_to_the_rail() -> None:
    told = Trail(reading(300.0), calibrate(GRILL))
    assert told.steps[0].after_c == 300.0
    assert [step.what for step in told.steps] == ["shown", "setting", "valley", "emissivity"]
    assert told.steps[-1].after_c == told.spot.rail_c
    # The last two steps by hand: what is left of the spot is rail, and the measurement equation undoes the rest.
    rail_only_c = told.steps[-2].after_c
    mirrored = band_radiance(k_from_c(GRILL.surroundings.reflected_c))
    rail = 0.9 * band_radiance(k_from_c(told.steps[-1].after_c)) + 0.1 * mirrored
    assert band_temperature(rail) - 273.15 == pytest.approx(rail_only_c, abs=0.01)
    assert calibrate(GRILL).view().share[0] == pytest.approx(0.35, abs=0.03)
    solid = plate(0.8, 0.0, 0.95, 75.0, (75.0, 0.0))
    told = Trail(reading(float(c_from_f(550.0))), calibrate(solid))
    assert "valley" not in [step.what for step in told.steps]
    # The same as row ME-03 of the measurement equation: 609.804 °F.
    assert told.steps[-1].after_c == pytest.approx(float(c_from_f(609.804)), abs=0.001)


@pytest.mark.parametrize("shown_c", [120.0, 250.0, 340.0])
def test_percent_and_limit_of_the_gun_the_larger_counts(shown_c: float) -> None:
    known = calibrate(replace(GRILL, gun=Gun(accuracy_percent=2.0, accuracy_c=4.0)))
    assert known.gun_std_c(np.array([shown_c]))[0] == pytest.approx(max(4.0, 0.02 * shown_c) / 3**0.5)


def test_many_different_numbers_are_corrected_as_each_alone_would_be() -> None:
    """More than a gun shows are read off a rule; 0.002 °C is a tenth of what a hundredth of its accuracy is worth."""
    shown_c = np.random.default_rng(4).uniform(30.0, 600.0, 3000)
    calibration = calibrate(replace(GRILL, grate=replace(GRILL.grate, emissivity=0.5)))
    together = correct_readings([reading(float(one)) for one in shown_c], calibration)
    for at in range(0, 3000, 100):
        alone = correct_readings([together[at].reading], calibration)[0]
        for name in ("rail_c", "shot_std_c", "place_std_c", "shared_std_c"):
            assert getattr(together[at], name) == pytest.approx(getattr(alone, name), abs=0.002), name
