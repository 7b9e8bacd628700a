"""The grill as the cook describes it: gun, target band, food, surroundings, and all of it with grate and burners.

Everything here is in mm and °C. The defaults are those of a common gas grill and a common gun: common practice, no
source, where no other is named; `gratemap grill check` prints which of them were taken.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any, Literal

from heatmap.errors import GrillError, ReadingError, quoted
from heatmap.grill.burner import Burner, burner_key
from heatmap.grill.grate import NO_METAL_BRIGHTER, Grate, Point, Positions, label_of, places_mm
from heatmap.grill.schema import Section, key
from heatmap.units import ArrayLike, BoolArray, Display, Units, inside_value

_LABEL = re.compile(r"([A-Za-z])(\d{1,3})", re.ASCII)
#: Two opposite corners, x0, y0, x1, y1.
Box = tuple[float, float, float, float]

#: Each with its own caution.
Meat = Literal["whole cut", "ground", "tenderised or injected"]

#: Every one is one more dial to search.
MOST_BURNERS = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Gun(Section, table="gun"):
    """The infrared gun as its data sheet and its settings describe it.

    Attributes
    ----------
    emissivity_setting : float
    distance_to_spot : float
        12 for "12:1".
    smallest_spot_mm, distance_mm, aim_sd_mm : float
        The spot never gets smaller than `smallest_spot_mm`; `distance_mm` is where it is held; `aim_sd_mm` is
        the standard deviation of the aim there.
    display_step_c, accuracy_c, accuracy_percent, repeatability_percent : float
        Accuracy is the larger of the two limits; percent are of the °C reading.
    own_temperature_c : float, "air" or "none"
        What the gun assumes is reflected; "none" for a gun that adds no reflection term.
    """

    emissivity_setting: float = key("number", 0.01, 1.0, default=0.95, reason="no gun can be set lower or higher")
    distance_to_spot: float = key("number", 1.0, 500.0, default=12.0, comment="12 for 12:1")
    smallest_spot_mm: float = key("length", 0.1, 500.0, default=12.7, comment="never smaller than this, however close")
    distance_mm: float = key("length", 10.0, 5000.0, default=12 * 25.4, comment="how far from the rails you hold it")
    display_step_c: float = key("difference", 0.0, 20.0, default=1 / 1.8)
    accuracy_percent: float = key("number", 0.0, 20.0, default=2.0, comment="of the °C reading; the larger of the two")
    accuracy_c: float = key("difference", 0.0, 50.0, default=4 / 1.8)
    repeatability_percent: float = key("number", 0.0, 20.0, default=0.5)
    aim_sd_mm: float = key("length", 0.0, 300.0, default=0.4 * 25.4, comment="how well you aim, at that distance")
    own_temperature_c: float | Literal["air", "none"] = key(
        "temperature", -40.0, 100.0, default="air", comment='"none": it adds no reflection'
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe(Section, table="probe"):
    """The surface probe of contact readings: its accuracy limit and its one-sided tendency to read low."""

    accuracy_c: float = key("difference", 0.0, 50.0, default=4 / 1.8)
    reads_low_c: float = key("difference", 0.0, 100.0, default=5 / 1.8, comment="what it misses on a narrow rail")


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch(Section, table="patch"):
    """The reference patch: a spot of known emissivity on a rail."""

    emissivity: float = key("number", 0.01, 1.0, default=0.95, reason=NO_METAL_BRIGHTER)
    emissivity_sd: float = key("number", 0.0, 0.5, default=0.02)


#: The parts of a grate that have a name, as shares of its width and depth.
ZONES: dict[str, Box] = {"all": (0.0, 0.0, 1.0, 1.0)}
for _size, _share in (("half", 0.5), ("third", 1.0 / 3.0), ("two thirds", 2.0 / 3.0)):
    ZONES |= {f"left {_size}": (0.0, 0.0, _share, 1.0), f"right {_size}": (1.0 - _share, 0.0, 1.0, 1.0)}
    ZONES |= {f"front {_size}": (0.0, 0.0, 1.0, _share), f"back {_size}": (0.0, 1.0 - _share, 1.0, 1.0)}


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetBand(Section, table="target"):
    """The band the rails should be in, asked for and never assumed.

    Attributes
    ----------
    low_c, high_c : float
    numbers : {"shown", "rail"}
        The band as this gun shows it, or as the rail is.
    day_sd_c : float
        Standard deviation of how what the gun shows changes from day to day.
    zone : str or (x0, y0, x1, y1)
        The part that should be in band: a name of :data:`ZONES`, or two opposite corners in mm.
    """

    low_c: float = key("temperature", -20.0, 800.0)
    high_c: float = key("temperature", -20.0, 800.0)
    numbers: Literal["shown", "rail"] = key(default="shown", comment='as your gun shows it, or as the "rail" is')
    day_sd_c: float = key("difference", 0.0, 100.0, default=8 / 1.8, comment="how much the gun differs from day to day")
    zone: str | Box = key(
        "length",
        -5000.0,
        5000.0,
        words=tuple(ZONES),
        parts=("x0", "y0", "x1", "y1"),
        default="all",
        comment='the part that should be in band: "left half", "back third", [x0, y0, x1, y1]',
    )

    def faults(self) -> Iterator[GrillError]:
        """Yield what does not fit together."""
        if self.low_c >= self.high_c:
            yield self.too_large("low", self.high_c, "target.high: the band is upside down or empty")

    @property
    def middle_c(self) -> float:
        """Middle of the band in °C."""
        return 0.5 * (self.low_c + self.high_c)


@dataclass(frozen=True, slots=True, kw_only=True)
class Food(Section, table="food"):
    """What goes on, as far as it was said.

    Attributes
    ----------
    size_mm : (float, float) or None
        Along the heading and across it.
    headings : tuple of float or None
        By the clock, 12 straight away from the cook; one, or two for crossed marks; empty where any will do.
    turns : int or None
        How often it is set down.
    thickness_mm, start_c, target_c : float or None
        Thickness; centre when it goes on; highest centre wanted in the rest.
    cooker_c : float, "none" or None
        The low oven it comes straight out of.
    meat : str or None
        Decides the cautions.
    sides : {"AABB", "ABAB"} or None
        Which side is down at each turn: one and then the other, or flipped every time.
    """

    size_mm: Point | None = key(
        "length",
        25.4,
        1016.0,
        parts=("along", "across"),
        default=None,
        comment="along the heading, across it",
        reason="it is in the unit of the grill file, such as 7.5x5 in, 190x125 mm",
    )
    headings: tuple[float, ...] | None = key(
        "number",
        1.0,
        12.99,
        many=True,
        most=2,
        default=None,
        comment="by the clock, 12 straight away from you",
        reason="an hour of the clock, or two for crossed marks",
    )
    turns: int | None = key("count", 1, 12, default=None)
    thickness_mm: float | None = key("length", 1.0, 300.0, default=None)
    start_c: float | None = key("temperature", -30.0, 100.0, default=None, comment="centre when it goes on")
    target_c: float | None = key("temperature", 20.0, 100.0, default=None, comment="highest centre wanted in the rest")
    cooker_c: float | Literal["none"] | None = key(
        "temperature", -30.0, 300.0, default=None, comment="the low oven it comes out of"
    )
    meat: Meat | None = key(default=None)
    sides: Literal["AABB", "ABAB"] | None = key(
        default=None, comment='which is down at each turn; "ABAB": flipped every time'
    )

    @property
    def is_told(self) -> bool:
        """Whether anything was said."""
        return self != Food()


_USUAL: dict[str, Any] = {"headings": (2.0, 10.0), "turns": 4, "cooker_c": 135.0, "meat": "whole cut", "sides": "AABB"}
#: The usual rib eye, out of a low oven and set down for crossed marks on both sides (common practice, no source): 7.5 x
#: 5 x 1.25 in and 110 °F, or in round millimetres and °C. Which peak of its centre is wanted is never assumed.
USUAL_FOOD: dict[Units, Food] = {
    "us": Food(size_mm=(190.5, 127.0), thickness_mm=31.75, start_c=78 / 1.8, **_USUAL),
    "si": Food(size_mm=(190.0, 125.0), thickness_mm=32.0, start_c=43.0, **_USUAL),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings(Section, table="surroundings"):
    """Air temperature and what the rails mirror: open sky, or a hot lid."""

    air_c: float = key("temperature", -60.0, 100.0, default=(75 - 32) / 1.8)
    reflected_c: float = key("temperature", -60.0, 600.0, default=(75 - 32) / 1.8, comment="what the rails mirror")
    reflected_sd_c: float = key("difference", 0.0, 300.0, default=20 / 1.8)


@dataclass(frozen=True, slots=True, kw_only=True)
class Grill(Section):
    """Everything the cook knows about the grill before the first shot.

    `assumed` lists, in words, every default that was taken because the description is silent.
    """

    grate: Grate
    target: TargetBand
    units: Units = key(default="us", reason="°F and inches, or °C and mm")
    name: str = key(default="")
    positions: Positions = field(default_factory=Positions)
    burners: tuple[Burner, ...] = ()
    gun: Gun = field(default_factory=Gun)
    probe: Probe = field(default_factory=Probe)
    patch: Patch = field(default_factory=Patch)
    food: Food = field(default_factory=Food)
    surroundings: Surroundings = field(default_factory=Surroundings)
    assumed: tuple[str, ...] = ()

    def faults(self) -> Iterator[GrillError]:
        """Yield what does not fit together."""
        half_mm = 0.5 * min(self.grate.extent_mm)
        if self.positions.margin_mm >= half_mm:
            yield self.positions.too_large("margin", half_mm, "half the shorter side of the grate")
        x0, y0, x1, y1 = self.zone_mm
        if not (max(x0, 0.0) < min(x1, self.grate.width_mm) and max(y0, 0.0) < min(y1, self.grate.depth_mm)):
            yield GrillError("target.zone holds nothing of the grate; give two opposite corners on it")
        if len(self.burners) > MOST_BURNERS:
            yield GrillError(f"there are {len(self.burners)} burners; at most {MOST_BURNERS} can be told apart")
        names = [burner_key(burner.name) for burner in self.burners]
        for name in dict.fromkeys(names):
            if names.count(name) > 1:
                yield GrillError(f'burner "{name}" is there twice; give each burner a name of its own')

    @property
    def valley(self) -> Literal["floor", "open"]:
        """What lies between the rails: given, or open over coals, else a floor (common practice, no source)."""
        coals = bool(self.burners) and all(burner.control in ("vents", "none") for burner in self.burners)
        return self.grate.valley or ("open" if coals else "floor")

    @property
    def gun_own_c(self) -> float | None:
        """What the gun takes as reflected, °C; None for a gun that adds no reflection term."""
        own = self.gun.own_temperature_c
        return own if not isinstance(own, str) else self.surroundings.air_c if own == "air" else None

    @property
    def grid(self) -> tuple[tuple[str, ...], ...]:
        """The labels by row, back row first, left to right; "" where a round grate has no position."""
        places = places_mm(self.grate, self.positions)
        rows, columns = range(self.positions.rows), range(self.positions.columns)
        named = [[label_of(row, column) for column in columns] for row in rows]
        return tuple(tuple(label if label in places else "" for label in row) for row in named)

    @property
    def labels(self) -> tuple[str, ...]:
        """Every position label, back row first, left to right: A1, A2, …"""
        return tuple(places_mm(self.grate, self.positions))

    def label(self, text: str) -> str:
        """Return a position's label as we write it: "b03" is B3.

        Raises
        ------
        ReadingError
            When there is no such position on this grate.
        """
        found = _LABEL.fullmatch(text.strip())
        label = f"{found[1].upper()}{int(found[2])}" if found else ""
        if label not in places_mm(self.grate, self.positions):
            raise ReadingError(f"position {quoted(label or text)} is not on this grate; {self.positions_text}")
        return label

    def point_mm(self, label: str) -> Point:
        """Return where a labelled position lies; a ReadingError where :meth:`label` raises one."""
        return places_mm(self.grate, self.positions)[self.label(label)]

    @property
    def positions_text(self) -> str:
        """What positions there are, in words."""
        if not self.grate.is_round:
            return f"positions go from A1 (back left) to {self.labels[-1]}"
        ends = [[label for label in row if label] for row in self.grid]
        return "positions are " + ", ".join(one[0] if len(one) == 1 else f"{one[0]} to {one[-1]}" for one in ends)

    @property
    def zone_mm(self) -> Box:
        """Two opposite corners of the part that should be in band: low x and y, then high."""
        zone, (width, depth) = self.target.zone, self.grate.extent_mm
        if isinstance(zone, str):
            x0, y0, x1, y1 = ZONES[zone]
            return (x0 * width, y0 * depth, x1 * width, y1 * depth)
        return (min(zone[0], zone[2]), min(zone[1], zone[3]), max(zone[0], zone[2]), max(zone[1], zone[3]))

    def in_zone(self, points_mm: ArrayLike) -> BoolArray:
        """Tell which points (m, 2) lie in the zone, edge included, (m,)."""
        import numpy as np

        points, box = np.asarray(points_mm, dtype=float).reshape(-1, 2), np.array(self.zone_mm)
        return np.asarray(((points >= box[:2] - 1e-6) & (points <= box[2:] + 1e-6)).all(axis=1))

    def counts(self, points_mm: ArrayLike) -> BoolArray:
        """Tell which points (m, 2) should be in band: on the grate, inside its rim, in the zone, (m,).

        Where that is none of them, the rim counts as well; where the zone holds none, all of the grate does.
        """
        edge_mm = self.grate.edge_distance_mm(points_mm)
        in_zone, inside, on = self.in_zone(points_mm), edge_mm >= self.grate.rim_mm - 1e-9, edge_mm >= -1e-9
        return next((mask for mask in (inside & in_zone, on & in_zone, inside) if mask.any()), on)

    @property
    def settable(self) -> tuple[Burner, ...]:
        """The burners that have a knob, a setpoint or vents."""
        return tuple(burner for burner in self.burners if burner.control != "none")

    def burner(self, name: str) -> Burner:
        """Return the burner of this name; case-free, underscores count as spaces.

        Raises
        ------
        ReadingError
            When there is no such burner.
        """
        found = {burner_key(burner.name): burner for burner in self.burners}.get(burner_key(name))
        if found is None:
            raise ReadingError(f'there is no burner "{name}"; {self.burners_text}')
        return found

    @property
    def burners_text(self) -> str:
        """What burners there are, in words."""
        return f"burners are: {', '.join(burner.name for burner in self.burners) or 'none in the grill file'}"

    @property
    def piece(self) -> Food:
        """The food; what was not said of it is as is usual."""
        said = {item.name: getattr(self.food, item.name) for item in fields(Food)}
        return replace(USUAL_FOOD[self.units], **{name: value for name, value in said.items() if value is not None})

    @property
    def display(self) -> Display:
        """How this grill's numbers are shown."""
        return Display(self.units)

    def temperature(self, shown: float) -> float:
        """Turn a temperature the cook wrote in this grill's units into °C."""
        return inside_value(shown, "temperature", self.units)

    def complete_settings(self, settings: Mapping[str, float]) -> bool:
        """Tell whether every burner that can be set has a known mark."""
        return all(burner.name in settings for burner in self.settable)


#: The tables of a grill file that are there once, in its order.
SECTIONS: dict[str, type[Section]] = {
    section.table: section for section in (Grate, Positions, Gun, Probe, Patch, TargetBand, Food, Surroundings)
}
