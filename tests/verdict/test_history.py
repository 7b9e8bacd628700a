"""One line per round: the newest as its map has it, older ones as a map of several rounds has them."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import pytest
from scipy.interpolate import RBFInterpolator

from heatmap import load_grill, load_rounds
from heatmap.assessment import Cells, assess
from heatmap.grate_model import reference_pairs as pins_module
from heatmap.grate_model.round_map import model_of
from heatmap.grill.toml import grill_from_toml
from heatmap.readings.reading import Reading, Round
from heatmap.synthetic import draw_grill
from heatmap.verdict import history as history_module
from heatmap.verdict.history import history

pytestmark = pytest.mark.usefixtures("coarse_cells")
SAMPLES = Path(__file__).parents[2] / "sample_readings"


@pytest.fixture(scope="module")
def played():
    """Return a make-believe grill and four rounds: three full ones, one with a contact reading, and a re-check."""
    grill = draw_grill(5)
    rounds = [grill.play_round(1, contact_at="B2"), grill.play_round(2)]
    grill.turn({grill.grill.burners[0].name: 7.0})
    grill.settle()
    rounds += [grill.play_round(3), grill.play_round(4, order=("B2", "A1", "C3"))]
    return grill.grill, tuple(rounds)


def test_the_newest_line_is_that_of_its_own_map(played):
    grill, rounds = played
    for until in range(1, 5):
        line = list(history(grill, rounds[:until]))[-1]
        found = assess(grill, rounds[:until])
        assert line.even.p95_minus_p5_c == pytest.approx(found.evenness.p95_minus_p5_c, rel=1e-9)
        assert line.even.share_in_band == pytest.approx(found.evenness.share_in_band, rel=1e-9)
        assert line.even.share_in_band_low == pytest.approx(found.evenness.share_in_band_low, rel=1e-9)
        assert line.even.share_in_band_high == pytest.approx(found.evenness.share_in_band_high, rel=1e-9)
        assert line.even.share_in_band_low <= line.even.share_in_band <= line.even.share_in_band_high
        assert line.level_c == pytest.approx(found.compared_c[found.cells.inside].mean(), rel=1e-9)
        assert line.drift_c_per_min == pytest.approx(found.surface.drift_c_per_min()[0])
        assert dict(line.round.settings) == dict(found.round.settings)


@pytest.mark.usefixtures("fine_cells")
def test_older_lines_agree_with_maps_made_when_nothing_had_followed(played):
    """The rounds after one tell of it too, but no other story: within what the gun's noise leaves open."""
    grill, rounds = played
    for line in list(history(grill, rounds))[:-1]:
        found = assess(grill, rounds[: line.round.number])
        assert line.even.p95_minus_p5_c == pytest.approx(found.evenness.p95_minus_p5_c, rel=0.1)
        assert line.even.share_in_band == pytest.approx(found.evenness.share_in_band, abs=0.05)
        assert line.even.share_in_band_low <= line.even.share_in_band <= line.even.share_in_band_high
        assert line.level_c == pytest.approx(found.compared_c[found.cells.inside].mean(), abs=2.0)
        assert dict(line.round.settings) == dict(found.round.settings)


@pytest.mark.usefixtures("fine_cells")
def test_lines_of_an_old_day_are_as_its_own_map_would_have_them(monkeypatch):
    """Rounds before those of the newest map: what it learned of the grate tells of them what all nodes would have told,
    to a third of what is left open, and a few degrees of spread.
    """
    monkeypatch.setattr("heatmap.grate_model.round_map.MOST_ROUNDS", 4)
    made = draw_grill(7)
    rounds = []
    for number in range(1, 13):
        rounds.append(made.play_round(number))
        made.turn({made.grill.burners[number % 2].name: 2.0 + number / 2.0})
        made.settle()
    lines = list(history(made.grill, rounds))
    for until in (4, 8):  # the newest of each block
        line, found = lines[until - 1], assess(made.grill, rounds[:until]).evenness
        third = (found.share_in_band_high - found.share_in_band_low) / 6.0
        assert line.even.share_in_band == pytest.approx(found.share_in_band, abs=third)
        assert line.even.p95_minus_p5_c == pytest.approx(found.p95_minus_p5_c, abs=5.0)


def test_an_older_line_of_a_grate_and_of_its_mirror_image_are_the_same():
    """Also where every row has three, six, nine … cells; within what looking at some of them may move."""
    grate = "[grate]\nwidth = 11\ndepth = 18\n[target]\nlow = 550\nhigh = 600\n"
    grill = grill_from_toml(grate)

    def rounds(side: float) -> tuple[Round, ...]:
        shots = [
            Reading(id=1, round=number, shown_c=302.0 + side * (x_mm - 139.7) / 10.0, x_mm=x_mm, y_mm=y_mm)
            for number in (1, 2)
            for x_mm, y_mm in map(grill.point_mm, grill.labels)
        ]
        return tuple(Round(number=n, session="", readings=tuple(s for s in shots if s.round == n)) for n in (1, 2))

    cooler, hotter = (next(history(grill, rounds(side))) for side in (-1.0, 1.0))
    assert cooler.level_c == pytest.approx(hotter.level_c, abs=0.5)


def test_few_shots_with_no_full_round_before_them_are_no_recheck(played):
    grill, rounds = played
    few = tuple(one for one in rounds[0].readings if one.position in ("A1", "A3", "B2", "C1"))
    (line,) = history(grill, [replace(rounds[0], readings=few)])
    assert line.kind == "few"


def test_kinds_and_shots(played):
    grill, rounds = played
    lines = list(history(grill, rounds))
    assert [line.round.number for line in lines] == [1, 2, 3, 4]
    assert [line.kind for line in lines] == ["full", "full", "full", "re-check"]
    assert [len(line.round.with_aim("rail")) for line in lines] == [len(grill.labels)] * 3 + [3]


def test_only_the_newest_are_worked_out(played):
    grill, rounds = played
    assert [line.round.number for line in history(grill, rounds, newest=2)] == [3, 4]
    assert list(history(grill, ())) == []


def test_a_round_too_small_for_a_map_has_its_line_all_the_same(played):
    grill, rounds = played
    small = Round(number=9, session="another", readings=tuple(replace(r, round=9) for r in rounds[0].readings[:2]))
    (line,) = history(grill, (*rounds, small), newest=1)
    assert (line.round.number, len(line.round.with_aim("rail")), line.kind) == (9, 2, "no map")
    assert line.even is None
    assert "at least 3" in line.why
    assert dict(line.round.settings) == dict(rounds[0].settings)


def test_a_round_without_times_has_no_drift(played):
    grill, rounds = played
    timeless = replace(rounds[1], readings=tuple(replace(r, taken_at=None) for r in rounds[1].readings))
    (line,) = history(grill, (timeless,))
    assert line.round.taken_at is None
    assert line.drift_c_per_min is None
    assert line.even.p95_minus_p5_c > 0


def test_lines_come_as_each_map_is_made(played, monkeypatch):
    grill, rounds = played
    asked = []

    def listening(log, one, **named):
        if len(log.rounds) == len(rounds):  # a round is also looked at alone, for what its contact reading teaches
            asked.append(one.number)
        return model_of(log, one, **named)

    monkeypatch.setattr(history_module, "model_of", listening)
    monkeypatch.setattr("heatmap.grate_model.round_map.model_of", listening)
    monkeypatch.setattr("heatmap.grate_model.round_map.MOST_ROUNDS", 2)
    lines = history(grill, rounds)
    assert asked == []
    next(lines)
    assert asked == [4, 2], "the newest first, which tells the others what kind of grate it is"
    assert [line.round.number for line in lines] == [2, 3, 4]
    assert asked == [4, 2], "each of them once"


def test_a_thousand_rounds_in_the_log_cost_little_more_than_twenty(played):
    """The newest two lines, with the contact readings of every round to be weighed; processor time, best of two."""
    grill, rounds = played

    def copies(count: int) -> tuple[Round, ...]:
        full = rounds[0]
        return tuple(
            Round(
                number=number,
                session=f"day {number // 50}",
                readings=tuple(_moved(reading, number) for reading in full.readings),
            )
            for number in range(1, count + 1)
        )

    def seconds(log: tuple[Round, ...]) -> float:
        begun = time.process_time()
        assert len(list(history(grill, log, newest=2))) == 2
        return time.process_time() - begun

    few, many = copies(20), copies(1000)
    assert min(seconds(many) for _ in range(2)) < 3.0 * min(seconds(few) for _ in range(2))


def _moved(reading: Reading, number: int) -> Reading:
    return replace(reading, round=number, session=f"day {number // 50}")


def test_levels_of_the_sample_readings_agree_with_a_thin_plate_spline():
    """Another way of computing: scipy's spline through the readings that are believed, over the same area.

    Two curves through twelve readings differ between them; the mean over the grate by no more than a reading is worth.
    """
    grill = load_grill(SAMPLES / "grill.toml")
    rounds = load_rounds(SAMPLES / "readings.csv", grill)
    for line in history(grill, rounds):
        found = assess(grill, rounds, line.round.number)
        kept = [spot.reading for spot in found.kept_spots]
        spline = RBFInterpolator([one.point_mm for one in kept], [one.shown_c for one in kept])
        mean_c = spline(found.cells.inside_points_mm).mean()
        assert line.level_c == pytest.approx(mean_c, abs=5.0)


def test_maps_that_pins_are_read_off_are_made_once(played, monkeypatch):
    """Every session asks the same latest contact readings; each needs the map of its own round."""
    grill, rounds = played
    log = tuple(
        Round(
            number=number,
            session=f"day {number}",
            readings=tuple(replace(_moved(reading, number), session=f"day {number}") for reading in rounds[0].readings),
        )
        for number in range(1, 4)
    )
    made = []
    provisional = pins_module._provisional_map
    monkeypatch.setattr(
        pins_module,
        "_provisional_map",
        lambda one, start: made.append(one.number) or provisional(one, start),
    )
    together = list(history(grill, log))
    assert sorted(made) == [1, 2, 3]
    assert together[-1].level_c == pytest.approx(assess(grill, log).compared_c[Cells(grill).inside].mean(), rel=1e-9)
