"""The one decision: which of wait, shoot, sear, turn and stuck it is, and that the clock is kept."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from perfect import draw_perfect

import heatmap
from heatmap import sear
from heatmap.assessment import Assessment, assess
from heatmap.decisions import next_spots
from heatmap.decisions.burner_advice import _is_partly_back, _searched, advise, settled_mean_c
from heatmap.decisions.burner_search import Search
from heatmap.decisions.decision import Decision, decide, fit_after, rails_under
from heatmap.decisions.fitting import share_chance
from heatmap.decisions.placement import Footprint, Wanted, find_places
from heatmap.decisions.remedies import OtherBand, remedies_for
from heatmap.decisions.tuning import AT_LEAST, MOST_BACK, STALE_MIN, TURN_SHARE
from heatmap.grate_model.round_spots import LID_DROP_C, LID_TIME_S
from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate, Positions
from heatmap.grill.grill import Food, Grill, TargetBand
from heatmap.readings.reading import Reading, Round
from heatmap.report.documents import place_document
from heatmap.sear import plan_sear
from heatmap.synthetic import draw_grill
from heatmap.taking.tuning import STEADY_C_PER_MIN
from heatmap.units import percent
from heatmap.verdict.chances import normal_cumulative
from heatmap.words.burners import burner_lines, why, why_lines
from heatmap.words.decision import decision_sentence
from heatmap.words.place import place_why_lines
from remembered import remembering


@pytest.fixture(autouse=True, scope="module")
def _worked_out_once(coarse_cells: None) -> Iterator[None]:
    """What a decision is made of is asked for again and again here, and is tested in its own rooms."""
    pure = (find_places, fit_after, next_spots.next_spots, plan_sear)
    with remembering(pure):
        yield


START = datetime(2031, 6, 14, 13, 0, tzinfo=UTC)
WANTED = Wanted(footprint=Footprint(length_mm=190.0, width_mm=125.0), headings=(2.0, 10.0))
GRILL = Grill(
    grate=Grate(width_mm=600.0, depth_mm=450.0),
    positions=Positions(rows=3, columns=4, margin_mm=60.0),
    target=TargetBand(low_c=288.0, high_c=316.0),
    food=Food(target_c=58.0),
    units="si",
)
KNOBS = replace(
    GRILL,
    burners=tuple(
        Burner(name=name, points_mm=((x, 25.0), (x, 425.0))) for name, x in (("left", 120.0), ("right", 480.0))
    ),
)

#: A band wide enough that what twelve places leave open between them puts no place in doubt.
WIDE = TargetBand(low_c=252.0, high_c=352.0)


def assessed(
    field: Callable[[float, float], float],
    grill: Grill = GRILL,
    *,
    rate_c_per_min: float = 0.0,
    knobs=None,
    passes: int = 2,
    lid: str = "open",
) -> Assessment:
    """Assess some passes over the grate, a shot every 6 s, while all of it moves at this rate."""
    readings = []
    for index, label in enumerate(passes * grill.labels):
        x_mm, y_mm = grill.point_mm(label)
        minute = index / 10.0
        lost_c = 0.0 if lid == "open" else LID_DROP_C * (1.0 - math.exp(-(60.0 * minute + 8.0) / LID_TIME_S))
        readings.append(
            Reading(
                id=index + 1,
                shown_c=field(x_mm, y_mm) + rate_c_per_min * minute - lost_c,
                x_mm=x_mm,
                y_mm=y_mm,
                position=label,
                taken_at=START + timedelta(minutes=minute),
                knobs=knobs or {},
                lid=lid,
            )
        )
    return assess(grill, (Round(number=1, session="", readings=tuple(readings)),))


def even(x_mm: float, y_mm: float) -> float:
    return 302.0


@pytest.fixture(scope="module")
def steady() -> Assessment:
    return assessed(even)


@pytest.fixture(scope="module")
def rising() -> Assessment:
    return assessed(even, rate_c_per_min=5.0)


@pytest.fixture(scope="module")
def lopsided() -> Assessment:
    return assessed(lambda x_mm, y_mm: 302.0 + 0.2 * (x_mm - 300.0), KNOBS, knobs={"left": 5.0, "right": 5.0})


def soon(assessment: Assessment, minutes: float) -> datetime:
    assert assessment.round.taken_at is not None
    return assessment.round.taken_at + timedelta(minutes=minutes)


def test_the_library_calls_it_by_its_contract(steady):
    assert heatmap.decide is decide
    assert isinstance(heatmap.decide(steady, None, soon(steady, 2.0)), Decision)


def test_on_a_steady_even_grate_it_is_sear():
    sure = assessed(even, replace(GRILL, target=WIDE))
    for food in (WANTED, None):
        found = decide(sure, food, soon(sure, 2.0))
        assert found.do == "sear" and found.wait_min == 0.0 and found.until is None
        assert found.for_food is (food is not None)
        assert found.chance is not None and found.chance >= AT_LEAST
        assert found.place is not None and found.plan is not None
        assert found.seconds_per_turn == found.plan.seconds_per_turn
        assert f"{found.seconds_per_turn:.0f} s a turn" in decision_sentence(sure, found)
    unsaid = assessed(even, replace(GRILL, target=WIDE, food=Food()))
    assert decide(unsaid, WANTED).seconds_per_turn is None, "nothing was said of a sear"


def test_with_knobs_it_says_to_leave_them():
    wide = assessed(even, replace(KNOBS, target=WIDE), knobs={"left": 5.0, "right": 5.0})
    assert decision_sentence(wide, decide(wide, WANTED)).endswith("; leave the knobs.")
    bare = assessed(even, replace(GRILL, target=WIDE))
    assert "knobs" not in decision_sentence(bare, decide(bare, WANTED))


@pytest.mark.parametrize("at_least", [0.05, 0.3, 0.5, 0.7, 0.9, 0.99])
@pytest.mark.parametrize("food", [WANTED, None])
def test_never_sear_below_what_is_asked(lopsided, steady, at_least, food):
    for assessment in (lopsided, steady):
        found = decide(assessment, food, at_least=at_least)
        assert found.chance is not None
        assert (found.do == "sear") is (found.chance >= at_least)


def test_an_old_map_is_shot_again_first(steady):
    assert decide(steady, WANTED, soon(steady, STALE_MIN - 0.1)).shoot_for != "old"
    for minutes in (STALE_MIN + 1.0, 119.0, 300.0):
        found = decide(steady, WANTED, soon(steady, minutes))
        assert (found.do, found.shoot_for) == ("shoot", "old")
        assert 1 <= len(found.positions) <= 5 and set(found.positions) <= set(steady.grill.labels)
        assert decision_sentence(steady, found).startswith("Re-check ")


def test_a_map_of_another_day_wants_a_new_round(steady):
    for hours, age in ((30.0, "30 h"), (24.0 * 165, "165 days")):
        found = decide(steady, WANTED, soon(steady, 60.0 * hours))
        assert (found.do, found.positions) == ("shoot", ()), "all of them"
        said = decision_sentence(steady, found)
        assert said == f"Shoot a new round: the last is {age} old."


@pytest.mark.parametrize(("rate_c_per_min", "direction"), [(5.0, "rising"), (-5.0, "falling")])
def test_a_grate_that_still_moves_is_waited_for_and_then_shot_again(rate_c_per_min, direction):
    moving = assessed(even, rate_c_per_min=rate_c_per_min)
    found = decide(moving, WANTED, soon(moving, 1.5))
    assert found.do == "wait" and found.until is not None and found.until > soon(moving, 1.5)
    assert f"still {direction} 5 °C a minute" in decision_sentence(moving, found)
    after = decide(moving, WANTED, found.until + timedelta(seconds=1))
    assert (after.do, after.shoot_for) == ("shoot", "not settled")


def test_a_knob_turned_after_the_last_shot_is_waited_for_and_then_shot_again(steady):
    """Until 90 % of its change has come, from when it was turned."""
    turned_at = steady.surface.spots.last_at + timedelta(minutes=1)
    turn = Reading(id=99, shown_c=None, x_mm=0.0, y_mm=0.0, aim="turned", taken_at=turned_at, knobs={"left": 6.0})
    (one,) = steady.rounds
    after = assess(steady.grill, (replace(one, turned_after=(turn,)),))
    found = decide(after, WANTED, turned_at + timedelta(minutes=1))
    assert found.do == "wait" and found.waits_for is not None and found.waits_for.cause == "change"
    minutes = after.model.minutes_of_change
    assert found.until == turned_at + timedelta(minutes=minutes)
    assert minutes == pytest.approx(13.0), "what is usual, while no round has taught another"
    again = decide(after, WANTED, found.until)
    assert (again.do, again.shoot_for) == ("shoot", "not settled")


def test_the_wait_is_counted_down(rising):
    first = decide(rising, WANTED, soon(rising, 1.5))
    later = decide(rising, WANTED, soon(rising, 3.5))
    assert later.until == first.until
    assert later.wait_min == pytest.approx(first.wait_min - 2.0)


def test_agrees_with_an_exponential_that_settles():
    """After the wait the rate has fallen to what counts as steady: 5 °C a minute decaying, 90 % of it in 13 min.

    Four passes, so that the rate is known: after two it is still drawn towards a settled grate by some 4 %.
    """
    moving = assessed(even, rate_c_per_min=5.0, passes=4)
    last_at = moving.surface.spots.last_at
    wait_min = decide(moving, WANTED, last_at).wait_min
    rate_c_per_min = 5.0 * 10.0 ** (-wait_min / 13.0)
    assert rate_c_per_min == pytest.approx(STEADY_C_PER_MIN, rel=0.05)


def test_a_lid_just_lifted_is_waited_for_only_before_a_sear():
    """Two minutes of shooting with the lid off: about as much is lost after the middle of the round as before."""
    sure = assessed(even, replace(GRILL, target=WIDE), lid="closed")
    last_at = sure.surface.spots.last_at
    found = decide(sure, WANTED, last_at)
    assert found.do == "wait" and found.waits_for is not None and found.waits_for.cause == "lid"
    said = decision_sentence(sure, found)
    assert "lid closed" in said and "then sear " in said
    assert decide(sure, WANTED, found.until).do == "sear"
    cold = assessed(lambda x_mm, y_mm: 260.0, KNOBS, knobs={"left": 5.0, "right": 5.0}, lid="closed")
    assert decide(cold, WANTED, last_at).do == "turn"


def test_what_was_lost_under_the_lifted_lid_comes_back_before_the_food_lies():
    """A grate soaked at 302 °C all over settles there again, whatever its map has lost."""
    soaked, opened = assessed(even, lid="closed"), assessed(even)
    lost_c = 302.0 - float(np.mean(soaked.compared_c[soaked.cells.inside]))
    # A minute after the lid some 19 °F are gone, common practice, no source; the middle of the round is past that.
    assert lost_c > 19.0 / 1.8
    assert soaked.to_come_c == pytest.approx(lost_c, abs=2.0)
    assert opened.to_come_c == 0.0
    placement = find_places(soaked, WANTED)
    assert placement.best.mean_c == pytest.approx(302.0, abs=2.0)
    assert any("once settled, the lid closed again: +" in line for line in place_why_lines(soaked, placement))
    assert not any("once settled" in line for line in place_why_lines(opened, find_places(opened, WANTED)))
    far_off = assessed(even, replace(GRILL, target=TargetBand(low_c=200.0, high_c=220.0)), lid="closed")
    (band,) = [one for one in remedies_for(far_off, "knobs", for_food=False) if isinstance(one, OtherBand)]
    assert band.low_c == pytest.approx(302.0, abs=3.0), "the lowest of the zone, where all is even"
    assert band.share > 0.9 and band.asked_share == 0.0
    near_the_top = replace(GRILL, target=TargetBand(low_c=270.0, high_c=298.0))
    assert find_places(assessed(even, near_the_top, lid="closed"), WANTED).best.chance_fits < 0.3


@pytest.mark.parametrize("seed", range(6))
def test_what_has_not_come_of_a_turn_counts_as_come(seed):
    grill = draw_perfect(seed)
    rounds, burner = [grill.play_round(1)], grill.grill.burners[0]
    grill.turn({burner.name: burner.high if grill.marks[burner.name] < burner.high - 1.0 else burner.low})
    grill.wait(6.0)
    early = assess(grill.grill, [*rounds, grill.play_round(2)])
    mapped_c = float(np.mean(early.compared_c[early.cells.inside]))
    settled_c = float(np.mean(grill.compared_c(grill.held)[grill.inside]))
    assert abs(mapped_c + early.to_come_c - settled_c) < 0.75 * abs(mapped_c - settled_c)


def test_no_wait_is_proposed_that_overruns_the_sear(rising):
    now = soon(rising, 1.5)
    wait_min = decide(rising, WANTED, now).wait_min
    assert decide(rising, WANTED, now, sear_at=now + timedelta(minutes=wait_min + 0.1)).do == "wait"
    assert decide(rising, WANTED, now, sear_at=now + timedelta(minutes=wait_min - 0.1)).do != "wait"


def test_a_change_that_is_worth_it_is_named_with_its_wait(lopsided):
    now = soon(lopsided, 2.0)
    found = decide(lopsided, None, now)
    assert found.do == "turn" and found.advice is not None and found.changes
    assert found.until == now + timedelta(minutes=found.wait_min)
    said = decision_sentence(lopsided, found)
    for change in found.changes:
        assert f"{change.burner} to {change.to_mark:g}" in said
    assert f"until {found.until:%H:%M}" in said
    advice = found.advice
    assert advice.expected.share_in_band - lopsided.evenness.share_in_band >= TURN_SHARE


def test_what_a_change_leaves_is_told_of_the_map_under_its_marks(lopsided, monkeypatch):
    found, asked = decide(lopsided, None), []

    def noted(assessment, settings):
        asked.append(settings)
        return settled_mean_c(assessment, settings)

    monkeypatch.setattr("heatmap.words.burners.settled_mean_c", noted)
    assert why(lopsided, found)
    assert asked == [found.settings] and found.settings != lopsided.round.settings


def test_what_a_change_is_expected_to_bring_is_told_beside_what_the_map_tells_of_now(lopsided):
    found, now, degrees = decide(lopsided, None), lopsided.evenness, lopsided.grill.display.difference_text
    later = found.advice.expected
    assert percent(now.share_in_band) != percent(later.share_in_band), "the premise"
    expected = burner_lines(lopsided, found, found)[1]
    assert expected.startswith(f"Expected: {percent(later.share_in_band)} of the grate in band")
    assert expected.endswith(f", now {percent(now.share_in_band)}.")
    reason, spread, *_ = why_lines(lopsided, found)
    assert f"{percent(later.share_in_band - now.share_in_band)} more of the area" in reason
    assert spread == f"Spread {degrees(now.p95_minus_p5_c)} now, {degrees(later.p95_minus_p5_c)} expected."


def test_places_are_told_with_where_their_centre_is_and_turns_with_their_rails(steady):
    placement = find_places(steady, replace(WANTED, turns=4))
    lines, document = place_why_lines(steady, placement), place_document(steady, placement, decide(steady, WANTED))
    for number, (place, told) in enumerate(zip(placement.places, document["places"], strict=True), 1):
        centre = f"turn {number}: {place.x_mm:.0f} mm from the left, {place.y_mm:.0f} from the front"
        assert centre in lines[number]
        assert (told["turn"], told["fresh"]) == (number, place.fresh)
        assert (told["x_mm"], told["y_mm"]) == (place.x_mm, place.y_mm)
        assert (told["rail_c"], told["rail_own_std_c"]) == (place.rail_c, place.rail_own_std_c)


@pytest.mark.parametrize(("gain", "chance", "do"), [(0.02, 0.95, "stuck"), (0.1, 0.6, "stuck"), (0.1, 0.75, "turn")])
def test_a_change_that_brings_little_or_is_not_likely_to_is_not_proposed(lopsided, gain, chance, do, monkeypatch):
    advice = decide(lopsided, None).advice
    now = lopsided.evenness
    assert advice is not None and now.share_in_band >= 0.05, "the premise"
    other = replace(
        advice,
        chance_better=chance,
        expected=replace(now, share_in_band=now.share_in_band + gain),
    )
    monkeypatch.setattr("heatmap.decisions.decision.advise", lambda _: other)
    assert decide(lopsided, None).do == do


def test_no_change_is_proposed_whose_wait_and_round_overrun_the_sear(lopsided):
    now = soon(lopsided, 1.0)
    asked = decide(lopsided, None, now)
    assert asked.do == "turn", "the premise"
    assert decide(lopsided, None, now, sear_at=now + timedelta(minutes=asked.wait_min + 2.5)).do == "turn"
    late = now + timedelta(minutes=asked.wait_min + 1.5)
    for food in (None, WANTED):
        found = decide(lopsided, food, now, sear_at=late)
        assert found.changes == ()
    found = decide(lopsided, None, now, sear_at=late)
    assert found.do == "stuck" and found.too_late and found.remedies
    assert decision_sentence(lopsided, found).startswith("Too late for a change: best ")


@pytest.mark.parametrize(("field_c", "way"), [(240.0, "too cold"), (365.0, "too hot")])
def test_a_grate_far_from_the_band_is_stuck_without_knobs_and_says_what_to_do(field_c, way):
    assessment = assessed(lambda x_mm, y_mm: field_c)
    found = decide(assessment, WANTED)
    assert (found.do, found.limit) == ("stuck", "no knobs")
    assert way in decision_sentence(assessment, found)


def test_an_unknown_level_asks_for_a_contact_reading():
    """With the band in rail numbers and nothing to pin them, the map cannot tell; neither can this."""
    rails = replace(GRILL, target=replace(GRILL.target, numbers="rail"))
    assessment = assessed(even, rails)
    found = decide(assessment, WANTED)
    assert (found.do, found.limit) == ("stuck", "level")
    assert found.remedies[0] == "contact reading"
    assert "contact reading" in decision_sentence(assessment, found)


@pytest.mark.parametrize("food", [WANTED, None], ids=["food", "zone"])
def test_no_knob_is_turned_for_a_level_nobody_knows(food):
    """Lopsided by half of the band, the level unknown by four times that: the contact reading comes before the knobs.

    In shown numbers, where the level hardly matters, the same grate is evened out; and a grate that is too cold
    whatever the level is heated without waiting for the reading.
    """
    knobs = {"left": 5.0, "right": 5.0}

    def found(numbers, field):
        grate = replace(KNOBS.grate, emissivity=0.7, emissivity_sd=0.1)
        grill = replace(KNOBS, grate=grate, target=replace(KNOBS.target, numbers=numbers))
        assessment = assessed(field, grill, knobs=knobs)
        return assessment, decide(assessment, food)

    def lopsided(x_mm, _y_mm):
        return 290.0 + 0.2 * (x_mm - 300.0)

    assessment, asked = found("rail", lopsided)
    assert 1.96 * assessment.level_std_c > 56.0, "the premise: the level is unknown by more than twice the band"
    assert (asked.do, asked.limit) == ("stuck", "level")
    assert asked.remedies[0] == "contact reading"
    assert decision_sentence(assessment, asked).startswith(
        "Take one contact reading (a surface probe held on a rail): "
    )
    assert found("shown", lopsided)[1].do == "turn"
    assert found("rail", lambda x_mm, y_mm: 180.0)[1].do == "turn"


@pytest.mark.parametrize("food", [WANTED, None], ids=["food", "zone"])
def test_a_middle_nobody_shot_is_shot_before_it_is_called_as_good_as_it_gets(food):
    """Six shots around an unshot middle; once it is shot, nothing more is asked for."""
    grill = replace(KNOBS, positions=Positions(rows=3, columns=3, margin_mm=60.0))
    readings = assessed(even, grill, knobs={"left": 5.0, "right": 5.0}, passes=1).round.readings

    def found(labels):
        kept = tuple(one for one in readings if one.position in labels)
        assessment = assess(grill, (Round(number=1, session="", readings=kept),))
        return assessment, decide(assessment, food)

    around = {"A1", "A3", "B1", "B3", "C1", "C3"}
    assessment, asked = found(around)
    assert asked.do == "shoot" and asked.positions[0] == "B2" and len(asked.positions) <= 5
    assert not set(asked.positions) & around
    assert decision_sentence(assessment, asked).startswith("Shoot B2")
    assert found(around | set(asked.positions))[1].do != "shoot"


def test_a_turn_made_for_the_food_is_explained_by_the_food(lopsided):
    """Where the food decides, what the turn does for it is told first, and the grate's share beside it."""
    food = Wanted(footprint=Footprint(length_mm=500.0, width_mm=200.0))
    asked, whole = decide(lopsided, food), decide(lopsided)
    assert asked.do == whole.do == "turn" and asked.chance_after is not None, "the premise"
    gain, _ = fit_after(lopsided, food, asked.place, asked.advice)
    assert asked.chance_after == pytest.approx(min(asked.chance + gain, 1.0))
    expected = burner_lines(lopsided, asked, asked)[1]
    assert expected.startswith(f"Expected: {round(100 * asked.chance_after)} % likely to fit, now ")
    assert "food's chance to fit" in why(lopsided, asked)
    assert whole.chance_after is None and "likely to fit" not in burner_lines(lopsided, whole, whole)[1]


@pytest.mark.parametrize("field_c", [200.0, 302.0, 400.0])
@pytest.mark.parametrize("food", [WANTED, None])
def test_whoever_is_stuck_is_told_a_way_on(food, field_c):
    """One remedy at least; for food the last is to take the place as it is."""
    found = decide(assessed(lambda x_mm, y_mm: field_c + 0.3 * (x_mm - 300.0)), food)
    assert found.do == "stuck", "the premise"
    assert found.remedies[-1] == ("take it" if food else "name food")


def test_half_of_a_turn_is_taken_back_at_most_in_the_round_after_it():
    """On make-believe grills where no turn did so much harm that it is taken back for that."""
    back, turned_again = [], 0
    for seed in range(10):
        grill = draw_grill(seed, numbers="shown", cell_mm=50.8)
        rounds = [grill.play_round(1)]
        before, found = dict(grill.marks), decide(assess(grill.grill, rounds))
        if found.do != "turn":
            continue
        grill.turn(found.settings)
        grill.wait(25.0)
        rounds.append(grill.play_round(2))
        again = decide(assess(grill.grill, rounds))
        if again.do == "turn":
            turned_again += 1
            moves = [
                (found.settings[name] - was, again.settings[name] - found.settings[name])
                for name, was in before.items()
            ]
            back += [abs(goes / went) for went, goes in moves if went * goes < 0]
    assert turned_again >= 3 and back, "the premise"
    assert max(back) <= MOST_BACK


def test_what_is_expected_of_knobs_left_alone_is_of_the_marks_they_stand_at():
    """Not of a turn that would bring something, but too little to be asked for."""
    grill = draw_grill(1, numbers="shown", cell_mm=50.8)
    rounds = [grill.play_round(1)]
    grill.turn(decide(assess(grill.grill, rounds)).settings)
    grill.wait(25.0)
    made = assess(grill.grill, [*rounds, grill.play_round(2)])
    found = decide(made)
    assert found.do == "stuck" and advise(made).changes, "the premise"
    left_c = made.model.expected(made.round.settings).mean(made.wide_cells.points_mm)
    told_c, advised_c = (settled_mean_c(made, marks) for marks in (found.settings, advise(made).settings))
    np.testing.assert_allclose(told_c, made.calibration.compared_c(left_c))
    assert np.abs(told_c - advised_c).max() > 1.0


@pytest.mark.parametrize(
    ("earlier", "old", "new", "back"),
    [
        ((8.0, 8.0, 5.0), 8.0, 6.5, True),
        ((8.0, 5.0), 8.0, 5.0, False),  # all of the way
        ((8.0, 5.0), 8.0, 4.0, False),  # and beyond
        ((8.0, 5.0), 8.0, 9.0, False),
        ((5.0, 8.0), 8.0, 6.5, True),  # its last turn was taken with the newest round
        ((1.0 + 7 * 0.1, 5.0), 1.7, 3.0, True),  # a hair apart is no turn
        ((1.7, 1.7), 1.7, 1.2, False),  # never turned
        ((), 5.0, 4.0, False),
    ],
)
def test_a_knob_is_partly_back_between_its_mark_and_its_last_one(earlier, old, new, back):
    assert _is_partly_back(earlier, old, new) is back


def test_a_knob_with_steps_of_a_tenth_keeps_the_mark_it_may_not_go_above():
    """The eighth of the marks from 1 in steps of a tenth is 1.7000000000000002, what somebody typed is 1.7."""
    grill = draw_grill(0, numbers="shown", cell_mm=50.8)
    grill.turn(dict.fromkeys(grill.marks, 1.5))
    one = grill.play_round(1)
    typed = replace(one, readings=tuple(replace(each, knobs=dict.fromkeys(grill.marks, 1.7)) for each in one.readings))
    fine = tuple(replace(burner, low=1.0, high=10.0, step=0.1) for burner in grill.grill.burners)
    assert 1.7 not in fine[0].settable and 1.7 == pytest.approx(fine[0].settable[7]), "the premise"
    draws, _ = _searched(assess(replace(grill.grill, burners=fine), [typed]))
    search = Search(draws, [(-math.inf, 1.7)] * len(fine))
    assert search.marks_at(search.now) == pytest.approx([1.7] * len(fine))


def test_a_knob_may_go_back_once_a_second_whole_round_was_shot():
    """A turn too far is held in the round after it; when that round is shot again, few shots aside, it is not."""
    grill = draw_grill(0, numbers="shown", cell_mm=50.8)
    rounds = [grill.play_round(1)]
    name, before = next(iter(grill.marks.items()))
    grill.turn({name: before + 0.5})
    grill.wait(25.0)
    rounds += [grill.play_round(2), grill.play_round(3, order=grill.grill.labels[:4]), grill.play_round(4)]

    def lowest_mark(count):
        assessment = assess(grill.grill, rounds[:count], round=rounds[count - 1].number)
        _, search = _searched(assessment)
        return float(search.marks[list(grill.marks).index(name)].min())

    assert lowest_mark(2) == lowest_mark(3) == before + 0.5
    assert lowest_mark(4) == grill.grill.burner(name).low


def test_shots_that_may_settle_it_are_asked_for_before_a_turn():
    """Where the middle of the grate was never shot and the food would go there, a few shots there come first."""
    band = replace(KNOBS, target=TargetBand(low_c=281.0, high_c=323.0))
    readings = assessed(even, band, knobs={"left": 5.0, "right": 5.0}, passes=1).round.readings
    shot = ("A1", "C1", "A4", "C4", "A2")
    sparse = tuple(one for one in readings if one.position in shot)
    assessment = assess(band, (Round(number=1, session="", readings=sparse),))
    found = decide(assessment, WANTED)
    assert found.chance is not None and 0.3 < found.chance < AT_LEAST, "the premise"
    assert (found.do, found.shoot_for) == ("shoot", "unsure")
    assert 1 <= len(found.positions) <= 5
    assert not set(found.positions) & set(shot)
    assert "settle it" in decision_sentence(assessment, found)
    assert decide(assessment, WANTED, at_least=0.05).do == "sear"


def test_chance_agrees_with_the_normal_distribution_where_one_number_decides():
    """A surface known exactly, a level that is not: the chance is that of the level alone."""
    samples_c, weights = np.full((3, 4), 300.0), np.full(4, 0.25)
    for low_c, high_c, level_c in ((290.0, 320.0, 10.0), (301.0, 330.0, 6.0), (250.0, 350.0, 10.0)):
        exact = normal_cumulative(np.array([(high_c - 300.0) / level_c, (low_c - 300.0) / level_c]))
        found = share_chance(samples_c, weights, level_c, (low_c, high_c), 0.8)
        assert found == pytest.approx(float(exact[0] - exact[1]), abs=0.03)  # 41 quantiles, half a step at each limit


def test_chance_counts_the_share_that_has_to_be_in_band():
    """Of five equal parts one lies outside: 80 % fits, more does not."""
    samples_c, weights = np.array([[300.0, 300.0, 300.0, 300.0, 400.0]]), np.full(5, 0.2)
    for least, chance in ((0.8, 1.0), (0.81, 0.0)):
        assert share_chance(samples_c, weights, 0.0, (290.0, 310.0), least) == chance


def test_a_test_piece_changes_the_seconds(steady):
    from heatmap.sear import learn_from_test

    place = decide(steady, WANTED).place
    assert place is not None
    lesson = learn_from_test(sear.Food.of(GRILL), rails_under(steady, place), tested_seconds=(60.0,) * 4, peak_c=52.0)
    before = decide(steady, WANTED).plan
    after = decide(steady, WANTED, taught=lambda rails: lesson).plan
    assert before is not None and after is not None
    assert after.seconds_high / after.seconds_low < before.seconds_high / before.seconds_low
    assert after.seconds_per_turn != pytest.approx(before.seconds_per_turn, abs=1.0)
