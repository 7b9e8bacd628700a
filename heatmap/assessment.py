"""The whole line, composed once: grill and rounds in, everything known about one round out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from heatmap.correct import Calibration, Spot
from heatmap.errors import MapError, ReadingError
from heatmap.gaussian import same_places
from heatmap.grate_model.prior import Sites
from heatmap.grate_model.reference_pairs import corrected_rounds
from heatmap.grate_model.round_map import RoundMap
from heatmap.grill.grill import Grill
from heatmap.readings.reading import Round
from heatmap.units import BoolArray, FloatArray
from heatmap.verdict.chances import Evenness, Word, chance_arrays, evenness, named
from heatmap.verdict.regions import parts_of_grate

#: Side of a cell of the map; half an inch.
CELL_MM = 12.7
#: Side of a cell for samples, shares and advice, an inch: half of it is below what samples can tell.
WIDE_CELL_MM = 25.4
#: Joint samples of the surface for shares and spreads.
SAMPLES = 200


class Cells:
    """The cells of the map: centres and which of them should be in band: inside the rim, in the zone.

    Attributes
    ----------
    x_mm, y_mm : ndarray, shape (columns,) and (rows,)
    points_mm : ndarray, shape (rows * columns, 2)
        All centres, row by row.
    inside : ndarray of bool, shape (rows, columns)
        As :meth:`heatmap.grill.grill.Grill.counts` tells.
    inside_points_mm : ndarray, shape (m, 2)
        Centres of those inside.
    on_grate : ndarray of bool, shape (rows, columns)
        Which lie on the grate; all but the corners of a round one.
    """

    def __init__(self, grill: Grill, step_mm: float | None = None) -> None:
        """Divide the grate into cells of about `step_mm`, by default those of the map."""
        self.x_mm, self.y_mm = grill.grate.cells_mm(step_mm or CELL_MM)
        grid_x, grid_y = np.meshgrid(self.x_mm, self.y_mm)
        self.points_mm = np.column_stack([grid_x.ravel(), grid_y.ravel()])
        counts = grill.counts(self.points_mm)
        self.inside, self.inside_points_mm = counts.reshape(grid_x.shape), self.points_mm[counts]
        self.on_grate = (grill.grate.edge_distance_mm(self.points_mm) >= -1e-9).reshape(grid_x.shape)


@dataclass(frozen=True, slots=True, kw_only=True)
class AssessedSpot:
    """One reading with what it says and what the surface says of its place.

    Attributes
    ----------
    spot : Spot
    compared_c : float or None
        The number held against the band, from this reading alone.
    word : str or None
        Verdict of the surface at this place; None for valley and patch readings, and outside the zone.
    leaning : str or None
        The likeliest of the three words, also where none is sure.
    chance_in_band : float or None
    expected_shown_c : float or None
        For a reading that is not believed, what the gun should have shown by all others; else None.
    """

    spot: Spot
    compared_c: float | None = None
    word: Word | None = None
    leaning: Word | None = None
    chance_in_band: float | None = None
    expected_shown_c: float | None = None

    @property
    def suspect(self) -> bool:
        """Whether the reading is not believed."""
        return self.expected_shown_c is not None


@dataclass(frozen=True, kw_only=True, eq=False)
class Assessment(RoundMap):
    """Everything known about one round of readings.

    Surfaces are at cell centres, (rows, columns), rails in °C; `compared_…` are in the numbers of the target band.
    `log` holds what was found out of the gun on the way, for when other rounds of it are looked at.
    """

    @property
    def grill(self) -> Grill:
        """The grill of the log."""
        return self.log.grill

    @property
    def rounds(self) -> tuple[Round, ...]:
        """All rounds of the log."""
        return self.log.rounds

    @cached_property
    def calibration(self) -> Calibration:
        """What is known of the gun on the surface the round was shot on."""
        return self.log.calibrations(self.round)[self.round.surface]

    @cached_property
    def cells(self) -> Cells:
        """The cells of the map."""
        return Cells(self.grill)

    @cached_property
    def surface_c(self) -> tuple[FloatArray, FloatArray]:
        """Mean and own standard deviation of the rails at every cell, (rows, columns) each."""
        mean_c, own_std_c = self.surface.predict(self.cells.points_mm)
        return mean_c.reshape(self.cells.inside.shape), own_std_c.reshape(self.cells.inside.shape)

    @property
    def mean_c(self) -> FloatArray:
        """Mean of the rails at every cell."""
        return self.surface_c[0]

    @property
    def own_std_c(self) -> FloatArray:
        """Its own standard deviation."""
        return self.surface_c[1]

    @property
    def band_c(self) -> tuple[float, float]:
        """The band as asked for."""
        return (self.grill.target.low_c, self.grill.target.high_c)

    @cached_property
    def band_rail_c(self) -> tuple[float, float]:
        """The band in rail temperatures."""
        low, high = self.calibration.rail_from_compared_c(np.array(self.band_c))
        return (float(low), float(high))

    @cached_property
    def _centre_c(self) -> float:
        return float(np.mean(self.mean_c[self.cells.inside]))

    @cached_property
    def compared_slope(self) -> float:
        """By how much the compared number rises per °C of rail."""
        return self.calibration.compared_slope(self._centre_c)

    @cached_property
    def level_std_c(self) -> float:
        """Standard deviation of what moves all compared numbers together."""
        return self.calibration.level_std_c(self._centre_c)

    @property
    def level_hides_all(self) -> bool:
        """Whether the level alone is so uncertain that no place could be called in band, not even its middle."""
        low_c, high_c = self.band_c
        return 2 * 1.2816 * self.level_std_c > high_c - low_c  # 80 % of a normal distribution, verdict.tuning.SURE

    @cached_property
    def shared_std_c(self) -> float:
        """Standard deviation of what moves all rails together."""
        return self.calibration.shared_std_c(self._centre_c)

    @cached_property
    def compared_c(self) -> FloatArray:
        """The number held against the band at every cell."""
        return self.calibration.compared_c(self.mean_c)

    @cached_property
    def compared_std_c(self) -> FloatArray:
        """Its standard deviation, own and level together."""
        return np.hypot(self.own_std_c * self.compared_slope, self.level_std_c)

    @cached_property
    def wide_cells(self) -> Cells:
        """The cells of samples and advice."""
        return Cells(self.grill, WIDE_CELL_MM)

    @cached_property
    def samples_c(self) -> FloatArray:
        """Joint samples of the compared numbers at all wide cells, without the level, (SAMPLES, m)."""
        return self.samples_c_at(self.wide_sites)

    @cached_property
    def wide_sites(self) -> Sites:
        """The wide cells as the model asks them."""
        return self.surface.sites(self.wide_cells.points_mm)

    @cached_property
    def zone(self) -> BoolArray:
        """Which of the wide cells are to be in band, shape (m,): the area inside the rim."""
        return self.wide_cells.inside.ravel()

    @property
    def zone_parts(self) -> dict[str, BoolArray]:
        """Which of those cells lie in each part of the grate that has any, by its name."""
        return parts_of_grate(self.grill.grate, self.wide_cells.inside_points_mm)

    def samples_c_at(self, points_mm: FloatArray | Sites) -> FloatArray:
        """Return joint samples of the compared numbers at points (m, 2), without the level, (SAMPLES, m)."""
        random = np.random.default_rng(self.round.number)
        return self.calibration.compared_c(self.surface.sample(points_mm, SAMPLES, random))

    @cached_property
    def to_come_c(self) -> float:
        """By how much the numbers of the zone still rise until it has settled at these marks, its lid closed again."""
        return float(np.mean(self.surface.still_to_come_c(self.wide_sites)[self.zone])) * self.compared_slope

    @property
    def settling_band_c(self) -> tuple[float, float]:
        """Between which numbers the zone is now, to lie in the band once it has settled."""
        low_c, high_c = self.band_c
        return (low_c - self.to_come_c, high_c - self.to_come_c)

    @cached_property
    def evenness(self) -> Evenness:
        """How even the grate is inside its rim."""
        inside, random = self.cells.inside, np.random.default_rng([self.round.number, 1])
        return evenness(
            self.cells.inside_points_mm,
            self.mean_c[inside],
            self.compared_c[inside],
            self.samples_c[:, self.zone],
            self.level_std_c * random.standard_normal(SAMPLES),
            *self.band_c,
            sample_points_mm=self.wide_cells.inside_points_mm,
        )

    @cached_property
    def spots(self) -> tuple[AssessedSpot, ...]:
        """Every reading with what it says and what the surface says of its place."""
        spots, rails, suspects = self.corrected, self.calibration, self.suspects
        places_mm, place = same_places(np.array([spot.reading.point_mm for spot in spots]))
        at = self.at(places_mm)
        in_band = chance_arrays(*at, *self.band_c)[1].tolist()
        asked_for = self.grill.in_zone(places_mm)
        word, leaning = (np.where(asked_for, called, "").tolist() for called in named(*at, *self.band_c))
        own_c = rails.compared_c(np.array([np.nan if spot.rail_c is None else spot.rail_c for spot in spots])).tolist()
        expected_c = rails.shown_from_rail_c(np.array(list(suspects.values()))).tolist()
        expected = dict(zip(suspects, expected_c, strict=True))
        return tuple(
            AssessedSpot(spot=spot, expected_shown_c=expected.get(index))
            if spot.rail_c is None
            else AssessedSpot(
                spot=spot,
                compared_c=own_c[index],
                word=word[here] or None,
                leaning=leaning[here] or None,
                chance_in_band=in_band[here],
                expected_shown_c=expected.get(index),
            )
            for index, (spot, here) in enumerate(zip(spots, place.tolist(), strict=True))
        )

    def at(self, points_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return compared mean and standard deviation (own and level) at points (m, 2)."""
        mean_c, own_std_c = self.surface.predict(points_mm)
        return self.calibration.compared_c(mean_c), np.hypot(own_std_c * self.compared_slope, self.level_std_c)

    @cached_property
    def labels_mm(self) -> FloatArray:
        """Where the labelled positions are, (k, 2)."""
        return np.array([self.grill.point_mm(label) for label in self.grill.labels])

    @cached_property
    def at_labels(self) -> tuple[FloatArray, FloatArray]:
        """What :meth:`at` says of the labelled positions."""
        return self.at(self.labels_mm)

    @cached_property
    def words_at_labels(self) -> tuple[NDArray[np.str_], NDArray[np.str_]]:
        """What each labelled position is called, and what it leans to, sure or not; nothing outside the zone."""
        in_zone = self.grill.in_zone(self.labels_mm)
        word, leaning = (np.where(in_zone, called, "") for called in named(*self.at_labels, *self.band_c))
        return word, leaning


def assess(
    grill: Grill,
    rounds: Sequence[Round],
    round: int | None = None,  # noqa: A002 - the word the contract uses
) -> Assessment:
    """Turn a grill and its rounds of readings into everything known about one round.

    Parameters
    ----------
    grill : Grill
    rounds : sequence of Round
        All rounds there are; contact readings in any of them pin the level of all.
    round : int, optional
        Number of the round to assess; the newest when left out.

    Returns
    -------
    Assessment

    Raises
    ------
    MapError
        When there are no readings, or too few, or all in one line.
    ReadingError
        When there is no such round.
    """
    log = corrected_rounds(grill, rounds)
    return Assessment.of(log, choose_round(log.rounds, round))


def choose_round(rounds: Sequence[Round], number: int | None) -> Round:
    """Return the round of this number, or the newest."""
    if not rounds:
        raise MapError("there are no readings yet; take a round with: gratemap take")
    if number is None:
        return max(rounds, key=lambda one: one.number)
    for one in rounds:
        if one.number == number:
            return one
    known = ", ".join(str(one.number) for one in rounds[-20:])
    raise ReadingError(f"there is no round {number}; rounds in the file: {known}")
