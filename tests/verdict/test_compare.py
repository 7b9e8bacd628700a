"""Two rounds side by side: known truth, laws, another way of computing, and what cannot be compared."""

from __future__ import annotations

import copy
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from perfect import draw_perfect
from scipy.special import ndtr, ndtri

from heatmap.errors import InputError, MapError, ReadingError
from heatmap.gaussian import LogNormal
from heatmap.grate_model import model, tuning
from heatmap.grate_model.response import HeatScale
from heatmap.grate_model.round_map import CorrectedRounds
from heatmap.grate_model.round_spots import RoundSpots
from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate, Positions
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings.reading import Reading, Round
from heatmap.units import c_from_f
from heatmap.verdict.comparison import BurnerOutcome, Comparison, answer_of, compare
from heatmap.words.compare import compare_lines

pytestmark = pytest.mark.usefixtures("coarse_cells")
START = datetime(2024, 6, 1, 12, tzinfo=UTC)
LEFT = Burner(name="left", points_mm=((150.0, 30.0), (150.0, 420.0)))
RIGHT = Burner(name="right", points_mm=((450.0, 30.0), (450.0, 420.0)))
GRILL = Grill(
    grate=Grate(width_mm=609.6, depth_mm=457.2),
    positions=Positions(rows=3, columns=5),
    burners=(LEFT, RIGHT),
    target=TargetBand(low_c=c_from_f(550.0), high_c=c_from_f(600.0), numbers="shown"),
)
Field = Callable[[float, float], float]


def tilted(size_c: float) -> Field:
    """Return a field with a tilt to the right and a bump in the middle; x and y from -1 to 1."""
    return lambda x, y: 300.0 + size_c * (x + 0.6 * np.exp(-3.0 * (x * x + y * y)) - 0.3 * y)


def shot(number: int, field: Field, *, noise_c: float = 2.0, labels: int = 99, **more: object) -> Round:
    """Return a round of shots on a field."""
    random = np.random.default_rng(number)
    readings = []
    for at, label in enumerate(GRILL.labels[:labels]):
        x_mm, y_mm = GRILL.point_mm(label)
        value = field(2 * x_mm / 609.6 - 1, 2 * y_mm / 457.2 - 1) + noise_c * random.standard_normal()
        fields = {"knobs": {"left": 5.0, "right": 5.0}, "session": "day", **more}
        readings.append(
            Reading(
                id=100 * number + at,
                shown_c=value,
                x_mm=x_mm,
                y_mm=y_mm,
                position=label,
                round=number,
                taken_at=START + timedelta(minutes=20 * number, seconds=6 * at),
                **fields,
            )
        )
    return Round(number=number, session=str(fields["session"]), readings=tuple(readings))


def compared(before: Round, after: Round) -> Comparison:
    return compare(GRILL, (before, after))


@pytest.fixture(scope="module")
def twice() -> Comparison:
    """Two rounds of the same grate."""
    return compared(shot(1, tilted(20.0)), shot(2, tilted(20.0)))


def test_half_the_spread_is_more_even_and_twice_the_spread_less() -> None:
    wide, narrow = tilted(30.0), tilted(15.0)
    better = compared(shot(1, wide), shot(2, narrow))
    worse = compared(shot(1, narrow), shot(2, wide))
    assert better.answer == "more even"
    assert better.chance_better > 0.95
    assert worse.answer == "less even"
    assert worse.chance_better < 0.05


def test_the_same_grate_twice_cannot_be_told() -> None:
    answers = [compared(shot(seed, tilted(20.0)), shot(seed + 1, tilted(20.0))).answer for seed in range(1, 12, 2)]
    assert answers.count("cannot tell") >= 3  # 80 % words are wrong, or lucky, now and then


def test_the_same_readings_twice_cannot_be_told() -> None:
    one = shot(1, tilted(20.0))
    two = Round(number=2, session="day", readings=tuple(replace(reading, round=2) for reading in one.readings))
    found = compared(one, two)
    assert found.answer == "cannot tell"
    assert found.chance_better == pytest.approx(0.5, abs=0.1)
    assert found.mean_change_c == pytest.approx(0.0, abs=0.5)


@pytest.mark.usefixtures("fine_cells")
@pytest.mark.parametrize("seed", [1, 3, 5, 7])
def test_what_all_readings_have_in_common_cancels(seed: int) -> None:
    """By more than one gun shows differently from day to day.

    What lifts a whole grate in truth is heat, and the same heat lifts a hot place by less than a cold one, for losses
    grow faster than the temperature: between no change of the spread and that one lies what may be told.
    """
    before, after = shot(seed, tilted(25.0)), shot(seed + 1, tilted(20.0))
    shown_c = np.array([reading.shown_c for reading in after.readings])
    hotter = replace(
        after, readings=tuple(replace(reading, shown_c=reading.shown_c + 10.0) for reading in after.readings)
    )
    scale = HeatScale(air_c=GRILL.surroundings.air_c, middle_c=GRILL.target.middle_c)
    by_heat = scale.heat(shown_c) + scale.heat(np.array([shown_c.mean() + 10.0])) - scale.heat(shown_c.mean())
    narrower_c = np.subtract(*np.percentile(shown_c, [95, 5])) - np.subtract(
        *np.percentile(scale.celsius(by_heat), [95, 5])
    )
    plain, moved = compared(before, after), compared(before, hotter)
    assert narrower_c > 0.0
    assert -narrower_c < moved.spread_change_c - plain.spread_change_c < 0.1
    most_c = plain.spread_change_c - narrower_c
    surest = ndtr(ndtri(plain.chance_better) * most_c / plain.spread_change_c)  # with all of that, as wide a spread
    assert plain.chance_better - 0.03 < moved.chance_better < surest + 0.03
    assert moved.mean_change_c - plain.mean_change_c == pytest.approx(10.0, abs=0.3)


def test_a_truly_more_even_grate_is_never_called_less_even() -> None:
    """Eight pairs with a true change of some 27 °F; the benchmark counts many more."""
    answers = []
    for seed in range(8):
        random = np.random.default_rng(seed)
        wide, narrow = sorted(random.uniform(5.0, 12.0, 2) + [0.0, 7.0], reverse=True)
        found = compared(shot(2 * seed + 1, tilted(wide), noise_c=4.0), shot(2 * seed + 2, tilted(narrow), noise_c=4.0))
        answers.append(found.answer)
    assert answers.count("less even") == 0
    assert answers.count("more even") >= 4


def test_agrees_with_textbook_conditioning(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two rounds on a grate without burners, one set of hyper-parameters: samples of both surfaces against mean and
    covariance of one joint normal distribution, written down whole, by Rasmussen and Williams' equation 2.24 on
    scikit-learn's Matérn kernel.
    """
    matern = pytest.importorskip("sklearn.gaussian_process.kernels").Matern
    base, field, noise, length, share = 14.0, 6.0, 1.3, 0.6, 0.8
    given = {"BARE_BASE_C": base, "BARE_FIELD_C": field, "NOISE": noise, "BARE_LENGTH": length, "PLACE": share}
    for name, value in given.items():
        monkeypatch.setattr(tuning, name, LogNormal(value, 0.0))
    monkeypatch.setattr(tuning, "WIDE_NODES", 0)
    random, bare = np.random.default_rng(3), replace(GRILL, burners=())
    extent = np.array(bare.grate.extent_mm)
    where = np.column_stack([random.uniform(20, 580, 9), random.uniform(20, 430, 9)])
    minutes = np.linspace(-1.0, 1.0, 9)
    rounds = [
        RoundSpots(
            number=number,
            group=("day", "open", "dry"),
            settings={},
            marks_known=True,
            points_mm=where,
            rail_c=300.0 + random.normal(0.0, 15.0, 9),
            shot_std_c=np.full(9, 2.0),
            place_std_c=np.full(9, 3.0),
            minutes=minutes,
            trusted=np.ones(9, dtype=bool),
        )
        for number in (1, 2)
    ]
    wanted = np.array([[100.0, 100.0], [300.0, 225.0], [500.0, 400.0]])
    fitted = model.GrateModel(bare, rounds)
    scale = fitted.scale
    samples = fitted.surface(1, 2).heat_sample(wanted, 20000, np.random.default_rng(4))

    places = np.tile(np.concatenate([where, wanted]), (2, 1))
    late = np.tile(np.concatenate([minutes, np.zeros(3)]), 2)
    u, v = (2.0 * places / extent - 1.0).T
    edge = np.minimum(places, extent - places).min(axis=1)
    trends = np.column_stack([np.ones(24), u, v, u * v, u * u - 1 / 3, v * v - 1 / 3])
    rim = tuning.RIM_C * np.exp(-edge / (tuning.RIM_SHARE * extent.min()))
    kept = np.column_stack([trends * [tuning.BASE_LEVEL_C, *[base] * 5], rim])
    new = np.column_stack([trends[:, :3] * tuning.BARE_ROUND_C, tuning.DRIFT_C_PER_MIN * late])
    one_round = np.kron(np.eye(2), np.ones((12, 12)))
    kernel = matern(length_scale=length * extent / 2.0, nu=1.5)(places)
    prior = (base**2 + field**2 * one_round) * kernel + kept @ kept.T + one_round * (new @ new.T)
    heat = scale.heat(np.concatenate([one.rail_c for one in rounds]))
    steep = 1.0 / scale.celsius_per_heat(heat)
    of_place = np.kron(np.ones((2, 2)), np.eye(9)) * np.outer(share * 3.0 * steep, share * 3.0 * steep)
    scatter = of_place + np.diag((noise * 2.0 * steep) ** 2 + tuning.LEAST_NOISE_C**2)
    seen, asked = np.r_[0:9, 12:21], np.r_[9:12, 21:24]
    gain = prior[np.ix_(asked, seen)] @ np.linalg.inv(prior[np.ix_(seen, seen)] + scatter)
    middle = np.median(heat[9:])
    mean = middle + gain @ (heat - middle)
    covariance = prior[np.ix_(asked, asked)] - gain @ prior[np.ix_(seen, asked)]
    std = np.sqrt(np.diag(covariance))
    np.testing.assert_allclose(samples.mean(axis=0), mean, atol=4.5 * std.max() / np.sqrt(20000))
    np.testing.assert_allclose(np.cov(samples.T), covariance, atol=0.05 * std.max() ** 2)


def test_what_a_place_has_of_its_own_cancels_from_the_change() -> None:
    """The change at the positions is known far better than two maps by themselves would tell it."""
    patchy = replace(GRILL, grate=replace(GRILL.grate, emissivity_patch_sd=0.1))
    patches_c = 15.0 * np.random.default_rng(5).standard_normal(len(GRILL.labels))

    def seasoned(one: Round) -> Round:
        return replace(
            one,
            readings=tuple(
                replace(reading, shown_c=reading.shown_c + patch_c)
                for reading, patch_c in zip(one.readings, patches_c, strict=True)
            ),
        )

    found = compare(
        patchy, (seasoned(shot(1, tilted(10.0), noise_c=0.5)), seasoned(shot(2, tilted(10.0), noise_c=0.5)))
    )
    where = np.array([GRILL.point_mm(label) for label in GRILL.labels])
    apart = np.hypot(*(one.surface.predict(where)[1] for one in (found.before, found.after)))
    both = found.after.model.surface(1, 2).sample(where, 400, np.random.default_rng(2))
    one, two = np.split(both, 2, axis=1)
    assert (two - one).std(axis=0).mean() < 0.6 * apart.mean()


def test_two_newest_full_rounds_are_taken_by_themselves() -> None:
    rounds = [shot(number, tilted(20.0)) for number in (1, 2, 3)]
    rounds += [shot(4, tilted(20.0), labels=4), shot(5, tilted(20.0), labels=1)]
    found = compare(GRILL, rounds)
    assert (found.before.round.number, found.after.round.number) == (2, 3)
    assert compare(GRILL, rounds, 3, 1).before.round.number == 3


def test_a_re_check_is_compared_and_said_to_tell_little() -> None:
    found = compare(GRILL, [shot(1, tilted(20.0)), shot(2, tilted(20.0), labels=5)], 1, 2)
    assert any("re-check" in line for line in compare_lines(found))


@pytest.mark.parametrize(
    ("numbers", "error", "says"),
    [
        ((1, None), InputError, "name two rounds"),
        ((1, 1), InputError, "against itself"),
        ((1, 9), ReadingError, "no round 9"),
        ((1, 3), MapError, "round 3 has rail readings at 1 place"),
    ],
)
def test_what_cannot_be_compared(numbers: tuple[int, int], error: type[Exception], says: str) -> None:
    rounds = [shot(1, tilted(20.0)), shot(2, tilted(20.0)), shot(3, tilted(20.0), labels=1, session="other")]
    with pytest.raises(error, match=says):
        compare(GRILL, rounds, *numbers)


@pytest.mark.parametrize("count", [0, 1])
def test_fewer_than_two_full_rounds(count: int) -> None:
    with pytest.raises(MapError, match="a comparison needs two"):
        compare(GRILL, [shot(1, tilted(20.0))][:count])


def test_another_session_lid_or_surface_is_said(twice: Comparison) -> None:
    before = shot(1, tilted(20.0))
    after = shot(2, tilted(20.0), session="next day", lid="closed", surface="oiled")
    found = compared(before, after)
    assert found.differs == ("session", "lid", "surface")
    text = " ".join(compare_lines(found))
    for words in ("Two sessions (day and next day)", "lid was open before and closed after", "dry before and oiled"):
        assert words in text
    assert found.mean_change_std_c > twice.mean_change_std_c + 3.0


def but_for(found: Comparison, **other: object) -> Comparison:
    """Return the same comparison, but for some of its attributes."""
    found = copy.copy(found)
    vars(found).update(other)
    return found


def test_no_knob_turned_is_said_in_the_one_statement(twice: Comparison) -> None:
    """Never "not noise" in one line and "noise" in the next."""
    assert twice.burners == ()
    for answer, told in (("less even", True), ("more even", True), ("cannot tell", False)):
        (first, *rest) = compare_lines(but_for(twice, answer=answer))
        assert ("no knob turned" in first) is told
        assert not any("noise" in line or "knob" in line for line in rest)


@pytest.mark.parametrize(
    ("expected_c", "came_c", "std_c", "told"),
    [
        (-20.0, -18.0, 5.0, "as expected"),
        (-7.0, 21.0, 15.0, "too unsure to tell why"),
        (-20.0, 20.0, 5.0, "the other way"),
        (-20.0, -60.0, 5.0, "more than"),
        (-60.0, -20.0, 5.0, "less than"),
        (1.0, -2.0, 1.0, "as expected"),
    ],
)
def test_what_came_is_called_expected_only_where_it_is_near(
    twice: Comparison, expected_c: float, came_c: float, std_c: float, told: str
) -> None:
    outcome = BurnerOutcome(
        burner="left",
        from_mark=5.0,
        to_mark=4.0,
        expected_c=expected_c,
        expected_std_c=std_c,
        came_c=came_c,
        came_std_c=std_c,
    )
    assert told in compare_lines(but_for(twice, burners=[outcome]))[-1]


def test_a_knob_is_told_by_the_names_of_its_marks(twice: Comparison) -> None:
    """LO and HI, as the dial has them, never the numbers they stand for."""
    outcome = BurnerOutcome(
        burner="left", from_mark=1.0, to_mark=3.0, expected_c=9.0, expected_std_c=3.0, came_c=9.0, came_std_c=3.0
    )
    named = replace(twice.after.grill.burner("left"), marks=("LO", "MED", "HI"), low=1.0, high=3.0, step=1.0)
    burners = tuple(named if one.name == "left" else one for one in twice.after.grill.burners)
    log = twice.after.log
    renamed = CorrectedRounds(replace(log.grill, burners=burners), log.rounds, log.calibrations)
    after = replace(twice.after, log=renamed)
    assert compare_lines(but_for(twice, after=after, burners=[outcome]))[-1].startswith("left LO to HI: ")


def test_marks_that_are_not_known_say_nothing_of_burners() -> None:
    found = compared(shot(1, tilted(20.0), knobs={}), shot(2, tilted(20.0)))
    assert found.burners == ()


@pytest.mark.parametrize("seed", [3, 4])
def test_what_came_near_a_burner_is_what_truly_came(seed: int) -> None:
    """On a make-believe grill without noise: the change of the true surface over the third the burner heats most."""
    grill = draw_perfect(seed)
    burner = grill.grill.burners[0]
    rounds, truth = [grill.play_round(1)], [grill.truth_c(grill.cells_mm)]
    grill.turn({burner.name: min(grill.marks[burner.name] + 3.0, burner.high)})
    grill.settle()
    rounds.append(grill.play_round(2))
    truth.append(grill.truth_c(grill.cells_mm))
    (outcome,) = compare(grill.grill, rounds).burners
    pattern = grill.hidden.patterns[0].ravel()
    region = grill.inside & (pattern >= np.quantile(pattern[grill.inside], 2.0 / 3.0))
    true_c = float((truth[1] - truth[0])[region].mean())
    assert outcome.burner == burner.name
    assert outcome.came_c == pytest.approx(true_c, rel=0.25)
    assert outcome.expected_c == pytest.approx(true_c, rel=1.0)
    assert outcome.expected_c > 0


@pytest.mark.parametrize(
    ("chance", "grew_c", "word"),
    [
        (0.80, -1.0, "more even"),
        (0.79, -1.0, "cannot tell"),
        (0.95, 1.0, "cannot tell"),
        (0.20, 1.0, "less even"),
        (0.21, 1.0, "cannot tell"),
        (0.05, -1.0, "cannot tell"),
    ],
)
def test_a_word_needs_80_percent_and_the_maps_on_its_side(chance: float, grew_c: float, word: str) -> None:
    assert answer_of(chance, grew_c) == word


def test_two_rounds_of_equal_numbers_are_no_proof_of_an_even_grate() -> None:
    """A display that steps and a gun that repeats to 0.5 % hide a degree or two: the change of the spread is known no
    better than that."""
    one, two = (shot(number, lambda x, y: 300.0, noise_c=0.0) for number in (1, 2))
    found = compared(one, two)
    assert found.answer == "cannot tell"
    assert found.spread_change_high_c - found.spread_change_low_c > 0.5
    assert found.difference_std_c.min() > 0.5
    assert found.after.evenness.p95_minus_p5_c > 0.5
