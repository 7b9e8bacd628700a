"""What a report can hold besides the map: plain values, filled in by whoever has them; what is missing is left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from heatmap.assess import Assessment

if TYPE_CHECKING:
    from heatmap.pictures import Outline, SearLine


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison:
    """An earlier round beside this one.

    Attributes
    ----------
    before : Assessment
    answer : str
        Whether the grate became more even, in a sentence.
    """

    before: Assessment
    answer: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceRow:
    """One place to set the food down, best first.

    Attributes
    ----------
    outline : Outline
        Its label is the number of the place.
    where : str
        Such as "front left".
    mean_c, std_within_c : float
        Mean under the food and how much it varies there [°C].
    chance_in_band : float
    """

    outline: Outline
    where: str
    mean_c: float
    std_within_c: float
    chance_in_band: float


class SensitivityLike(Protocol):
    """What a change of one thing is worth; see :class:`heatmap.sear.Sensitivity`."""

    @property
    def of(self) -> str:
        """What changes: "rails", "thickness" or "start"."""

    @property
    def step(self) -> float:
        """How much, in `unit`."""

    @property
    def unit(self) -> str:
        """The unit: "°C" or "mm"."""

    @property
    def more_s(self) -> float:
        """Seconds to add when it is that much more."""

    @property
    def less_s(self) -> float:
        """Seconds to add when it is that much less."""


class SearPlanLike(Protocol):
    """A plan for the sear; see :class:`heatmap.sear.SearPlan`."""

    @property
    def seconds_per_turn(self) -> float:
        """Seconds of each turn."""

    @property
    def seconds_low(self) -> float:
        """Lower end of its 90 % interval."""

    @property
    def seconds_high(self) -> float:
        """Upper end of its 90 % interval."""

    @property
    def turns(self) -> int:
        """How many turns."""

    @property
    def pull_centre_c(self) -> float:
        """Centre when the food leaves the grate [°C]."""

    @property
    def peak_centre_c(self) -> float:
        """Highest centre in the rest [°C]."""

    @property
    def peak_low_c(self) -> float:
        """Lower end of its 90 % interval [°C]."""

    @property
    def peak_high_c(self) -> float:
        """Upper end of its 90 % interval [°C]."""

    @property
    def sensitivities(self) -> Sequence[SensitivityLike]:
        """What changes are worth."""

    @property
    def assumptions(self) -> Sequence[str]:
        """Plain sentences."""

    @property
    def cautions(self) -> Sequence[str]:
        """Plain sentences."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SearSection:
    """The sear: its plan and, for the picture, lines of seconds against rail temperature.

    Attributes
    ----------
    plan : SearPlanLike
    food : str
        What is seared, such as "steak, 1.25 in, from 38 °F"; may be empty.
    lines : sequence of SearLine
        May be empty: then there is no picture.
    rail_c, rail_std_c : float or None
        Rail temperature where the food goes and its standard deviation [°C].
    """

    plan: SearPlanLike
    food: str = ""
    lines: Sequence[SearLine] = ()
    rail_c: float | None = None
    rail_std_c: float | None = None
