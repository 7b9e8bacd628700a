"""The model that `gratemap sear` runs on against published trials of contact cooking, and how wide its interval is."""

import re
from pathlib import Path

import numpy as np
import pytest

import trials
from heatmap.sear import Beliefs, Food, Rails, plan_sear
from heatmap.sear.runs import Cases, _pieces
from heatmap.sear.transient import _Columns

MANUAL = Path(__file__).parents[2] / "cli" / "manual" / "sear.md"
COUNTED = [row for row in trials.rows("settled", "reported") if row["quantity"] != "face when lifted"]
#: Outside the 90 % interval, and why: juice that boils on a skillet that holds it is not computed (TR-07, TR-13; on
#: rails it drips), and a turn over is taken to last three seconds, a fifth of 15 (TR-11).
MISSED = {"TR-07", "TR-11", "TR-13"}


@pytest.fixture(scope="module")
def predicted():
    return {row["id"]: trials.predict(row) for row in COUNTED}


def test_published_trials_lie_inside_the_interval(predicted):
    """Ten of thirteen, not nine of ten: 77 %; those outside are named, and none other may join them."""
    outside = {
        row["id"]
        for row in COUNTED
        if not predicted[row["id"]].holds(float(row["measured_low"]), float(row["measured_high"]))
    }
    assert outside <= MISSED
    assert len(COUNTED) - len(outside) >= 10


def test_published_face_when_lifted_stays_at_boiling():
    # row TR-14, Kerth 2016: never above 100 °C when lifted and measured, though the crust on the iron was hotter
    row = next(row for row in trials.rows("reported") if row["id"] == "TR-14")
    alone = Cases.alike(Beliefs.before_any_test(), np.array([[540.0]]))
    columns = _Columns(_pieces(trials.food_of(row), trials.plate_of(row), alone, "A"))
    columns.land(0, 0)
    for _ in range(40):
        columns.step(np.full_like(columns.each.thickness_m, 540.0 / 40), 0)
    assert columns.outside[0, 0] > 110.0
    columns.lift(0)
    assert 90.0 < columns.celsius[0, 0] <= float(row["measured_high"])


def test_every_row_says_where_it_is_from():
    for row in trials.rows("settled", "reported", "not predicted"):
        assert len(row["source"]) > 5
        assert re.search(r"read in|from memory|^as TR", row["how_known"]), row["id"]
        assert row["assumed"], row["id"]


def test_the_manual_shows_what_is_predicted(predicted):
    """Every row of the manual's table holds the numbers of now, to the digits it prints."""
    told = dict(re.findall(r"^\| (TR-\d\d) \|(.*)\|$", MANUAL.read_text(encoding="utf-8"), re.MULTILINE))
    assert set(told) == {row["id"] for row in COUNTED}
    for row in COUNTED:
        cells = [cell.strip() for cell in told[row["id"]].split("|")]
        middle, low, high = (float(one) for one in re.findall(r"[\d.]+", cells[-2]))
        found, step = predicted[row["id"]], 0.01 if row["unit"] == "1" else 0.1 if row["unit"] == "min" else 1.0
        assert [middle, low, high] == pytest.approx([found.middle, found.low, found.high], abs=0.6 * step, rel=0.01)
        inside = found.holds(float(row["measured_low"]), float(row["measured_high"]))
        assert cells[-1] == ("inside" if inside else "outside")


@pytest.mark.parametrize("thickness_mm", [12.7, 25.4, 38.1])
def test_interval_on_a_plate_is_narrow_once_plate_and_thickness_are_known(thickness_mm):
    food = Food(thickness_mm=thickness_mm, start_centre_c=5.0, composition=trials.MEATS["lean"], thickness_sd_mm=0.0)
    for asked in (trials.minutes_halves, trials.minutes_both):
        found = trials.interval(
            lambda cases, plate, asked=asked: asked(food, plate, cases, 60.0),
            food,
            trials.plate(190.0),
            iron_factor=1.0,
        )
        assert found.high / found.middle < 1.6
        assert found.middle / found.low < 1.6


@pytest.mark.parametrize(("thickness_mm", "widest"), [(25.4, 1.6), (31.75, 1.6), (38.1, 1.65)])
def test_interval_of_a_sear_is_narrow_once_rails_and_thickness_are_known(thickness_mm, widest):
    """Of a thicker piece the sear warms the centre little, and two degrees of its start count for more: 1.63."""
    food = Food(thickness_mm=thickness_mm, start_centre_c=43.3, cooker_c=135.0, thickness_sd_mm=0.0)
    plan = plan_sear(food, Rails(rail_c=315.6), target_centre_c=58.3)
    assert plan.seconds_high / plan.seconds_per_turn < widest
    assert plan.seconds_per_turn / plan.seconds_low < widest
