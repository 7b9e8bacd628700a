"""Draw a make-believe grill at random, as varied as grills are; [C] marks common practice, no source."""

import numpy as np

from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate, Point, Positions
from heatmap.grill.grill import Grill, TargetBand
from heatmap.synthetic.hidden import Hidden
from heatmap.synthetic.make_believe import RehearsalGrill
from heatmap.units import c_difference_from_f, c_from_f, mm_from_in

#: Cells of the truth are about this wide; halving it moves no temperature by more than 2 K (tested).
CELL_MM = 25.4


def draw_grill(seed: int, *, numbers: str = "rail", cell_mm: float = CELL_MM) -> RehearsalGrill:
    """Draw a make-believe grill; the same seed gives the same grill and, used alike, the same readings.

    `numbers` is what the target band means, "rail" or "shown"; `cell_mm` the width of a cell of the truth.
    """
    random = np.random.default_rng([seed, 20240601])
    grill = _described(random, numbers)
    hidden = Hidden(random, grill, cell_mm)
    start = _start_marks(random, grill)
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


def _start_marks(random: np.random.Generator, grill: Grill) -> dict[str, float]:
    """Draw the marks the cook begins with: all alike, near half open."""
    opening = random.uniform(0.3, 0.7)
    return {
        burner.name: float(min(burner.settable, key=lambda mark: abs(burner.fraction(mark) - opening)))
        for burner in grill.burners
    }
