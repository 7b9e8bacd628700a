"""Where, when and under which marks: all that a spot, or a question about the surface, has to say to the prior."""

from dataclasses import dataclass, field
from typing import Any, Self

import numpy as np

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

    @property
    def points_mm(self) -> FloatArray:
        """Where each site is, (n, 2)."""
        return self.places_mm[self.place]
