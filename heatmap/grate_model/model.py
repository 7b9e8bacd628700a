"""The one model of the grate: the spots of all rounds, burners and all, as one Gaussian posterior on the heat scale."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property, partial
from statistics import median

import numpy as np

from heatmap.gaussian import Average, Conditioned, fit_robustly, same_places, spread_nodes
from heatmap.grate_model import tuning
from heatmap.grate_model.prior import GratePrior, Sites
from heatmap.grate_model.response import HeatScale, Layout, Response, other_lines
from heatmap.grate_model.round_spots import AllSpots, RoundSpots
from heatmap.grate_model.settling import USUAL_SPREAD, come_openings, usual_minutes, warm_up_minutes
from heatmap.grill.grill import Grill
from heatmap.units import ArrayLike, BoolArray, FloatArray


class GrateModel:
    """What the spots of some rounds say of the grate.

    Attributes
    ----------
    rounds : tuple of RoundSpots
        In order of time; the last is the newest.
    scale : HeatScale
    states : Sites
        How the grate stood in each round, (rounds,): as far as its change had come; marks are known where its spots do
        not speak against them.
    blunder_chance : ndarray (n,)
        For each spot of each round, in order.
    member : ndarray (n,) of int
        Which value of the posterior each spot is part of: many repeats are one.
    posterior : Average
        On the heat scale, asked at :class:`heatmap.grate_model.prior.Sites`.
    """

    posterior: Average[GratePrior]

    def __init__(self, grill: Grill, rounds: Sequence[RoundSpots], *, like: GrateModel | None = None) -> None:
        """Fit the spots of some rounds.

        Parameters
        ----------
        grill : Grill
        rounds : sequence of RoundSpots
            In order of time, corrected alike; at least one spot in all.
        like : GrateModel, optional
            Of other rounds of the same grill: what was likeliest there is all that is tried here.
        """
        self.rounds, spots = tuple(rounds), AllSpots(rounds)
        self.scale = HeatScale(air_c=grill.surroundings.air_c, middle_c=grill.target.middle_c)
        self.states = _states(grill, self.rounds)
        heat = self.scale.heat(spots.rail_c)
        steepness = 1.0 / self.scale.celsius_per_heat(heat)
        shot = steepness * spots.shot_std_c
        places_mm, place = same_places(spots.points_mm)
        any_marks = bool(self.states.marks_known.any())
        if like is not None and any_marks == any(one.marks_known for one in like.rounds):
            priors = list(like.posterior.ranked[: tuning.LIKELY_NODES])
            looked = True
        else:
            newest = heat[spots.round == spots.round[-1]]
            priors = list(_priors(grill, median(newest.tolist()), self.states.openings[-1], any_marks))
            looked = not any_marks

        def fit(noise: FloatArray) -> Average[GratePrior]:
            """Fit with a noise variance, over that of the shots as claimed, for each spot."""
            parts = []
            for prior in priors:
                log_prior = prior.log_chance + spots.log_likelihood(prior.noise)
                parts.append(Conditioned(prior, sites, heat, prior.noise**2 * shot**2 + noise, log_prior))
            return Average(parts, tuning.LEFT_OUT)

        least = np.full(len(heat), tuning.LEAST_NOISE_C**2)
        while True:
            sites = self.states.of(
                spots.round,
                places_mm,
                place,
                minutes=spots.minutes,
                lid_drop_c=spots.lid_drop_c,
                place_std=steepness * spots.place_std_c,
            )
            self.posterior, blunder_chance = fit_robustly(
                fit, least, spots.trusted, chance=tuning.BLUNDER_CHANCE, std=tuning.BLUNDER_STD_C
            )
            if not looked:
                looked, as_told = True, priors
                priors = _likely_layouts(priors, self.posterior.likeliest, heat)
                if priors != as_told:
                    continue
            wrong = _contradicted(self.posterior, self.states.marks_known)
            if wrong is None:
                break
            self.states = replace(
                self.states, marks_known=self.states.marks_known & (np.arange(len(self.rounds)) != wrong)
            )
        self.blunder_chance = np.where(spots.left_out, 1.0, blunder_chance[spots.member])
        self.member = spots.member

    def surface(self, *numbers: int) -> RoundSurface:
        """Return the surface of a round at its median time; of several all points are asked in the first, and so on."""
        return RoundSurface(model=self, at=tuple(map(self._at, numbers)))

    def expected(self, marks: Mapping[str, float]) -> RoundSurface:
        """Return the surface that the newest round is expected to settle to under other marks, in still air."""
        return self.settled(self.response.openings(marks)[None])

    def settled(self, openings: FloatArray) -> RoundSurface:
        """Return the surface that the newest round would settle to at each of k sets of openings (k, burners)."""
        return RoundSurface(model=self, at=(len(self.rounds) - 1,), settled_at=openings)

    @property
    def response(self) -> Response:
        """The burners that can be set and where their heat lands, under the likeliest reach."""
        return self.posterior.likeliest.prior.response

    def leave_one_out(self) -> tuple[FloatArray, FloatArray]:
        """Return what all others say each spot should be, noise and all: mean and std, each (n,) [°C of rail]."""
        mean, std = self.posterior.leave_one_out()
        return self.celsius(mean[self.member], std[self.member])

    @cached_property
    def drifts_c_per_min(self) -> list[tuple[float, float] | None]:
        """How fast the whole grate rose (negative: fell) during each round and the standard deviation [°C/min], the lid
        apart; None where no times tell.
        """
        count = len(self.rounds)
        at, minutes = np.repeat(np.arange(count), 2), np.tile([0.0, 1.0], count)
        sites = self.states.of(at, self.states.places_mm, np.zeros_like(at), minutes=minutes)
        heat, covariance = self.posterior.joint(sites)
        slope, variance = self.scale.celsius_per_heat(heat[::2]), np.diag(covariance)
        variance = variance[::2] + variance[1::2] - 2.0 * np.diag(covariance, 1)[::2]
        told = slope * (heat[1::2] - heat[::2]), slope * np.sqrt(np.maximum(variance, 0.0))
        pairs = zip(self.rounds, *(each.tolist() for each in told), strict=True)
        return [(rise, std) if one.is_timed else None for one, rise, std in pairs]

    @property
    def minutes_of_change(self) -> float:
        """The minutes after which 90 % of a change has come, as the rounds tell."""
        rates = [None if drift is None else drift[0] for drift in self.drifts_c_per_min]
        return warm_up_minutes(self.rounds, rates, usual_minutes(self.response.burners))

    @property
    def layout_chances(self) -> dict[Layout, float]:
        """How likely the burners lie in each way."""
        chances = dict.fromkeys(Layout, 0.0)
        for part, weight in zip(self.posterior.parts, self.posterior.weights, strict=True):
            chances[part.prior.response.layout] += float(weight)
        return chances

    @property
    def layout(self) -> Layout:
        """The likeliest of the other layouts where the one told is nearly ruled out; else as told."""
        chances = self.layout_chances
        if chances.pop(Layout.AS_TOLD) >= 1.0 - tuning.LAYOUT_TOLD:
            return Layout.AS_TOLD
        return max(chances, key=chances.__getitem__)

    @property
    def contradicted(self) -> tuple[int, ...]:
        """The numbers of the rounds whose spots speak against the marks written down."""
        pairs = zip(self.rounds, self.states.marks_known.tolist(), strict=True)
        return tuple(one.number for one, believed in pairs if one.marks_known and not believed)

    def spots_of(self, number: int) -> slice:
        """Return where the spots of a round stand among those of all rounds."""
        at = self._at(number)
        start = sum(len(one.rail_c) for one in self.rounds[:at])
        return slice(start, start + len(self.rounds[at].rail_c))

    def _at(self, number: int) -> int:
        return next(at for at, one in enumerate(self.rounds) if one.number == number)

    def celsius(self, heat: FloatArray, std: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return mean and standard deviation on the scale of temperature, to first order about the mean."""
        return self.scale.celsius(heat), std * self.scale.celsius_per_heat(heat)

    def mean_c(self, sites: Sites) -> FloatArray:
        """Return the mean at m sites, (m,) [°C], without what takes most of the time: the covariance with all spots."""
        heat: FloatArray = np.zeros(len(sites))
        for part, weight in zip(self.posterior.parts, self.posterior.weights, strict=True):
            pull = part.basis @ (part.basis.T @ part.residual)
            heat += weight * (part.prior.mean(sites) + part.prior.weighted_covariance(sites, part.sites, pull))
        return self.scale.celsius(heat)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RoundSurface:
    """The noise-free surface of one round, or the one expected under other marks: true rail temperatures.

    Of several rounds or several sets of marks it is asked at all points of the first, then at all of the next, and so
    on: the m below are so many times as many.

    Attributes
    ----------
    model : GrateModel
    at : tuple of int
        Which of its rounds.
    settled_at : ndarray (k, burners) or None
        The openings it is expected to settle at; None for the round as it was at its median time.
    """

    model: GrateModel
    at: tuple[int, ...]
    settled_at: FloatArray | None = None

    @property
    def spots(self) -> RoundSpots:
        """The spots of the round."""
        return self.model.rounds[self.at[0]]

    def predict(self, points_mm: ArrayLike | Sites, minutes: FloatArray | float = 0.0) -> tuple[FloatArray, FloatArray]:
        """Return mean and own standard deviation at points (m, 2), some minutes after the median time, (m,) [°C]."""
        return self.model.celsius(*self.model.posterior.predict(self.sites(points_mm, minutes)))

    def mean(self, points_mm: ArrayLike) -> FloatArray:
        """Return the mean at points (m, 2), (m,) [°C]: the first half of :meth:`predict`."""
        return self.model.mean_c(self.sites(points_mm))

    def sample(self, points_mm: ArrayLike | Sites, count: int, random: np.random.Generator) -> FloatArray:
        """Return joint samples at points (m, 2), (count, m) [°C]."""
        return self.model.scale.celsius(self.heat_sample(points_mm, count, random))

    def heat_sample(self, points_mm: ArrayLike | Sites, count: int, random: np.random.Generator) -> FloatArray:
        """Return the same on the heat scale."""
        return self.model.posterior.sample(self.sites(points_mm), count, random)

    def joint(self, points_mm: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return mean (m,) [°C] and covariance (m, m) [°C²] of the surface at points (m, 2)."""
        heat, covariance = self.model.posterior.joint(self.sites(points_mm))
        slope = self.model.scale.celsius_per_heat(heat)
        return self.model.scale.celsius(heat), np.outer(slope, slope) * covariance

    def drift_c_per_min(self) -> tuple[float, float] | None:
        """Return how fast the whole grate rose during the round, as in :attr:`GrateModel.drifts_c_per_min`."""
        return self.model.drifts_c_per_min[self.at[0]]

    def lid_drop_c(self) -> float:
        """Return what had been lost by the median time because the lid was lifted (negative; an open one: 0) [°C]."""
        sites = self.sites(self.model.states.places_mm[[0, 0]])
        sites = replace(sites, lid_drop_c=sites.lid_drop_c * np.array([1.0, 0.0]))
        lifted_c, kept_c = self.model.mean_c(sites)
        return float(lifted_c - kept_c)

    def still_to_come_c(self, points_mm: ArrayLike | Sites) -> FloatArray:
        """Return by how much points (m, 2) rise until the last turn and what the lid cost have come, (m,) [°C]."""
        sites, model, spots = self.sites(points_mm), self.model, self.spots
        here = model.response.openings(spots.settings) if spots.marks_known else model.states.openings[self.at[0]]
        openings = np.broadcast_to(here, sites.openings.shape)
        settled = replace(sites, openings=openings, if_slower=0.0 * openings, lid_drop_c=0.0 * sites.lid_drop_c)
        now_c, then_c = (model.mean_c(each) for each in (sites, settled))
        return np.asarray(then_c - now_c)

    def sites(self, points_mm: ArrayLike | Sites, minutes: FloatArray | float = 0.0) -> Sites:
        """Return points as the model asks them; to be made once where the same are asked more than once."""
        if isinstance(points_mm, Sites):
            return points_mm
        points = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
        m, k = len(points), len(self.at if self.settled_at is None else self.settled_at)
        place = np.tile(np.arange(m), k)
        if self.settled_at is not None:
            return Sites(places_mm=points, place=place, openings=np.repeat(self.settled_at, m, axis=0))
        minutes = np.broadcast_to(minutes, m)
        lid_drop_c = np.concatenate([self.model.rounds[at].lid_drop_c(minutes) for at in self.at])
        return self.model.states.of(
            np.repeat(self.at, m), points, place, minutes=np.tile(minutes, k), lid_drop_c=lid_drop_c
        )


def _likely_layouts(priors: Sequence[GratePrior], best: Conditioned[GratePrior], heat: FloatArray) -> list[GratePrior]:
    """Return all nodes under each layout of the burners that makes the likeliest node about as likely as any does."""
    likeliest, told = best.prior.response, best.log_evidence
    responses = {prior.response for prior in priors}
    found = [(0.0, list(priors))]
    for layout, lines_mm in other_lines(likeliest.grate, likeliest.burners):
        moved = replace(best.prior, response=likeliest.laid(layout, lines_mm))
        gain = Conditioned(moved, best.sites, heat, best.noise_variance).log_evidence - told
        if gain > tuning.LAYOUT_GAIN:
            laid = {response: response.laid(layout, lines_mm) for response in responses}
            nodes = [replace(prior, response=laid[prior.response]) for prior in priors]
            found.append((gain + moved.log_chance, nodes))
    most = max(gain for gain, _ in found)
    return [prior for gain, nodes in found if gain > most - tuning.LAYOUT_BEHIND for prior in nodes]


def _contradicted(posterior: Average[GratePrior], believed: BoolArray) -> int | None:
    """Return the round whose spots speak most for a mark written down wrong, or None; under the likeliest node.

    A burner that was open by more or less than written adds its pattern, by an unknown amount, to that round alone. By
    how much that raises the evidence follows from the inverse of the covariance: Rasmussen and Williams (2006),
    equations A.9 and A.10, for one column.
    """
    best = posterior.likeliest
    if believed.sum() < 2 or not best.prior.response.burners:
        return None
    in_round = best.sites.round == np.flatnonzero(believed)[:, None]
    columns = tuning.WRONG_MARK_STD * best.prior.burner_columns(best.sites).T * in_round[:, None]
    columns = columns.reshape(-1, in_round.shape[1]) @ best.basis
    pulls, stretched = columns @ (best.basis.T @ best.residual), 1.0 + np.square(columns).sum(axis=1)
    gains = 0.5 * (np.square(pulls) / stretched - np.log(stretched))
    if gains.max() < -math.log(tuning.WRONG_MARK_CHANCE):
        return None
    return int(np.flatnonzero(believed)[int(np.argmax(gains)) // len(best.prior.response.burners)])


def _states(grill: Grill, rounds: tuple[RoundSpots, ...]) -> Sites:
    """Return how the grate stood in each round, as far as its marks and its times tell."""
    burners, count = grill.settable, len(rounds)
    marked = [one for one in rounds if one.marks_known]
    openings = np.zeros((count, len(burners)))
    for at, one in enumerate(rounds):
        # The marks of a round that are not known are taken as those of the nearest round: what is wrong with that is
        # in the round's own wide part.
        near = one if one.marks_known or not marked else min(marked, key=lambda other: abs(other.number - one.number))
        openings[at] = [burner.fraction(near.settings[burner.name]) if near.marks_known else 0.5 for burner in burners]
    usual = usual_minutes(burners)
    fast, come, slow = (come_openings(openings, rounds, usual * math.exp(by * USUAL_SPREAD)) for by in (-1, 0, 1))
    groups = list(dict.fromkeys(one.group for one in reversed(rounds)))
    return Sites(
        places_mm=np.array([grill.grate.extent_mm]) / 2.0,
        place=np.zeros(count, dtype=np.intp),
        openings=come,
        if_slower=0.5 * (slow - fast),
        round=np.arange(count),
        group=np.array([groups.index(one.group) for one in rounds]),
        marks_known=np.array([one.marks_known for one in rounds]),
    )


def _priors(grill: Grill, middle_heat: float, openings: FloatArray, any_marks: bool) -> Iterator[GratePrior]:
    """Yield the prior under each node of hyper-parameters."""
    if any_marks and grill.settable:
        base, length, field, round_c = tuning.BASE_C, tuning.LENGTH, tuning.FIELD_C, tuning.ROUND_C
    else:
        base, length, field = tuning.BARE_BASE_C, tuning.BARE_LENGTH, tuning.BARE_FIELD_C
        round_c = tuning.BARE_ROUND_C
    priors = (tuning.REACH_MM, length, base, tuning.OWN_SHARE, field, tuning.NOISE, tuning.PLACE)
    response_of = cache(partial(Response, grill, middle_heat, openings))  # few reaches are tried
    nodes = [(1.0, node) for node in spread_nodes(priors, tuning.NODES)]
    nodes += [(tuning.WIDE_TIMES, node) for node in spread_nodes(priors, tuning.WIDE_NODES)]
    for at, (wide, (reach, length_share, base_c, own_share, field_c, noise, place_noise)) in enumerate(nodes):
        response = response_of(reach)
        yield GratePrior(
            response=response,
            constant=0.0 if response.burners else middle_heat,
            length=length_share,
            base_c=wide * base_c,
            own_share=wide * own_share,
            field_c=wide * field_c,
            round_c=round_c,
            noise=noise,
            place_noise=place_noise,
            own_length_mm=tuning.OWN_LENGTH * reach if at % tuning.OWN_EVERY == 1 else None,
        )
