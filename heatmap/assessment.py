"""The whole line, composed once: grill and rounds in, everything known about one round out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from heatmap.correct import Calibration, Spot
from heatmap.errors import MapError, ReadingError
from heatmap.grate_model.reference_pairs import KnownGuns, calibration_for, calibrations_for, gun_key
from heatmap.grate_model.round_map import RoundMap, is_recheck, map_recheck, map_round, same_marks
from heatmap.grill.grill import Grill
from heatmap.readings.reading import Round
from heatmap.surface import Surface
from heatmap.verdict.chances import Evenness, Word, chances, evenness, median_spread_c, share_in_band, words

if TYPE_CHECKING:
    from heatmap.decide.burner_advice import BurnerAdvice, Present

FloatArray = NDArray[np.float64]

#: Side of a cell of the map; half an inch.
CELL_MM = 12.7
#: Burner advice needs no finer cells than this; an inch.
ADVICE_CELL_MM = 25.4
#: Older rounds than the latest this many teach next to nothing more about the burners.
MOST_ROUNDS = 12
#: Joint samples of the surface for shares and spreads.
SAMPLES = 200
#: Side of a cell for those of shares and spreads: a share of an inch more or less is below what samples can tell.
SAMPLE_CELL_MM = 25.4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cells:
    """The cells of the map: centres and which of them lie inside the rim.

    Attributes
    ----------
    x_mm, y_mm : ndarray, shape (columns,) and (rows,)
    inside : ndarray of bool, shape (rows, columns)
    """

    x_mm: FloatArray
    y_mm: FloatArray
    inside: NDArray[np.bool_]

    @classmethod
    def of(cls, grill: Grill, step_mm: float = CELL_MM) -> Cells:
        """Divide the grate into cells of about `step_mm`."""
        x_mm, y_mm = grill.grate.cells_mm(step_mm)
        rim, (width, depth) = grill.grate.rim_mm, grill.grate.extent_mm
        across = (x_mm >= rim) & (x_mm <= width - rim)
        along = (y_mm >= rim) & (y_mm <= depth - rim)
        inside = np.outer(along, across)
        if not inside.any():
            inside = np.ones_like(inside)
        return cls(x_mm=x_mm, y_mm=y_mm, inside=inside)

    @property
    def points_mm(self) -> FloatArray:
        """All centres, row by row, shape (rows * columns, 2)."""
        grid_x, grid_y = np.meshgrid(self.x_mm, self.y_mm)
        return np.column_stack([grid_x.ravel(), grid_y.ravel()])

    @property
    def inside_points_mm(self) -> FloatArray:
        """Centres inside the rim, shape (m, 2)."""
        return self.points_mm[self.inside.ravel()]


@dataclass(frozen=True, slots=True, kw_only=True)
class AssessedSpot:
    """One reading with what it says and what the surface says of its place.

    Attributes
    ----------
    spot : Spot
    compared_c : float or None
        The number held against the band, from this reading alone.
    word : str or None
        Verdict of the surface at this place; None for valley and patch readings.
    chance_in_band : float or None
    suspect : str
        Why the reading is not believed; empty when it is.
    """

    spot: Spot
    compared_c: float | None
    word: Word | None
    chance_in_band: float | None
    suspect: str


@dataclass(frozen=True, kw_only=True, eq=False)
class Assessment:
    """Everything known about one round of readings.

    Surfaces are at cell centres, (rows, columns), rails in °C; `compared_…` are in the numbers of the target
    band.
    """

    grill: Grill
    rounds: tuple[Round, ...]
    round_map: RoundMap
    calibrations: Mapping[str, Calibration]
    cells: Cells
    spots: tuple[AssessedSpot, ...]
    mean_c: FloatArray
    own_std_c: FloatArray
    compared_c: FloatArray
    compared_own_std_c: FloatArray
    level_std_c: float
    shared_std_c: float
    evenness: Evenness

    @cached_property
    def samples_c(self) -> FloatArray:
        """Joint samples of the numbers held against the band at the cells inside the rim, (SAMPLES, m)."""
        slope = self.calibration.compared_slope(float(np.mean(self.mean_c[self.cells.inside])))
        rng = np.random.default_rng([self.round.number, 1])
        return _compared_samples(self.surface, self.cells.inside_points_mm, self.calibration, slope, rng)

    @property
    def calibration(self) -> Calibration:
        """What is known of the gun on the surface the round was shot on."""
        return self.calibrations[self.round.surface]

    @property
    def round(self) -> Round:
        """The round that was assessed."""
        return self.round_map.round

    @property
    def shape_from(self) -> Round | None:
        """The full round a re-check took its shape from; None when the map stands by itself."""
        return self.round_map.shape_from

    @property
    def surface(self) -> Surface:
        """The fitted surface of rail temperatures."""
        return self.round_map.surface

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
    def compared_std_c(self) -> FloatArray:
        """Standard deviation of each cell's compared number, own and level together."""
        return np.hypot(self.compared_own_std_c, self.level_std_c)

    @cached_property
    def words(self) -> NDArray[np.str_]:
        """Verdict of every cell, (rows, columns)."""
        return words(self.compared_c, self.compared_std_c, *self.band_c)

    @cached_property
    def advice(self) -> BurnerAdvice:
        """Which knob to which mark, learned from every earlier round with known marks."""
        from heatmap.decide.burner_advice import advise
        from heatmap.grate_model.from_maps import round_state

        states = [round_state(round_map, self.calibration) for round_map in self.maps_so_far()]
        return advise(self.grill, states, cells_mm=self.advice_cells.points_mm, present=self._settled())

    def _settled(self) -> Present:
        """Return this map as it settles, with what was lost since the lid was lifted given back."""
        from heatmap.decide.burner_advice import Present

        drift, points_mm = self.round_map.drift, self.advice_cells.points_mm
        lost_c = 0.0 if drift is None else drift.since_lid_c
        rng = np.random.default_rng([self.round.number, 3])
        mean_c = self.surface.mean(points_mm)
        draws_c = self.calibration.compared_c(self.surface.sample(points_mm, SAMPLES, rng) - lost_c)
        level_c = self.level_std_c * rng.standard_normal((SAMPLES, 1))
        return Present(mean_c=self.calibration.compared_c(mean_c - lost_c), draws_c=draws_c + level_c)

    @cached_property
    def advice_cells(self) -> Cells:
        """The cells of `advice.expected_mean_c`."""
        return Cells.of(self.grill, ADVICE_CELL_MM)

    def maps_so_far(self) -> list[RoundMap]:
        """Return the maps of the latest full rounds with known marks, in order, this one last."""
        earlier = [
            one
            for one in self.rounds
            if one.number < self.round.number
            and self.grill.complete_settings(one.settings)
            and not is_recheck(self.grill, one)
        ]
        maps = []
        known = KnownGuns()
        known[gun_key(self.round)] = self.calibrations
        for one in earlier[-MOST_ROUNDS:]:
            key = gun_key(one)
            if key not in known:
                known[key] = calibrations_for(self.grill, self.rounds, one, known)
            try:
                maps.append(map_round(self.grill, one, known[key]))
            except MapError:
                continue  # a round too small for a map teaches nothing about the burners
        return [*maps, self.round_map]

    def at(self, points_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return compared mean and standard deviation (own and level) at points (m, 2)."""
        mean_c, own_std_c = self.surface.predict(points_mm)
        slope = self.calibration.compared_slope(float(np.mean(mean_c)))
        return self.calibration.compared_c(mean_c), np.hypot(own_std_c * slope, self.level_std_c)


def assess(
    grill: Grill,
    rounds: Sequence[Round],
    round: int | None = None,  # noqa: A002 - the word the contract uses
    *,
    method: str = "gaussian process",
    keep_suspects: bool = False,
    calibrations: Mapping[str, Calibration] | None = None,
) -> Assessment:
    """Turn a grill and its rounds of readings into everything known about one round.

    Parameters
    ----------
    grill : Grill
    rounds : sequence of Round
        All rounds there are; contact readings in any of them pin the level of all.
    round : int, optional
        Number of the round to assess; the newest when left out.
    method : str
        Surface: "gaussian process", "linear", "cubic" or "thin plate".
    keep_suspects : bool
        Let readings that cannot be into the map all the same.
    calibrations : mapping, optional
        What :func:`calibrations_for` said of another round of the same session, when many are assessed in a row.

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
    rounds = tuple(rounds)
    chosen = choose_round(rounds, round)
    if calibrations is None:
        calibrations = calibrations_for(grill, rounds, chosen)
    round_map = _map(grill, rounds, chosen, calibrations, method, keep_suspects)
    return _read_surface(grill, rounds, round_map, calibrations)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InShort:
    """A round in the few numbers that are told of each of many; each as in :class:`Assessment` and its `evenness`.

    Attributes
    ----------
    round_map : RoundMap
    spread_c, share, share_low, share_high : float
    level_c : float
        Mean over the area inside the rim, in the numbers of the band.
    """

    round_map: RoundMap
    spread_c: float
    share: float
    share_low: float
    share_high: float
    level_c: float


def in_short(grill: Grill, rounds: tuple[Round, ...], number: int, known: KnownGuns) -> InShort:
    """Work out those numbers of an :class:`Assessment` that are told of each of many rounds, and only those.

    `known` holds what is known of the gun from other rounds; what is found out is added to it.
    """
    chosen = choose_round(rounds, number)
    key = gun_key(chosen)
    if key not in known:
        known[key] = calibrations_for(grill, rounds, chosen, known)
    round_map = _map(grill, rounds, chosen, known[key], "gaussian process", keep_suspects=False)
    mean_c = round_map.surface.mean(Cells.of(grill).inside_points_mm)
    area = _Area.of(grill, round_map, known[key][chosen.surface], mean_c)
    share, share_low, share_high = share_in_band(area.samples_c, area.level_offsets_c, *area.band_c)
    return InShort(
        round_map=round_map,
        spread_c=median_spread_c(area.samples_c),
        share=share,
        share_low=share_low,
        share_high=share_high,
        level_c=float(area.calibration.compared_c(mean_c).mean()),
    )


def assess_in_a_row(grill: Grill, rounds: tuple[Round, ...], number: int, known: KnownGuns) -> Assessment:
    """Assess a round like :func:`assess`, with what `known` holds of the gun; what is found out is added to it."""
    chosen = choose_round(rounds, number)
    key = gun_key(chosen)
    if key not in known:
        known[key] = calibrations_for(grill, rounds, chosen, known)
    return assess(grill, rounds, number, calibrations=known[key])


def _map(
    grill: Grill,
    rounds: tuple[Round, ...],
    chosen: Round,
    calibrations: Mapping[str, Calibration],
    method: str,
    keep_suspects: bool,
) -> RoundMap:
    """Map a round; a re-check takes its shape from the last full round of the session, where there is one."""
    full = last_full_round(grill, rounds, chosen) if is_recheck(grill, chosen) else None
    if full is None:
        return map_round(grill, chosen, calibrations, method=method, keep_suspects=keep_suspects)
    states = {reading.surface for reading in full.readings} - set(calibrations)
    known = dict(calibrations)
    known.update({state: calibration_for(grill, rounds, chosen, state) for state in sorted(states)})
    try:
        base = map_round(grill, full, known, method=method, keep_suspects=keep_suspects)
    except MapError:
        return map_round(grill, chosen, calibrations, method=method, keep_suspects=keep_suspects)
    return map_recheck(base, chosen, calibrations, keep_suspects=keep_suspects)


def last_full_round(grill: Grill, rounds: Sequence[Round], chosen: Round) -> Round | None:
    """Return the latest full round before this one, in its session and with the same marks, or None."""
    earlier = [
        one
        for one in rounds
        if one.number < chosen.number
        and one.session == chosen.session
        and one.with_aim("rail")
        and not is_recheck(grill, one)
        and same_marks(one, chosen)
    ]
    return max(earlier, key=lambda one: one.number, default=None)


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


def _read_surface(
    grill: Grill, rounds: tuple[Round, ...], round_map: RoundMap, calibrations: Mapping[str, Calibration]
) -> Assessment:
    calibration = calibrations[round_map.round.surface]
    cells = Cells.of(grill)
    shape = cells.inside.shape
    mean_c, own_std_c = round_map.surface.predict(cells.points_mm)
    inside = cells.inside.ravel()
    area, compared_c = _Area.of(grill, round_map, calibration, mean_c[inside]), calibration.compared_c(mean_c)
    return Assessment(
        grill=grill,
        rounds=rounds,
        round_map=round_map,
        calibrations=calibrations,
        cells=cells,
        spots=_assess_spots(round_map, calibration, area.level_std_c, area.slope),
        mean_c=mean_c.reshape(shape),
        own_std_c=own_std_c.reshape(shape),
        compared_c=compared_c.reshape(shape),
        compared_own_std_c=own_std_c.reshape(shape) * area.slope,
        level_std_c=area.level_std_c,
        shared_std_c=calibration.shared_std_c(area.centre_c),
        evenness=evenness(
            cells.inside_points_mm,
            mean_c[inside],
            compared_c[inside],
            area.samples_c,
            area.level_offsets_c,
            *area.band_c,
            sample_points_mm=area.sample_points_mm,
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Area:
    """The surface as a whole: rail and slope at its centre, and joint samples of it and of what moves all of it."""

    calibration: Calibration
    centre_c: float
    slope: float
    level_std_c: float
    sample_points_mm: FloatArray
    samples_c: FloatArray
    level_offsets_c: FloatArray

    @classmethod
    def of(cls, grill: Grill, round_map: RoundMap, calibration: Calibration, inside_c: FloatArray) -> _Area:
        """Sample a map, of which the mean at the cells inside the rim is known."""
        centre_c = float(np.mean(inside_c))
        slope, level_std_c = calibration.compared_slope(centre_c), calibration.level_std_c(centre_c)
        rng = np.random.default_rng(round_map.round.number)
        wide_mm = Cells.of(grill, SAMPLE_CELL_MM).inside_points_mm
        return cls(
            calibration=calibration,
            centre_c=centre_c,
            slope=slope,
            level_std_c=level_std_c,
            sample_points_mm=wide_mm,
            samples_c=_compared_samples(round_map.surface, wide_mm, calibration, slope, rng),
            level_offsets_c=level_std_c * rng.standard_normal(SAMPLES),
        )

    @property
    def band_c(self) -> tuple[float, float]:
        """The band as asked for."""
        target = self.calibration.grill.target
        return target.low_c, target.high_c


def _compared_samples(
    surface: Surface, points_mm: FloatArray, calibration: Calibration, slope: float, rng: np.random.Generator
) -> FloatArray:
    """Return joint samples of the numbers held against the band at points (m, 2), (SAMPLES, m)."""
    mean_c = surface.mean(points_mm)
    return calibration.compared_c(mean_c) + slope * (surface.sample(points_mm, SAMPLES, rng) - mean_c)


def _assess_spots(
    round_map: RoundMap, calibration: Calibration, level_std_c: float, slope: float
) -> tuple[AssessedSpot, ...]:
    target = calibration.grill.target
    places = np.array([spot.reading.point_mm for spot in round_map.spots])
    mean_c, own_std_c = round_map.surface.predict(places)
    compared_c, std_c = calibration.compared_c(mean_c), np.hypot(own_std_c * slope, level_std_c)
    assessed = []
    for index, spot in enumerate(round_map.spots):
        if spot.rail_c is None:
            own, word, chance = None, None, None
        else:
            here = chances(float(compared_c[index]), float(std_c[index]), target.low_c, target.high_c)
            own = float(calibration.compared_c(np.array([spot.rail_c]))[0])
            word, chance = here.word, here.in_band
        assessed.append(
            AssessedSpot(
                spot=spot,
                compared_c=own,
                word=word,
                chance_in_band=chance,
                suspect=round_map.suspects.get(index, ""),
            )
        )
    return tuple(assessed)
