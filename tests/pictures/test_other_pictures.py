"""Ask the other Figures: difference, two maps."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from heatmap.assessment import Assessment
from heatmap.decisions.burner_advice import Change
from heatmap.decisions.decision import Decision
from heatmap.grill.grill import Grill, Gun
from heatmap.pictures import (
    difference_map,
    expected_map,
)
from heatmap.readings.reading import Reading, Round
from heatmap.units import STDS_95
from heatmap.verdict.comparison import Comparison
from heatmap.verdict.comparison import compare as compare_rounds
from heatmap.words.phrases import signed

Make = Callable[..., Assessment]
Compared = Callable[..., Comparison]


def with_gid(figure: Figure, gid: str) -> list[object]:
    return figure.findobj(lambda artist: artist.get_gid() == gid)


def texts(figure: Figure) -> list[str]:
    return [text.get_text().replace("\u00a0", " ") for text in figure.findobj(Text) if text.get_text()]


def assert_all_on_sheet(figure: Figure) -> None:
    """Nothing drawn, text above all, reaches over the edge by more than a hundredth of an inch."""
    figure.draw_without_rendering()  # labels of axes find their places only now
    box = figure.get_tightbbox(FigureCanvasAgg(figure).get_renderer())
    over = [-box.x0, -box.y0, box.x1 - figure.get_figwidth(), box.y1 - figure.get_figheight()]
    assert max(over) < 0.01, over


def test_difference_is_the_comparison_it_is_given(make_assessment: Make, compared: Compared):
    before, after = make_assessment(), make_assessment(lambda u, v: 540.0 + 60.0 * u + 0.0 * v, number=2)
    figure = difference_map(compared(before, after))
    written = {text.get_text() for text in with_gid(figure, "number")}
    assert "−2" in written
    assert all(text == "0" or text[0] in "+−" for text in written)
    assert "Round 2 against round 1: 10 °F cooler on average" in " ".join(texts(figure))
    assert_all_on_sheet(figure)


def test_difference_is_hatched_where_it_may_be_noise(make_assessment: Make, compared: Compared):
    before = make_assessment(lambda u, v: 560.0 + 0.0 * u)
    after = make_assessment(lambda u, v: 560.0 + 30.0 * (u > 0.5), number=2)
    figure = difference_map(compared(before, after, std_f=5.7))
    (hatched,) = with_gid(figure, "unsure")
    noisy = [any(path.contains_point(point) for path in hatched.get_paths()) for point in ((150, 200), (450, 200))]
    assert noisy == [True, False]
    assert any("50 % of the grate changed" in text for text in texts(figure))
    clear = difference_map(compared(before, make_assessment(lambda u, v: 700.0 + 0.0 * u, number=2)))
    assert not with_gid(clear, "unsure")


def test_difference_of_two_rounds_is_drawn_with_what_cancels(make_grill: Callable[..., Grill]):
    """A patchy finish moves each place, and the same in both rounds: it must not hide what changed.

    With no knob turned between them; where the marks are not known, any part of the change may be a knob's. The grate
    is 14 °C hotter: between the positions a round differs from the next by some degrees that nobody shot.
    """
    grill = make_grill(grate={"emissivity_patch_sd": 0.05}, gun=Gun(repeatability_percent=0.1))
    patches_c = 8.0 * np.random.default_rng(1).standard_normal(len(grill.labels))
    found = compare_rounds(
        grill, (patchy_round(grill, 1, 300.0 + patches_c), patchy_round(grill, 2, 314.0 + patches_c))
    )
    alone_c = np.hypot(*((one.own_std_c * one.compared_slope).mean() for one in (found.before, found.after)))
    assert found.difference_std_c.mean() < 0.5 * alone_c
    assert found.difference_c.mean() < STDS_95 * alone_c, "by the two maps alone this would be noise"
    figure = difference_map(found)
    assert not with_gid(figure, "unsure")
    assert any("100 % of the grate changed by clearly more than noise" in text for text in texts(figure))


def patchy_round(grill: Grill, number: int, shown_c: np.ndarray) -> Round:
    points_mm = [grill.point_mm(label) for label in grill.labels]
    place = {"knobs": {burner.name: 5.0 for burner in grill.burners}, "round": number}
    readings = (
        Reading(id=index, shown_c=float(shown), x_mm=x_mm, y_mm=y_mm, position=label, **place)
        for index, (label, (x_mm, y_mm), shown) in enumerate(zip(grill.labels, points_mm, shown_c, strict=True), 1)
    )
    return Round(number=number, session="", readings=tuple(readings))


def test_no_difference_is_drawn_neutral(make_assessment: Make, compared: Compared):
    figure = difference_map(compared(make_assessment(), make_assessment(number=2)))
    assert {text.get_text() for text in with_gid(figure, "number")} == {"0"}


def test_signed_numbers():
    assert [signed(number) for number in (4.6, -4.6, -0.4, 0.0)] == ["+5", "−5", "0", "0"]


Advised = Callable[..., Decision]


def test_expected_map_shows_both_and_says_the_change(make_assessment: Make, advised: Advised):
    made = make_assessment(lambda u, v: 560.0 + 80.0 * u)
    figure = expected_map(made, advised(made, 300.0, Change(burner="right", from_mark=5.0, to_mark=4.0)))
    assert len(figure.axes) == 2, "two maps"
    assert [text.get_text() for text in with_gid(figure, "panel name")] == ["now", "expected after"]
    assert any(text.startswith("Turn right to 4") for text in texts(figure))
    (limit,) = with_gid(figure, "upper limit")
    assert limit.axes is figure.axes[0], "only the present map crosses the upper limit"
    (limit,) = with_gid(
        expected_map(made, advised(made, 312.0, Change(burner="left", from_mark=4.0, to_mark=5.0))), "upper limit"
    )[1:]
    assert np.vstack(limit.allsegs[0])[:, 0] == pytest.approx(100.0 * (600.0 - 593.6) / 1.8, abs=0.5), (
        "it falls along x"
    )
    assert_all_on_sheet(figure)


def test_expected_map_without_a_change(make_assessment: Make, advised: Advised):
    made = make_assessment()
    assert "Nothing to turn" in texts(expected_map(made, advised(made, 300.0)))


def test_two_maps_on_grates_of_every_shape(make_assessment: Make, advised: Advised, grates: dict[str, Grill]):
    for name in ("wide flat plate, two by two", "tall, burner sticking out, dollars", "many burners", "si"):
        made = make_assessment(grill=grates[name])
        assert_all_on_sheet(expected_map(made, advised(made, 300.0)))
