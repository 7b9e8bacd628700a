"""Which knob to which mark."""

from __future__ import annotations

import functools
import itertools
import time
from dataclasses import replace

import numpy as np
import pytest
from perfect import draw_perfect

from heatmap.assessment import assess
from heatmap.correct import calibrate
from heatmap.decisions.burner_advice import BurnerAdvice, advise, best_band, settled_mean_c
from heatmap.decisions.burner_search import Draws, Search, a_few
from heatmap.decisions.decision import decide
from heatmap.decisions.tuning import LEVEL_WEIGHED, NOTHING_IN_BAND, OWN_WEIGHED, TURN_CHANCE
from heatmap.grill.burner import Burner
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings.reading import Round
from heatmap.report.documents import burners_document
from heatmap.synthetic import RehearsalGrill, draw_grill
from heatmap.units import Display
from heatmap.verdict.chances import Outlook
from heatmap.verdict.regions import parts_of_grate
from heatmap.words.burners import learned_line, why, why_lines
from heatmap.words.decision import decision_sentence

pytestmark = pytest.mark.usefixtures("coarse_cells")


@functools.cache
def draw(seed: int) -> RehearsalGrill:
    """Draw a grill without noise whose band is in the gun's own numbers, so that no level is unknown; its truth is on
    coarse cells, and nobody plays on it here.
    """
    return draw_perfect(seed, numbers="shown", cell_mm=50.8)


@functools.cache
def best_of(seed: int) -> tuple[dict[str, float], float]:
    """Return the best marks there are, in truth, and their share."""
    return draw(seed).best_reachable()


@pytest.fixture(scope="module")
def first_advice(seen_round, coarse_cells) -> dict[int, tuple[BurnerAdvice, float]]:
    """Return what is advised after one round on each of sixteen grills, on cells as fine as a cook's, and the share in
    band before it.
    """
    found = {}
    with pytest.MonkeyPatch.context() as patch:
        for name, cell_mm in coarse_cells.items():
            patch.setattr(f"heatmap.assessment.{name}", cell_mm)
        for seed in range(16):
            seen = assess(draw(seed).grill, [seen_round(draw(seed), draw(seed).start, noise_c=6.0)])
            found[seed] = advise(seen), seen.evenness.share_in_band
    return found


@pytest.mark.parametrize("seed", [0, 10, 20, 21, 36, 37])
def test_the_climb_finds_the_best_of_all_marks_that_can_be_set(seed: int):
    """Two knobs of 19 marks each: all 361 pairs are tried."""
    grill = draw_grill(seed, numbers="shown")
    assessment = assess(grill.grill, [grill.play_round(1)])
    cells_mm = assessment.wide_cells.points_mm[a_few(np.flatnonzero(assessment.zone))]
    search = Search(Draws(assessment, cells_mm, np.random.default_rng(seed)).for_search())
    assert [len(marks) for marks in search.marks] == [19, 19]
    best = max(map(search.value, itertools.product(range(19), repeat=2)))
    assert search.value(search.best()) >= best - 0.002, "a fifth of a hundredth of the grate"
    assert best > search.value(search.now) + 0.01, "there is something to find"


@pytest.mark.parametrize(("mark", "less", "more"), [(1.0, 1.0, 1.5), (5.0, 4.5, 5.5), (10.0, 9.5, 10.0)])
def test_what_a_mark_brings_agrees_with_the_surface_under_marks_also_at_the_ends_of_a_dial(mark, less, more):
    grill = draw_grill(0, numbers="shown")
    assessment = assess(grill.grill, [grill.play_round(1)])
    draws = Draws(assessment, assessment.wide_cells.inside_points_mm, np.random.default_rng(0))
    draws.now = (mark, *draws.now[1:])
    rise = draws.heat((more, *draws.now[1:])) - draws.heat((less, *draws.now[1:]))
    per_mark_c = rise[:, draws.near[0]].mean(axis=1) / (more - less) * draws.celsius_per_heat
    np.testing.assert_allclose(draws.slope_per_mark(0), per_mark_c)


def advice_after(grill: Grill, *rounds: Round) -> BurnerAdvice:
    return advise(assess(grill, rounds))


def reason_after(grill: Grill, *rounds: Round) -> str:
    assessment = assess(grill, rounds)
    decision = decide(assessment)
    return f"{decision_sentence(assessment, decision)} {why(assessment, decision)}"


def unknown_level(grill: Grill) -> Grill:
    """Return the grill with a band of rails, of a finish that is hardly known: one that no infrared gun can level."""
    return replace(
        grill,
        grate=replace(grill.grate, emissivity=0.75, emissivity_sd=0.15),
        target=replace(grill.target, numbers="rail"),
    )


def play(seed: int, seen_round, rounds: int = 5) -> list[float]:
    """Follow the advice on perfect readings and return the true share over the best, round by round."""
    grill, (_, best) = draw(seed), best_of(seed)
    marks, seen, shares = dict(grill.start), [], []
    for number in range(1, rounds + 1):
        seen.append(seen_round(grill, marks, number))
        shares.append(grill.share_in_band(marks) / best)
        advice = advice_after(grill.grill, *seen)
        if advice.changes:
            marks = {burner.name: advice.settings[burner.name] for burner in grill.grill.burners}
    return shares


def test_advice_on_perfect_readings_reaches_what_the_truth_reaches(seen_round) -> None:
    """Direct optimisation on the truth is the measure; the surface between 12 spots is all that is not known."""
    played = np.array([play(seed, seen_round, 4) for seed in (0, 2, 3, 5, 7, 10)])
    assert np.median(played[:, -1]) >= 0.9
    assert played[:, -1].min() >= 0.75
    assert np.mean(played[:, -1]) > np.mean(played[:, 0]) + 0.2


@pytest.mark.parametrize("seed", range(6))
def test_settings_are_marks_a_hand_can_set(seed: int, seen_round) -> None:
    grill = draw(seed)
    burners = tuple(replace(burner, step=[0.5, 1.0, 3.0][at % 3]) for at, burner in enumerate(grill.grill.burners))
    described = replace(grill.grill, burners=burners)
    advice = advice_after(described, seen_round(grill, grill.start, noise_c=15.0, seed=seed))
    for burner in burners:
        mark = advice.settings[burner.name]
        assert burner.low <= mark <= burner.high
        assert mark == grill.start[burner.name] or np.abs(np.subtract(burner.settable, mark)).min() < 1e-9
    assert {change.burner: change.to_mark for change in advice.changes} == {
        name: mark for name, mark in advice.settings.items() if mark != grill.start[name]
    }


def reshaped(one: Round, change) -> Round:
    """Return a round whose shown numbers are changed by a function of reading to reading."""
    return replace(one, readings=tuple(change(reading) for reading in one.readings))


def shifted(one: Round, by_c: float) -> Round:
    return reshaped(one, lambda reading: replace(reading, shown_c=reading.shown_c + by_c))


def no_colder_than_air(one: Round) -> Round:
    """Return a round with no number below those of a grate as cold as the air, which would be refused."""
    return reshaped(one, lambda reading: replace(reading, shown_c=max(reading.shown_c, 25.0)))


def test_the_colder_the_grate_the_more_heat(seen_round) -> None:
    grill = draw(4)
    one = seen_round(grill, best_of(4)[0])
    sums = [sum(advice_after(grill.grill, shifted(one, by)).settings.values()) for by in (-90, -45, 0, 45, 90)]
    assert sums == sorted(sums, reverse=True)
    assert sums[0] > sums[-1]


def test_mirror_the_grate_mirror_the_advice(seen_round) -> None:
    grill = draw(8)
    width = grill.grill.grate.width_mm
    one = reshaped(
        seen_round(grill, grill.start),
        lambda reading: replace(reading, shown_c=reading.shown_c + 0.12 * (reading.x_mm - 0.5 * width)),
    )
    two = reshaped(one, lambda reading: replace(reading, x_mm=width - reading.x_mm, position=""))
    burners = tuple(
        replace(burner, points_mm=tuple((width - x, y) for x, y in burner.points_mm)) for burner in grill.grill.burners
    )
    mirrored = replace(grill.grill, burners=burners)
    points = np.array([[100.0, 100.0], [250.0, 300.0], [400.0, 200.0]])
    first, second = assess(grill.grill, [one]), assess(mirrored, [two])
    np.testing.assert_allclose(first.at(points), second.at(points * [-1.0, 1.0] + [width, 0.0]), atol=1e-6)
    for burner in grill.grill.burners:
        mark, other = (advise(assessment).settings[burner.name] for assessment in (first, second))
        assert mark == pytest.approx(other, abs=1.0)


def test_leaves_alone_what_is_already_as_good_as_it_gets(seen_round) -> None:
    for seed in (4, 12):
        grill = draw(seed)
        best, _ = best_of(seed)
        assessment = assess(grill.grill, [seen_round(grill, best, number) for number in (1, 2, 3)])
        decision = decide(assessment)
        assert decision.do != "turn"
        assert decision.changes == ()
        assert "knobs" in decision_sentence(assessment, decision)


def test_an_unknown_level_is_the_reason_told(seen_round) -> None:
    """Where the level alone is wider than the band, "no more than the noise" would mislead: a contact reading helps."""
    grill = draw(8)
    one = seen_round(grill, best_of(8)[0])
    known = advice_after(grill.grill, one)
    # The same numbers, now of rails, as a gun on this finish would show them.
    described = unknown_level(grill.grill)
    shown_c = calibrate(described).shown_from_rail_c(np.array([reading.shown_c for reading in one.readings]))
    rails = tuple(replace(r, shown_c=float(c)) for r, c in zip(one.readings, shown_c, strict=True))
    assessment = assess(described, [replace(one, readings=rails)])
    unknown = advise(assessment)
    assert not known.changes and "contact reading" not in reason_after(grill.grill, one)
    assert not unknown.changes
    # ± is 1.96 standard deviations; 1 °C is 1.8 °F
    told = decision_sentence(assessment, decide(assessment))
    assert f"the level is known only to ±{1.96 * 1.8 * assessment.level_std_c:.0f} °F" in told


def test_never_goes_back_to_what_was_found_worse(seen_round) -> None:
    grill = draw(6)
    best, _ = best_of(6)
    worse = {name: float(np.clip(mark + 2.0, 1.0, 10.0)) for name, mark in best.items()}
    advice = advice_after(grill.grill, seen_round(grill, worse, 1), seen_round(grill, best, 2))
    assert dict(advice.settings) != worse


def test_a_band_out_of_reach_is_said_and_what_remains(seen_round) -> None:
    grill = draw(4)
    full = {burner.name: burner.high for burner in grill.grill.burners}
    hottest = float(grill.compared_c(full).max())
    band = TargetBand(low_c=hottest + 120.0, high_c=hottest + 148.0)
    advice = advice_after(replace(grill.grill, target=band), seen_round(grill, full))
    assert not advice.reachable
    told = reason_after(replace(grill.grill, target=band), seen_round(grill, full))
    assert "cannot reach the band" in told
    assert "too cold" in told
    assert "guess" in told  # one round has not taught what the knobs do
    turned = dict(full) | {grill.grill.burners[0].name: full[grill.grill.burners[0].name] - 1.0}
    learned = reason_after(replace(grill.grill, target=band), seen_round(grill, turned, 1), seen_round(grill, full, 2))
    assert "cannot reach the band" in learned
    assert "guess" not in learned


def test_a_level_that_is_not_known_does_not_say_what_the_knobs_cannot_reach(seen_round) -> None:
    """A grate that reads 200 °F too cold with every knob open, of a finish that is hardly known: nobody can tell."""
    grill = draw(4)
    full = {burner.name: burner.high for burner in grill.grill.burners}
    hottest = float(grill.compared_c(full).max())
    band = TargetBand(low_c=hottest + 120.0, high_c=hottest + 148.0)
    unknown = unknown_level(grill.grill)
    one = seen_round(grill, full)
    hottest_c = float(assess(unknown, [one]).mean_c.max())
    band = TargetBand(low_c=hottest_c + 120.0, high_c=hottest_c + 148.0, numbers="rail")
    told = reason_after(replace(unknown, target=band), one)
    assert "cannot reach" not in told
    assert "the level is known only to" in told


def test_no_knob_is_turned_for_a_gain_nobody_would_see(first_advice) -> None:
    """Whatever is advised is told with a higher share than now, to the percent, unless next to nothing is in band."""
    gains = []
    for advice, now in first_advice.values():
        if advice.changes and now >= NOTHING_IN_BAND:
            gains.append(advice.expected.share_in_band - now)
    assert len(gains) >= 6, "the premise"
    assert min(gains) >= 0.005


def test_no_knob_is_turned_for_a_hair_more_of_a_band_out_of_reach() -> None:
    """With every knob fully open but one, half a mark less, and a band that begins about where the hottest shot is."""
    grill = draw_grill(7, numbers="shown")
    lower = grill.grill.burners[-1].name
    grill.turn({one.name: one.high - 0.5 * (one.name == lower) for one in grill.grill.burners})
    grill.settle()
    seen = grill.play_round(1)
    hottest_c = max(one.shown_c for one in seen.readings if one.shown_c is not None)
    for above_c in (-3.0, 0.0, 3.0):
        low_c = hottest_c + above_c
        band = replace(grill.grill.target, low_c=low_c, high_c=low_c + 28.0)
        assessment = assess(replace(grill.grill, target=band), [seen])
        found, advice = decide(assessment, None, None), advise(assessment)
        assert found.do != "turn" or advice.chance_better >= TURN_CHANCE


def test_what_is_told_of_now_is_what_the_map_tells(seen_round) -> None:
    """A newest round that is colder asks for more heat, and the share told of now is that of its map."""
    grill = draw(4)
    best = best_of(4)[0]
    first = seen_round(grill, best)
    heats = []
    for off_c in (0.0, -40.0):
        assessment = assess(grill.grill, [first, shifted(seen_round(grill, best, 2), off_c)])
        advice = advise(assessment)
        heats.append(sum(advice.settings.values()) - sum(best.values()))
        decision = decide(assessment)
        told = burners_document(assessment, decision, decision)["now"]["share_in_band"]
        assert told == assessment.evenness.share_in_band
    assert heats[1] > heats[0] + 0.5


@pytest.mark.parametrize(("share", "told"), [(0.25, (0.25, 0.1, 0.3)), (0.5, (0.5, 0.1, 0.5)), (1.2, (1.0, 0.1, 1.0))])
def test_another_share_lies_within_its_limits(share: float, told: tuple[float, float, float]) -> None:
    outlook = Outlook(share_in_band=0.2, share_in_band_low=0.1, share_in_band_high=0.3, p95_minus_p5_c=40.0)
    after = outlook.with_share(share)
    assert (after.share_in_band, after.share_in_band_low, after.share_in_band_high) == told
    assert after.p95_minus_p5_c == 40.0


def test_a_band_in_reach_is_not_called_out_of_reach(first_advice) -> None:
    for seed in (4, 6, 8):
        assert first_advice[seed][0].reachable


def test_expected_share_is_what_comes_within_its_limits(first_advice) -> None:
    """Over grills and first changes, the true share lies within the 90 % limits in most cases."""
    held = []
    for seed, (advice, _) in first_advice.items():
        grill = draw(seed)
        share = grill.share_in_band({b.name: advice.settings[b.name] for b in grill.grill.burners})
        held.append(advice.expected.share_in_band_low <= share <= advice.expected.share_in_band_high)
    assert np.mean(held) >= 0.75


def test_what_is_told_is_as_wide_whatever_a_decision_weighs(seen_round) -> None:
    """A decision leans on the likely part of what is known; the limits the cook is told are those of all of it."""
    grill = draw(4)
    assessment = assess(grill.grill, [seen_round(grill, grill.start)])
    advice = advise(assessment)
    assert advice.changes, "the premise"
    cells = a_few(np.flatnonzero(assessment.wide_cells.inside.ravel()))
    whole = Draws(assessment, assessment.wide_cells.points_mm[cells], np.random.default_rng(0)).unseen()
    marks = [advice.settings[burner.name] for burner in grill.grill.burners]
    low, high = np.percentile(whole.shares(marks), [5, 95])
    assert advice.expected.share_in_band_low <= low + 1e-9
    assert advice.expected.share_in_band_high >= high - 1e-9
    weighed = whole.weighed().heat(marks).std(axis=0)
    assert (weighed < 0.7 * whole.heat(marks).std(axis=0)).all(), "what a decision weighs is narrower"


def test_the_errors_are_as_wide_as_what_a_decision_weighs() -> None:
    """In the third round of grills played by the advice, the surface of now, level and all, against the truth."""
    errors, told = [], []
    for seed in range(14):
        grill = draw_grill(seed, cell_mm=50.8)
        rounds = [grill.play_round(1, contact_at="B2")]
        for number in (2, 3):
            grill.turn(advise(assess(grill.grill, rounds)).settings)
            grill.wait(25.0)
            rounds.append(grill.play_round(number))
        seen = assess(grill.grill, rounds)
        cells = grill.cells_mm[grill.inside]
        model = seen.model
        expected = model.expected(grill.marks)
        mean_c, std_c = expected.predict(cells)
        heat = model.scale.heat(mean_c)
        error = heat - model.scale.heat(grill.steady_truth_c(grill.held)[grill.inside])
        errors.append(np.mean(error**2))
        slope = model.scale.celsius_per_heat(heat)
        told.append([np.mean((std_c / slope) ** 2), np.mean((seen.shared_std_c / slope) ** 2)])
    own, level = np.mean(told, axis=0)
    weighed = np.sqrt(OWN_WEIGHED**2 * own + LEVEL_WEIGHED**2 * level)
    assert 0.7 < np.sqrt(np.mean(errors)) / weighed < 1.4
    assert np.sqrt(np.mean(errors)) < np.sqrt(own + level)


def test_unknown_marks_are_asked_for(seen_round) -> None:
    grill = draw(4)
    one = seen_round(grill, grill.start, knobs={})
    assert not advice_after(grill.grill, one).changes
    assert "Before the next round say where a, b, c and d stand" in reason_after(grill.grill, one)


def test_words_name_the_parts_of_the_grate() -> None:
    grill = draw(4)
    width, depth = grill.grill.grate.extent_mm
    corners = np.array([[5.0, 5.0], [width - 5.0, depth - 5.0], [0.5 * width, 0.5 * depth]])
    parts = parts_of_grate(grill.grill.grate, corners)
    assert [name for name, cells in parts.items() if cells[0]] == ["front left"]
    assert [name for name, cells in parts.items() if cells[1]] == ["back right"]
    assert [name for name, cells in parts.items() if cells[2]] == ["centre"]


def test_best_band_holds_the_most() -> None:
    grill = draw(4).grill
    celsius = np.concatenate([np.linspace(200.0, 210.0, 30), np.linspace(280.0, 400.0, 20)])
    low, high, share = best_band(grill.target.high_c - grill.target.low_c, celsius)
    assert low == 200.0
    assert high - low == pytest.approx(grill.target.high_c - grill.target.low_c)
    assert share == pytest.approx(0.6)


def test_the_same_question_gets_the_same_answer(seen_round) -> None:
    grill = draw(9)
    one = seen_round(grill, grill.start, noise_c=8.0)
    first, second = advice_after(grill.grill, one), advice_after(grill.grill, one)
    assert dict(first.settings) == dict(second.settings)
    assert first.expected == second.expected


def test_a_thousand_rounds_take_little_longer_than_thirty(seen_round) -> None:
    grill = draw(4)
    random = np.random.default_rng(3)
    first, rounds = seen_round(grill, grill.start), []
    for number in range(1, 1001):
        marks = {burner.name: float(random.choice(burner.settable)) for burner in grill.grill.burners}
        readings = (replace(one, id=12 * number + one.id, round=number, knobs=marks) for one in first.readings)
        rounds.append(Round(number=number, session="", readings=tuple(readings)))

    def cost(count: int) -> float:
        best = np.inf
        for _ in range(3):
            start = time.process_time()
            advice_after(grill.grill, *rounds[-count:])
            best = min(best, time.process_time() - start)
        return best

    assert cost(1000) < 2.0 * cost(30) + 0.05


def test_setpoint_moves_the_whole_by_about_the_error(seen_round) -> None:
    """A grill with one setpoint, everywhere 40 °C too cold: turn it up by about that."""
    described = draw(4).grill
    middle = described.target.middle_c
    knob = Burner(name="pellets", control="setpoint", low=200.0, high=700.0, step=5.0)
    described = replace(described, burners=(knob,))
    one = seen_round(draw(4), draw(4).start, knobs={"pellets": 500.0})
    advice = advice_after(described, reshaped(one, lambda reading: replace(reading, shown_c=middle - 40.0)))
    assert advice.changes
    assert advice.settings["pellets"] == pytest.approx(500.0 + 72.0, abs=25.0)


ODD_BURNERS = {
    "one ring": (Burner(name="ring", points_mm=Burner.ring((250.0, 200.0), 120.0)),),
    "one point": (Burner(name="dot", points_mm=((250.0, 200.0),)),),
    "named marks": (
        Burner(name="left", points_mm=((100.0, 20.0), (100.0, 380.0)), low=1, high=3, marks=("LO", "MED", "HI")),
    ),
    "vents": (Burner(name="lower vent", control="vents", low=0.0, high=4.0, step=1.0),),
    "beside the grate": (Burner(name="firebox", points_mm=((-300.0, 0.0), (-300.0, 400.0)), low=0.0, high=10.0),),
    "knob and coals": (
        Burner(name="gas", points_mm=((100.0, 20.0), (100.0, 380.0))),
        Burner(name="coals", control="none"),
    ),
    "eight": tuple(
        Burner(name=f"tube {at}", points_mm=((30.0 + 64 * at, 20.0), (30.0 + 64 * at, 380.0))) for at in range(8)
    ),
}


@pytest.mark.parametrize("name", ODD_BURNERS)
@pytest.mark.parametrize("level_c", [-290.0, 0.0, 250.0])
def test_any_burners_and_any_readings_get_an_answer(name: str, level_c: float, seen_round) -> None:
    """From a cold grate to a glowing one; every number is finite and every mark on its knob."""
    rehearsal = draw(4)
    grill = replace(rehearsal.grill, burners=ODD_BURNERS[name])
    settings = {burner.name: float(burner.settable[1]) for burner in grill.burners if burner.control != "none"}
    rounds = [seen_round(rehearsal, rehearsal.start, number, noise_c=6.0, knobs=settings) for number in (1, 2)]
    assessment = assess(grill, [no_colder_than_air(shifted(one, level_c)) for one in rounds])
    advice = advise(assessment)
    for burner in grill.burners:
        if burner.control != "none":
            assert burner.low <= advice.settings[burner.name] <= burner.high
    assert np.isfinite(settled_mean_c(assessment, advice.settings)).all()
    assert 0.0 <= advice.expected.share_in_band_low <= advice.expected.share_in_band_high <= 1.0
    assert why_lines(assessment, decide(assessment))
    assert [learned_line(one, Display("us")).split(":")[0] for one in advice.learned] == list(settings)
