"""The one-line answer: which of wait, turn, re-check and set down it is, and that the clock is kept."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from heatmap.assessment import Assessment, assess
from heatmap.decisions.burner_advice import advise
from heatmap.decisions.placement import Footprint, Wanted
from heatmap.decisions.ready import STALE_MIN, Sear, ready
from heatmap.grill.grill import Burner, Grate, Grill, Positions, TargetBand
from heatmap.readings.reading import Reading, Round
from heatmap.sear import Food
from heatmap.taking.preheat import STEADY_C_PER_MIN

START = datetime(2031, 6, 14, 13, 0, tzinfo=UTC)
WANTED = Wanted(footprint=Footprint(length_mm=190.0, width_mm=125.0), headings=(2.0, 10.0))
SEAR = Sear(food=Food(thickness_mm=32.0, start_centre_c=43.0), target_centre_c=58.0)
GRILL = Grill(
    grate=Grate(width_mm=600.0, depth_mm=450.0),
    positions=Positions(rows=3, columns=4, margin_mm=60.0),
    target=TargetBand(low_c=288.0, high_c=316.0),
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
) -> Assessment:
    """Assess some passes over the grate, a shot every 6 s, while all of it moves at this rate."""
    readings = []
    for index, label in enumerate(passes * grill.labels):
        x_mm, y_mm = grill.point_mm(label)
        minute = index / 10.0
        readings.append(
            Reading(
                id=index + 1,
                shown_c=field(x_mm, y_mm) + rate_c_per_min * minute,
                x_mm=x_mm,
                y_mm=y_mm,
                position=label,
                taken_at=START + timedelta(minutes=minute),
                knobs=knobs or {},
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


def test_on_a_steady_even_grate_it_is_now():
    sure = assessed(even, replace(GRILL, target=WIDE))
    found = ready(sure, WANTED, SEAR, now=soon(sure, 2.0))
    assert found.ready and found.wait_min == 0.0
    assert re.fullmatch(r"Sear [a-z ]+, heading 2 and 10, \d+ s a turn \(\d+ to \d+\)\.", found.sentence)
    assert found.plan is not None and found.place is not None
    assert f"{found.plan.seconds_per_turn:.0f} s a turn" in found.sentence
    assert 288.0 <= found.place.mean_c <= 316.0


def test_without_a_target_there_are_no_seconds(steady):
    found = ready(steady, WANTED, now=soon(steady, 2.0))
    assert found.ready and found.plan is None
    assert "s a turn" not in found.sentence


def test_with_knobs_it_says_to_leave_them():
    found = ready(assessed(even, replace(KNOBS, target=WIDE), knobs={"left": 5.0, "right": 5.0}), WANTED)
    assert found.ready
    assert found.sentence.endswith("; leave the knobs.")


def test_an_old_map_is_shot_again_first(steady):
    assert ready(steady, WANTED, now=soon(steady, STALE_MIN - 0.1)).ready
    for minutes, age in ((STALE_MIN + 1.0, "21 min"), (119.0, "119 min"), (300.0, "5 h")):
        found = ready(steady, WANTED, SEAR, now=soon(steady, minutes))
        assert not found.ready and found.place is None
        assert found.sentence == f"The last round is {age} old: shoot a re-check first (gratemap take --recheck)."


def test_a_map_of_another_day_wants_a_new_round(steady):
    for hours, age in ((30.0, "30 h"), (24.0 * 165, "165 days")):
        found = ready(steady, WANTED, SEAR, now=soon(steady, 60.0 * hours))
        assert not found.ready
        assert found.sentence == f"The last round is {age} old: take a new one (gratemap take)."


@pytest.mark.parametrize(("rate_c_per_min", "direction"), [(5.0, "rising"), (-5.0, "falling")])
def test_a_grate_that_still_moves_is_waited_for(rate_c_per_min, direction):
    found = ready(assessed(even, rate_c_per_min=rate_c_per_min), WANTED, SEAR)
    assert not found.ready
    assert found.sentence == f"Wait {found.wait_min:.0f} min, still {direction} 5 °C a minute."


def test_agrees_with_an_exponential_that_settles():
    """After the wait the rate has fallen to what counts as steady: 5 °C a minute decaying, 90 % of it in 13 min.

    Four passes, so that the rate is known: after two it is still drawn towards a settled grate by some 4 %.
    """
    wait_min = ready(assessed(even, rate_c_per_min=5.0, passes=4), WANTED).wait_min
    rate_c_per_min = 5.0 * 10.0 ** -(np.array([wait_min - 1.0, wait_min]) / 13.0)
    assert rate_c_per_min[0] > STEADY_C_PER_MIN * 0.97  # the drift is estimated, so a little play
    assert rate_c_per_min[1] < STEADY_C_PER_MIN * 1.03


def test_no_wait_is_proposed_that_overruns_the_sear(rising):
    wait_min, now = ready(rising, WANTED).wait_min, soon(rising, 1.0)
    in_time = ready(rising, WANTED, now=now, sear_at=now + timedelta(minutes=wait_min + 0.1))
    too_late = ready(rising, WANTED, now=now, sear_at=now + timedelta(minutes=wait_min - 0.1))
    gone_by = ready(rising, WANTED, now=now, sear_at=now - timedelta(minutes=5.0))
    assert in_time.wait_min == wait_min
    assert too_late.ready and too_late.wait_min == 0.0
    assert gone_by.sentence == too_late.sentence


def test_a_change_that_is_worth_it_is_named_with_its_wait(lopsided):
    advice = advise(lopsided)
    assert advice.worth_it, "the premise"
    found = ready(lopsided, WANTED, SEAR)
    assert not found.ready
    assert found.changes == advice.changes and found.settings == advice.settings
    assert found.wait_min >= advice.wait_min
    for change in advice.changes:
        assert f"{change.burner} to {change.to_mark:g}" in found.sentence
    assert found.sentence.endswith(f"; wait {found.wait_min:.0f} min and shoot again.")


@pytest.mark.parametrize(("gain", "proposed"), [(0.02, False), (0.04, True)])
def test_a_change_that_brings_little_is_not_waited_for(lopsided, gain, proposed, monkeypatch):
    advice = advise(lopsided)
    little = replace(advice.now, share_in_band=advice.now.share_in_band + gain)
    monkeypatch.setattr("heatmap.decisions.ready.advise", lambda _: replace(advice, expected=little))
    assert advice.now.share_in_band >= 0.03, "the premise"
    assert bool(ready(lopsided, WANTED, SEAR).changes) is proposed


def test_no_change_is_proposed_whose_wait_and_round_overrun_the_sear(lopsided):
    wait_min, now = ready(lopsided, WANTED).wait_min, soon(lopsided, 1.0)
    assert ready(lopsided, WANTED, now=now, sear_at=now + timedelta(minutes=wait_min + 2.5)).changes
    found = ready(lopsided, WANTED, now=now, sear_at=now + timedelta(minutes=wait_min + 1.5))
    assert found.changes == ()
    assert "urn " not in found.sentence


@pytest.mark.parametrize(("field_c", "side"), [(260.0, "cold"), (345.0, "hot")])
def test_a_grate_far_from_the_band_is_not_ready_unless_time_is_up(field_c, side):
    assessment = assessed(lambda x_mm, y_mm: field_c)
    found = ready(assessment, WANTED)
    assert not found.ready
    outside = round(max(288.0 - field_c, field_c - 316.0))
    heat = "more" if side == "cold" else "less"
    assert re.match(
        rf"Do not sear yet: the best place, [a-z ]+, is still {outside} °C too {side}; give it {heat} heat",
        found.sentence,
    )
    assert "s a turn" not in found.sentence and "heading" not in found.sentence
    now = soon(assessment, 1.0)
    late = ready(assessment, WANTED, now=now, sear_at=now + timedelta(minutes=1.0))
    assert late.ready
    assert late.sentence.startswith("Too late to change it: the best place, ")


def test_an_unknown_level_asks_for_a_contact_reading_unless_time_is_up():
    """With the band in rail numbers and nothing to pin them, the map cannot tell; neither can this."""
    rails = replace(GRILL, target=replace(GRILL.target, numbers="rail"))
    assessment = assessed(even, rails)
    found = ready(assessment, WANTED, SEAR)
    assert not found.ready and found.plan is None
    assert re.match(r"Take one contact reading first: the level is known only to ±\d+ °C", found.sentence)
    now = soon(assessment, 1.0)
    late = ready(assessment, WANTED, SEAR, now=now, sear_at=now + timedelta(minutes=1.0))
    assert late.ready and re.search(r"; all in band: \d+ % likely\.$", late.sentence)


def test_a_test_piece_changes_the_seconds(steady):
    from heatmap.decisions.ready import rails_under
    from heatmap.sear import learn_from_test

    place = ready(steady, WANTED).place
    assert place is not None
    lesson = learn_from_test(SEAR.food, rails_under(steady, place), tested_seconds=(60.0,) * 4, peak_c=52.0)
    before, after = ready(steady, WANTED, SEAR).plan, ready(steady, WANTED, replace(SEAR, beliefs=lesson.beliefs)).plan
    assert before is not None and after is not None
    assert after.seconds_high / after.seconds_low < before.seconds_high / before.seconds_low
    assert after.seconds_per_turn != pytest.approx(before.seconds_per_turn, abs=1.0)
