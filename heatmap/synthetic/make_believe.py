"""A make-believe grill: it heats, cools, is shot at and turned like a real one, and its truth can be looked up.

It is drawn at random, as varied as grills are; [C] marks common practice, no source.
"""

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from heatmap.errors import InputError
from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate, Point, Positions
from heatmap.grill.grill import Grill, TargetBand
from heatmap.physics.spot import rail_share, spot_diameter
from heatmap.readings.reading import Aim, Reading, Round
from heatmap.synthetic.heat_balance import Surroundings
from heatmap.synthetic.hidden import Hidden
from heatmap.units import ArrayLike, FloatArray, c_difference_from_f, c_from_f, c_from_k, f_from_c, k_from_c, mm_from_in

#: Longest step of the heat balance; see :meth:`heatmap.synthetic.heat_balance.Plate.advance_k`.
STEP_S = 20.0
#: Cells of the truth are about this wide; halving it moves no temperature by more than 2 K (tested).
CELL_MM = 25.4


class RehearsalGrill:
    """A make-believe grill with a clock. Unlike everything else in the library it changes as it is used.

    Attributes
    ----------
    grill : Grill
        The grill as its cook would describe it.
    hidden : Hidden
        The truth.
    start : mapping
        Marks it starts with.
    now : datetime
        Its clock.
    cells_mm, inside : ndarray, shape (m, 2) and (m,)
        Centres of the cells of the truth, and which should be in band (:meth:`heatmap.grill.grill.Grill.counts`).
    """

    def __init__(self, grill: Grill, hidden: Hidden, start: Mapping[str, float], random: np.random.Generator) -> None:
        """Begin settled at the marks it starts with."""
        self.grill, self.hidden, self.start, self.random = grill, hidden, start, random
        self.now = datetime(2024, 6, 1, 10, 0, tzinfo=UTC)
        self.session = "rehearsal"
        self.marks, self.held = dict(start), dict(start)
        self.lid = hidden.habit
        self.cells_mm = hidden.plate.cells_mm
        self.inside = grill.counts(self.cells_mm)
        self._wind = (0.0, (0.0, 0.0))
        self._next_id = 1
        self._compared: dict[tuple[float, ...], FloatArray] = {}
        self._kelvin = np.full((hidden.plate.rows, hidden.plate.columns), k_from_c(hidden.air_c))
        self.settle()
        self._steady_k = self._kelvin

    # what the cook does

    def turn(self, marks: Mapping[str, float]) -> None:
        """Set burners to these marks, which must be on their knobs; the hand misses them by a little."""
        for burner in self.grill.burners:
            mark = float(marks.get(burner.name, self.marks[burner.name]))
            if mark == self.marks[burner.name]:
                continue
            if not burner.low - 1e-9 <= mark <= burner.high + 1e-9:
                raise InputError(f'mark {mark:g} is not on burner "{burner.name}"; {burner.marks_text}')
            missed = self.random.normal(0.0, self.hidden.hand_miss_sd) * (burner.high - burner.low)
            self.marks[burner.name] = mark
            self.held[burner.name] = float(np.clip(mark + missed, burner.low, burner.high))

    def settle(self) -> None:
        """Wait until nothing changes any more (two hours); another wind comes up."""
        self._blow()
        self.now += timedelta(hours=2)
        self._delivered = self._shares(self.held)
        self._kelvin = self.hidden.plate.steady_k(self._heat(self._delivered), self._air, self._kelvin)

    def wait(self, minutes: float) -> None:
        """Let time pass; another wind comes up."""
        self._blow()
        self._pass(60.0 * minutes)

    def shoot(self, label: str, aim: Aim = "rail", *, number: int = 1, distance_mm: float | None = None) -> Reading:
        """Take one reading; time passes.

        Parameters
        ----------
        label : str
            Of a position.
        aim : {"rail", "valley", "patch", "contact"}
        number : int
            Number of the round.
        distance_mm : float, optional
            How far the gun is held, when not as usual.
        """
        point = self.grill.point_mm(label)
        seconds = self.hidden.seconds_per_contact if aim == "contact" else self.hidden.seconds_per_shot
        self._pass(seconds)
        if aim == "contact":
            shown_c = self.hidden.touched_c(float(self.truth_c([point])[0]), self.random)
        else:
            shown_c = self._seen_c(point, aim, distance_mm)
        reading = Reading(
            id=self._next_id,
            shown_c=self._displayed_c(shown_c),
            x_mm=point[0],
            y_mm=point[1],
            position=label,
            aim=aim,
            round=number,
            session=self.session,
            taken_at=self.now,
            lid=self.hidden.habit,
            distance_mm=distance_mm,
            knobs=dict(self.marks),
        )
        self._next_id += 1
        return reading

    def play_round(
        self, number: int, *, order: Sequence[str] = (), contact_at: str = "", close_up_mm: float | None = None
    ) -> Round:
        """Take a whole round: lift the lid where it was closed, shoot every position, close it again.

        Parameters
        ----------
        number : int
        order : sequence of str, optional
            Positions in the order they are shot; all of them, back row first, when not given.
        contact_at : str, optional
            A position where a contact reading is taken as well.
        close_up_mm : float, optional
            Beside every shot one on the rail and one between two rails are taken from this distance.
        """
        self.lid = "open"
        readings: list[Reading] = []
        for label in order or self.grill.labels:
            previous = readings[-1] if readings else None
            readings.append(self._maybe_blunder(self.shoot(label, number=number), previous))
            if close_up_mm is not None:
                readings += [
                    self.shoot(label, aim, number=number, distance_mm=close_up_mm) for aim in ("rail", "valley")
                ]
            if label == contact_at:
                readings.append(self.shoot(label, "contact", number=number))
        self.lid = self.hidden.habit
        return Round(number=number, session=self.session, readings=tuple(readings))

    # what only the rehearsal knows

    def truth_c(self, points_mm: ArrayLike) -> FloatArray:
        """Return the true rail temperature at points (n, 2) now [°C]."""
        return c_from_k(self._at(self._kelvin, np.asarray(points_mm, dtype=np.float64)))

    def steady_truth_c(self, marks: Mapping[str, float]) -> FloatArray:
        """Return the rail temperature of every cell these marks lead to in the day's mean wind [°C], shape (m,)."""
        heat, air = self._heat(self._shares(marks)), self.hidden.surroundings(self.hidden.habit)
        self._steady_k = self.hidden.plate.steady_k(heat, air, self._steady_k)  # the last one is a near guess
        return c_from_k(self._steady_k).ravel()

    def compared_c(self, marks: Mapping[str, float]) -> FloatArray:
        """Return the numbers that are held against the band, for every cell in the steady state [°C]."""
        key = tuple(float(marks[burner.name]) for burner in self.grill.burners)
        if key not in self._compared:
            rail_c = self.steady_truth_c(marks)
            self._compared[key] = self._in_numbers_of_the_band(rail_c, self._heat(self._shares(marks)).ravel())
        return self._compared[key]

    def compared_now_c(self, points_mm: ArrayLike) -> FloatArray:
        """Return the number held against the band at points (n, 2) now, but for the luck of a shot [°C]."""
        heat = self._at(self._heat(self._delivered), np.asarray(points_mm, dtype=np.float64))
        return self._in_numbers_of_the_band(self.truth_c(points_mm), heat)

    def _in_numbers_of_the_band(self, rail_c: FloatArray, heat_w_m2: FloatArray) -> FloatArray:
        if self.grill.target.numbers == "rail":
            return rail_c
        mean_share = np.full_like(rail_c, self.grill.grate.rail_top_mm / self.grill.grate.rail_pitch_mm)
        heat = heat_w_m2 / self.hidden.nominal_w_m2
        return self.hidden.gun.shown_c(self.grill, rail_c, np.zeros_like(rail_c), heat, mean_share)

    def share_in_band(self, marks: Mapping[str, float]) -> float:
        """Return the true share of area in band these marks lead to."""
        compared = self.compared_c(marks)[self.inside]
        target = self.grill.target
        return float(np.mean((compared >= target.low_c) & (compared <= target.high_c)))

    def best_reachable(self) -> tuple[dict[str, float], float]:
        """Return the settable marks with the largest true share in band, and that share.

        Looks at a coarse lattice of all marks, then turns one knob by up to three steps, or where that does not help
        two by one, from the three best until nothing helps. Area near the band counts a little, so that the search
        knows where to go from far off.
        """
        burners, target = self.grill.burners, self.grill.target
        settable = [burner.settable for burner in burners]
        few = 5 if len(settable) <= 4 else 3
        coarse = [np.unique(np.linspace(0, len(marks) - 1, few).round().astype(int)).tolist() for marks in settable]

        def marks_at(places: tuple[int, ...]) -> dict[str, float]:
            marked = zip(burners, settable, places, strict=True)
            return {burner.name: float(marks[at]) for burner, marks, at in marked}

        def ranked(places: tuple[int, ...]) -> tuple[float, tuple[int, ...]]:
            marks, half = marks_at(places), 0.5 * (target.high_c - target.low_c)
            off = np.abs(self.compared_c(marks)[self.inside] - target.middle_c)
            return self.share_in_band(marks) - 0.02 * float(np.mean(np.maximum(off - half, 0.0))) / half, places

        def climbed(best: tuple[int, ...]) -> tuple[int, ...]:
            for knobs, steps in ((1, 3), (2, 1)):
                better = max(_turns(best, [len(marks) for marks in settable], knobs, steps), key=ranked)
                if ranked(better)[0] > ranked(best)[0] + 1e-9:
                    return climbed(better)
            return best

        best = max(map(climbed, sorted(itertools.product(*coarse), key=ranked)[-3:]), key=ranked)
        return marks_at(best), self.share_in_band(marks_at(best))

    # inside

    @property
    def _air(self) -> Surroundings:
        return self.hidden.surroundings(self.lid, *self._wind)

    def _shares(self, marks: Mapping[str, float]) -> FloatArray:
        return self.hidden.heat_shares([burner.fraction(marks[burner.name]) for burner in self.grill.burners])

    def _heat(self, shares: FloatArray) -> FloatArray:
        """Return the heat into each cell from the heat share of each burner [W/m²]."""
        each = np.tensordot(shares, self.hidden.patterns, axes=1)
        return np.asarray(self.hidden.full_output_w_m2 * each / len(shares))

    def _pass(self, seconds: float) -> None:
        steps = max(1, int(np.ceil(seconds / STEP_S)))
        length, lag = seconds / steps, self.hidden.bars_lag_s
        wanted, air = self._shares(self.held), self._air
        for _ in range(steps):
            off = self._delivered - wanted
            mean = wanted + off * lag / length * -np.expm1(-length / lag)  # mean over the step, exact
            self._kelvin = self.hidden.plate.advance_k(self._kelvin, self._heat(mean), air, length)
            self._delivered = wanted + off * np.exp(-length / lag)
        self.now += timedelta(seconds=seconds)

    def _blow(self) -> None:
        """Draw another wind; the grate follows it as time passes."""
        gust, along_x, along_y = self.random.normal(0.0, 1.0, 3) * self.hidden.wind_round_sd
        self._wind = (float(gust), (float(along_x), float(along_y)))

    def _at(self, values: FloatArray, points_mm: FloatArray) -> FloatArray:
        """Return values of the cells at points, bilinear between centres, flat beyond the outermost."""
        from scipy.ndimage import map_coordinates

        plate = self.hidden.plate
        cells_mm = np.array([plate.depth_mm / plate.rows, plate.width_mm / plate.columns])
        rows_and_columns = points_mm[:, ::-1].T / cells_mm[:, None] - 0.5
        return np.asarray(map_coordinates(values, rows_and_columns, order=1, mode="nearest"))

    def _seen_c(self, point: tuple[float, float], aim: Aim, distance_mm: float | None) -> float:
        """Return what the gun shows for a shot that means the rail (or valley) nearest to a point."""
        gun, grate, view = self.grill.gun, self.grill.grate, self.hidden.gun
        distance = gun.distance_mm if distance_mm is None else distance_mm
        missed = self.random.normal(0.0, view.aim_sd_mm, 2) * distance / gun.distance_mm
        across = "xy".index(grate.seam_axis)
        half = 0.5 if aim == "valley" else 0.0
        pitches = np.round((point[across] - view.rail_phase_mm) / grate.rail_pitch_mm - half) + half
        off_mm = pitches * grate.rail_pitch_mm + missed[across]
        spot_mm = spot_diameter(distance, gun.distance_to_spot, gun.smallest_spot_mm)
        share = rail_share([off_mm], spot_mm, grate.rail_top_mm, grate.rail_pitch_mm)
        place = np.array([[point[0] + missed[0], point[1] + missed[1]]])
        heat = self._at(self._heat(self._delivered), place) / self.hidden.nominal_w_m2
        patch = self._at(view.patches, place)
        if aim == "patch":
            patch = np.full_like(patch, view.patch_emissivity - view.emissivity)
        shown = float(view.shown_c(self.grill, self.truth_c(place), patch, heat, share)[0])
        return shown * (1.0 + self.random.normal(0.0, view.repeatability_percent) / 100.0)

    def _displayed_c(self, shown_c: float) -> float:
        """Round to the display, in the units of the grill."""
        step = self.grill.gun.display_step_c
        zero_c = c_from_f(0.0) if self.grill.units == "us" else 0.0
        return round((shown_c - zero_c) / step) * step + zero_c if step else shown_c

    def _maybe_blunder(self, reading: Reading, previous: Reading | None) -> Reading:
        """Spoil a reading now and then: a shot through a gap, two digits swapped, the last number again."""
        if reading.shown_c is None or self.random.random() >= self.hidden.blunder_chance:
            return reading
        kind = self.random.integers(3)
        if kind == 0:
            wrong = reading.shown_c + self.random.choice([-1.0, 1.0]) * self.random.uniform(60.0, 150.0)
        elif kind == 1:
            digits = f"{round(f_from_c(reading.shown_c)):03d}"
            wrong = c_from_f(float(digits[0] + digits[2] + digits[1]))
        else:
            wrong = reading.shown_c if previous is None or previous.shown_c is None else previous.shown_c
        return replace(reading, shown_c=wrong)


def _turns(places: tuple[int, ...], sizes: Sequence[int], knobs: int, steps: int) -> Iterator[tuple[int, ...]]:
    """Yield every setting with that many knobs turned by up to so many steps, none of them beyond its ends."""
    for turned in itertools.combinations(range(len(places)), knobs):
        for by in itertools.product(range(-steps, steps + 1), repeat=knobs):
            moved = list(places)
            for at, step in zip(turned, by, strict=True):
                moved[at] = min(max(moved[at] + step, 0), sizes[at] - 1)
            yield tuple(moved)


def draw_grill(seed: int, *, numbers: str = "rail", cell_mm: float = CELL_MM) -> RehearsalGrill:
    """Draw a make-believe grill; the same seed gives the same grill and, used alike, the same readings.

    `numbers` is what the target band means, "rail" or "shown"; `cell_mm` the width of a cell of the truth.
    """
    random = np.random.default_rng([seed, 20240601])
    grill = _described(random, numbers)
    hidden = Hidden(random, grill, cell_mm)
    opening = random.uniform(0.3, 0.7)  # the cook begins with all marks alike, near half open
    start = {
        burner.name: float(min(burner.settable, key=lambda mark: abs(burner.fraction(mark) - opening)))
        for burner in grill.burners
    }
    return RehearsalGrill(grill=grill, hidden=hidden, start=start, random=np.random.default_rng([seed, 7]))


def _described(random: np.random.Generator, numbers: str) -> Grill:
    """Draw what the cook knows."""
    width, depth = (mm_from_in(float(random.choice(sizes))) for sizes in ([20, 24, 28, 32], [16, 18, 20]))
    burners = _burners(random, width, depth)
    columns = 5 if width > mm_from_in(29.0) else 4
    middle = c_from_f(float(random.uniform(500.0, 640.0)))  # searing of steaks [C]
    half = c_difference_from_f(25.0)  # the usual 50 °F wide band [C]
    lengthwise = random.random() < 0.7
    return Grill(
        name="make-believe",
        grate=Grate(width_mm=width, depth_mm=depth, rails="front-to-back" if lengthwise else "left-to-right"),
        positions=Positions(columns=columns),
        burners=burners,
        target=TargetBand(low_c=middle - half, high_c=middle + half, numbers="rail" if numbers == "rail" else "shown"),
    )


def _burners(random: np.random.Generator, width: float, depth: float) -> tuple[Burner, ...]:
    """Draw tubes front to back (most), tubes left to right, or two rings."""
    kind = random.choice(["tubes", "across", "rings"], p=[0.7, 0.2, 0.1])
    inset = mm_from_in(1.5)
    if kind == "tubes":
        count = int(random.choice([3, 4]) if width < mm_from_in(26.0) else random.choice([4, 5]))
        places = (np.arange(count) + 0.5) / count * width
        lines: list[tuple[Point, ...]] = [((float(x), inset), (float(x), depth - inset)) for x in places]
        names = ("left", "middle", "right") if count == 3 else tuple("abcde"[:count])
    elif kind == "across":
        count = int(random.choice([2, 3], p=[0.3, 0.7]))
        places = (np.arange(count) + 0.5) / count * depth
        lines = [((inset, float(y)), (width - inset, float(y))) for y in places]
        names = ("front", "back") if count == 2 else ("front", "middle", "back")
    else:
        radius = 0.18 * width
        lines = [Burner.ring((place * width, 0.5 * depth), radius) for place in (0.26, 0.74)]
        names = ("left", "right")
    return tuple(Burner(name=name, points_mm=tuple(line)) for name, line in zip(names, lines, strict=True))
