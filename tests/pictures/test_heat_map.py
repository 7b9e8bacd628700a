"""Ask the Figure what it shows: contours where the formula says, marks and numbers, labels, units, hatching."""

from __future__ import annotations

import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import matplotlib
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import PathCollection
from matplotlib.figure import Figure
from matplotlib.text import Text

from heatmap.assessment import Assessment
from heatmap.decisions.placement import Footprint, Placement
from heatmap.grill.grate import Positions
from heatmap.grill.grill import Grill, TargetBand
from heatmap.pictures import heat_map
from heatmap.pictures.grate import ruler_step, spread_out
from heatmap.pictures.ramp import MARKS
from heatmap.pictures.sheet import SMALL, TITLE, WIDTH_IN, text_width, wrapped
from heatmap.readings.reading import Reading
from heatmap.units import c_from_f
from heatmap.verdict.chances import chance_arrays
from heatmap.words.map import band_sentence, map_answer

Make = Callable[..., Assessment]
Placed = Callable[..., Placement]


def with_gid(figure: Figure, gid: str) -> list[object]:
    return figure.findobj(lambda artist: artist.get_gid() == gid)


def texts(figure: Figure) -> list[str]:
    return [text.get_text() for text in figure.findobj(Text) if text.get_text()]


def words_marked(figure: Figure) -> Counter[str]:
    counts: Counter[str] = Counter()
    for collection in figure.findobj(PathCollection):
        gid = collection.get_gid() or ""
        if gid.startswith("mark "):
            counts[gid.removeprefix("mark ")] += len(collection.get_offsets())
    return counts


def boxes(figure: Figure) -> dict[Text, np.ndarray]:
    """Return the box of every visible text in pixels: left, bottom, right, top."""
    renderer = FigureCanvasAgg(figure).get_renderer()
    figure.draw_without_rendering()  # the texts of a legend find their places only now
    return {
        text: text.get_window_extent(renderer).extents
        for text in figure.findobj(Text)
        if text.get_text() and text.get_visible()
    }


def test_agrees_with_the_formula_where_the_limits_run(make_assessment: Make):
    figure = heat_map(make_assessment(lambda u, v: 530.0 + 100.0 * u))
    for gid, limit_f in (("lower limit", 550.0), ("upper limit", 600.0)):
        (contour,) = with_gid(figure, gid)
        line = np.vstack(contour.allsegs[0])
        assert line[:, 0] == pytest.approx(609.6 * (limit_f - 530.0) / 100.0, abs=0.5)
        assert line[:, 1].min() <= 0.0 and line[:, 1].max() >= 457.2, "from edge to edge of the grate"


def test_fills_the_whole_grate_with_the_steps_of_the_band(make_assessment: Make):
    figure = heat_map(make_assessment())
    (filled,) = with_gid(figure, "steps")
    assert list(filled.levels) == [475, 500, 525, 550, 600, 625, 650, 675]
    corners = np.array([(1.0, 1.0), (608.0, 1.0), (608.0, 456.0), (1.0, 456.0)])
    paths = [path for path in filled.get_paths() if len(path.vertices)]
    assert all(any(path.contains_point(corner) for path in paths) for corner in corners)


def test_limits_are_labelled_and_differ_in_dash(make_assessment: Make):
    figure = heat_map(make_assessment(lambda u, v: 530.0 + 100.0 * u))
    assert [label.get_text() for label in with_gid(figure, "lower limit label")] == ["550"]
    assert [label.get_text() for label in with_gid(figure, "upper limit label")] == ["600"]
    (lower,), (upper,) = with_gid(figure, "lower limit"), with_gid(figure, "upper limit")
    assert lower.get_linestyle() != upper.get_linestyle()


def test_one_mark_for_each_word_and_place(make_assessment: Make):
    made = make_assessment(lambda u, v: 530.0 + 100.0 * u)
    figure = heat_map(made)
    assert words_marked(figure) == Counter(
        str(spot.word) if spot.word == spot.leaning else f"leaning {spot.leaning}" for spot in made.spots
    )
    assert set(words_marked(figure)) == {"too cold", "in band", "too hot"}
    numbers = sorted(text.get_text() for text in with_gid(figure, "number"))
    assert numbers == sorted(f"{530 + 100 * made.grill.point_mm(label)[0] / 609.6:.0f}" for label in made.grill.labels)


def test_every_word_is_drawn_with_its_own_shape(make_assessment: Make):
    shapes = set()
    for word in MARKS:
        figure = heat_map(make_assessment(suspects={1}, formula_f=lambda u, v: 530.0 + 100.0 * u))
        for collection in with_gid(figure, f"mark {word}"):
            shapes.add((word, collection.get_paths()[0].vertices.tobytes()))
    assert len({shape for _, shape in shapes}) == len(shapes) == 4


def test_repeats_share_one_mark_and_show_the_last_number(make_assessment: Make, make_grill: Callable[..., Grill]):
    x_mm, y_mm = make_grill().point_mm("B2")
    again = Reading(id=90, shown_c=c_from_f(600.0), x_mm=x_mm, y_mm=y_mm, position="B2")
    figure = heat_map(make_assessment(lambda u, v: 580.0 + 0.0 * u, extra=(again,)))
    assert sum(words_marked(figure).values()) == 12
    assert Counter(text.get_text() for text in with_gid(figure, "number")) == {"580": 11, "600": 1}


def test_suspects_are_crossed_and_said(make_assessment: Make, make_grill: Callable[..., Grill]):
    x_mm, y_mm = make_grill().point_mm("B2")
    slip = Reading(id=90, shown_c=c_from_f(958.0), x_mm=x_mm, y_mm=y_mm, position="B2")
    figure = heat_map(make_assessment(extra=(slip,), suspects={90, 4}))
    assert words_marked(figure)["suspect"] == 2
    assert sum(words_marked(figure).values()) == 13, "the place of the slip keeps its own mark"
    assert "not believed, left out" in texts(figure)
    assert "958" in [text.get_text() for text in with_gid(figure, "number")]


def test_contact_readings_are_boxed_and_valley_readings_are_not_marked(
    make_assessment: Make, make_grill: Callable[..., Grill]
):
    x_mm, y_mm = make_grill().point_mm("A1")
    extra = tuple(
        Reading(id=80 + index, shown_c=c_from_f(590.0), x_mm=x_mm, y_mm=y_mm, aim=aim)
        for index, aim in enumerate(("contact", "valley"))
    )
    figure = heat_map(make_assessment(extra=extra))
    assert len(with_gid(figure, "touched")) == 1
    assert sum(words_marked(figure).values()) == 12
    assert "touched with the surface probe" in texts(figure)


def test_hatches_exactly_where_no_word_is_likely(make_assessment: Make):
    made = make_assessment(lambda u, v: 550.0 + 100.0 * (u - 0.5), std_f=8.0)
    (hatched,) = with_gid(heat_map(made), "unsure")
    inside = [
        [any(path.contains_point((x, y)) for path in hatched.get_paths()) for x in made.cells.x_mm]
        for y in made.cells.y_mm
    ]
    likeliest = np.max(chance_arrays(made.compared_c, made.compared_std_c, *made.band_c), axis=0)
    agree = np.mean(np.array(inside) == (likeliest < 2.0 / 3.0))
    assert agree > 0.98, "all but cells on the very boundary"
    assert 0.05 < np.mean(likeliest < 2.0 / 3.0) < 0.5


def test_no_hatching_without_doubt_and_full_hatching_without_knowledge(make_assessment: Make):
    sure = heat_map(make_assessment(lambda u, v: 575.0 + 0.0 * u))
    assert not with_gid(sure, "unsure")
    assert not any("hatched" in text for text in texts(sure))
    lost = heat_map(make_assessment(lambda u, v: 575.0 + 5.0 * u, std_f=90.0))
    (hatched,) = with_gid(lost, "unsure")
    assert hatched.get_paths()[0].contains_points([(5.0, 5.0), (300.0, 200.0), (600.0, 450.0)]).all()
    assert any("hatched" in text for text in texts(lost))
    assert sum(words_marked(lost).values()) == 12
    assert all(word.startswith("leaning ") for word in words_marked(lost)), "hollow, all of them"


@pytest.fixture(scope="module")
def on_every_grate(make_assessment: Make, grates: dict[str, Grill]) -> dict[str, tuple[Grill, Figure]]:
    """Return a map of each kind of grate, drawn once."""
    return {name: (grill, heat_map(make_assessment(grill=grill, std_f=6.0))) for name, grill in grates.items()}


def test_keeps_the_aspect_ratio_of_the_grate(on_every_grate: dict[str, tuple[Grill, Figure]]):
    for grill, figure in on_every_grate.values():
        axes = figure.axes[0]
        box = axes.get_position()
        ratio = box.width * figure.get_figwidth() / (box.height * figure.get_figheight())
        assert ratio == pytest.approx(grill.grate.width_mm / grill.grate.depth_mm, rel=1e-6)


def test_the_rim_is_drawn_where_the_grate_has_it(on_every_grate: dict[str, tuple[Grill, Figure]]):
    for grill, figure in on_every_grate.values():
        rims = with_gid(figure, "rim")
        grate = grill.grate
        if grate.rim_mm == 0:
            assert rims == []
            continue
        (rim,) = rims
        across, along = grate.width_mm - grate.rim_mm, grate.depth_mm - grate.rim_mm
        assert rim.get_bbox().extents.tolist() == pytest.approx([grate.rim_mm, grate.rim_mm, across, along])


def test_back_is_above_and_you_are_below(make_assessment: Make):
    figure = heat_map(make_assessment())
    place = {text.get_text(): box for text, box in boxes(figure).items()}
    low, high = figure.axes[0].get_window_extent().intervaly
    assert place["BACK"][1] > high
    assert place["YOU"][3] < low
    rows = [place[letter][1] for letter in "ABC"]
    assert rows == sorted(rows, reverse=True), "A is the back row"
    columns = with_gid(figure, "column")
    assert [text.get_text() for text in sorted(columns, key=lambda text: text.get_position()[0])] == list("1234")
    assert all(place[text.get_text()][1] > high for text in columns)


def test_no_text_leaves_the_sheet_and_no_number_covers_another(on_every_grate: dict[str, tuple[Grill, Figure]]):
    for name, (grill, figure) in on_every_grate.items():
        drawn = boxes(figure)
        right, top = figure.bbox.width, figure.bbox.height
        for text, (x0, y0, x1, y1) in drawn.items():
            assert min(x0, y0, right - x1, top - y1) > -1, f"{name}: {text.get_text()!r}"
        numbers = np.array([drawn[text] for text in with_gid(figure, "number")])
        for kind in ("number", "burner name", "column", "ruler"):
            check = np.array([drawn[text] for text in with_gid(figure, kind) if text in drawn])
            assert not overlaps(check), f"{name}: {kind}"
        assert len(numbers) == len(grill.labels), name


def overlaps(rectangles: np.ndarray) -> bool:
    for index, (x0, y0, x1, y1) in enumerate(rectangles):
        rest = rectangles[index + 1 :]
        if rest.size and np.any((rest[:, 0] < x1) & (rest[:, 2] > x0) & (rest[:, 1] < y1) & (rest[:, 3] > y0)):
            return True
    return False


def test_crowded_readings_lose_numbers_not_marks(make_assessment: Make, make_grill: Callable[..., Grill]):
    grill = make_grill(positions=Positions(rows=14, columns=20))
    figure = heat_map(make_assessment(grill=grill))
    drawn = boxes(figure)
    numbers = np.array([drawn[text] for text in with_gid(figure, "number")])
    assert sum(words_marked(figure).values()) == 280
    assert 30 < len(numbers) < 280
    assert not overlaps(numbers)


def test_crowded_labels_are_thinned(make_assessment: Make, make_grill: Callable[..., Grill]):
    figure = heat_map(make_assessment(grill=make_grill(positions=Positions(rows=3, columns=99))))
    drawn = boxes(figure)
    for kind, first in (("column", "1"), ("row", "A")):
        written = with_gid(figure, kind)
        assert first in [label.get_text() for label in written]
        assert not overlaps(np.array([drawn[label] for label in written]))


def test_burners_with_their_marks(make_assessment: Make):
    figure = heat_map(make_assessment(knobs={"left": 4.0, "middle": 3.5}))
    names = [text.get_text() for text in with_gid(figure, "burner name")]
    assert names == ["left 4", "middle 3.5", "right"]
    assert len(with_gid(figure, "burner")) == 6, "each a tube and its halo"


def test_names_of_burners_can_be_read_however_many_there_are(on_every_grate: dict[str, tuple[Grill, Figure]]):
    for name, (grill, figure) in on_every_grate.items():
        names = with_gid(figure, "burner name")
        assert len(names) == len(grill.burners), name
        assert all(text.get_fontsize() > 0.85 * SMALL for text in names), name


def test_names_stay_text(make_assessment: Make, grates: dict[str, Grill]):
    figure = heat_map(make_assessment(grill=grates["tall, burner sticking out, dollars"]), title="$x_1$ {; \\alpha")
    assert "$name_1$ {" in texts(figure)
    assert "$x_1$ {" in texts(figure)
    FigureCanvasAgg(figure).draw()


def test_units_are_the_cooks(make_assessment: Make, make_grill: Callable[..., Grill]):
    us = texts(heat_map(make_assessment()))
    assert {"°F", "0 in", "550", "600"} <= set(us)
    band = TargetBand(low_c=290.0, high_c=315.0, numbers="rail")
    si = texts(heat_map(make_assessment(grill=make_grill(units="si", target=band))))
    assert {"°C", "0 mm", "290", "315"} <= set(si)
    assert not any("°F" in text for text in si)


def test_title_states_the_answer_and_the_numbers_once(make_assessment: Make):
    made = make_assessment()
    said = " ".join(texts(heat_map(made))).replace("\u00a0", " ")
    assert map_answer(made).partition("; ")[0] in said
    assert said.count(band_sentence(made)) == 1
    given = texts(heat_map(made, title="Leave the knobs; all is well"))
    assert "Leave the knobs" in given
    assert "All is well" in given


def test_long_titles_break_between_words_and_never_before_a_unit():
    lines = wrapped("a" * 3 + " word" * 40 + " 600 °F and more of it" * 12 + " 58 %", TITLE, bold=True)
    assert len(lines) > 4
    assert all(not line.startswith(("°", "%")) for line in lines)
    assert all(text_width(line, TITLE, bold=True) < WIDTH_IN for line in lines)


def test_places_for_food(make_assessment: Make, placed: Placed):
    food = Footprint(length_mm=180.0, width_mm=110.0)
    figure = heat_map(make_assessment(), placement=placed(food, (200.0, 200.0, (2.0, 10.0))))
    first, second = with_gid(figure, "outline")
    assert (first.get_width(), first.get_height()) == (110.0, 180.0)
    assert first.get_angle() == pytest.approx(-60.0), "two o'clock is 60 degrees to the right of straight away"
    assert second.get_angle() == pytest.approx(-300.0)
    assert len(with_gid(figure, "heading")) == 2
    assert [label.get_text() for label in with_gid(figure, "outline label")] == ["1"]


def test_equally_good_places_are_numbered_and_turns_on_used_rails_not_drawn_twice(
    make_assessment: Make, placed: Placed
):
    three = placed(Footprint(length_mm=90.0, width_mm=60.0), *((x, 200.0, (12.0,)) for x in (100.0, 300.0, 500.0)))
    figure = heat_map(make_assessment(), placement=replace(three, equally_good=2))
    assert [label.get_text() for label in with_gid(figure, "outline label")] == ["1", "2"]
    turns = [replace(place, fresh=turn != 2) for turn, place in enumerate(three.places, 1)]
    figure = heat_map(make_assessment(), placement=replace(three, wanted=replace(three.wanted, turns=3), places=turns))
    assert [label.get_text() for label in with_gid(figure, "outline label")] == ["1", "3"]
    assert [outline.get_center()[0] for outline in with_gid(figure, "outline")] == [100.0, 500.0]


def test_outlines_lie_under_the_marks_and_their_labels_beside_the_numbers(make_assessment: Make, placed: Placed):
    """Food set down over a position hides neither its mark nor its number."""
    assessment = make_assessment()
    spots_mm = np.array([spot.spot.reading.point_mm for spot in assessment.spots])
    places = [(x, y + 60.0, (12.0, 3.0)) for x, y in spots_mm[-4:]]  # each near end on a mark
    figure = heat_map(assessment, placement=placed(Footprint(length_mm=120.0, width_mm=90.0), *places))
    drawn = [*with_gid(figure, "outline"), *with_gid(figure, "heading")]
    marks = [one for word in MARKS for one in with_gid(figure, f"mark {word}")]
    assert max(one.get_zorder() for one in drawn) < min(one.get_zorder() for one in marks)
    assert max(one.get_zorder() for one in drawn) < min(one.get_zorder() for one in with_gid(figure, "number"))
    renderer = FigureCanvasAgg(figure).get_renderer()
    numbers = [one.get_window_extent(renderer) for one in with_gid(figure, "number")]
    written = [one.get_window_extent(renderer) for one in with_gid(figure, "outline label")]
    assert len(written) == 4
    assert not any(label.overlaps(number) for label in written for number in numbers)


def test_type_is_readable_on_a_phone(make_assessment: Make):
    """Of a sheet 390 px wide, as a phone shows it, no plain label is smaller than 9.5 px."""
    figure = heat_map(make_assessment())
    assert figure.get_figwidth() == WIDTH_IN
    sizes = {text.get_text(): text.get_fontsize() * 390.0 / (72.0 * WIDTH_IN) for text in figure.findobj(Text)}
    assert min(sizes[text] for text in ("YOU", "A", "1", "left", "550")) >= 9.5


def test_leaves_matplotlib_as_it_was(make_assessment: Make):
    with matplotlib.rc_context({"axes.facecolor": "red", "font.size": 33.0, "text.parse_math": True}):
        before = dict(matplotlib.rcParams)
        figure = heat_map(make_assessment())
        assert dict(matplotlib.rcParams) == before
        assert matplotlib.colors.to_hex(figure.axes[0].get_facecolor()) == "#ffffff"


def test_does_not_import_pyplot():
    code = "import sys, heatmap.pictures; sys.exit('matplotlib.pyplot' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_rulers_have_a_handful_of_numbers():
    assert all(3 <= width / ruler_step(width) <= 7.6 for width in (12.0, 18.0, 24.0, 36.0, 60.0, 450.0, 900.0))


def test_labels_spread_out_without_overlap():
    widths = [0.2, 0.1, 0.25, 0.1]
    centres = spread_out([0.5, 0.5, 0.5, 0.99], widths, low=0.0, high=1.0)
    gaps = np.diff(centres) - 0.5 * (np.array(widths[1:]) + np.array(widths[:-1]))
    assert gaps.min() > -1e-9
    assert centres[0] >= 0.1
    assert centres[-1] <= 0.95 + 1e-9
