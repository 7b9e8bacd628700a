"""Is this reading to be believed? Asked before it is kept, while the cook still stands at the spot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

import heatmap.taking.tuning as tuning
from heatmap.correct import Calibration, correct_readings
from heatmap.errors import ReadingError
from heatmap.grate_model.model import RoundSurface
from heatmap.grill.grill import Grill
from heatmap.readings.reading import HIGHEST_SHOWN_C, Reading
from heatmap.taking.slips import meant_numbers
from heatmap.units import FloatArray

#: A reading from a port, which nobody can be asked about, is kept with a note that starts so.
DOUBTED = "doubted"


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A reading far outside what the others allow.

    Attributes
    ----------
    reading : Reading
        Not written yet.
    expected_shown_c : float or None
        About what the gun should show there, °C; None for the first shot, of which only the band and the air are known.
    meant_c : float or None
        The number that one slip of the hand would have made this of, °C as shown.
    again : bool
        Its position was typed: it may be meant to replace what stands there.
    """

    reading: Reading
    expected_shown_c: float | None
    meant_c: float | None = None
    again: bool = False


class DoubtedError(ReadingError):
    """A number is to be asked about before it is kept; nothing has changed."""

    def __init__(self, found: Doubt) -> None:
        super().__init__("the number is doubted")
        self.doubt = found


def doubt(
    reading: Reading, calibration: Calibration, surface: RoundSurface | None, before: Sequence[Reading]
) -> Doubt | None:
    """Judge one rail reading by those kept before it.

    Parameters
    ----------
    reading : Reading
        The new one.
    calibration : Calibration
        For its surface.
    surface : RoundSurface or None
        The map of the round without it, or what the rounds before say of this one.
    before : sequence of Reading
        The rail readings of the round without it; asked where there is neither. Without any, the band and the air are.

    Returns
    -------
    Doubt or None
        None when it is to be believed.

    Notes
    -----
    The chance of a blunder, a slip of the hand or something broad, against a good reading scattering about the surface.
    """
    if reading.aim != "rail" or reading.shown_c is None:
        return None
    spot = correct_readings([reading], calibration)[0]
    if spot.rail_c is None or spot.own_std_c is None:
        return None
    if surface is None and not before:
        first_c = reading.shown_c if calibration.grill.target.numbers == "shown" else spot.rail_c
        return None if _may_be_first(first_c, calibration.grill) else Doubt(reading=reading, expected_shown_c=None)
    expected_c, std_c, level_c = _expected(reading, calibration, surface, before)
    total_c = float(np.hypot(std_c, spot.own_std_c))
    if abs(spot.rail_c - expected_c) < tuning.FITS * total_c:
        return None
    slip_c, slip_density = _likeliest_slip(reading, calibration, expected_c, total_c)
    good = float(_normal_density(spot.rail_c - expected_c, total_c))
    broad = 1.0 / (np.pi * tuning.BROAD_SCALE_C * (1.0 + ((spot.rail_c - level_c) / tuning.BROAD_SCALE_C) ** 2))
    odds = tuning.BLUNDER_CHANCE / (1.0 - tuning.BLUNDER_CHANCE) / max(good, 1e-300)
    by_slip, by_broad = odds * tuning.SLIP_SHARE * slip_density, odds * (1.0 - tuning.SLIP_SHARE) * broad
    if (by_slip + by_broad) / (1.0 + by_slip + by_broad) < tuning.ASKED_FROM:
        return None
    shown_c = float(calibration.shown_from_rail_c(np.array([expected_c]))[0])
    return Doubt(reading=reading, expected_shown_c=shown_c, meant_c=slip_c if by_slip > by_broad else None)


def _may_be_first(compared_c: float, grill: Grill) -> bool:
    """Judge the first shot of all by the air and the band, in the band's own numbers."""
    air_c, way_c = grill.surroundings.air_c, grill.target.middle_c - grill.surroundings.air_c
    low_c, high_c = air_c + tuning.FIRST_LOW_SHARE * way_c, air_c + tuning.FIRST_HIGH_SHARE * way_c
    return way_c <= 0.0 or low_c <= compared_c <= high_c


def _expected(
    reading: Reading, calibration: Calibration, surface: RoundSurface | None, before: Sequence[Reading]
) -> tuple[float, float, float]:
    """Return what the others say the rail is here and now, its standard deviation, and the middle of the round, °C."""
    if surface is None:
        spots = correct_readings(before, calibration)
        values = np.array([spot.rail_c for spot in spots if spot.rail_c is not None])
        middle = float(np.median(values))
        return middle, tuning.FEW_READINGS_STD_C * float(np.sqrt(1.0 + 1.0 / len(values))), middle
    mean_c, std_c = surface.predict([reading.point_mm], surface.spots.minutes_at(reading.taken_at))
    shot_c = surface.spots.rail_c
    return float(mean_c[0]), float(std_c[0]), float(np.median(shot_c) if len(shot_c) else mean_c[0])


def _likeliest_slip(
    reading: Reading, calibration: Calibration, expected_c: float, std_c: float
) -> tuple[float | None, float]:
    """Look for what one slip of the hand made this number of, given what the rail should be.

    Return the likeliest number that was meant [°C as shown], and the density [1/°C] of the reading if it is a slip.
    """
    assert reading.shown_c is not None
    grill = calibration.grill
    display, warmest_c = grill.display, max(grill.surroundings.reflected_c, grill.surroundings.air_c)
    shown = round(display.temperature(reading.shown_c), 1)
    decimals = 0 if shown == round(shown) else 1
    meant = meant_numbers(shown, decimals)
    numbers = np.array([*meant, shown])

    def rails_c(numbers: FloatArray) -> FloatArray:
        shown_c = np.array([grill.temperature(number) for number in numbers])
        return calibration.correct(np.clip(shown_c, warmest_c + 1.0, HIGHEST_SHOWN_C), reading.distance_mm).rail_c

    rail_c = rails_c(numbers)
    step_c = np.abs(rails_c(numbers + 10.0**-decimals) - rail_c)  # what one step of the display is worth
    good = _normal_density(rail_c - expected_c, std_c) * step_c
    terms = good[:-1] * np.array(list(meant.values())) / 4.0
    best = int(np.argmax(terms))
    meant_c = grill.temperature(float(numbers[best])) if terms[best] else None
    return meant_c, float(np.sum(terms)) / max(float(step_c[-1]), 1e-9)


def _normal_density(off: FloatArray | float, std: float) -> FloatArray:
    return np.asarray(np.exp(-0.5 * (off / std) ** 2) / (np.sqrt(2.0 * np.pi) * std))
