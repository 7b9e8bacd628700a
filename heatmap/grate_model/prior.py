"""What is believed of a grate before its readings, on the heat scale.

The temperature at place x in round r, under openings f, is the sum of Gaussian parts::

    burners     weights · design(x, f)         where the heat of each burner lands
    base        level, tilts, bends, rim, steps at seams, a field: the same in every round
    own fields  (f_b + o) P_b(x) δ_b(x)        what geometry does not know of a burner, grows with its opening
    lid         what is lost since it was lifted, a share of the usual
    group       another session, lid or surface: level, tilts, bends
    round       level, tilts, a field and drift, new each round
    place       what all shots at one place have in common, no part of the surface

All fields are Matérn fields with the same length scales, but for the own fields under some nodes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from heatmap.gaussian import lower_triangle, matern32, scaled_distance
from heatmap.grate_model import tuning
from heatmap.grate_model.layouts import Layout
from heatmap.grate_model.response import Response, design
from heatmap.grate_model.sites import NO_ROUND, Sites
from heatmap.grill.grill import Grate
from heatmap.units import BoolArray, FloatArray, IntArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GratePrior:
    """The prior under one set of hyper-parameters; sites are :class:`Sites`.

    Attributes
    ----------
    grate : Grate
    response : Response
        The patterns of the burners and the prior of their weights.
    constant : float
        Mean of the base.
    length : float
        Length scale of the fields along each axis, as a share of half the side.
    base_c, own_share, field_c : float
        Amplitudes of the base, of the burners' own fields (over their strength) and of the field of a round.
    round_level_c, round_tilt_c : float
        What is new in every round.
    noise, place_noise : float
        Shots and places scatter so many times as much as is claimed.
    own_length_mm : float or None
        Length scale of the own fields, where it is not that of the others.
    layout : Layout
        Where the burners of the response are taken to lie.
    """

    grate: Grate
    response: Response
    constant: float
    length: float
    base_c: float
    own_share: float
    field_c: float
    round_level_c: float
    round_tilt_c: float
    noise: float
    place_noise: float
    own_length_mm: float | None = None
    layout: Layout = Layout.AS_TOLD

    def mean(self, sites: Sites) -> FloatArray:
        """Return the prior mean at n sites, (n,)."""
        return np.asarray(self.constant + self.design(sites) @ self.response.weight_mean + sites.lid_drop_c)

    def covariance(self, one: Sites, two: Sites) -> FloatArray:
        """Return the prior covariance between sites, (n, m)."""
        among = np.intersect1d(one.round, two.round), np.intersect1d(one.group, two.group)
        (fields_one, own_one, weights_one), (fields_two, own_two, weights_two) = (
            self._parts(sites, *among) for sites in (one, two)
        )
        covariance, own = fields_one @ fields_two.T, own_one @ own_two.T
        if self.own_length_mm is None:
            covariance += own
            covariance *= _correlation(self._lengths_mm, one, two)
        else:
            covariance *= _correlation(self._lengths_mm, one, two)
            covariance += own * _correlation(self._own_lengths_mm, one, two)
        covariance += weights_one @ weights_two.T
        if one is two:
            place_std = self.place_noise * one.place_std
            covariance += np.outer(place_std, place_std) * (one.place[:, None] == one.place)
        return np.asarray(covariance)

    def variance(self, sites: Sites) -> FloatArray:
        """Return the prior variance at n sites, (n,)."""
        parts = self._parts(sites, np.unique(sites.round), np.unique(sites.group))
        return np.asarray(sum(np.einsum("nk,nk->n", part, part) for part in parts))

    def sample(self, one: Sites, two: Sites, count: int, random: np.random.Generator) -> tuple[FloatArray, FloatArray]:
        """Return joint samples about the mean at n sites, with what their places have of their own, and at m others
        without it, (count, n) and (count, m).
        """
        rounds, groups = np.intersect1d(one.round, two.round), np.intersect1d(one.group, two.group)
        apart = np.setdiff1d(one.round, rounds), np.setdiff1d(one.group, groups)
        fields, own, weights = zip(*(self._parts(sites, rounds, groups) for sites in (one, two)), strict=True)
        at = one.place, len(one.places_mm) + two.place
        first, second = (
            own_part + field_part + weight_part
            for field_part, own_part, weight_part in zip(
                _sampled_fields(_field_factor(self._lengths_mm, one, two), fields, at, count, random),
                _sampled_fields(_field_factor(self._own_lengths_mm, one, two), own, at, count, random),
                _sampled_weights(weights, count, random),
                strict=True,
            )
        )
        amplitudes, columns = self._new(one, *apart)
        (new,) = _sampled_fields(_field_factor(self._lengths_mm, one), [amplitudes], [one.place], count, random)
        (also_new,) = _sampled_weights([columns], count, random)
        of_place = random.standard_normal((count, len(one.places_mm)))[:, one.place]
        return first + new + also_new + self.place_noise * one.place_std * of_place, second

    def _parts(self, sites: Sites, rounds: IntArray, groups: IntArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the independent parts at n sites: the amplitude of each field, (n, fields), and of each burner's own,
        and the column of each weight of unit variance, (n, weights); of what is new in rounds and groups, only that of
        these.
        """
        amplitudes, weights = self._new(sites, rounds, groups)
        return (
            np.column_stack([np.full(len(sites), self.base_c), amplitudes]),
            self._own_amplitudes(sites),
            np.column_stack([_columns(self, sites).always, weights]),
        )

    def _new(self, sites: Sites, rounds: IntArray, groups: IntArray) -> tuple[FloatArray, FloatArray]:
        """Return the parts that are new in these rounds and groups, zero outside each; there is nothing new between
        rounds, nor in the newest group.
        """
        columns, n, rounds, groups = _columns(self, sites), len(sites), rounds[rounds > NO_ROUND], groups[groups > 0]
        in_round, in_group = sites.round[:, None] == rounds, sites.group[:, None] == groups
        unknown = in_round & ~sites.marks_known[:, None]

        def inside(which: BoolArray, columns: FloatArray) -> FloatArray:
            return np.asarray((which[:, :, None] * columns[:, None]).reshape(n, -1))

        weights = inside(in_round, columns.by_round), inside(in_group, columns.by_group)
        return (
            np.column_stack([self.field_c * in_round, tuning.UNKNOWN_FIELD_C * unknown]),
            np.column_stack([*weights, inside(unknown, columns.unknown_marks)]),
        )

    @property
    def log_chance(self) -> float:
        """Logarithm of the chance of its layout."""
        return 0.0 if self.layout is Layout.AS_TOLD else math.log(tuning.OTHER_LAYOUT_CHANCE)

    @property
    def _lengths_mm(self) -> tuple[float, float]:
        width_mm, depth_mm = self.grate.extent_mm
        return 0.5 * self.length * width_mm, 0.5 * self.length * depth_mm

    @property
    def _own_lengths_mm(self) -> tuple[float, float]:
        return self._lengths_mm if self.own_length_mm is None else (self.own_length_mm, self.own_length_mm)

    def design(self, sites: Sites) -> FloatArray:
        """Return what each weight of the burners adds at n sites, (n, weights)."""
        return _of_burners(self.response, sites).design

    def burner_columns(self, sites: Sites) -> FloatArray:
        """Return what each burner adds at n sites per opening by its expected strength and pattern, (n, burners)."""
        return _of_burners(self.response, sites).each

    def _own_amplitudes(self, sites: Sites) -> FloatArray:
        """Return the amplitude of each burner's own field at n sites, (n, burners)."""
        return np.asarray(self.own_share * (sites.openings + self.response.offset) * self.burner_columns(sites))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Columns:
    """Columns with weights of unit variance, (n, …) each: for all sites, and for those of one round or group."""

    always: FloatArray
    by_round: FloatArray
    by_group: FloatArray
    unknown_marks: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Trends:
    level_tilts_bends: FloatArray
    rim: FloatArray
    steps: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _OfBurners:
    """What each weight adds; what each burner adds per opening; columns with weights of unit variance for both."""

    design: FloatArray
    each: FloatArray
    unit: FloatArray


@lru_cache(maxsize=64)
def _columns(prior: GratePrior, sites: Sites) -> _Columns:
    trends = _trends(prior.grate, sites)
    base = trends.level_tilts_bends * np.array([tuning.BASE_LEVEL_C, *[prior.base_c] * 5])
    lid = tuning.LID_SHARE_STD * sites.lid_drop_c[:, None]
    rim, steps = tuning.RIM_C * trends.rim[:, None], tuning.SEAM_STEP_C * trends.steps
    new = np.column_stack(
        [
            trends.level_tilts_bends[:, :3] * np.array([prior.round_level_c, prior.round_tilt_c, prior.round_tilt_c]),
            tuning.DRIFT_C_PER_MIN * sites.minutes,
            tuning.LID_ROUND_STD * sites.lid_drop_c,
        ]
    )
    return _Columns(
        always=np.column_stack([_of_burners(prior.response, sites).unit, base, rim, steps, lid]),
        by_round=new,
        by_group=trends.level_tilts_bends * _sizes(*tuning.GROUP_C),
        unknown_marks=trends.level_tilts_bends * _sizes(*tuning.UNKNOWN_MARKS_C),
    )


def _sizes(level: float, tilt: float, bend: float) -> FloatArray:
    return np.array([level, tilt, tilt, bend, bend, bend])


@lru_cache(maxsize=32)
def _of_burners(response: Response, sites: Sites) -> _OfBurners:
    patterns = response.patterns(sites.places_mm)[:, :, sites.place]
    columns = design(patterns, response.factors(sites.openings))
    each = response.strengths * patterns[:, -1].T
    unit = np.column_stack([columns @ response.weight_factor, tuning.LOWEST_FLAME_STD * each])
    return _OfBurners(design=columns, each=each, unit=unit)


@lru_cache(maxsize=32)
def _trends(grate: Grate, sites: Sites) -> _Trends:
    extent = np.array(grate.extent_mm)
    places = sites.places_mm
    u, v = (2.0 * places / extent - 1.0).T
    to_edge = grate.edge_distance_mm(places)
    rim = np.exp(-np.maximum(to_edge, 0.0) / (tuning.RIM_SHARE * extent.min()))
    across = places[:, "xy".index(grate.seam_axis)]
    steps = [np.where(across > seam, 0.5, -0.5) for seam in grate.seams_mm]
    columns = np.column_stack([np.ones_like(u), u, v, u * v, u * u - 1 / 3, v * v - 1 / 3])
    steps_at = np.stack(steps, axis=1) if steps else np.zeros((len(places), 0))
    return _Trends(level_tilts_bends=columns[sites.place], rim=rim[sites.place], steps=steps_at[sites.place])


@lru_cache(maxsize=64)
def _correlation(lengths_mm: tuple[float, float], one: Sites, two: Sites) -> FloatArray:
    between = matern32(scaled_distance(one.places_mm, two.places_mm, lengths_mm))
    return np.asarray(between[np.ix_(one.place, two.place)])


@lru_cache(maxsize=16)
def _field_factor(lengths_mm: tuple[float, float], *sites: Sites) -> FloatArray:
    """Return the triangle that makes a field of unit variance at the places of all sites out of white noise."""
    places = np.concatenate([one.places_mm for one in sites])
    return lower_triangle(matern32(scaled_distance(places, places, lengths_mm)))


def _sampled_fields(
    factor: FloatArray,
    amplitudes: Sequence[FloatArray],
    at: Sequence[IntArray],
    count: int,
    random: np.random.Generator,
) -> list[FloatArray]:
    """Return joint samples (count, n) of independent fields for each of some sites, by the amplitudes of the fields
    there, (n, fields), and which place of `factor` each site is at.
    """
    fields = random.standard_normal((count, amplitudes[0].shape[1], len(factor))) @ factor.T
    return [
        np.einsum("cfn,nf->cn", fields[:, :, place], amplitude) for place, amplitude in zip(at, amplitudes, strict=True)
    ]


def _sampled_weights(columns: Sequence[FloatArray], count: int, random: np.random.Generator) -> list[FloatArray]:
    """Return joint samples (count, n) of the same weights at each of some sites, by their columns (n, weights)."""
    weights = random.standard_normal((count, columns[0].shape[1]))
    return [weights @ each.T for each in columns]
