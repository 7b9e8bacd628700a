"""The make-believe grill behaves as grills do, and as a tool for practice and tests must."""

from __future__ import annotations

import numpy as np
import pytest
from perfect import draw_perfect

from heatmap.errors import InputError
from heatmap.synthetic import RehearsalGrill, draw_grill

SEEDS = range(12)


def nearest_cell(grill: RehearsalGrill, burner: int) -> tuple[int, int]:
    return np.unravel_index(int(np.argmax(grill.hidden.patterns[burner])), grill.hidden.patterns[burner].shape)


def minutes_to_90_percent(grill: RehearsalGrill) -> float:
    """Turn the first burner a third of its way and count until its hottest place has made 90 % of its change."""
    burner = grill.grill.burners[0]
    at = nearest_cell(grill, 0)
    before = grill._kelvin[at]
    third = (burner.high - burner.low) / 3.0
    mark = burner.high - third if grill.marks[burner.name] < burner.high - third else burner.low
    grill.turn({burner.name: mark})
    after = grill.hidden.plate.steady_k(grill._heat(grill._shares(grill.held)), grill._air, grill._kelvin)[at]
    minutes = 0.0
    while abs(grill._kelvin[at] - before) < 0.9 * abs(after - before):
        grill._pass(30.0)
        minutes += 0.5
    return minutes


def test_warm_up_takes_8_to_20_minutes() -> None:
    """Common practice, no source: 90 % of the change after a knob is turned takes 8 to 20 min."""
    minutes = np.array([minutes_to_90_percent(draw_grill(seed)) for seed in range(30)])
    assert np.mean((minutes >= 7.0) & (minutes <= 21.0)) >= 0.9
    assert 8.0 <= np.median(minutes) <= 20.0


def test_lifting_the_lid_costs_10_19_27_degrees() -> None:
    """Common practice, no source: a grate that soaked under a closed lid loses about 10, 19, 27 °F in 30, 60, 90 s."""
    falls = []
    for grill in (draw_grill(seed) for seed in range(40)):
        if grill.hidden.habit == "closed":
            before = grill._kelvin.mean()
            grill.lid = "open"
            fall = []
            for _ in range(3):
                grill._pass(30.0)
                fall.append(1.8 * (before - grill._kelvin.mean()))
            falls.append(fall)
    np.testing.assert_allclose(np.median(falls, axis=0), [10.0, 19.0, 27.0], rtol=0.3)
    assert len(falls) > 10


def test_valley_can_add_50_to_150_degrees_but_need_not() -> None:
    """Common practice, no source: what is seen between rails adds up to 50 to 150 °F over hot burners, not always."""
    added = []
    for seed in range(40):
        grill = draw_grill(seed)
        heat = (grill._heat(grill._delivered) / grill.hidden.nominal_w_m2).ravel()
        truth = grill.steady_truth_c(grill.start)
        none = np.zeros_like(truth)
        shares = np.full_like(truth, 1 / 3)
        seen = grill.hidden.gun.shown_c(grill.grill, truth, none, heat, shares)
        without = grill.hidden.gun.shown_c(grill.grill, truth, none, heat, none + 1.0)
        added.append(1.8 * np.percentile(seen - without, 90))
    added = np.array(added)
    assert 0.1 < np.mean(added > 50.0) < 0.6
    assert np.mean(added < 40.0) > 0.3
    assert 80.0 < added.max() < 200.0


def test_same_seed_same_readings() -> None:
    first, second = (draw_grill(3).play_round(1, contact_at="B2") for _ in range(2))
    assert first == second
    assert first != draw_grill(4).play_round(1, contact_at="B2")


def test_a_round_is_what_a_cook_would_write_down() -> None:
    grill = draw_grill(5)
    played = grill.play_round(2, contact_at="B2")
    assert played.number == 2
    assert [reading.position for reading in played.with_aim("rail")] == list(grill.grill.labels)
    assert [reading.position for reading in played.with_aim("contact")] == ["B2"]
    assert dict(played.settings) == grill.marks
    times = [reading.taken_at for reading in played.readings]
    assert times == sorted(times) and 30 <= (times[-1] - times[0]).total_seconds() <= 200
    assert len({reading.id for reading in played.readings}) == len(played.readings)


def test_a_perfect_probe_shows_the_truth_to_a_display_step() -> None:
    grill = draw_perfect(6)
    reading = grill.shoot("B2", "contact")
    assert reading.shown_c == pytest.approx(float(grill.truth_c([grill.grill.point_mm("B2")])[0]), abs=0.51 / 1.8)


def test_without_noise_the_grate_stays_where_it_settled() -> None:
    grill = draw_perfect(7)
    before = grill.truth_c(grill.cells_mm)
    np.testing.assert_allclose(before, grill.steady_truth_c(grill.start), atol=1e-5)
    grill.wait(10)
    np.testing.assert_allclose(grill.truth_c(grill.cells_mm), before, atol=1e-4)


def test_a_hand_misses_a_mark_by_a_little() -> None:
    grill = draw_grill(8)
    burner = grill.grill.burners[0]
    missed = []
    for mark in (3.0, 5.0) * 100:
        grill.turn({burner.name: mark})
        missed.append(grill.held[burner.name] - mark)
    assert 0.5 * 0.012 < np.std(missed) / (burner.high - burner.low) < 2.0 * 0.012
    assert abs(np.mean(missed)) < 0.03


def test_a_mark_off_the_knob_is_refused() -> None:
    grill = draw_grill(8)
    with pytest.raises(InputError, match=r'mark 11 is not on burner ".*"; it goes from 1 to 10'):
        grill.turn({grill.grill.burners[0].name: 11.0})


@pytest.mark.parametrize("seed", [1, 5])
def test_nothing_tried_at_random_beats_the_best_reachable(seed: int) -> None:
    grill = draw_perfect(seed)
    marks, share = grill.best_reachable()
    random = np.random.default_rng(1)
    tried = [
        grill.share_in_band({burner.name: float(random.choice(burner.settable)) for burner in grill.grill.burners})
        for _ in range(400)
    ]
    assert share >= max(tried) - 1e-12
    assert all(burner.low <= marks[burner.name] <= burner.high for burner in grill.grill.burners)


def test_blunders_happen_about_as_often_as_said() -> None:
    grill = draw_grill(2)
    played = [grill.play_round(number) for number in range(1, 41)]
    shown = np.array([[reading.shown_c for reading in one.readings] for one in played])
    off = np.abs(shown - np.median(shown, axis=0))
    assert 0.0 < np.mean(off > 60.0) < 0.03
