"""What contact, patch and valley readings teach, and what they cannot."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatmap.correct import Calibration, ReferencePair, calibrate, correct_readings, gun_view
from heatmap.correct import calibration as calibration_module
from heatmap.correct.evidence import farthest_by_chance, probe_std_c
from heatmap.correct.tuning import MOST_PAIRS
from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings.reading import Reading

GRILL = Grill(grate=Grate(width_mm=600.0, depth_mm=450.0), target=TargetBand(low_c=288.0, high_c=316.0))
SHOWN_C = 302.0


def reference(aim: str, shown_c: float, **changes: object) -> ReferencePair:
    told: dict[str, object] = {"infrared_c": SHOWN_C, "infrared_std_c": 1.5, "same_session": True}
    told |= {key: changes.pop(key) for key in list(changes) if key in told}
    reading = {"id": 1, "shown_c": shown_c, "x_mm": 200.0, "y_mm": 200.0, "aim": aim} | changes
    return ReferencePair(reading=Reading(**reading), **told)  # type: ignore[arg-type]


def level(*pairs: ReferencePair, grill: Grill = GRILL) -> tuple[float, float]:
    """Return the rail behind what the gun shows at the pairs' place, and its shared standard deviation."""
    corrected = calibrate(grill, pairs).correct(np.array([SHOWN_C]))
    mean_c, std_c = corrected.rail_c, corrected.shared_std_c
    return float(mean_c[0]), float(std_c[0])


ALONE_C, ALONE_STD_C = level()
#: What a place has of its own, patchy finish and local valley, as a spot there tells it.
PLACE_STD_C = float(
    correct_readings([Reading(id=1, shown_c=SHOWN_C, x_mm=0.0, y_mm=0.0)], calibrate(GRILL))[0].place_std_c or 0.0
)


def test_one_contact_reading_pins_the_level() -> None:
    mean_c, std_c = level(reference("contact", 318.0))
    assert mean_c == pytest.approx(318.0 + GRILL.probe.reads_low_c, abs=2.0)
    assert std_c < ALONE_STD_C / 4
    # Never better than the probe, and than what its place has of its own.
    assert std_c > np.hypot(probe_std_c(GRILL), 0.9 * PLACE_STD_C)


@pytest.mark.parametrize("shown_c", [240.0, 290.0, 318.0, 350.0])
def test_agrees_with_the_product_of_two_normal_distributions(shown_c: float) -> None:
    """Level before and contact reading are nearly normal and independent: precisions add (JCGM 100:2008,
    F.1.2)."""
    mean_c, std_c = level(reference("contact", shown_c))
    probe_c = shown_c + GRILL.probe.reads_low_c
    # The infrared shot counts with its slope of about one degree of rail for one shown.
    contact_std_c = np.sqrt(probe_std_c(GRILL) ** 2 + 1.5**2 + PLACE_STD_C**2)
    precision = 1 / ALONE_STD_C**2 + 1 / contact_std_c**2
    expected = (ALONE_C / ALONE_STD_C**2 + probe_c / contact_std_c**2) / precision
    assert mean_c == pytest.approx(expected, abs=1.5)
    assert std_c == pytest.approx(precision**-0.5, rel=0.12)


def test_agrees_with_a_dense_grid_after_a_contact(monkeypatch: pytest.MonkeyPatch) -> None:
    pairs = [reference("contact", 318.0), reference("valley", 320.0, distance_mm=100.0)]
    few = level(*pairs)
    monkeypatch.setattr(gun_view, "_VALLEY_STEP_C", 2.5)
    monkeypatch.setattr(gun_view, "_REFLECTED_NODES", 5)
    calibration_module._before_any_pair.cache_clear()
    many = level(*pairs)
    calibration_module._before_any_pair.cache_clear()
    assert many != few, "it is another grid"
    assert few[0] == pytest.approx(many[0], abs=0.1)
    assert few[1] == pytest.approx(many[1], rel=0.02)


def test_three_contacts_are_little_better_than_one_and_no_better_than_the_probe() -> None:
    one, three = level(reference("contact", 318.0)), level(*[reference("contact", 318.0)] * 3)
    assert three[1] < one[1]
    assert three[1] > np.hypot(GRILL.probe.accuracy_c / 3**0.5, 0.9 * PLACE_STD_C)
    spread = [reference("contact", 318.0, x_mm=100.0 * n) for n in (1, 3, 5)]
    assert level(*spread)[1] < three[1]


def test_two_that_disagree_widen_the_answer() -> None:
    one = level(reference("contact", 318.0))
    agreeing = level(reference("contact", 318.0), reference("contact", 319.0))
    disagreeing = level(reference("contact", 318.0), reference("contact", 290.0))
    assert agreeing[1] < one[1] < disagreeing[1]
    assert 290.0 < disagreeing[0] < 323.0


def test_two_that_disagree_are_named_with_how_far_apart_they_are() -> None:
    known = calibrate(GRILL, [reference("contact", 318.0), reference("contact", 290.0, id=2)])
    assert known.disagreement is not None
    assert (known.disagreement.lower.reading.id, known.disagreement.upper.reading.id) == (2, 1)
    assert known.disagreement.apart_c == pytest.approx(28.0, abs=0.5)
    # Where the gun saw the same difference there is nothing to disagree about.
    moved = calibrate(
        GRILL, [reference("contact", 318.0), reference("contact", 292.0, id=2, infrared_c=SHOWN_C - 26.0)]
    )
    assert moved.disagreement is None
    assert calibrate(GRILL, [reference("contact", 318.0), reference("contact", 321.0)]).disagreement is None
    assert calibrate(GRILL, [reference("contact", 318.0)]).disagreement is None


def test_agrees_with_the_studentized_range_of_scipy() -> None:
    from scipy.stats import studentized_range

    for count in range(2, MOST_PAIRS + 1):
        expected = studentized_range.ppf(0.95, count, 1e6) / np.sqrt(2.0)
        assert farthest_by_chance(count) == pytest.approx(expected, abs=0.03)


def test_an_absurd_contact_is_not_believed() -> None:
    known = calibrate(GRILL, [reference("contact", 31.8), reference("contact", 318.0)])
    assert [one.believed for one in known.reference_pairs] == [False, True]
    assert float(known.correct(np.array([SHOWN_C])).rail_c[0]) == pytest.approx(321.0, abs=2.0)
    alone = calibrate(GRILL, [reference("contact", 31.8)])
    np.testing.assert_allclose(alone.nuisance.weight, calibrate(GRILL, []).nuisance.weight, rtol=1e-12)


@pytest.mark.parametrize(("aim", "shown_c"), [("patch", 58.0), ("valley", 29.0)])
def test_an_absurd_patch_or_valley_shot_is_not_believed(aim: str, shown_c: float) -> None:
    assert not calibrate(GRILL, [reference(aim, shown_c, distance_mm=100.0)]).reference_pairs[0].believed


def test_another_day_counts_for_less_and_never_below_the_day() -> None:
    today = level(reference("contact", 318.0))
    other = level(reference("contact", 318.0, same_session=False, session="spring"))
    assert other[1] == pytest.approx(np.hypot(today[1], GRILL.target.day_sd_c), rel=0.12)
    many = level(*[reference("contact", 318.0, same_session=False, session="spring")] * 8)
    assert many[1] > GRILL.target.day_sd_c
    days = level(*[reference("contact", 318.0, same_session=False, session=f"day {n}") for n in range(8)])
    assert days[1] < many[1]


def test_a_valley_shot_says_nothing_from_afar_and_something_close_up() -> None:
    at_12_in = level(reference("valley", 320.0, distance_mm=304.8))
    close_up = level(reference("valley", 320.0, distance_mm=100.0))
    assert at_12_in[1] > 0.97 * ALONE_STD_C
    assert close_up[1] < 0.9 * ALONE_STD_C
    # A valley seen hotter than thought means that the rail is colder than thought.
    assert close_up[0] < level(reference("valley", 290.0, distance_mm=100.0))[0]


def test_a_patch_pins_the_emissivity() -> None:
    """A plate that shows less than the patch on it has less emissivity than thought: it is hotter than
    thought."""
    plate = replace(GRILL, grate=replace(GRILL.grate, rail_top_mm=19.05, rail_pitch_mm=19.05))
    alike, less = (level(reference("patch", SHOWN_C + more_c), grill=plate) for more_c in (0.0, 15.0))
    assert less[0] > alike[0] + 8.0
    assert alike[1] < 0.9 * level(grill=plate)[1]
    # Patch 0.95, rail as seen: with both at one temperature the share of radiance is the share of emissivity,
    # and 15 °C at 302 °C is worth 0.06 of it by the sensitivity 0.01 to 2.4 °C of the published table (ES-01
    # to ES-04).
    known = calibrate(plate, [reference("patch", SHOWN_C + 15.0)])
    assert known.nuisance.mean(known.nuisance.emissivity) == pytest.approx(0.89, abs=0.02)


def test_order_of_pairs_is_irrelevant() -> None:
    pairs = [
        reference("contact", 318.0),
        reference("valley", 320.0, distance_mm=100.0),
        reference("contact", 311.0),
        reference("patch", 305.0),
    ]
    assert level(*pairs) == pytest.approx(level(*reversed(pairs)), rel=1e-9)


def test_coals_look_hotter_through_the_gap() -> None:
    coals = replace(GRILL, burners=(Burner(name="coals", control="none"),))
    mean_c, std_c = level(grill=coals)
    assert mean_c < ALONE_C - 20.0
    assert std_c > 1.5 * ALONE_STD_C


def shown_and_back(known: Calibration) -> float:
    shown_c = np.linspace(60.0, 500.0, 301)
    return float(np.abs(known.shown_from_rail_c(known.correct(shown_c).rail_c) - shown_c).max())


@pytest.mark.parametrize("pairs", [(), (reference("contact", 330.0),)], ids=["alone", "with a contact"])
def test_compared_numbers_come_back(pairs: tuple[ReferencePair, ...]) -> None:
    """Numbers like the cook's own: what the gun showed, through the rail and back, within a hundredth."""
    known = calibrate(GRILL, pairs)
    assert shown_and_back(known) < 0.012
    band_c = np.array([288.0, 316.0])
    np.testing.assert_allclose(known.compared_c(known.rail_from_compared_c(band_c)), band_c, atol=1e-6)
    slope = known.compared_slope(300.0)
    ends = known.compared_c(np.array([299.0, 301.0]))
    assert slope == pytest.approx((ends[1] - ends[0]) / 2.0, rel=0.02)
    assert known.level_std_c(300.0) == GRILL.target.day_sd_c


def test_numbers_of_the_rail_are_left_alone() -> None:
    rail = calibrate(replace(GRILL, target=replace(GRILL.target, numbers="rail")), ())
    values = np.array([250.0, 300.0])
    np.testing.assert_array_equal(rail.compared_c(values), values)
    np.testing.assert_array_equal(rail.rail_from_compared_c(values), values)
    assert rail.compared_slope(300.0) == 1.0
    assert rail.level_std_c(300.0) == pytest.approx(rail.shared_std_c(300.0))


def test_shared_std_follows_the_curve() -> None:
    known = calibrate(GRILL)
    corrected = known.correct(np.array([300.0]))
    mean_c, std_c = corrected.rail_c, corrected.shared_std_c
    assert known.shared_std_c(float(mean_c[0])) == pytest.approx(float(std_c[0]), rel=0.01)


def test_the_curve_rises() -> None:
    for one in (GRILL, replace(GRILL, grate=replace(GRILL.grate, emissivity=0.2, emissivity_sd=0.1))):
        shown_c, rail_c = calibrate(one, [reference("contact", 318.0)])._curve[:2]
        assert np.all(np.diff(shown_c) > 0)
        assert np.all(np.diff(rail_c) >= 0)
        assert len(shown_c) <= calibration_module._CURVE_SHOWN_C.size
