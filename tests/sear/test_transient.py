"""The transient against closed forms, an enthalpy form, a two-dimensional form, and the laws of heat."""

from types import SimpleNamespace

import numpy as np
import pytest
import scipy.integrate

from heatmap.physics.conduction import seared_slab
from heatmap.sear import evaporation, transient

THICKNESS_M, CONDUCTIVITY, CAPACITY = 0.03175, 0.47, 1070.0 * 3450.0
DRYING = 1000.0 * 0.62 * 2.257e6
DRY_CAPACITY = 0.2 * CAPACITY  # solids left by drying, some 390 kg/m³ of 1.9 kJ/(kg K)


#: Rails that do not cool, in air of 25 °C.
IRON = {
    "air_c": 25.0,
    "heat_capacity_j_m2k": 1e15,
    "fire_time_constant_s": 200.0,
    "conduction_time_constant_s": 1e12,
    "iron_beside": np.inf,
    "fresh": True,
}


def pieces(count=1, iron=None, **changes):
    """Return plain pieces: constant properties, one patch on rail all the time, no evaporation in air.

    `iron` is what the rails have instead of :data:`IRON`.
    """
    one = np.ones((count, 1))
    given = {
        "rails": SimpleNamespace(**IRON | (iron or {})),
        "thickness_m": THICKNESS_M * one,
        "heat_capacity": CAPACITY * one,
        "drying_heat_j_m3": DRYING * one,
        "crust_conductivity": 0.12 * one,
        "crust_capacity": DRY_CAPACITY * one,
        "conductivity": np.array([[[CONDUCTIVITY]], [[0.0]], [[0.0]]]),
        "centre_c": 43.3 * one,
        "face_rise_c": 0.0 * one,
        "rail_c": 315.6 * one,
        "plume_c": 25.0 * one,
        "contact_w_m2k": 150.0 * one,
        "valley_w_m2k": 35.0 * one,
        "air_w_m2k": 12.0 * one,
        "wetness": 0.0 * one,
        "juice_j_m3": 0.0 * one,
        "sideways_1_s": 0.0 * one,
        "share": np.ones((count, 1)),
        "seconds": np.full((count, 4), 60.0),
        "on_rail": np.ones((1, 4), bool),
        "faces": "AABB",
    } | changes
    return transient.Pieces(**given)


def patchy(count=1, share=1.0 / 3.0, **changes):
    """Return pieces on rails that touch part of the face, crossed headings, with all that the plan uses."""
    shares = np.array([share**2, share * (1 - share), share * (1 - share), (1 - share) ** 2])
    return pieces(
        count,
        share=np.tile(shares, (count, 1)),
        on_rail=np.array([[1, 1, 1, 1], [1, 0, 1, 0], [0, 1, 0, 1], [0, 0, 0, 0]], bool),
        contact_w_m2k=403.0,
        face_rise_c=8.4,
        wetness=0.1,
        sideways_1_s=0.0145,
        iron={"heat_capacity_j_m2k": 39e3},
        conductivity=np.array([[[0.40]], [[0.0007]], [[-2e-6]]]),
        **changes,
    )


@pytest.mark.parametrize("faces", ["AABB", "ABAB"])
def test_agrees_with_seared_slab_below_the_boiling_point(faces):
    # rails at 98 °C: nothing dries, so the closed form holds, the lifts between turns included
    seared = transient.sear(pieces(rail_c=np.array([98.0]), faces=faces))
    steps = [step for face in faces for step in ((face, 60.0), ("R", transient.LIFT_S))][:-1]
    centre = seared_slab(
        thickness_m=THICKNESS_M, conductivity=CONDUCTIVITY, density=1070.0, specific_heat=3450.0,
        start_c=43.3,
        steps=steps, rail_c=98.0, contact_w_m2k=150.0, air_c=25.0, air_w_m2k=12.0, rest_w_m2k=12.0,
        at_fraction=0.5,
    )  # fmt: skip
    assert seared.pull_centre_c[0] == pytest.approx(float(centre), abs=0.05)
    rest = np.arange(60.0, 600.0, 20.0)
    peak = max(
        float(
            seared_slab(
                thickness_m=THICKNESS_M, conductivity=CONDUCTIVITY, density=1070.0, specific_heat=3450.0,
                start_c=43.3, steps=[*steps, ("R", after)], rail_c=98.0, contact_w_m2k=150.0, air_c=25.0,
                air_w_m2k=12.0, rest_w_m2k=12.0, at_fraction=0.5,
            )
        )
        for after in rest
    )  # fmt: skip
    assert seared.peak_centre_c[0] == pytest.approx(peak, abs=0.1)
    assert np.all(seared.crust_m == 0.0)


def test_agrees_with_seared_slab_for_a_face_held_at_the_boiling_point():
    # rows SQ-09 and SQ-10 of the reference hold the face at 100 °C; a very good contact whose crust does not
    # resist does the same here, apart from the layer that dries off, so let drying cost a thousandfold
    held = {"contact_w_m2k": np.array([20000.0]), "drying_heat_j_m3": np.array([1e3 * DRYING])}
    seared = transient.sear(pieces(**held, crust_conductivity=np.array([1e3])))
    steps = [step for face in "AABB" for step in ((face, 60.0), ("R", transient.LIFT_S))][:-1]
    centre = seared_slab(
        thickness_m=THICKNESS_M, conductivity=CONDUCTIVITY, density=1070.0, specific_heat=3450.0,
        start_c=43.3,
        steps=steps, rail_c=100.0, contact_w_m2k=20000.0, air_c=25.0, air_w_m2k=12.0, rest_w_m2k=12.0,
        at_fraction=0.5,
    )  # fmt: skip
    assert seared.pull_centre_c[0] == pytest.approx(float(centre), abs=0.1)


def dry_or_heat(celsius, dried, gained_j_m3):
    """Take heat into cells: moist ones stop at 100 °C and dry; what has dried stays dry. Returns both "
    "anew."""
    capacity = (1.0 - dried) * CAPACITY + dried * DRY_CAPACITY
    celsius = celsius + gained_j_m3 / capacity
    boiled = np.where((celsius > 100.0) & (dried < 1.0), (celsius - 100.0) * capacity, 0.0)
    boiled = np.minimum(boiled, (1.0 - dried) * DRYING)
    return celsius - boiled / capacity, dried + boiled / DRYING


def enthalpy_form(contact, seconds, rest, cells=200, dt=0.04):
    """Return centre and crust on a fixed grid whose cells dry at 100 °C before they get hotter."""
    width = THICKNESS_M / cells
    celsius, dried = np.full(cells, 43.3), np.zeros(cells)
    for kind, lasts in (("sear", seconds), ("rest", rest)):
        for _ in range(round(lasts / dt)):
            half = 0.5 * width / np.where(dried < 1.0, CONDUCTIVITY, 0.12)
            flux = np.diff(celsius) / (half[1:] + half[:-1])
            gained = np.zeros(cells)
            gained[:-1] += flux
            gained[1:] -= flux
            below = (contact, 315.6) if kind == "sear" else (12.0, 25.0)
            for cell, (film, outside) in ((0, below), (-1, (12.0, 25.0))):
                gained[cell] += (outside - celsius[cell]) / (1.0 / film + half[cell])
            celsius, dried = dry_or_heat(celsius, dried, gained * dt / width)
    return 0.5 * (celsius[99] + celsius[100]), width * dried.sum()


@pytest.mark.parametrize("contact", [60.0, 150.0, 400.0])
def test_agrees_with_enthalpy_form(contact):
    # the other usual way to write drying, as in Sprague and Colvin (Food Research International 44 (2011),
    # 789-797)
    one_turn = {
        "contact_w_m2k": np.array([contact]),
        "seconds": np.array([[120.0]]),
        "on_rail": np.ones((1, 1), bool),
        "faces": "A",
    }
    seared = transient.sear(pieces(**one_turn))
    _, crust = enthalpy_form(contact, 120.0, 0.0)
    centre, _ = enthalpy_form(contact, 120.0, 240.0)
    assert 1000.0 * seared.crust_m[0, 0, 0] == pytest.approx(1000.0 * crust, abs=0.05, rel=0.10)
    assert centre_after(pieces(**one_turn), 240.0) == pytest.approx(centre, abs=0.4)


def centre_after(given, rest):
    columns = transient._Columns(given)
    columns.land(0, 0)
    growth = np.arange(13.0) ** 2 / 144.0
    for part in np.diff(growth):
        columns.step(columns.pieces.seconds[:, 0] * part, 0)
    columns.lift(0)
    for _ in range(24):
        columns.step(np.full(1, rest / 24.0))
    return columns.centre()[0]


def two_dimensional(share, pitch_m, seconds, rest, across=24, through=120, dt=0.06):
    """Return the mean centre of a slab on striped rails by the enthalpy form in two dimensions, half a "
    "pitch wide."""
    wide, deep = 0.5 * pitch_m / across, THICKNESS_M / through
    on_rail = (np.arange(across) + 0.5) * wide < 0.5 * share * pitch_m
    film = np.where(on_rail, 403.0, 35.0)
    celsius, dried, centres = np.full((across, through), 43.3), np.zeros((across, through)), []
    for step in range(round((2 * seconds + rest) / dt)):
        half = 0.5 / np.where(dried < 1.0, CONDUCTIVITY, 0.12)
        down = np.diff(celsius, axis=1) / (half[:, 1:] + half[:, :-1]) / deep**2
        side = np.diff(celsius, axis=0) / (half[1:] + half[:-1]) / wide**2
        gained = np.zeros_like(celsius)
        gained[:, :-1] += down
        gained[:, 1:] -= down
        gained[:-1] += side
        gained[1:] -= side
        turn = int(step * dt // seconds)
        for cell, turns in ((0, 0), (-1, 1)):
            h, outside = (film, 315.6) if turn == turns else (12.0, 25.0)
            gained[:, cell] += (outside - celsius[:, cell]) / (1.0 / h + deep * half[:, cell]) / deep
        celsius, dried = dry_or_heat(celsius, dried, gained * dt)
        if step % 200 == 0:
            centres.append(celsius[:, through // 2 - 1 : through // 2 + 1].mean())
    return max(centres)


def test_agrees_with_two_dimensional_form_on_striped_rails():
    share, pitch = 1.0 / 3.0, 0.01905
    peak = two_dimensional(share, pitch, 120.0, 420.0)
    diffusivity = CONDUCTIVITY / CAPACITY
    seared = transient.sear(
        pieces(
            share=np.array([[share, 1.0 - share]]),
            on_rail=np.array([[True, True], [False, False]]),
            contact_w_m2k=np.array([403.0]),
            seconds=np.full((1, 2), 120.0),
            faces="AB",
            sideways_1_s=np.array([diffusivity * (2.0 * np.pi / pitch) ** 2]),
        )
    )
    # columns with a sideways rate against heat that really flows sideways: within 6 % of a rise of 12 °C
    assert seared.peak_centre_c[0] == pytest.approx(peak, abs=0.7)


def test_energy_is_kept(counted):
    transient.sear(patchy(3, seconds=np.array([[30.0] * 4, [60.0] * 4, [120.0] * 4])))
    (columns,) = counted
    total = columns.drying + columns.lost + columns.stored() - columns.start
    assert columns.mean(total) == pytest.approx(columns.mean(columns.entered), rel=1e-3)


def test_converges_in_cells_and_steps(monkeypatch):
    seconds = np.array([[30.0] * 4, [75.0] * 4, [150.0] * 4])
    coarse = transient.sear(patchy(3, seconds=seconds))
    monkeypatch.setattr(transient, "CELLS", 61)
    monkeypatch.setattr(transient, "STEPS_PER_TURN", 144)
    monkeypatch.setattr(transient, "REST_STEPS", 200)
    fine = transient.sear(patchy(3, seconds=seconds))
    assert coarse.peak_centre_c == pytest.approx(fine.peak_centre_c, abs=0.2)
    assert coarse.pull_centre_c == pytest.approx(fine.pull_centre_c, abs=0.2)
    assert 1000.0 * coarse.crust_m == pytest.approx(1000.0 * fine.crust_m, abs=0.08)
    assert coarse.peak_after_s == pytest.approx(fine.peak_after_s, rel=0.05)


@pytest.mark.parametrize("plate_c", [160.0, 210.0, 260.0])
def test_published_wet_face_never_passes_100(plate_c, counted):
    # Cernela et al. 2015 (row CC-03): a wet gel without crust, plates 160-260 °C, face at or under 100 °C
    # whatever the plate. Without a crust means that what dries is replaced: drying costs without end.
    wet = {"drying_heat_j_m3": np.array([1e6 * DRYING]), "contact_w_m2k": np.array([400.0])}
    seared = transient.sear(pieces(rail_c=np.array([plate_c]), **wet))
    assert np.all(counted[0].hottest <= 100.01)
    hotter = transient.sear(pieces(rail_c=np.array([260.0]), **wet))
    assert seared.pull_centre_c[0] == pytest.approx(hotter.pull_centre_c[0], abs=1.0)


def test_batch_gives_what_single_runs_give():
    seconds = np.array([[40.0] * 4, [60.0, 70.0, 80.0, 90.0]])
    both = transient.sear(patchy(2, seconds=seconds))
    for i in range(2):
        alone = transient.sear(patchy(1, seconds=seconds[i : i + 1]))
        assert alone.peak_centre_c[0] == pytest.approx(both.peak_centre_c[i], abs=1e-9)


def test_patches_that_fare_alike_equal_one_patch():
    whole = transient.sear(pieces())
    split = transient.sear(
        pieces(share=np.array([[0.3, 0.7]]), on_rail=np.ones((2, 4), bool), sideways_1_s=np.array([0.01]))
    )
    assert split.peak_centre_c[0] == pytest.approx(whole.peak_centre_c[0], abs=1e-9)


def test_rails_cool_under_food_and_only_their_own_heat_is_gone(counted):
    one_turn = {"seconds": np.array([[60.0]]), "on_rail": np.ones((1, 1), bool), "faces": "A"}
    store = {"heat_capacity_j_m2k": 39e3}
    slow = transient.sear(pieces(**one_turn, iron=store | {"fire_time_constant_s": 1e12}))
    # with no fire behind them, what entered is their capacity times the drop, and at the lift the warmth of the crust
    warmth = counted[0].entered[0, 0] - 39e3 * slow.rail_drop_c[0]
    capacity = DRY_CAPACITY * slow.crust_m[0, 0, 0]
    assert warmth == pytest.approx(0.5 * (100.0 + counted[0].hottest[0, 0, 0]) * capacity, rel=1e-6)
    assert transient.sear(pieces(**one_turn, iron=store)).rail_drop_c[0] < slow.rail_drop_c[0]


def test_juice_on_a_plate_cools_the_iron_beside_the_food_by_what_boils_and_not_below_boiling(counted):
    unfed = {
        "seconds": np.array([[300.0]]),
        "on_rail": np.ones((1, 1), bool),
        "faces": "A",
        "centre_c": np.array([10.0]),
        "rail_c": np.array([220.0]),
        "iron": {
            "heat_capacity_j_m2k": 39e3,
            "fire_time_constant_s": 1e12,
            "conduction_time_constant_s": 90.0,
            "iron_beside": 2.0,
        },
    }
    dry = transient._Columns(pieces(**unfed))
    wet = transient._Columns(pieces(**unfed, juice_j_m3=np.array([1000.0 * 2.257e6])))
    for columns in (dry, wet):
        columns.land(0, 0)
        for _ in range(300):
            columns.step(np.full(1, 1.0), 0)
    # what the iron lost, under the food and twice as much beside it, entered the food or boiled juice off
    lost = [39e3 * (220.0 - one.under + 2.0 * (220.0 - one.beside)) - one.entered for one in (dry, wet)]
    assert lost[0] == pytest.approx(0.0, abs=1.0)
    ran_out = (wet.let_go * wet._widths()).sum(axis=0) * 1000.0 * 2.257e6
    assert lost[1] + wet.juice == pytest.approx(ran_out, rel=0.02)
    assert 100.0 < wet.beside < dry.beside - 5.0
    assert wet.under < dry.under - 2.0


@pytest.mark.parametrize("fresh", [True, False])
def test_the_iron_beside_the_food_is_hot_again_where_rails_are_fresh(fresh):
    iron = {"heat_capacity_j_m2k": 39e3, "conduction_time_constant_s": 60.0, "iron_beside": 3.0, "fresh": fresh}
    columns = transient._Columns(pieces(iron=iron))
    hot_c = float(columns.beside[0, 0])
    columns.land(0, 0)
    for _ in range(60):
        columns.step(np.full(1, 1.0), 0)
    cooled_c = float(columns.beside[0, 0])
    assert cooled_c < hot_c - 2.0
    columns.land(1, 0)
    assert float(columns.beside[0, 0]) == pytest.approx(hot_c if fresh else cooled_c)


def test_two_irons_agree_with_their_equations(counted):
    # scipy's solver on the two heat balances, with what the food drew taken from the run
    one_turn = {"seconds": np.array([[200.0]]), "on_rail": np.ones((1, 1), bool), "faces": "A"}
    iron = {"heat_capacity_j_m2k": 39e3, "fire_time_constant_s": 150.0}
    iron |= {"conduction_time_constant_s": 60.0, "iron_beside": 3.0}
    given = pieces(**one_turn, iron=iron, rail_c=np.array([250.0]))
    columns, drawn = transient._Columns(given), []
    columns.land(0, 0)
    for _ in range(2000):
        before = columns.entered.copy()
        columns.step(np.full(1, 0.1), 0)
        drawn.append((columns.entered - before).ravel()[0] / 0.1)

    def rates(time_s, irons):
        under, beside = irons
        flux = drawn[min(int(time_s / 0.1), 1999)]
        return [
            (250.0 - under) / 150.0 + (beside - under) / 60.0 - flux / 39e3,
            (250.0 - beside) / 150.0 + (under - beside) / (3.0 * 60.0),
        ]

    under, beside = scipy.integrate.solve_ivp(rates, (0.0, 200.0), [250.0, 250.0], max_step=0.5).y[:, -1]
    assert columns.under.ravel()[0] == pytest.approx(under, abs=0.1)
    assert columns.beside.ravel()[0] == pytest.approx(beside, abs=0.1)


def test_published_evaporation_of_open_water():
    # Saturated vapour of water, steam tables (from memory): 60 °C 19.95 kPa, 0.1304 kg/m³; 25 °C 3.17 kPa.
    # Chilton and Colburn: h/(ρ c Le^(2/3)) times the difference in concentration times the latent heat.
    film = 10.0 / (1.06 * 1007.0 * 0.86 ** (2.0 / 3.0))
    expected = film * (0.1304 - 0.5 * 3170.0 / (461.5 * 333.15)) * 2.36e6
    flux = evaporation.evaporation_flux(np.array([60.0]), np.array([25.0]), np.array([10.0]))
    assert flux[0] == pytest.approx(expected, rel=0.01)


def test_charcoal_does_not_break_it():
    burnt = transient.sear(patchy(1, thickness_m=np.array([0.005]), seconds=np.full((1, 4), 600.0)))
    assert np.all(np.isfinite(burnt.peak_centre_c))
    assert burnt.peak_centre_c[0] <= 100.5
