"""Where, when and under which marks: all that a spot, or a question about the surface, has to say to the prior."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatmap.units import BoolArray, FloatArray, IntArray

#: The round of sites that stand for the grate as it is between rounds, in still air.
NO_ROUND = -1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sites:
    """n sites of noise-free or noisy temperatures.

    Attributes
    ----------
    places_mm : ndarray (p, 2)
        The different places.
    place : ndarray (n,) of int
        Which of them each site is at.
    openings : ndarray (n, burners)
        How far each burner is open, as far as its change has come.
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
    round: IntArray
    group: IntArray
    marks_known: BoolArray
    minutes: FloatArray
    lid_drop_c: FloatArray
    place_std: FloatArray

    @classmethod
    def at(
        cls,
        places_mm: FloatArray,
        place: IntArray,
        openings: FloatArray,
        *,
        round: IntArray | int = NO_ROUND,  # noqa: A002 - the name of the attribute
        group: IntArray | int = 0,
        marks_known: BoolArray | bool = True,
        minutes: FloatArray | float = 0.0,
        lid_drop_c: FloatArray | float = 0.0,
        place_std: FloatArray | float = 0.0,
    ) -> Sites:
        """Return sites at places, where one value may stand for all n; the rest as for the settled grate of now."""
        n = len(place)
        return cls(
            places_mm=places_mm,
            place=place,
            openings=np.broadcast_to(openings, (n, np.shape(openings)[-1])),
            round=np.broadcast_to(round, n),
            group=np.broadcast_to(group, n),
            marks_known=np.broadcast_to(marks_known, n),
            minutes=np.broadcast_to(minutes, n),
            lid_drop_c=np.broadcast_to(lid_drop_c, n),
            place_std=np.broadcast_to(place_std, n),
        )

    def __len__(self) -> int:
        """Return n."""
        return len(self.place)

    @property
    def points_mm(self) -> FloatArray:
        """Where each site is, (n, 2)."""
        return self.places_mm[self.place]
