"""What beef conducts, weighs and stores, from what it is made of and how warm it is.

The component equations are those of Choi and Okos as reprinted by ASHRAE; they hold from −40 to 150 °C
(water: 0 to 150 °C). Against measurements on beef they are good to about 10 % in conductivity, 5 % in
density, 2 % in specific heat and so 15 % in diffusivity, fatty cuts 20 %; ground beef with a quarter of fat
conducts 10 to 35 % less (Pan and Singh 2001).

References
----------
Y. Choi and M. R. Okos, "Effects of temperature and composition on the thermal properties of foods", *Food
Engineering and Process Applications* vol. 1 (1986), 93-101.

ASHRAE Handbook Refrigeration, chapter "Thermal Properties of Foods", tables 1 and 2 (components) and the
mixture rules for density, conductivity (parallel) and specific heat of unfrozen food.

Z. Pan and R. P. Singh, "Physical and thermal properties of ground beef during cooking", *Lebensmittel-
Wissenschaft und -Technologie* 34 (2001), 437-444.
"""

from dataclasses import dataclass

import numpy as np

from heatmap.errors import InputError
from heatmap.units import ArrayLike, FloatArray

# Conductivity [W/(m K)], density [kg/m³] and specific heat [J/(kg K)], each a0 + a1 T + a2 T², T in °C; rows water,
# protein, fat, carbohydrate, ash. Choi and Okos (1986), as reprinted.
_COMPONENTS = np.array(
    [
        [(0.57109, 1.7625e-3, -6.7036e-6), (997.18, 3.1439e-3, -3.7574e-3), (4128.9, -9.0864e-2, 5.4731e-3)],
        [(0.17881, 1.1958e-3, -2.7178e-6), (1329.9, -0.51840, 0.0), (2008.2, 1.2089, -1.3129e-3)],
        [(0.18071, -2.7604e-4, -1.7749e-7), (925.59, -0.41757, 0.0), (1984.2, 1.4733, -4.8008e-3)],
        [(0.20141, 1.3874e-3, -4.3312e-6), (1599.1, -0.31046, 0.0), (1548.8, 1.9625, -5.9399e-3)],
        [(0.32962, 1.4011e-3, -2.9069e-6), (2423.8, -0.28063, 0.0), (1092.6, 1.8896, -3.6817e-3)],
    ]
)
_CONDUCTIVITY, _DENSITY, _SPECIFIC_HEAT = np.ascontiguousarray(_COMPONENTS.swapaxes(0, 1))

LOWEST_C, HIGHEST_C = 0.0, 150.0  # unfrozen, and the end of the published range

# Saturated steam at 100 °C, from memory of the IAPWS tables (as every steam table prints them).
LATENT_HEAT_J_KG = 2.257e6
STEAM_CONDUCTIVITY = 0.0248  # W/(m K)


@dataclass(frozen=True, slots=True, kw_only=True)
class Composition:
    """What a piece of meat is made of, in parts by mass: shares that add up to about 1 and are scaled to it."""

    water: float
    protein: float
    fat: float
    carbohydrate: float = 0.0
    ash: float = 0.01

    @property
    def shares(self) -> FloatArray:
        """Shares by mass adding up to 1: water, protein, fat, carbohydrate, ash; shape (5,)."""
        given = np.array([self.water, self.protein, self.fat, self.carbohydrate, self.ash])
        return np.asarray(given / given.sum(), float)


# USDA FoodData Central, SR Legacy 173403, rib eye, boneless, lean and fat, choice, raw: protein and fat; ash assumed,
# water by difference.
RIBEYE = Composition(water=0.619, protein=0.187, fat=0.184, carbohydrate=0.001, ash=0.009)


def density(composition: Composition, temperature_c: ArrayLike) -> FloatArray:
    """Return the density of unfrozen meat, 1/Σ(x/ρ) [kg/m³], shaped like `temperature_c` (0 to 150 °C)."""
    return np.asarray(1.0 / np.tensordot(composition.shares, 1.0 / _at(_DENSITY, temperature_c), axes=1))


def specific_heat(composition: Composition, temperature_c: ArrayLike) -> FloatArray:
    """Return the specific heat of unfrozen meat, Σ x c [J/(kg K)]; see :func:`density` for the arguments."""
    return np.tensordot(composition.shares, _at(_SPECIFIC_HEAT, temperature_c), axes=1)


def conductivity(composition: Composition, temperature_c: ArrayLike) -> FloatArray:
    """Return the conductivity of unfrozen meat, Σ (share of the volume) k [W/(m K)]; as :func:`density`."""
    volumes = (composition.shares / _at(_DENSITY, temperature_c).T).T
    return np.asarray((volumes * _at(_CONDUCTIVITY, temperature_c)).sum(axis=0) / volumes.sum(axis=0))


def crust_conductivity(composition: Composition, kept_pores: float = 0.5, temperature_c: float = 120.0) -> float:
    """Return what dried-out meat conducts: its solids, with steam where some of the water was.

    In W/(m K), by the same parallel rule as moist meat. `kept_pores` is the share of the water's volume that stays open
    as pores, 0 (all shrunk shut) to 1 (no shrinkage); it is not published as one number, one half is assumed.
    """
    volumes = composition.shares / _at(_DENSITY, temperature_c)
    conductivities = _at(_CONDUCTIVITY, temperature_c)
    volumes[0] *= kept_pores
    conductivities[0] = STEAM_CONDUCTIVITY
    return float((volumes * conductivities).sum() / volumes.sum())


def dry_specific_heat(composition: Composition, temperature_c: float = 120.0) -> float:
    """Return what the solids in one kilogram of moist meat store per kelvin, its water gone [J/(kg K)]."""
    parts = composition.shares * _at(_SPECIFIC_HEAT, temperature_c)
    return float(parts[1:].sum())


def juice_let_go(temperature_c: ArrayLike) -> FloatArray:
    """Return the share of its raw mass that lean meat lets go as juice in the end where it is so warm; any shape.

    R. G. M. van der Sman, "Moisture transport during cooking of meat: an analysis based on Flory-Rehner theory", *Meat
    Science* 76 (2007), 730-738, fitted to beef between 25 and 90 °C (from memory): it holds
    0.745 - 0.345/(1 + 30 exp(-0.25 (T - 52))).
    """
    return np.asarray(0.345 / (1.0 + 30.0 * np.exp(-0.25 * (np.asarray(temperature_c, float) - 52.0))), float)


def _at(coefficients: FloatArray, temperature_c: ArrayLike) -> FloatArray:
    """Return each component's property at each temperature, shape (5, …)."""
    celsius = np.asarray(temperature_c, float)
    if not np.all((celsius >= LOWEST_C) & (celsius <= HIGHEST_C)):
        raise InputError(
            f"beef properties are known from {LOWEST_C:g} to {HIGHEST_C:g} °C; got {celsius.min():g} to "
            f"{celsius.max():g} °C"
        )
    return np.tensordot(coefficients, np.stack([np.ones_like(celsius), celsius, celsius**2]), axes=1)
