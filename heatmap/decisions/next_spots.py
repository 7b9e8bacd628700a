"""Which positions to shoot next: those where one more reading is expected to change the answer most.

The answer is which parts of the grate are too cold, in band or too hot. Where the surface is surely in band a wide
spread does no harm; where it stands at the edge of the band a small one does. So positions are ranked by how much
one more reading there is expected to raise the chance that places are named rightly, averaged over the area.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from heatmap.assessment import Assessment
from heatmap.decisions.fitting import share_chance
from heatmap.decisions.tuning import HANGS_ON_UNSHOT, HARDLY, MOST_SHOTS, SHOTS_SETTLE
from heatmap.grill.grill import Grill
from heatmap.taking.walk import walk_order
from heatmap.units import BoolArray, FloatArray
from heatmap.verdict.chances import Word, chance_arrays, chances

#: Nodes and weights for the mean over a standard normal number: evenly spaced, because the chance of naming a place
#: rightly has kinks and dips that Gauss-Hermite nodes step over (9 of those are off by up to 0.03, these by 0.003).
_NODES = np.linspace(-3.6, 3.6, 37)
_WEIGHTS = np.exp(-0.5 * _NODES**2) / np.exp(-0.5 * _NODES**2).sum()

#: Outcomes of shots that are tried, samples of what each leaves open, and quantiles of the level for each.
_OUTCOMES, _LEFT_OPEN, _FEW_LEVELS = 40, 60, 11


@dataclass(frozen=True, slots=True, kw_only=True)
class NextSpot:
    """A position worth shooting.

    Attributes
    ----------
    position : str
    gain : float
        Expected rise of the share of the area that is named rightly (too cold, in band, too hot).
    chances : mapping
        Of what it may be there, by word.
    shots : int
        How often it was shot.
    """

    position: str
    gain: float
    chances: Mapping[Word, float]
    shots: int


def expected_right_share(
    mean_c: FloatArray, variance_c2: FloatArray, learned_c2: FloatArray, level_std_c: float, low_c: float, high_c: float
) -> FloatArray:
    """Return the chance of naming places rightly that is expected after more readings.

    Parameters
    ----------
    mean_c, variance_c2 : ndarray, shape (m,)
        Now, at m places: mean and own variance of the number held against the band.
    learned_c2 : ndarray, shape (..., m)
        How much of that variance the readings take away.
    level_std_c : float
        What moves all places together and no shot can take away.
    low_c, high_c : float
        The band.

    Returns
    -------
    ndarray, shape (..., m)

    Notes
    -----
    Before they are taken, readings that leave the variance V - R move the mean by a normal number of variance R; the
    chance is averaged over it.
    """
    left_std_c = np.sqrt(np.maximum(variance_c2 - learned_c2, 0.0) + level_std_c**2)
    moved_c = mean_c + np.sqrt(np.maximum(learned_c2, 0.0)) * _NODES.reshape(-1, *[1] * learned_c2.ndim)
    right = np.max(chance_arrays(moved_c, left_std_c, low_c, high_c), axis=0)  # each is called what it most likely is
    return np.asarray(np.tensordot(_WEIGHTS, right, axes=1))


def one_more_variance(shot_std_c: float, place_std_c: float, before: int) -> float:
    """Return the variance of the independent reading that one more shot at a place is worth.

    Parameters
    ----------
    shot_std_c, place_std_c : float
        What is new with every shot, and what repeats at one place have in common.
    before : int
        How many shots the place has had.

    Notes
    -----
    k shots know their place to s²/k + p²; the difference in information from k to k + 1 is what one more adds.
    """
    then = shot_std_c**2 / (before + 1) + place_std_c**2
    known = 1.0 / (shot_std_c**2 / before + place_std_c**2) if before else 0.0
    return 1.0 / max(1.0 / then - known, 1e-12)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stakes:
    """What hangs on further shots: the surface at the labelled positions and over the area, and a shot's noise.

    Attributes
    ----------
    grill : Grill
    mean_c : ndarray, shape (m,)
        The number held against the band at the k positions that can be shot, then at other places that count.
    covariance_c2 : ndarray, shape (m, m)
        Its own covariance.
    noise_c2 : ndarray, shape (k,)
        Variance of one more reading at each position about the surface.
    shots : Counter
        How often each position was shot, by its label.
    asked_for : ndarray of bool, shape (m,)
        Which of the places lie in the zone that should be in band.
    level_std_c : float
        What moves all places together and no shot takes away.
    """

    grill: Grill
    mean_c: FloatArray
    covariance_c2: FloatArray
    noise_c2: FloatArray
    shots: Counter[str]
    asked_for: BoolArray
    level_std_c: float

    @classmethod
    def of(cls, assessment: Assessment, *areas_mm: FloatArray) -> Stakes:
        """Gather them from a map; without places (m, 2) that stand for an area only the labelled positions count."""
        grill, calibration = assessment.grill, assessment.calibration
        places_mm = np.concatenate([assessment.labels_mm, *areas_mm])
        mean_rail_c, covariance_c2 = assessment.surface.joint(places_mm)
        slope = calibration.compared_slope(float(np.mean(mean_rail_c)))
        kept = assessment.kept_spots
        usual = kept or [spot for spot in assessment.corrected if spot.reading.aim == "rail"]
        shot_std_c, place_std_c = np.median([(one.shot_std_c, one.place_std_c) for one in usual], axis=0).tolist()
        shots = Counter(spot.reading.position for spot in kept)
        noise_c2 = [one_more_variance(shot_std_c, place_std_c, shots[label]) for label in grill.labels]
        in_zone = grill.in_zone(places_mm)
        return cls(
            grill=grill,
            mean_c=calibration.compared_c(mean_rail_c),
            covariance_c2=slope**2 * covariance_c2,
            noise_c2=slope**2 * np.array(noise_c2),
            shots=shots,
            asked_for=in_zone if in_zone.any() else ~in_zone,  # all of them where none lies in it
            level_std_c=assessment.level_std_c,
        )

    def _right_share(self, learned_c2: FloatArray | float = 0.0) -> FloatArray:
        """Return the share of the places asked for that is named rightly once so much (…, m) of their variance is taken
        away, (…,).
        """
        variance, target = np.diag(self.covariance_c2), self.grill.target
        learned_c2 = np.minimum(learned_c2, variance)
        named = expected_right_share(self.mean_c, variance, learned_c2, self.level_std_c, target.low_c, target.high_c)
        return np.asarray(named[..., self.asked_for].mean(axis=-1))

    def chosen(self, count: int, first: Sequence[int] = ()) -> list[tuple[int, float]]:
        """Choose positions one after the other, each the best with those before it already shot; `first` before all.

        Returns the index of each, and the expected rise of the mean chance of naming a place rightly that it adds.
        """
        left, now = self.covariance_c2.copy(), float(self._right_share())
        open_spots = list(range(len(self.noise_c2)))
        chosen: list[tuple[int, float]] = []
        while open_spots and len(chosen) < count:
            scale = left[open_spots, open_spots] + self.noise_c2[open_spots]
            taken = left[open_spots] ** 2 / scale[:, None]
            share = self._right_share(np.diag(self.covariance_c2) - np.diag(left) + taken)
            best = int(np.argmax(share)) if len(chosen) >= len(first) else open_spots.index(first[len(chosen)])
            spot = open_spots.pop(best)
            chosen.append((spot, float(share[best]) - now))
            now = float(share[best])
            left -= np.outer(left[spot], left[spot]) / scale[best]
        return chosen

    def best(self, count: int, first: Sequence[str] = ()) -> tuple[NextSpot, ...]:
        """Rank the labelled positions, those that come `first` before all; each as if those before it were shot too."""
        labels, target = self.grill.labels, self.grill.target
        std_c = np.hypot(np.sqrt(np.maximum(np.diag(self.covariance_c2), 0.0)), self.level_std_c)
        here = [chances(*one, target.low_c, target.high_c) for one in zip(self.mean_c, std_c, strict=True)]
        return tuple(
            NextSpot(position=labels[at], gain=gain, chances=here[at], shots=self.shots[labels[at]])
            for at, gain in self.chosen(count, [labels.index(label) for label in first])
        )

    def learned(self, shot: Sequence[int]) -> FloatArray:
        """Return R, (k, m), where shots at k positions take Rᵀ R off the covariance; a unit normal number each moves
        the mean along its rows.
        """
        noisy = self.covariance_c2[np.ix_(shot, shot)] + np.diag(self.noise_c2[shot])
        return np.asarray(np.linalg.solve(np.linalg.cholesky(noisy), self.covariance_c2[shot]))

    def gain_of_the_rest(self) -> float:
        """Return the expected rise of the share named rightly when every position not shot yet is shot."""
        rest = [index for index, label in enumerate(self.grill.labels) if not self.shots[label]]
        if not rest:
            return 0.0
        return float(self._right_share((self.learned(rest) ** 2).sum(axis=0)) - self._right_share())


def next_spots(assessment: Assessment, count: int = 3, first: Sequence[str] = ()) -> tuple[NextSpot, ...]:
    """Rank the labelled positions by what one more reading there is expected to change.

    Parameters
    ----------
    assessment : Assessment
    count : int
        How many to return, best first; each is ranked as if those before it were shot too.
    first : sequence of str
        Positions that are asked for anyway, and come before all others.
    """
    return Stakes.of(assessment, _area_points_mm(assessment.grill)).best(count, first)


def settling_shots(
    assessment: Assessment, points_mm: FloatArray, weights: FloatArray, least_share: float, at_least: float
) -> tuple[str, ...]:
    """Return the fewest positions that make it likely, once shot, that an area is called in band; none where no
    :data:`heatmap.decisions.tuning.MOST_SHOTS` do.

    Parameters
    ----------
    assessment : Assessment
    points_mm, weights : ndarray, shape (m, 2) and (m,)
        Places that stand for the area, and the parts of it.
    least_share : float
        The share of the area that has to be in band.
    at_least : float
        The chance that has to be reached.

    Notes
    -----
    The surface is normal, so shots leave a covariance that is known before they are taken and move the mean by a
    normal number; the chance that the share is reached is worked out for some of those.
    """
    stakes = Stakes.of(assessment, points_mm)
    chosen = [index for index, _ in stakes.chosen(MOST_SHOTS)]
    area = slice(len(assessment.grill.labels), None)
    random = np.random.default_rng(assessment.round.number)
    moves, rest = random.normal(size=(_OUTCOMES, MOST_SHOTS)), random.normal(size=(_LEFT_OPEN, len(points_mm)))
    covariance, band_c = stakes.covariance_c2[area, area], assessment.settling_band_c
    for count in range(1, len(chosen) + 1):
        shot = chosen[:count]
        learned = stakes.learned(shot)[:, area]
        left, axes = np.linalg.eigh(covariance - learned.T @ learned)
        open_c = (rest * np.sqrt(np.maximum(left, 0.0))) @ axes.T
        means_c = stakes.mean_c[area] + moves[:, :count] @ learned
        reached = [
            share_chance(mean_c + open_c, weights, stakes.level_std_c, band_c, least_share, _FEW_LEVELS)
            for mean_c in means_c
        ]
        if np.mean(np.array(reached) >= at_least) >= SHOTS_SETTLE:
            return tuple(assessment.grill.labels[index] for index in shot)
    return ()


def unshot_positions(assessment: Assessment) -> tuple[str, ...]:
    """Return the positions nobody has shot in the round on which the map hangs; none where not enough of it does.

    A re-check stands on the shape of an earlier round, so that nothing is missing in it.
    """
    if assessment.shape_from is not None:
        return ()
    found = [spot for spot in next_spots(assessment, MOST_SHOTS) if not spot.shots and spot.gain >= HARDLY]
    return tuple(spot.position for spot in found) if sum(spot.gain for spot in found) >= HANGS_ON_UNSHOT else ()


def first_labels(grill: Grill, shot: Sequence[str], count: int) -> tuple[str, ...]:
    """Return where to shoot while there are too few readings for a map: the centre, the corners, and so on."""
    return tuple(label for label in walk_order(grill) if label not in set(shot))[:count]


def _area_points_mm(grill: Grill) -> FloatArray:
    """Return places all over the grate inside its rim, about two for each gap between positions."""
    rim_mm, extent_mm = grill.grate.rim_mm, np.array(grill.grate.extent_mm)
    counts = np.minimum([2 * grill.positions.columns, 2 * grill.positions.rows], [16, 12])
    middles = np.argwhere(np.ones(counts[::-1]))[:, ::-1] + 0.5
    points_mm = rim_mm + middles * (extent_mm - 2.0 * rim_mm) / counts
    return np.asarray(points_mm[grill.counts(points_mm)])
