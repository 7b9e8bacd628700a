"""From what was shown to the rail, case by case: the measurement equation, the valley, and the
derivatives."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given, reject, settings
from hypothesis import strategies as st

from heatmap.correct import correct_readings
from heatmap.correct.calibration import _before_any_pair, calibrate
from heatmap.correct.gun_view import GunView, NuisanceGrid
from heatmap.correct.tuning import HIGHEST_RAIL_C, LOWEST_RAIL_C, OPEN_VALLEY_EMISSIVITY
from heatmap.errors import InputError, ReadingError
from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, Gun, Surroundings, TargetBand
from heatmap.physics.grey_body import true_temperature
from heatmap.physics.planck import band_radiance
from heatmap.physics.spot import rail_share_statistics
from heatmap.readings.reading import Reading
from heatmap.units import c_from_f, f_from_c, k_from_c

REFERENCE = Path(__file__).parent.parent / "reference"


def grill(**changes: object) -> Grill:
    """Describe a grill; keys are section.field with a double underscore, as in gun__emissivity_setting."""
    sections: dict[str, dict[str, object]] = {
        "grate": {"width_mm": 600.0, "depth_mm": 450.0},
        "target": {"low_c": 288.0, "high_c": 316.0},
        "gun": {},
        "surroundings": {},
    }
    for name, value in changes.items():
        section, _, key = name.partition("__")
        sections[section][key] = value
    return Grill(
        grate=Grate(**sections["grate"]),  # type: ignore[arg-type]
        target=TargetBand(**sections["target"]),  # type: ignore[arg-type]
        gun=Gun(**sections["gun"]),  # type: ignore[arg-type]
        surroundings=Surroundings(**sections["surroundings"]),  # type: ignore[arg-type]
    )


def plate(emissivity: float, **changes: object) -> Grill:
    """Describe a solid plate of a known emissivity that mirrors something known."""
    known = {
        "grate__rail_top_mm": 19.05,
        "grate__rail_pitch_mm": 19.05,
        "grate__emissivity": emissivity,
        "grate__emissivity_sd": 0.0,
        "surroundings__reflected_sd_c": 0.0,
    }
    return grill(**(known | changes))


def view_of(one: Grill, distance_mm: float | None = None) -> GunView:
    return calibrate(one).view(distance_mm)


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(newline="") as file:
        return list(csv.DictReader(file))


# The measurement equation of ASTM E2758/E2847 and MSL Technical Guide 22, solved by mpmath over the exact
# 8-14 µm band: tests/reference/measurement_equation.csv, which names its sources row by row. Its values are
# good to 0.001 °F.
@pytest.mark.parametrize("row", rows("measurement_equation.csv"), ids=lambda row: row["id"])
def test_published_measurement_equation(row: dict[str, str]) -> None:
    own = row["T_comp_F"]
    one = plate(
        float(row["eps_true"]),
        gun__emissivity_setting=float(row["eps_setting"]),
        gun__own_temperature_c=float(c_from_f(float(own))) if own else "none",
        surroundings__reflected_c=float(c_from_f(float(row["T_background_F"]))),
    )
    reading = Reading(id=1, shown_c=float(c_from_f(float(row["T_indicated_F"]))), x_mm=100.0, y_mm=100.0)
    (spot,) = correct_readings([reading], calibrate(one))
    assert spot.rail_c is not None
    assert f_from_c(spot.rail_c) == pytest.approx(float(row["value"]), abs=0.02)


@settings(max_examples=60, deadline=None)
@given(
    shown_c=st.floats(60.0, 450.0),
    emissivity=st.floats(0.3, 1.0),
    setting=st.floats(0.5, 1.0),
    reflected_c=st.floats(-20.0, 40.0),
    adds_reflection=st.booleans(),
)
def test_agrees_with_the_measurement_equation(
    shown_c: float, emissivity: float, setting: float, reflected_c: float, adds_reflection: bool
) -> None:
    one = plate(
        emissivity,
        gun__emissivity_setting=setting,
        gun__own_temperature_c="air" if adds_reflection else "none",
        surroundings__reflected_c=reflected_c,
    )
    try:
        expected_k = true_temperature(
            k_from_c(shown_c),
            emissivity=emissivity,
            setting=setting,
            reflected_k=k_from_c(reflected_c),
            gun_k=k_from_c(one.surroundings.air_c) if adds_reflection else None,
        )
    except InputError:  # less than the rail mirrors: no temperature at all
        reject()
    assume(float(expected_k) - 273.15 > LOWEST_RAIL_C)  # a colder one is refused: the rail would mirror more than shown
    rail_c = view_of(one).rail_c(np.array([shown_c]))
    assert rail_c[0, 0] == pytest.approx(min(float(expected_k) - 273.15, HIGHEST_RAIL_C), abs=0.005)


# Area-weighted radiance of rail and valley, each emitted and reflected, read as a blackbody's temperature: mpmath over
# the exact band (spot_mixture.csv, which names how; good to 0.001 °F). Half at 600 °F and half at 450 °F, both black,
# read 528.04 °F and not 525.
@pytest.mark.parametrize("row", rows("spot_mixture.csv"), ids=lambda row: row["id"])
def test_published_mixture_of_rail_and_valley(row: dict[str, str]) -> None:
    rail_c, valley_c, mirrored_c = (
        float(c_from_f(float(row[f"T_{name}_F"]))) for name in ("rail", "valley", "background")
    )
    cases = NuisanceGrid(
        emissivity=np.array([float(row["eps_rail"])]),
        valley_emissivity=np.array([float(row["eps_valley"])]),
        valley_excess_c=np.array([valley_c - rail_c]),
        reflected_c=np.array([mirrored_c]),
        weight=np.ones(1),
    )
    view = GunView(nuisance=cases, grill=grill(gun__emissivity_setting=1.0), distance_mm=300.0)
    shown_c = view.shown_c(np.array([rail_c]), share=float(row["rail_fraction"]))[0, 0]
    assert f_from_c(shown_c) == pytest.approx(float(row["value"]), abs=0.001)


GRATES = {
    "cast iron": grill(),
    "coals": grill(surroundings__reflected_c=150.0, grate__rail_top_mm=9.0),
    "bright steel": grill(grate__emissivity=0.2, grate__emissivity_sd=0.1),
    "bright plate": plate(0.2, grate__emissivity_sd=0.1),
    "no reflection term": grill(gun__own_temperature_c="none", gun__emissivity_setting=0.8),
}


@pytest.mark.parametrize("one", GRATES.values(), ids=GRATES)
def test_there_and_back_in_every_case(one: Grill) -> None:
    view, shown_c = view_of(one), np.linspace(80.0, 400.0, 9)
    rail_c = view.rail_c(shown_c)
    inside = (rail_c > LOWEST_RAIL_C) & (rail_c < HIGHEST_RAIL_C)
    assert inside.mean() > 0.7
    back_c = view.shown_c(rail_c)
    error_c = (back_c - shown_c)[inside]
    per_shown = view.sensitivity(rail_c, shown_c).rail_per_shown[inside]
    assert np.abs(error_c * per_shown).max() < 0.01


@pytest.mark.parametrize("one", GRATES.values(), ids=GRATES)
def test_agrees_with_finite_differences(one: Grill) -> None:
    """Every derivative against the correction itself, nudged: central differences, good to a part in ten
    thousand."""
    shown_c = np.array([150.0, 250.0, 300.0])
    view = view_of(one)
    rail_c = view.rail_c(shown_c)
    inside = ((rail_c > -50.0) & (rail_c < 1000.0)).all(axis=1)
    side = view.sensitivity(rail_c, shown_c)
    cases = view.nuisance

    def nudged(**changes: np.ndarray) -> np.ndarray:
        nearby = GunView(nuisance=replace(cases, **changes), grill=one, distance_mm=view.distance_mm)
        return nearby.rail_c(shown_c)

    step = 1e-3
    pairs = [
        (side.rail_per_shown, view.rail_c(shown_c + step), view.rail_c(shown_c - step), step),
        (
            side.rail_per_emissivity,
            nudged(emissivity=cases.emissivity + 1e-5),
            nudged(emissivity=cases.emissivity - 1e-5),
            1e-5,
        ),
        (
            side.rail_per_valley,
            nudged(valley_excess_c=cases.valley_excess_c + step),
            nudged(valley_excess_c=cases.valley_excess_c - step),
            step,
        ),
    ]
    for derivative, above, below, nudge in pairs:
        slope = (above - below) / (2 * nudge)
        scale = np.abs(slope[inside]).max() + 1e-6
        np.testing.assert_allclose(derivative[inside], slope[inside], rtol=2e-4, atol=2e-4 * scale)


def test_agrees_with_finite_differences_in_the_share() -> None:
    view, shown_c = view_of(grill()), np.array([200.0, 300.0])
    rail_c = view.rail_c(shown_c)
    share, nudge = view.share[0], 1e-4
    # The rail stays, the share moves: what is shown moves by minus d shown/d rail times the derivative looked
    # for.
    moved_c = view.shown_c(rail_c, share=share + nudge) - view.shown_c(rail_c, share=share - nudge)
    side = view.sensitivity(rail_c, shown_c)
    np.testing.assert_allclose(side.rail_per_share, -moved_c / (2 * nudge) * side.rail_per_shown, rtol=1e-4, atol=1e-3)


def test_published_emissivity_sensitivity() -> None:
    """0.01 of emissivity at a true 575 °F: emissivity_sensitivity.csv, computed by mpmath from the same
    equation."""
    for row in rows("emissivity_sensitivity.csv"):
        background_c = float(c_from_f(float(row["T_background_F"])))
        one = plate(float(row["eps"]), surroundings__reflected_c=background_c)
        view, rail_c = view_of(one), np.array([[float(c_from_f(float(row["T_true_F"])))]])
        side = view.sensitivity(rail_c, view.shown_c(rail_c)[0])
        assert -0.01 * side.rail_per_emissivity[0, 0] * 1.8 == pytest.approx(float(row["value"]), rel=1e-5)


def test_shares_are_those_of_the_spot() -> None:
    one = grill()
    for distance_mm in (100.0, 304.8, 600.0):
        view = view_of(one, distance_mm)
        aim_mm = one.gun.aim_sd_mm * distance_mm / one.gun.distance_mm
        spot_mm = max(distance_mm / 12.0, 12.7)
        expected = rail_share_statistics(spot_mm, 6.35, 19.05, aim_mm)
        assert view.spot_mm == pytest.approx(spot_mm)
        assert view.share == pytest.approx([float(value) for value in expected])
    # Far away rail shot and valley shot see the same: the mean share is rail over pitch for both.
    far = view_of(one, 3000.0)
    assert far.share[0] == pytest.approx(1 / 3, abs=0.01)
    assert far.valley_shot_share[0] == pytest.approx(1 / 3, abs=0.01)
    near = view_of(one, 60.0)
    assert near.share[0] - near.valley_shot_share[0] > 0.3


@pytest.mark.parametrize("one", GRATES.values(), ids=GRATES)
def test_low_emissivity_stays_bounded_and_rises(one: Grill) -> None:
    shown_c = np.linspace(40.0, 1100.0, 120)
    corrected = calibrate(one).correct(shown_c)
    mean_c, std_c = corrected.rail_c, corrected.shared_std_c
    assert np.isfinite(mean_c).all()
    assert np.isfinite(std_c).all()
    assert mean_c.min() >= LOWEST_RAIL_C
    assert mean_c.max() <= HIGHEST_RAIL_C + 60.0  # the gun's own calibration error may lie on top
    assert np.all(np.diff(mean_c) > -1e-9)
    assert std_c.min() > 0.0


def test_a_reading_below_what_the_rail_mirrors_is_refused_by_its_name_in_the_cooks_units() -> None:
    hot_lid = plate(0.2, surroundings__reflected_c=400.0)
    fine, too_little = (Reading(id=n, shown_c=c, x_mm=9.0, y_mm=9.0, position="B2") for n, c in ((6, 420.0), (7, 40.0)))
    words = r"reading 7 at B2 shows 104 °F, and by what they mirror alone these rails show at least 6\d\d °F; check"
    with pytest.raises(ReadingError, match=words):
        correct_readings([fine, too_little], calibrate(hot_lid))
    # What the gun never showed is never refused: the way from shown to rail ends at the coldest rail there is.
    assert calibrate(hot_lid)._curve[1][0] == LOWEST_RAIL_C


def test_cases_add_up() -> None:
    for one in GRATES.values():
        cases = view_of(one).nuisance
        assert cases.weight.sum() == pytest.approx(1.0)
        assert cases.emissivity.min() >= 0.03
        assert cases.emissivity.max() <= 0.99
        assert cases.mean(cases.reflected_c) == pytest.approx(one.surroundings.reflected_c)
        assert cases.mean(cases.emissivity) == pytest.approx(one.grate.rail_emissivity, abs=1e-6)
    cases = view_of(grill()).nuisance
    assert cases.mean(cases.valley_excess_c) == pytest.approx(15.0)
    spread = np.sqrt(cases.mean((cases.valley_excess_c - 15.0) ** 2))
    assert spread == pytest.approx(45.0, rel=0.03)


def test_a_known_emissivity_is_one_case_and_an_odd_one_is_kept() -> None:
    assert np.all(view_of(plate(1.0)).nuisance.emissivity == 1.0)
    odd = view_of(plate(0.02, grate__emissivity_sd=0.001)).nuisance
    assert odd.mean(odd.emissivity) == pytest.approx(0.02, abs=0.001)


def test_agrees_with_a_dense_grid_of_cases(monkeypatch: pytest.MonkeyPatch) -> None:
    """The few cases used give the mean within 0.1 °C and the standard deviation within 1 % of a hundred times
    more."""
    from heatmap.correct import gun_view

    shown_c = np.array([230.0, 300.0, 340.0])
    few = calibrate(grill()).correct(shown_c)
    monkeypatch.setattr(gun_view, "_VALLEY_STEP_C", 3.0)
    monkeypatch.setattr(gun_view, "_REFLECTED_NODES", 7)
    _before_any_pair.cache_clear()
    many = calibrate(grill()).correct(shown_c)
    assert many.cases_c.shape[0] > few.cases_c.shape[0]
    np.testing.assert_allclose(few.rail_c, many.rail_c, atol=0.1)
    np.testing.assert_allclose(few.shared_std_c, many.shared_std_c, rtol=0.01)
    _before_any_pair.cache_clear()


def test_a_closed_valley_is_a_groove_with_walls_of_the_finish_and_mirrors_the_rest() -> None:
    """Width 10 mm and depth 10 mm: a rectangle as deep as wide, GR-08 of groove_emissivity.csv, seen straight in."""
    (row,) = (row for row in rows("groove_emissivity.csv") if row["id"] == "GR-08")
    rails = {"grate__rail_pitch_mm": 20.0, "grate__rail_top_mm": 10.0, "grate__rail_height_mm": 10.0}
    one = grill(grate__emissivity=float(row["eps_wall"]), grate__emissivity_sd=0.0, **rails)
    groove, cases = float(row["normal_view"]), view_of(one).nuisance
    mirrored = (1.0 - groove) * band_radiance(k_from_c(cases.reflected_c))
    expected = groove * band_radiance(k_from_c(300.0 + cases.valley_excess_c)) + mirrored
    np.testing.assert_allclose(view_of(one).leaving(np.array([[300.0]]), share=0.0)[:, 0], expected, rtol=2e-4)


def test_an_open_valley_and_that_over_coals_are_nearly_black() -> None:
    for one in (grill(grate__valley="open"), replace(grill(), burners=(Burner(name="coals", control="none"),))):
        assert np.all(view_of(one).nuisance.valley_emissivity == OPEN_VALLEY_EMISSIVITY)
    closed = view_of(grill()).nuisance
    assert np.all(closed.valley_emissivity > closed.emissivity)


@pytest.mark.parametrize(("emissivity", "least_f", "most_f"), [(0.9, 5.0, 15.0), (0.8, 15.0, 35.0)])
def test_a_closed_floor_taken_as_black_puts_the_level_too_low(emissivity: float, least_f: float, most_f: float) -> None:
    """About 10 °F at an emissivity of 0.9 and 25 °F at 0.8, for quarter-inch tops every 0.75 in (worked out by the
    formulas of spot and groove; no source)."""
    one = grill(grate__emissivity=emissivity)
    cases = view_of(one).nuisance
    black = replace(cases, valley_emissivity=np.ones_like(cases.valley_emissivity))
    rails_c = [
        GunView(nuisance=grid.best, grill=one, distance_mm=304.8).rail_c(np.array([300.0]))[0, 0]
        for grid in (cases, black)
    ]
    assert least_f < 1.8 * (rails_c[0] - rails_c[1]) < most_f
