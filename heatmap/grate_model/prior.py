"""What is believed of a grate before its readings, on the heat scale; and the sites at which that is asked.

The temperature at place x in round r, under openings f, is the sum of Gaussian parts::

    burners     weights · design(x, f)         where the heat of each burner lands
    base        level, tilts, bends, rim, steps at seams, a field: the same in every round
    own fields  (f_b + o) P_b(x) δ_b(x)        what geometry does not know of a burner, grows with its opening
    pace        how much of a turn has come by a round, for how fast the grate follows is not known
    lid         what is lost since it was lifted, a share of the usual
    group       another session, lid or surface: level, tilts, bends
    round       level, tilts, a field and drift, new each round
    place       what all shots at one place have in common, no part of the surface

All fields are Matérn fields with the same length scales, but for the own fields under some nodes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, NamedTuple, Self

import numpy as np

from heatmap.gaussian import lower_triangle, matern32, scaled_distance
from heatmap.grate_model import tuning
from heatmap.grate_model.response import Layout, Response
from heatmap.grill.grate import Grate
from heatmap.units import BoolArray, FloatArray, IntArray

#: The round of sites that stand for the grate as it is between rounds, in still air.
NO_ROUND = -1


def _for_all(value: float) -> Any:
    return field(default_factory=lambda: np.array(value))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sites:
    """n sites of noise-free or noisy temperatures; one value may be given for all, what is not is that of the settled
    grate of now.

    Attributes
    ----------
    places_mm : ndarray (p, 2)
        The different places.
    place : ndarray (n,) of int
        Which of them each site is at.
    openings : ndarray (n, burners), or (burners,) for all
        How far each burner is open, as far as its change has come.
    if_slower : ndarray (n, burners)
        By how much that would differ, were the grate slower by a standard deviation of its time constant.
    round, group : ndarray (n,) of int
        Which round; which group of session, lid and surface, 0 the newest.
    marks_known : ndarray (n,) of bool
    minutes : ndarray (n,)
        Since the median time of the round.
    lid_drop_c : ndarray (n,)
        What the usual grate has lost since its lid was lifted (negative).
    place_std : ndarray (n,)
        Standard deviation of what all shots at the place have in common and the surface has not; 0 for the surface.
    """

    places_mm: FloatArray
    place: IntArray
    openings: FloatArray
    if_slower: FloatArray = _for_all(0.0)
    round: IntArray = _for_all(NO_ROUND)
    group: IntArray = _for_all(0)
    marks_known: BoolArray = _for_all(True)
    minutes: FloatArray = _for_all(0.0)
    lid_drop_c: FloatArray = _for_all(0.0)
    place_std: FloatArray = _for_all(0.0)

    def __post_init__(self) -> None:
        """Give every site its value."""
        n = len(self.place)
        for name in ("openings", "if_slower"):
            object.__setattr__(self, name, np.broadcast_to(getattr(self, name), (n, np.shape(self.openings)[-1])))
        for name in ("round", "group", "marks_known", "minutes", "lid_drop_c", "place_std"):
            object.__setattr__(self, name, np.broadcast_to(getattr(self, name), n))

    def of(self, which: IntArray, places_mm: FloatArray, place: IntArray, **more: Any) -> Self:
        """Return n sites at places (p, 2), each in the state of one of these sites; `more` as their attributes."""
        names = ("openings", "if_slower", "round", "group", "marks_known")
        taken: dict[str, Any] = {name: getattr(self, name)[which] for name in names}
        return type(self)(places_mm=places_mm, place=place, **taken, **more)

    def __len__(self) -> int:
        """Return n."""
        return len(self.place)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GratePrior:
    """The prior under one set of hyper-parameters; sites are :class:`Sites`.

    Attributes
    ----------
    response : Response
        The patterns of the burners and the prior of their weights.
    constant : float
        Mean of the base.
    length : float
        Length scale of the fields along each axis, as a share of half the side.
    base_c, own_share, field_c : float
        Amplitudes of the base, of the burners' own fields (over their strength) and of the field of a round.
    round_c : tuple of float
        What is new in every round: level, two tilts.
    noise, place_noise : float
        Shots and places scatter so many times as much as is claimed.
    own_length_mm : float or None
        Length scale of the own fields, where it is not that of the others.
    """

    response: Response
    constant: float
    length: float
    base_c: float
    own_share: float
    field_c: float
    round_c: tuple[float, ...]
    noise: float
    place_noise: float
    own_length_mm: float | None = None

    def mean(self, sites: Sites) -> FloatArray:
        """Return the prior mean at n sites, (n,)."""
        of_burners = _of_burners(self.response, sites).design @ self.response.weight_mean
        return np.asarray(self.constant + of_burners + sites.lid_drop_c)

    def covariance(self, one: Sites, two: Sites) -> FloatArray:
        """Return the prior covariance between sites, (n, m)."""
        ours, theirs = self._shared(one, two)
        covariance = ours.columns @ theirs.columns.T
        for lengths_mm, here, there in zip(self._lengths_mm, ours.fields, theirs.fields, strict=True):
            of_fields = here @ there.T
            of_fields *= _correlation(lengths_mm, one, two)
            covariance += of_fields
        return covariance + self.place_noise**2 * _of_places(one) if one is two else covariance

    def weighted_covariance(self, one: Sites, two: Sites, weights: FloatArray) -> FloatArray:
        """Return the prior covariance between n sites and m others times weights (m,), (n,), without making it."""
        ours, theirs = self._shared(one, two)
        total = ours.columns @ (weights @ theirs.columns)
        at_place = two.place == np.arange(len(two.places_mm))[:, None]
        for lengths_mm, here, there in zip(self._lengths_mm, ours.fields, theirs.fields, strict=True):
            between = matern32(scaled_distance(one.places_mm, two.places_mm, lengths_mm))
            total += (here * (between @ (at_place @ (weights[:, None] * there)))[one.place]).sum(axis=1)
        return np.asarray(total)

    def variance(self, sites: Sites) -> FloatArray:
        """Return the prior variance at n sites, (n,)."""
        split = self._split(sites, _new_in(sites))
        return np.asarray(sum(np.square(part).sum(axis=1) for part in (split.columns, *split.fields)))

    def sample(self, one: Sites, two: Sites, count: int, random: np.random.Generator) -> tuple[FloatArray, FloatArray]:
        """Return joint samples about the mean at n sites, with what their places have of their own, and at m others
        without it, (count, n) and (count, m).
        """
        ours, theirs = self._shared(one, two)
        first, second = _sampled(self._lengths_mm, (one, two), (ours, theirs), count, random)
        apart = _parts(self.response.grate, self.round_c, one, _new_in(one) - _new_in(two))
        split = _Split(columns=apart.new, fields=(self._new_fields(apart),))
        (new,) = _sampled(self._lengths_mm[:1], (one,), (split,), count, random)
        of_place = random.standard_normal((count, len(one.places_mm)))[:, one.place]
        return first + new + self.place_noise * one.place_std * of_place, second

    @property
    def log_chance(self) -> float:
        """Logarithm of the chance that its burners lie so."""
        return 0.0 if self.response.layout is Layout.AS_TOLD else math.log(tuning.OTHER_LAYOUT_CHANCE)

    @property
    def _lengths_mm(self) -> tuple[Lengths, Lengths]:
        """Length scales of the fields, and of the burners' own."""
        width_mm, depth_mm = self.response.grate.extent_mm
        lengths_mm = 0.5 * self.length * width_mm, 0.5 * self.length * depth_mm
        return lengths_mm, lengths_mm if self.own_length_mm is None else (self.own_length_mm, self.own_length_mm)

    def burner_columns(self, sites: Sites) -> FloatArray:
        """Return what each burner adds at n sites per opening by its expected strength and pattern, (n, burners)."""
        return _of_burners(self.response, sites).each

    def _shared(self, one: Sites, two: Sites) -> tuple[_Split, _Split]:
        """Return the sum at n sites and at m others, without what is new in rounds and groups of one of them alone."""
        new_in = _new_in(one) & _new_in(two)
        ours = self._split(one, new_in)
        return ours, ours if one is two else self._split(two, new_in)

    def _split(self, sites: Sites, new_in: NewIn) -> _Split:
        """Return the sum at n sites, with what is new in some rounds and groups."""
        parts, burners = _parts(self.response.grate, self.round_c, sites, new_in), _of_burners(self.response, sites)
        base = [burners.unit, parts.level, self.base_c * parts.shape, parts.fixed, parts.new]
        fields = [np.full((len(sites), 1), self.base_c), self._new_fields(parts)]
        return _Split(
            columns=np.concatenate(base, axis=1),
            fields=(np.concatenate(fields, axis=1), self.own_share * burners.own),
        )

    def _new_fields(self, parts: _Parts) -> FloatArray:
        return np.concatenate([self.field_c * parts.fields, parts.unknown_fields], axis=1)


#: The rounds and groups, and the rounds whose marks are not known, that have something new.
NewIn = frozenset[tuple[str, int]]
Lengths = tuple[float, float]


class _Split(NamedTuple):
    """The sum at n sites: columns with weights of unit variance, (n, p), and amplitudes of fields of unit variance, (n,
    …) each, with the length scales of all and of the burners' own.
    """

    columns: FloatArray
    fields: tuple[FloatArray, ...]


class _Parts(NamedTuple):
    """Independent parts but for burners, columns (n, …) each.

    The level of the base; its tilts and bends, to be multiplied by its size; its rim, steps and lid; what is new in
    rounds and groups; the fields of rounds, to be multiplied by their size, and those of rounds with unknown marks.
    """

    level: FloatArray
    shape: FloatArray
    fixed: FloatArray
    new: FloatArray
    fields: FloatArray
    unknown_fields: FloatArray


class _OfBurners(NamedTuple):
    """What each weight adds; what each burner adds per opening; columns with weights of unit variance for both; what
    each burner's own field is a share of.
    """

    design: FloatArray
    each: FloatArray
    unit: FloatArray
    own: FloatArray


@lru_cache(maxsize=8)
def _new_in(sites: Sites) -> NewIn:
    """Return the rounds and groups that have something new, and the rounds whose marks are not known; nothing is new
    between rounds, nor in the newest group.
    """
    rounds, groups = set(sites.round.tolist()) - {NO_ROUND}, set(sites.group.tolist()) - {0}
    unknown = set(sites.round[~sites.marks_known].tolist()) - {NO_ROUND}
    return frozenset(
        (kind, at) for kind, some in (("round", rounds), ("group", groups), ("unknown", unknown)) for at in some
    )


@lru_cache(maxsize=8)
def _parts(grate: Grate, round_c: tuple[float, ...], sites: Sites, new_in: NewIn) -> _Parts:
    """Return the columns at n sites, with what is new in some rounds and groups."""
    extent, places = np.array(grate.extent_mm), sites.places_mm
    u, v = (2.0 * places / extent - 1.0).T
    trends = np.column_stack([np.ones_like(u), u, v, u * v, u * u - 1 / 3, v * v - 1 / 3])[sites.place]
    rim = np.exp(-np.maximum(grate.edge_distance_mm(places), 0.0) / (tuning.RIM_SHARE * extent.min()))[sites.place]
    across = places[sites.place, "xy".index(grate.seam_axis)]
    steps = [np.where(across > seam, 0.5, -0.5) * tuning.SEAM_STEP_C for seam in grate.seams_mm]
    lid_drop_c = sites.lid_drop_c
    drift, lid = tuning.DRIFT_C_PER_MIN * sites.minutes, tuning.LID_ROUND_STD * lid_drop_c
    of_round = np.column_stack([trends[:, :3] * round_c, drift, lid])
    in_round, in_group, unknown = (
        number[:, None] == np.array(sorted(at for kind, at in new_in if kind == which))
        for which, number in (("round", sites.round), ("group", sites.group), ("unknown", sites.round))
    )

    def inside(which: BoolArray, columns: FloatArray) -> FloatArray:
        return np.asarray((which[:, :, None] * columns[:, None]).reshape(len(sites), -1))

    of_group, of_unknown = trends * tuning.GROUP_C, trends * tuning.UNKNOWN_MARKS_C
    new = [inside(in_round, of_round), inside(in_group, of_group), inside(unknown, of_unknown)]
    return _Parts(
        level=tuning.BASE_LEVEL_C * trends[:, :1],
        shape=trends[:, 1:],
        fixed=np.column_stack([tuning.RIM_C * rim, *steps, tuning.LID_SHARE_STD * lid_drop_c]),
        new=np.concatenate(new, axis=1),
        fields=in_round.astype(np.float64),
        unknown_fields=tuning.UNKNOWN_FIELD_C * unknown,
    )


@lru_cache(maxsize=2)
def _of_places(sites: Sites) -> FloatArray:
    """Return what shots at one place have in common as a covariance, (n, n)."""
    return np.asarray(np.outer(sites.place_std, sites.place_std) * (sites.place[:, None] == sites.place))


@lru_cache(maxsize=32)
def _of_burners(response: Response, sites: Sites) -> _OfBurners:
    patterns = response.patterns(sites.places_mm)[:, :, sites.place]
    columns = response.design(patterns, sites.openings)
    each = response.strengths * patterns[:, -1].T
    pace = (each * sites.if_slower).sum(axis=1)
    unit = np.column_stack([columns @ response.weight_factor, tuning.LOWEST_FLAME_STD * each, pace])
    return _OfBurners(design=columns, each=each, unit=unit, own=(sites.openings + response.offset) * each)


@lru_cache(maxsize=32)  # one map and what is decided from it ask for fewer; each is as large as a covariance
def _correlation(lengths_mm: Lengths, one: Sites, two: Sites) -> FloatArray:
    between = matern32(scaled_distance(one.places_mm, two.places_mm, lengths_mm))
    return np.asarray(between[np.ix_(one.place, two.place)])


@lru_cache(maxsize=16)  # each larger still; one sample asks for up to a dozen, and several rounds are sampled alike
def _factor(lengths_mm: Lengths, places_mm: bytes) -> FloatArray:
    """Return the triangle that makes a field of unit variance at places (n, 2), as bytes, out of white noise."""
    places = np.frombuffer(places_mm).reshape(-1, 2)
    return lower_triangle(matern32(scaled_distance(places, places, lengths_mm)))


def _sampled(
    lengths_mm: Sequence[Lengths],
    sites: Sequence[Sites],
    splits: Sequence[_Split],
    count: int,
    random: np.random.Generator,
) -> list[FloatArray]:
    """Return joint samples (count, n) of a sum at each of some sites: its fields, of these lengths, and its columns."""
    places_mm = np.concatenate([one.places_mm for one in sites])
    starts = np.cumsum([0, *(len(one.places_mm) for one in sites[:-1])])
    total = [np.zeros((count, len(one))) for one in sites]
    for lengths, *amplitudes in zip(lengths_mm, *(split.fields for split in splits), strict=True):
        factor = _factor(lengths, places_mm.tobytes())
        white = random.standard_normal((count, amplitudes[0].shape[1], len(factor)))
        fields = (white.reshape(-1, len(factor)) @ factor.T).reshape(white.shape)  # one product for all samples
        for one, start, amplitude, drawn in zip(sites, starts, amplitudes, total, strict=True):
            there = fields.take(start + one.place, axis=2)
            drawn += np.einsum("cfn,fn->cn", there, np.ascontiguousarray(amplitude.T))
    weights = random.standard_normal((count, splits[0].columns.shape[1]))
    return [drawn + weights @ split.columns.T for drawn, split in zip(total, splits, strict=True)]
