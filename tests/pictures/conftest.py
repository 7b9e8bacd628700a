"""Assessments with numbers given by a formula, so that a picture's truth is known and no fit can move it."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable, Collection, Mapping

import numpy as np
import pytest

from heatmap.assessment import SAMPLES, AssessedSpot, Assessment, Cells, assess
from heatmap.correct import Spot
from heatmap.decisions.burner_advice import BurnerAdvice, Change
from heatmap.decisions.decision import Decision
from heatmap.decisions.placement import Footprint, Place, Placement, Wanted
from heatmap.grate_model.round_map import CorrectedRounds
from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate, Positions
from heatmap.grill.grill import Grill, Gun, TargetBand
from heatmap.readings.reading import Reading, group_rounds
from heatmap.units import FloatArray, c_from_f, mm_from_in
from heatmap.verdict.chances import Outlook, named
from heatmap.verdict.comparison import Comparison

Formula = Callable[[np.ndarray, np.ndarray], np.ndarray]


def three_burners(depth_in: float = 18.0) -> tuple[Burner, ...]:
    ends = (1.0, depth_in - 1.0)
    return tuple(
        Burner(name=name, points_mm=tuple((mm_from_in(x_in), mm_from_in(y_in)) for y_in in ends))
        for name, x_in in (("left", 4.0), ("middle", 12.0), ("right", 20.0))
    )


@pytest.fixture(scope="session")
def make_grill() -> Callable[..., Grill]:
    """Return a maker of grills 24 by 18 in with three burners and a band of 550-600 °F rail; anything can differ."""

    def make(*, grate: dict[str, object] | None = None, **different: object) -> Grill:
        band = TargetBand(low_c=c_from_f(550.0), high_c=c_from_f(600.0), numbers="rail")
        sizes = {"width_mm": mm_from_in(24.0), "depth_mm": mm_from_in(18.0), **(grate or {})}
        given = {"target": band, "burners": three_burners(), **different}
        return Grill(grate=Grate(**sizes), **given)  # type: ignore[arg-type]

    return make


@pytest.fixture(scope="session")
def make_assessment(make_grill: Callable[..., Grill]) -> Callable[..., Assessment]:
    """Return a maker of assessments whose surface is a formula of x and y in shares of the grate, °F of rail."""

    def make(
        formula_f: Formula = lambda u, v: 540.0 + 80.0 * u + 0.0 * v,
        *,
        std_f: float = 0.5,
        grill: Grill | None = None,
        knobs: dict[str, float] | None = None,
        number: int = 1,
        extra: tuple[Reading, ...] = (),
        suspects: Collection[int] = (),
    ) -> Assessment:
        grill = make_grill() if grill is None else grill
        plain = plain_assessment(grill, number)
        width_mm, depth_mm = grill.grate.extent_mm
        readings = []
        for index, label in enumerate(grill.labels):
            x_mm, y_mm = grill.point_mm(label)
            shown_f = float(formula_f(np.float64(x_mm / width_mm), np.float64(y_mm / depth_mm)))
            shown_c = c_from_f(shown_f)
            place = {"x_mm": x_mm, "y_mm": y_mm, "position": label, "round": number}
            readings.append(Reading(id=index + 1, shown_c=shown_c, knobs=knobs or {}, **place))
        (one,) = group_rounds([*readings, *extra])
        rail_c = _on_cells(formula_f, plain.cells, grill)
        exact = dataclasses.replace(
            plain,
            log=CorrectedRounds(grill, (one,), plain.log.calibrations),
            round=one,
        )
        own_std_c = np.full_like(rail_c, std_f / 1.8)
        # What would be read off the fit and the gun is given as well; a cached property holds what it finds.
        wide_c = _on_cells(formula_f, exact.wide_cells, grill).ravel()
        exact.__dict__.update(
            surface_c=(rail_c, own_std_c),
            compared_c=rail_c,
            compared_std_c=own_std_c,
            level_std_c=1e-6,
            samples_c=np.tile(wide_c, (SAMPLES, 1)),
        )
        exact.__dict__["spots"] = tuple(_spot(exact, reading, reading.id in suspects) for reading in one.readings)
        return exact

    return make


def _on_cells(formula_f: Formula, cells: Cells, grill: Grill) -> np.ndarray:
    """Return the formula at the centres of cells, (rows, columns) [°C]."""
    width_mm, depth_mm = grill.grate.extent_mm
    grid_u, grid_v = np.meshgrid(cells.x_mm / width_mm, cells.y_mm / depth_mm)
    return np.asarray(c_from_f(formula_f(grid_u, grid_v)), dtype=float)


@functools.cache
def plain_assessment(grill: Grill, number: int) -> Assessment:
    """Assess four flat readings: the frame into which the formula is put."""
    corners = [(0.1, 0.1), (0.9, 0.1), (0.1, 0.9), (0.9, 0.9)]
    readings = [
        Reading(
            id=index,
            shown_c=300.0,
            x_mm=u * grill.grate.width_mm,
            y_mm=v * grill.grate.depth_mm,
            round=number,
            note="kept",
        )
        for index, (u, v) in enumerate(corners, start=1)
    ]
    return assess(grill, group_rounds(readings))


def _spot(exact: Assessment, reading: Reading, suspect: bool) -> AssessedSpot:
    rail_c = reading.shown_c if reading.aim in ("rail", "contact") else None
    own = None if rail_c is None else 2.0
    column = int(np.argmin(np.abs(exact.cells.x_mm - reading.x_mm)))
    row = int(np.argmin(np.abs(exact.cells.y_mm - reading.y_mm)))
    word, leaning = named(exact.compared_c, exact.compared_std_c, *exact.band_c)
    return AssessedSpot(
        spot=Spot(reading=reading, rail_c=rail_c, shot_std_c=own, place_std_c=own, shared_std_c=own),
        compared_c=rail_c,
        word=None if rail_c is None else str(word[row, column]),  # type: ignore[arg-type]
        leaning=None if rail_c is None else str(leaning[row, column]),  # type: ignore[arg-type]
        chance_in_band=None if rail_c is None else 0.5,
        expected_shown_c=300.0 if suspect else None,
    )


@pytest.fixture(scope="session")
def placed() -> Callable[..., Placement]:
    """Return what makes places of x, y and headings, all of them equally good."""

    def make(footprint: Footprint, *places: tuple[float, float, tuple[float, ...]]) -> Placement:
        numbers = dict.fromkeys(("mean_c", "mean_std_c", "std_within_c", "rms_from_target_c"), 300.0)
        numbers |= dict.fromkeys(("chance_in_band", "chance_fits", "rail_c", "rail_own_std_c"), 0.9)
        found = [Place(x_mm=x_mm, y_mm=y_mm, headings=headings, **numbers) for x_mm, y_mm, headings in places]
        return Placement(wanted=Wanted(footprint=footprint), places=tuple(found), equally_good=len(found))

    return make


@pytest.fixture(scope="session")
def compared() -> Callable[..., Comparison]:
    """Return what makes a comparison of two made assessments: cell by cell, with a spread known beforehand."""

    def make(before: Assessment, after: Assessment, *, std_f: float = 0.7) -> Comparison:
        change_c = after.compared_c - before.compared_c
        found = object.__new__(Comparison)  # as if it had been found by samples
        vars(found).update(
            before=before,
            after=after,
            chance_better=0.5,
            answer="cannot tell",
            spread_change_c=0.0,
            spread_change_low_c=0.0,
            spread_change_high_c=0.0,
            cells=after.cells,
            difference_c=change_c,
            difference_std_c=np.full_like(change_c, std_f / 1.8),
            mean_change_c=float(change_c[after.cells.inside].mean()),
            mean_change_std_c=0.1,
            change_c=change_c.reshape(1, -1),
        )
        return found

    return make


@pytest.fixture(scope="session")
def grates(make_grill: Callable[..., Grill]) -> dict[str, Grill]:
    """Return grates of every kind a picture must cope with."""

    def inches(*numbers: float) -> tuple[float, ...]:
        return tuple(mm_from_in(number) for number in numbers)

    ring = Burner(name="ring", points_mm=Burner.ring((228.6, 228.6), 130.0), marks=("LO", "MED", "HI"))
    across = tuple(
        Burner(name=name, points_mm=((76.0, y_mm), (1140.0, y_mm)))
        for name, y_mm in (("front", 100.0), ("the back one with a name nobody would write on a knob", 300.0))
    )
    return {
        "three by four": make_grill(),
        "five by six, rails from side to side": make_grill(
            grate={"width_mm": 762.0, "rails": "left-to-right"}, positions=Positions(rows=5, columns=6)
        ),
        "wide flat plate, two by two": make_grill(
            grate={"width_mm": 1219.2, "depth_mm": 406.4, "rail_pitch_mm": 20.0, "rail_top_mm": 20.0},
            burners=across,
            positions=Positions(rows=2, columns=2),
        ),
        "ring": make_grill(grate={"width_mm": 457.2, "depth_mm": 457.2}, burners=(ring,)),
        "coals": make_grill(burners=(Burner(name="coals", control="none", points_mm=(inches(16, 9), inches(20, 9))),)),
        "no burner": make_grill(burners=()),
        "si": make_grill(units="si", grate={"width_mm": 600.0, "depth_mm": 450.0}),
        "tall, burner sticking out, dollars": make_grill(
            grate={"width_mm": 300.0, "depth_mm": 700.0},
            burners=(Burner(name="$name_1$ {", points_mm=((150.0, -90.0), (150.0, 800.0))),),
            positions=Positions(rows=5, columns=2),
        ),
        "panels with seams": make_grill(grate={"seams_mm": (203.2, 406.4)}),
        "many burners": make_grill(
            burners=tuple(
                Burner(name=f"burner number {index}", points_mm=((60.0 * index, 20.0), (60.0 * index, 400.0)))
                for index in range(1, 10)
            )
        ),
        "as the gun shows it": make_grill(
            target=TargetBand(low_c=290.0, high_c=315.0, numbers="shown"), gun=Gun(distance_to_spot=8.0)
        ),
    }


@pytest.fixture
def advised(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Decision]:
    """Return what makes a decision for an assessment."""

    def give(made: Assessment, expected_c: float, *changes: Change) -> Decision:
        come_c = expected_c + 0.01 * made.wide_cells.points_mm[:, 0]
        marks = {one.burner: one.to_mark for one in changes}
        outlook = Outlook(share_in_band=0.9, share_in_band_low=0.7, share_in_band_high=1.0, p95_minus_p5_c=10.0)
        advice = BurnerAdvice(
            changes=changes,
            settings=marks,
            reachable=True,
            chance_better=0.9,
            chance_nearer=0.9,
            expected=outlook,
            wait_min=8.0,
        )

        def settled_mean_c(assessment: Assessment, settings: Mapping[str, float]) -> FloatArray:
            assert settings == marks, "the map expected after the change is of its marks"
            return come_c

        if changes:
            monkeypatch.setattr("heatmap.pictures.maps.settled_mean_c", settled_mean_c)
        do, asked_for = ("turn", advice) if changes else ("sear", None)
        return Decision(do=do, advice=asked_for, settings=marks, wait_min=8.0)

    return give
