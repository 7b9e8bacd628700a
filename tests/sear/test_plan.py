"""Seconds per turn against common practice, the laws they must keep, and Monte Carlo."""

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from heatmap.errors import InputError
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
from heatmap.sear import Beliefs, Food, Rails, plan_sear
from heatmap.sear.runs import as_believed, one_std, run
from heatmap.sear.transient import browning_share
from heatmap.sear.tuning import LONGEST_TURN_S
from heatmap.units import Display
from heatmap.words import cautions
from heatmap.words.sear import assumption_sentences, food_cautions, roasts_sentence

pytestmark = pytest.mark.usefixtures("run_once")

REFERENCE = Path(__file__).parents[1] / "reference"


def c(fahrenheit):
    return (fahrenheit - 32.0) / 1.8


def trade(row_id, column="low"):
    with (REFERENCE / "trade_facts.csv").open(encoding="utf-8", newline="") as table:
        return next(float(row[column]) for row in csv.DictReader(table) if row["id"] == row_id)


# common practice, no source: rows TF-02, TF-04, TF-05; rails "about 600 °F"
FOOD = Food(thickness_mm=25.4 * trade("TF-02"), start_centre_c=c(trade("TF-05")), cooker_c=c(trade("TF-04")))
US_FOOD = replace(FOOD, units="us")
THIN = Food(thickness_mm=5.08, start_centre_c=c(180.0))  # its centre falls in short turns
RAILS = Rails(rail_c=c(600.0), own_std_c=5.0, shared_std_c=8.0)
PLAN = plan_sear(FOOD, RAILS, target_centre_c=c(137.0))


def seconds(food=FOOD, rails=RAILS, target=137.0, **more):
    return plan_sear(food, rails, target_centre_c=c(target), **more).seconds_per_turn


def test_common_practice_seconds(expected_peak):
    # common practice, no source (TF-07): 60 s a turn come out under medium, about 75 s on it
    assert 55.0 <= PLAN.seconds_per_turn <= 95.0
    under = expected_peak(FOOD, RAILS, seconds=(trade("TF-07"),) * 4)
    on_it = expected_peak(FOOD, RAILS, seconds=(trade("TF-07", "high"),) * 4)
    assert under.peak_centre_c < c(137.0)
    assert on_it.peak_centre_c == pytest.approx(c(137.0), abs=4.0 / 1.8)
    # the correction: a face held at boiling takes up heat as √t, so 60 → 75 s is an eighth of the rise, 3-4
    # °F
    assert 2.5 <= 1.8 * (on_it.peak_centre_c - under.peak_centre_c) <= 8.0


def test_common_practice_pull():
    # common practice, no source (TF-08): pull near 125 °F
    assert pytest.approx(c(trade("TF-08")), abs=4.0 / 1.8) == PLAN.pull_centre_c


def test_the_plan_hits_its_target_when_computed_again(expected_peak):
    for target in (122.0, 130.0, 137.0, 150.0):
        plan = plan_sear(FOOD, RAILS, target_centre_c=c(target))
        again = expected_peak(FOOD, RAILS, seconds=(plan.seconds_per_turn,) * 4)
        assert again.peak_centre_c == pytest.approx(c(target), abs=0.15)
        assert again.pull_centre_c == pytest.approx(plan.pull_centre_c, abs=0.3)
        assert plan.peak_low_c < plan.peak_centre_c < plan.peak_high_c
        assert plan.seconds_low < plan.seconds_per_turn < plan.seconds_high


def test_hotter_rails_want_shorter_turns_and_leave_more_crust(counted):
    plans = [plan_sear(FOOD, replace(RAILS, rail_c=c(f)), target_centre_c=c(137.0)) for f in (450, 525, 600, 675)]
    assert np.all(np.diff([plan.seconds_per_turn for plan in plans]) < 0.0)
    alike = as_believed(Beliefs())[None]
    same_time = [run(FOOD, replace(RAILS, rail_c=c(f)), alike, 75.0, "AABB") for f in (450, 525, 600, 675)]
    assert np.all(np.diff([seared.crust_m[0, 0, 0] for seared in same_time]) > 0.0)
    assert np.all(np.diff([columns.hottest[0, 0, 0] for columns in counted[-4:]]) > 0.0)


def test_thicker_wants_longer_and_warmer_shorter():
    thicker = [seconds(replace(FOOD, thickness_mm=25.4 * inch)) for inch in (0.75, 1.25, 2.0)]
    assert np.all(np.diff(thicker) > 0.0)
    warmer = [seconds(replace(FOOD, start_centre_c=c(f))) for f in (70, 110, 120)]
    assert np.all(np.diff(warmer) < 0.0)
    assert np.all(np.diff([seconds(target=f) for f in (122, 137, 155)]) > 0.0)


def test_more_turns_are_shorter_and_a_warmed_outside_helps():
    assert seconds(turns=6) < seconds(turns=4) < seconds(turns=2)
    assert seconds() < seconds(replace(FOOD, cooker_c=None))
    assert seconds() < seconds(rails=replace(RAILS, share=0.15))


def test_what_a_step_is_worth_is_what_new_plans_say():
    assert list(PLAN.worth) == ["rails", "thickness", "start"]
    (hotter, colder), (thicker, thinner), (warmer, cooler) = PLAN.worth.values()
    thick = seconds(replace(FOOD, thickness_mm=FOOD.thickness_mm + 25.4 / 8.0)) - PLAN.seconds_per_turn
    warm = seconds(replace(FOOD, start_centre_c=FOOD.start_centre_c + 5.0 / 1.8)) - PLAN.seconds_per_turn
    assert thicker == pytest.approx(thick, rel=0.25)
    assert warmer == pytest.approx(warm, rel=0.25)
    assert thicker > 0.0 > thinner
    assert warmer < 0.0 < cooler
    assert hotter < 0.0 < colder


def test_interval_agrees_with_monte_carlo():
    # every input drawn at once from what it is held to be, JCGM 101:2008; the interval moves one after the
    # other
    draw = np.random.default_rng(5)
    count = 600
    drawn = np.hstack([draw.standard_normal((count, 7)), draw.standard_normal((3, count)).T])
    cases = drawn @ one_std(FOOD, RAILS, Beliefs())
    low, high = np.percentile(run(FOOD, RAILS, cases, PLAN.seconds_per_turn, "AABB").peak_centre_c, [5.0, 95.0])
    spread = high - low
    assert pytest.approx(low, abs=0.12 * spread) == PLAN.peak_low_c
    assert pytest.approx(high, abs=0.12 * spread) == PLAN.peak_high_c


def test_interval_of_the_seconds_agrees_with_monte_carlo():
    # the seconds that each drawn piece really takes, against the interval, which knows the peak at one length only
    draw = np.random.default_rng(6)
    count, lengths = 150, PLAN.seconds_per_turn * np.geomspace(0.2, 5.0, 16)
    drawn = np.hstack([draw.standard_normal((count, 7)), draw.standard_normal((3, count)).T])
    cases = np.repeat(drawn @ one_std(FOOD, RAILS, Beliefs()), len(lengths), axis=0)
    peaks = run(FOOD, RAILS, cases, np.tile(lengths, count)[:, None], "AABB").peak_centre_c.reshape(count, -1)
    took = [np.exp(np.interp(c(137.0), np.maximum.accumulate(one), np.log(lengths))) for one in peaks]
    low, high = np.percentile(took, [5.0, 95.0])
    assert pytest.approx(low, rel=0.15) == PLAN.seconds_low
    assert pytest.approx(high, rel=0.15) == PLAN.seconds_high


def test_crust_is_thicker_where_marks_cross(counted):
    assert PLAN.crust_on_rail_mm > PLAN.crust_between_mm > 0.0
    assert PLAN.browning_s > 30.0
    seared = run(FOOD, RAILS, as_believed(Beliefs())[None], PLAN.seconds_per_turn, "AABB")
    twice, first, second, never = seared.crust_m[0, 0]
    assert twice > max(first, second) > never
    assert 1000.0 * first == pytest.approx(PLAN.crust_on_rail_mm, rel=0.1)
    assert 150.0 < counted[0].hottest[0, 0, 0] < RAILS.rail_c


def test_browning_heat_grows_with_the_rails_without_a_jump():
    """Marks that lie over a valley in the second turn are just about hot enough; that is no edge to fall over."""
    browning = [
        plan_sear(FOOD, replace(RAILS, rail_c=c(rail_f)), target_centre_c=c(137.0)).browning_s
        for rail_f in np.arange(500.0, 680.0, 12.0)
    ]
    assert np.abs(np.diff(browning)).max() < 16.0
    assert browning[-1] > 1.5 * browning[0]


def test_a_second_counts_as_browning_heat_by_how_hot_the_outside_is():
    assert browning_share(np.array([100.0, 140.0, 152.5, 165.0, 300.0])) == pytest.approx([0.0, 0.0, 0.5, 1.0, 1.0])


def test_a_piece_too_thick_for_few_turns_is_said_to_be():
    thick = plan_sear(replace(FOOD, thickness_mm=101.6), RAILS, target_centre_c=c(137.0))
    assert thick.seconds_per_turn > LONGEST_TURN_S
    said = roasts_sentence(thick, Display("us"))
    assert said.startswith("Few turns on the rails do not suit this piece: ")
    assert f"{thick.seconds_per_turn / 60:.0f} min a turn" in said
    assert "nearer to 137 °F" in said
    assert roasts_sentence(PLAN, Display("us")) == ""
    nearly_there = replace(FOOD, thickness_mm=101.6, start_centre_c=c(133.0))
    assert not plan_sear(nearly_there, RAILS, target_centre_c=c(137.0)).roasts


def test_one_heading_gives_its_marks_both_turns():
    straight = plan_sear(FOOD, replace(RAILS, crossed=False), target_centre_c=c(137.0))
    assert straight.crust_on_rail_mm > 1.2 * PLAN.crust_on_rail_mm


def test_effective_conductance_is_the_mean_over_the_face():
    # a third at 250 (the low end of row CC-01) and the rest at radiation and gas in the valley
    assert 250.0 / 3.0 + 20.0 < PLAN.effective_conductance_w_m2k < 250.0 / 3.0 + 40.0


def test_says_what_it_assumes_and_cautions():
    grill = Grill(grate=Grate(width_mm=600.0, depth_mm=450.0), target=TargetBand(low_c=288.0, high_c=316.0))
    assert any("100 °C" in sentence for sentence in assumption_sentences(grill, RAILS))
    assert cautions.BELOW_WHOLE_CUT in food_cautions(grill, PLAN)
    hot = plan_sear(FOOD, RAILS, target_centre_c=c(146.0))
    assert cautions.BELOW_WHOLE_CUT not in food_cautions(grill, hot)
    ground = replace(grill, food=replace(grill.food, meat="ground"))
    assert cautions.GROUND in food_cautions(ground, hot)
    same = plan_sear(FOOD, replace(RAILS, fresh=False), target_centre_c=c(137.0))
    assert any("same rails" in sentence for sentence in assumption_sentences(grill, replace(RAILS, fresh=False)))
    assert same.seconds_per_turn > PLAN.seconds_per_turn


@pytest.mark.parametrize(
    ("attempt", "words"),
    [
        (lambda: seconds(target=105.0), "the target is 40.56 °C; .* above 43.33 °C, the start, and below 95 °C"),
        (lambda: seconds(US_FOOD, target=105.0), "the target is 105 °F; .* above 110 °F, the start, and below 203 °F"),
        (lambda: seconds(THIN, target=180.0), "the target is 82.22 °C; it must be above 82.22 °C, the start,"),
        (lambda: seconds(target=111.0), "rises to about .* with hardly any sear"),
        (lambda: seconds(target=205.0), "the start, and below 95 °C"),
        (lambda: seconds(US_FOOD, target=203.0), "the start, and below 203 °F"),
        (lambda: seconds(replace(FOOD, thickness_mm=100.0), target=195.0), "bring the centre to about"),
        (lambda: seconds(turns=0), "turns is 0; it must be from 1 to 12"),
        (lambda: seconds(sides="ABBA"), "sides is 'ABBA'; it must be AABB"),
        (lambda: Food(thickness_mm=0.0, start_centre_c=40.0), "the thickness is 0 mm; .* 5 mm to 120 mm"),
        (
            lambda: Food(thickness_mm=30.0, start_centre_c=-5.0),
            "the start of thawed food is -5 °C; .* 0 °C to 95 °C",
        ),
        (
            lambda: Food(thickness_mm=30.0, start_centre_c=40.0, cooker_c=30.0),
            "the cooker is 30 °C; .* 40 °C, the start, to 300 °C",
        ),
        (lambda: Food(thickness_mm=float("nan"), start_centre_c=40.0), "the thickness is nan mm"),
        (lambda: replace(US_FOOD, thickness_mm=254.0), "the thickness is 10 in; .* 0.1969 in to 4.724 in"),
        (lambda: replace(US_FOOD, start_centre_c=c(210.0)), "is 210 °F; .* 32 °F to 203 °F"),
        (lambda: replace(US_FOOD, cooker_c=c(90.0)), "the cooker is 90 °F; .* 110 °F, the start, to 572 °F"),
        (lambda: Rails(rail_c=50.0), "the rail temperature is 50 °C; it must be from 110 °C to 600 °C"),
        (lambda: Rails(rail_c=c(200.0), units="us"), "the rail temperature is 200 °F; .* 230 °F to 1112 °F"),
        (lambda: Rails(rail_c=300.0, air_c=c(230.0), units="us"), "the air is 230 °F; .* to 212 °F"),
        (lambda: Rails(rail_c=300.0, share=0.0), "the share of the face on rail is 0; it must be from 0.001 to 1"),
    ],
)
def test_unusable_input_is_refused_in_one_line(attempt, words):
    with pytest.raises(InputError, match=words) as caught:
        attempt()
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("thickness_mm", [8.0, 20.0, 60.0])
@pytest.mark.parametrize("rail_c", [150.0, 450.0])
def test_any_food_on_any_rails_gives_sensible_seconds(thickness_mm, rail_c):
    food = Food(thickness_mm=thickness_mm, start_centre_c=10.0)
    plan = plan_sear(food, Rails(rail_c=rail_c), target_centre_c=50.0)
    assert 0.0 <= plan.seconds_low < plan.seconds_per_turn < plan.seconds_high < 3600.0
    assert 10.0 < plan.pull_centre_c < plan.peak_centre_c


def test_what_no_seconds_reach_is_refused():
    with pytest.raises(InputError, match="start the sear warmer, use more turns, or ask for less"):
        plan_sear(Food(thickness_mm=110.0, start_centre_c=10.0), Rails(rail_c=150.0), target_centre_c=90.0)
