"""Places on known surfaces: laws, brute force, Monte Carlo, and make-believe grills with known truth."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator

from heatmap.assessment import Assessment, assess
from heatmap.decisions.placement import Footprint, Place, Wanted, find_places
from heatmap.decisions.tuning import EQUAL_CHANCE, EQUAL_SHARE, GAP_MM
from heatmap.errors import InputError
from heatmap.grill.grate import Grate, Positions
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings.reading import Reading, Round
from heatmap.synthetic import draw_grill
from heatmap.verdict.chances import chances
from heatmap.verdict.tuning import SURE
from heatmap.words.place import place_answer

FOOD = Footprint(length_mm=190.0, width_mm=125.0)
MIDDLE_C, HALF_C = 300.0, 14.0
GRILL = Grill(
    grate=Grate(width_mm=600.0, depth_mm=450.0),
    positions=Positions(rows=4, columns=5, margin_mm=50.0),
    target=TargetBand(low_c=MIDDLE_C - HALF_C, high_c=MIDDLE_C + HALF_C, day_sd_c=4.0),
    units="si",
)
FieldC = Callable[[float, float], float]


def assessed(field: FieldC, grill: Grill = GRILL) -> Assessment:
    readings = []
    for index, label in enumerate(grill.labels):
        x_mm, y_mm = grill.point_mm(label)
        shown_c = float(field(x_mm, y_mm))
        readings.append(Reading(id=index + 1, shown_c=shown_c, x_mm=x_mm, y_mm=y_mm, position=label))
    return assess(grill, [Round(number=1, session="", readings=tuple(readings))])


def bump(x_mm: float, y_mm: float) -> float:
    """On target but for a hot place left of the middle, and falling off gently to the back right."""
    hot = 70.0 * np.exp(-((x_mm - 200.0) ** 2 + (y_mm - 225.0) ** 2) / (2 * 90.0**2))
    return MIDDLE_C + hot - 0.03 * (x_mm - 300.0) - 0.02 * (y_mm - 225.0)


@pytest.fixture(scope="module")
def bumpy() -> Assessment:
    return assessed(bump)


def at(place: Place) -> np.ndarray:
    return np.array([place.x_mm, place.y_mm])


def gaps(places: Sequence[Place], food: Footprint = FOOD) -> list[float]:
    return [
        float(food.gaps_mm(at(one) - at(other), one.headings, other.headings))
        for index, one in enumerate(places)
        for other in places[:index]
    ]


Surface = Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]]


def on_a_lattice(assessment: Assessment, step_mm: float = 7.5) -> Surface:
    """Return the surface asked once, at a lattice, and straight lines between, for whoever asks at very many points."""
    axes = [np.arange(0.0, size + 1.0, step_mm) for size in GRILL.grate.extent_mm]
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
    seen = np.stack(assessment.at(points.reshape(-1, 2)), axis=-1).reshape(*points.shape[:2], 2)
    between = RegularGridInterpolator(axes, seen)
    return lambda wanted: tuple(between(wanted).T)  # type: ignore[return-value]


def expected_miss_c(surface: Surface, centre: Sequence[float], heading: float, count: int = 4000) -> float:
    """Work out the expected miss the slow way: random points over the outline, the surface asked at each."""
    rng = np.random.default_rng(3)
    radius, angle = np.sqrt(rng.random(count)), 2 * np.pi * rng.random(count)
    clock = np.radians(30.0 * heading)
    a, b = 95.0 * radius * np.cos(angle), 62.5 * radius * np.sin(angle)
    points = np.column_stack([a * np.sin(clock) + b * np.cos(clock), a * np.cos(clock) - b * np.sin(clock)])
    mean_c, std_c = surface(points + np.asarray(centre))  # own and level together
    return float(np.sqrt(np.mean((mean_c - MIDDLE_C) ** 2 + std_c**2)))


def test_a_known_bump_is_avoided(bumpy: Assessment) -> None:
    for place in find_places(bumpy, Wanted(footprint=FOOD)).places[:2]:
        assert np.hypot(place.x_mm - 200.0, place.y_mm - 225.0) > 150.0
    assert find_places(bumpy, Wanted(footprint=FOOD, headings=(12,))).best.x_mm > 300.0


@pytest.mark.parametrize("heading", [12.0, 2.0])
def test_agrees_with_brute_force(bumpy: Assessment, heading: float) -> None:
    best = find_places(bumpy, Wanted(footprint=FOOD, headings=(heading,))).best
    assert best.rms_from_target_c == pytest.approx(expected_miss_c(bumpy.at, at(best), heading), rel=0.01)
    half = np.array(FOOD.half_extent_mm((heading,))) + GRILL.grate.rim_mm
    surface = on_a_lattice(bumpy)
    misses = [
        expected_miss_c(surface, (x, y), heading, 400)
        for x in np.linspace(half[0], 600.0 - half[0], 18)
        for y in np.linspace(half[1], 450.0 - half[1], 12)
    ]
    assert best.rms_from_target_c <= min(misses) * 1.02


def test_miss_is_made_of_three_parts(bumpy: Assessment) -> None:
    for place in find_places(bumpy, Wanted(footprint=FOOD, headings=(2, 10))).places:
        parts = (place.mean_c - MIDDLE_C) ** 2 + place.std_within_c**2 + place.mean_std_c**2
        assert place.rms_from_target_c**2 == pytest.approx(parts, rel=1e-9)
        assert place.mean_std_c > bumpy.level_std_c


def test_mirror_the_grate_mirrors_the_place(bumpy: Assessment) -> None:
    mirrored = assessed(lambda x, y: bump(600.0 - x, y))
    there = find_places(bumpy, Wanted(footprint=FOOD, headings=(2,))).places
    here = find_places(mirrored, Wanted(footprint=FOOD, headings=(10,))).places
    assert len(here) == len(there)
    for one, other in zip(here[:2], there[:2], strict=True):
        assert at(one) == pytest.approx([600.0 - other.x_mm, other.y_mm], abs=4.0)
        assert one.rms_from_target_c == pytest.approx(other.rms_from_target_c, abs=0.02)


def test_another_band_over_an_equally_hotter_grate_is_the_same_place(bumpy: Assessment) -> None:
    hotter = replace(GRILL, target=replace(GRILL.target, low_c=GRILL.target.low_c + 5, high_c=GRILL.target.high_c + 5))
    here = find_places(bumpy, Wanted(footprint=FOOD, headings=(12,))).best
    there = find_places(assessed(lambda x, y: bump(x, y) + 5.0, hotter), Wanted(footprint=FOOD, headings=(12,))).best
    assert at(there) == pytest.approx(at(here), abs=15.0)
    assert there.mean_c - here.mean_c == pytest.approx(5.0, abs=0.5)


def test_units_of_the_grill_do_not_matter(bumpy: Assessment) -> None:
    there = find_places(assessed(bump, replace(GRILL, units="us")), Wanted(footprint=FOOD)).places
    assert find_places(bumpy, Wanted(footprint=FOOD)).places == there


def test_a_uniform_surface_is_equally_good_everywhere() -> None:
    level = assessed(lambda x, y: MIDDLE_C)
    placement = find_places(level, Wanted(footprint=FOOD))
    assert placement.anywhere
    assert place_answer(level, placement).startswith("Anywhere is equally good, within 3 °C")
    assert placement.best.headings == (12.0,)  # nothing is gained by turning the food
    assert placement.best.chance_in_band > 0.8


@pytest.mark.parametrize(
    ("off_c", "begins"),
    [
        (-HALF_C - 30.0, "No place is in band; the best is between B3 and C3, 30 °C too cold."),
        (HALF_C + 2.0, "Probably no place is in band; the best is between B3 and C3, 2 °C too hot."),
        (HALF_C + 0.2, "Probably no place is in band; the best is between B3 and C3, less than 1 °C too hot."),
    ],
)
def test_a_surface_out_of_band_is_called_so_as_surely_as_it_is_known(off_c: float, begins: str) -> None:
    """The level is known to 4 °C from day to day: 30 °C out is sure, 2 °C is not."""
    level = assessed(lambda x, y: MIDDLE_C + off_c)
    assert place_answer(level, find_places(level, Wanted(footprint=FOOD, headings=(12,)))).startswith(begins)


def test_a_bumpy_surface_is_not(bumpy: Assessment) -> None:
    assert not find_places(bumpy, Wanted(footprint=FOOD)).anywhere


@pytest.mark.parametrize(
    ("slope", "heading"), [((0.3, 0.0), 12.0), ((0.0, 0.3), 3.0), ((0.21, -0.21), 1.5), ((0.21, 0.21), 10.5)]
)
def test_the_long_side_lies_across_the_slope(slope: tuple[float, float], heading: float) -> None:
    tilted = assessed(lambda x, y: MIDDLE_C + slope[0] * (x - 300.0) + slope[1] * (y - 225.0))
    best = find_places(tilted, Wanted(footprint=FOOD)).best
    assert abs(best.headings[0] % 12.0 - heading % 12.0) <= 0.5
    along = (heading + 3.0 - 1.0) % 12.0 + 1.0
    worse = find_places(tilted, Wanted(footprint=FOOD, headings=(along,))).best
    assert worse.std_within_c > best.std_within_c * 1.3


def test_spread_on_a_plane_is_that_of_its_outline() -> None:
    """On a plane of slope s along the heading the spread is s times half the length over 2: √(a²/4)."""
    tilted = assessed(lambda x, y: MIDDLE_C + 0.3 * (y - 225.0))
    place = find_places(tilted, Wanted(footprint=FOOD, headings=(12,))).best
    assert place.std_within_c == pytest.approx(0.3 * 95.0 / 2.0, rel=0.06)


def test_the_lead_is_told_where_there_is_one() -> None:
    valley = assessed(lambda x, y: MIDDLE_C - 25.0 + 0.5 * max(abs(x - 450.0), abs(y - 225.0) * 0.9))
    placement = find_places(valley, Wanted(footprint=FOOD, headings=(12,)))
    assert placement.equally_good == 1
    assert placement.lead_chance is not None and placement.lead_chance >= SURE
    assert placement.lead_c is not None
    assert placement.lead_c > EQUAL_SHARE * 2 * HALF_C
    answer = place_answer(valley, placement)
    assert answer == f"Between B4 and C4, better than any other by {placement.lead_c:.0f} °C."


@pytest.mark.parametrize("slope", [0.0, 0.03, 0.06, 0.1])
def test_places_with_unlike_chances_are_not_equally_good(slope: float) -> None:
    tilted = assessed(lambda x, y: MIDDLE_C + slope * (x - 300.0) + 0.05 * abs(y - 225.0))
    placement = find_places(tilted, Wanted(footprint=FOOD, headings=(12,)))
    chances = [place.chance_fits for place in placement.places[: placement.equally_good]]
    assert max(chances) - min(chances) <= 2 * EQUAL_CHANCE
    assert all(abs(chance - chances[0]) <= EQUAL_CHANCE for chance in chances)


def test_two_sides_alike_are_told_as_equally_good() -> None:
    ridge = assessed(lambda x, y: MIDDLE_C + 60.0 * np.exp(-(((x - 300.0) / 80.0) ** 2)))
    placement = find_places(ridge, Wanted(footprint=FOOD, headings=(12,)))
    assert placement.equally_good >= 2
    assert placement.lead_c is not None
    assert placement.lead_c < EQUAL_SHARE * 2 * HALF_C
    assert "places are equally good: " in place_answer(ridge, placement)
    sides = {place.x_mm > 300.0 for place in placement.places[: placement.equally_good]}
    assert sides == {True, False}


def test_unsure_of_the_lead_says_so() -> None:
    """A level known only to ±80 °C cannot tell a place a little hotter from one a little colder."""
    grill = replace(GRILL, target=replace(GRILL.target, day_sd_c=40.0))
    assessment = assessed(lambda x, y: MIDDLE_C + 0.1 * (x - 300.0), grill)
    placement = find_places(assessment, Wanted(footprint=FOOD, headings=(12,)))
    assert (placement.lead_chance or 0.0) < SURE
    answer = place_answer(assessment, placement)
    assert answer.startswith("As far as can be told, ") or "but that is not sure" in answer


@pytest.mark.parametrize("seed", range(20))
def test_always_inside_the_rim_and_apart(bumpy: Assessment, seed: int) -> None:
    rng = np.random.default_rng(seed)
    food = Footprint(length_mm=rng.uniform(30.0, 380.0), width_mm=rng.uniform(30.0, 380.0))
    headings = ((), (float(rng.uniform(1, 13)),), (2.0, 10.0))[seed % 3]
    try:
        placement = find_places(bumpy, Wanted(footprint=food, headings=headings))
    except InputError:
        assert food.length_mm + food.width_mm > 400.0
        return
    rim = 0.0 if placement.over_rim else GRILL.grate.rim_mm
    for place in placement.places:
        edge = at(place) + food.edge_mm(place.headings)
        assert np.all(edge >= rim - 1e-6)
        assert np.all(edge <= np.array(GRILL.grate.extent_mm) - rim + 1e-6)
    assert all(gap >= GAP_MM - 1e-6 for gap in gaps(placement.places, food))


def test_food_that_only_fits_over_the_rim_says_so(bumpy: Assessment) -> None:
    wide = Footprint(length_mm=580.0, width_mm=100.0)
    placement = find_places(bumpy, Wanted(footprint=wide, headings=(3,)))
    assert placement.over_rim
    assert abs(placement.best.x_mm - 300.0) <= 10.0 + 1e-6
    with pytest.raises(InputError, match="does not fit on the grate, 600 x 450 mm at heading 12"):
        find_places(bumpy, Wanted(footprint=wide, headings=(12,)))


def test_chance_agrees_with_counting_joint_samples(bumpy: Assessment) -> None:
    place = find_places(bumpy, Wanted(footprint=FOOD, headings=(12,))).best
    rng = np.random.default_rng(11)
    unit = rng.uniform(-1.0, 1.0, (60, 2))
    unit = np.concatenate([unit[(unit**2).sum(axis=1) <= 1.0], FOOD.edge_mm((12.0,)) / [62.5, 95.0]])
    rail_c = bumpy.surface.sample(at(place) + unit * [62.5, 95.0], 1000, rng)
    compared_c = bumpy.calibration.compared_c(rail_c)
    compared_c = compared_c + bumpy.level_std_c * rng.standard_normal(1000)[:, None]
    counted = np.mean((np.abs(compared_c - MIDDLE_C) <= HALF_C).all(axis=1))
    assert 0.03 < counted < 0.97
    assert place.chance_in_band == pytest.approx(counted, abs=0.08)


def test_the_whole_contact_is_less_likely_in_band_than_its_middle(bumpy: Assessment) -> None:
    for place in find_places(bumpy, Wanted(footprint=FOOD)).places:
        mean_c, std_c = bumpy.at(at(place)[None])
        middle = chances(float(mean_c[0]), float(std_c[0]), *bumpy.band_c)
        assert place.chance_in_band <= middle["in band"] + 0.03


def test_fresh_rails_for_every_turn(bumpy: Assessment) -> None:
    placement = find_places(bumpy, Wanted(footprint=FOOD, headings=(2, 10), turns=4))
    # A turn for each face at the first heading, then one for each at the second, so that the marks cross.
    assert [place.headings for place in placement.places] == [(2.0,), (2.0,), (10.0,), (10.0,)]
    assert all(place.fresh for place in placement.places)
    assert min(gaps(placement.places)) >= GAP_MM - 1e-6


def test_turns_on_a_mirrored_grate_lie_on_both_sides() -> None:
    ridge = assessed(lambda x, y: MIDDLE_C + 60.0 * np.exp(-(((x - 300.0) / 80.0) ** 2)) + 0.25 * (y - 225.0))
    one, other = find_places(ridge, Wanted(footprint=FOOD, headings=(12,), turns=2)).places
    assert (one.x_mm > 300.0) != (other.x_mm > 300.0)
    assert one.x_mm + other.x_mm == pytest.approx(600.0, abs=30.0)
    assert abs(one.mean_c - other.mean_c) < 2.0


def test_four_are_found_where_only_a_tight_packing_fits(bumpy: Assessment) -> None:
    """Two rows of two barely fit: most first places would block the others."""
    tight = Footprint(length_mm=192.0, width_mm=267.0)
    placement = find_places(bumpy, Wanted(footprint=tight, headings=(12,), turns=4))
    assert [place.fresh for place in placement.places] == [True] * 4
    assert min(gaps(placement.places, tight)) >= GAP_MM - 1e-6


def test_turns_that_do_not_fit_go_back_and_say_so(bumpy: Assessment) -> None:
    large = Footprint(length_mm=350.0, width_mm=240.0)
    placement = find_places(bumpy, Wanted(footprint=large, headings=(12,), turns=4))
    assert [place.fresh for place in placement.places] == [True, True, False, False]
    assert at(placement.places[2]) == pytest.approx(at(placement.places[0]))
    answer = place_answer(bumpy, placement)
    assert answer.startswith("Only two places fit without overlap; turns 3 and 4 must use rails again")


def test_requests_that_cannot_be() -> None:
    with pytest.raises(InputError, match="turns is 0; it must be a whole number from 1 to 8"):
        Wanted(footprint=FOOD, turns=0)
    with pytest.raises(InputError, match="headings is 13; it must be at least 1 and at most 12.99"):
        Wanted(footprint=FOOD, headings=(13,))
    with pytest.raises(InputError, match="headings is nan; it must be a plain number"):
        Wanted(footprint=FOOD, headings=(float("nan"),))
    with pytest.raises(InputError, match="headings is a list of 3; it must be of at most 2"):
        Wanted(footprint=FOOD, headings=(1, 2, 3))
    assert Wanted(footprint=FOOD, headings=[2, 10]) == Wanted(footprint=FOOD, headings=(2.0, 10.0))  # type: ignore[arg-type]


def test_search_is_quick_beside_the_map(bumpy: Assessment) -> None:
    """Ratio of processor times in one process; both take some 30 ms."""

    def seconds(action: Callable[[], object]) -> float:
        start = time.process_time()
        action()
        return time.process_time() - start

    search = min(seconds(lambda: find_places(bumpy, Wanted(footprint=FOOD))) for _ in range(3))
    mapped = min(seconds(lambda: assess(GRILL, bumpy.rounds)) for _ in range(3))
    assert search < 1.5 * mapped


def test_known_truth_beats_the_middle_of_the_grate() -> None:
    """Make-believe grills with one contact reading: regret against the best place there is, in truth."""
    regrets, middles = [], []
    for seed in range(8):
        grill = draw_grill(seed, numbers="rail", cell_mm=50.8)
        one = grill.play_round(1, contact_at="B2")
        best = find_places(assess(grill.grill, [one]), Wanted(footprint=FOOD, headings=(12,))).best
        points, weights = FOOD.area_rule_mm((12.0,))
        target_c, extent = grill.grill.target.middle_c, np.array(grill.grill.grate.extent_mm)

        def miss(centre: np.ndarray) -> float:
            return float(np.sqrt(weights @ (grill.truth_c(centre + points) - target_c) ** 2))  # noqa: B023

        half = np.array([62.5, 95.0]) + grill.grill.grate.rim_mm
        across, away = (np.arange(low, size - low, 25.0) for low, size in zip(half, extent, strict=True))
        least = min(miss(np.array((x, y))) for x in across for y in away)
        regrets.append(1.8 * (miss(at(best)) - least))
        middles.append(1.8 * (miss(0.5 * extent) - least))
    assert np.median(regrets) <= 8.0
    assert np.median(regrets) < np.median(middles)
