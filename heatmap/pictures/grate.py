"""The grate as seen from above: its edge, rails, rim, burners and labels, and outlines of food set down on it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.lines import Line2D
from matplotlib.patches import Ellipse, Polygon, Rectangle
from numpy.typing import NDArray

from heatmap.errors import InputError
from heatmap.grill.grill import Burner, Grill
from heatmap.pictures.ramp import INK, PAPER, QUIET
from heatmap.pictures.sheet import NUMBER, SMALL, TEXT, Sheet, line_height, text_width
from heatmap.units import Display

FloatArray = NDArray[np.float64]

#: Room around the grate for labels, in widths of the sheet.
ROOM_LEFT, ROOM_RIGHT = 0.055, 0.04
_RAIL_STUB = 0.010
#: A burner tube is drawn this wide, in widths of the sheet: its place is known, its thickness is not.
_TUBE = 2.6
#: The grate is never drawn taller than this many widths of the sheet.
TALLEST = 1.2
_LONGEST_NAME = 18
#: The label of an outline keeps this far off marks, numbers and other labels, in widths of the sheet.
_LABEL_ROOM = 0.05
#: A number is wider than high: from side to side distances count this much.
_NARROWER = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """Where food, or a pan, is to be set down.

    Attributes
    ----------
    x_mm, y_mm : float
        Its centre.
    length_mm, width_mm : float
        Length along the heading, width across it.
    headings : tuple of float
        Where its long end points, on the clock: 12 is straight away from the cook, 3 to the right.
    shape : {"ellipse", "rectangle"}
    label : str
    """

    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float
    headings: tuple[float, ...] = (12.0,)
    shape: Literal["ellipse", "rectangle"] = "ellipse"
    label: str = ""

    def __post_init__(self) -> None:
        numbers = (self.x_mm, self.y_mm, self.length_mm, self.width_mm, *self.headings)
        if not all(math.isfinite(number) for number in numbers):
            raise InputError("an outline needs finite numbers for its place, size and headings")
        if self.length_mm <= 0 or self.width_mm <= 0:
            raise InputError("an outline needs a length and a width above 0")
        if self.shape not in ("ellipse", "rectangle"):
            raise InputError(f'an outline\'s shape is "{self.shape}"; it must be "ellipse" or "rectangle"')


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """A place on the sheet for one grate: its axes and how many mm one width of the sheet is."""

    sheet: Sheet
    axes: Axes
    mm: float

    @property
    def left(self) -> float:
        """Left edge of the grate on the sheet, in widths of it."""
        return float(self.axes.get_position().x0)

    @property
    def bottom(self) -> float:
        """Front edge of the grate on the sheet, in widths of it from the top."""
        return float(1.0 - self.axes.get_position().y0) * self.sheet.height


def grate_size(grill: Grill, room: float) -> tuple[float, float]:
    """Return width and height of the grate on the sheet, in widths of it, inside `room` with its labels."""
    width_mm, depth_mm = grill.grate.extent_mm
    width = room - ROOM_LEFT - ROOM_RIGHT
    height = width * depth_mm / width_mm
    shrink = min(1.0, TALLEST / height)
    return width * shrink, height * shrink


def room_above() -> float:
    """Return the height of the labels above the grate."""
    return 2 * line_height(SMALL) + 0.018


def room_below(*, ruler: bool, names: bool) -> float:
    """Return the height of the labels below the grate."""
    return 0.022 + line_height(SMALL) * (1 + int(ruler)) + line_height(TEXT) * int(names)


def place_panel(sheet: Sheet, grill: Grill, *, x: float, y: float, room: float) -> Panel:
    """Make the axes of a grate whose labels begin at (x, y) and fill `room` from left to right."""
    width, height = grate_size(grill, room)
    spare = room - ROOM_LEFT - ROOM_RIGHT - width
    axes = sheet.axes(x + ROOM_LEFT + 0.5 * spare, y + room_above(), width, height)
    width_mm, depth_mm = grill.grate.extent_mm
    axes.set(xlim=(0.0, width_mm), ylim=(0.0, depth_mm), xticks=[], yticks=[])
    axes.set_aspect("equal")
    for spine in axes.spines.values():
        spine.set(linewidth=sheet.points(0.32), zorder=6)
    return Panel(sheet=sheet, axes=axes, mm=width_mm / width)


def draw_rails(panel: Panel, grill: Grill) -> None:
    """Let the rails peep out at both ends, true to pitch and width; a flat plate gets one closed bar."""
    grate = grill.grate
    along_x = grate.rails == "left-to-right"
    span, length = (grate.depth_mm, grate.width_mm) if along_x else (grate.width_mm, grate.depth_mm)
    pitch = max(grate.rail_pitch_mm, panel.mm / 250.0)
    count = max(1, math.floor(span / pitch))
    centres = 0.5 * span + (np.arange(count) - 0.5 * (count - 1)) * pitch
    half = 0.5 * pitch * grate.rail_top_mm / grate.rail_pitch_mm
    stub = _RAIL_STUB * panel.mm
    ends = [(-stub, 0.0), (length, length + stub)]
    boxes = [np.array([(c - half, a), (c + half, a), (c + half, b), (c - half, b)]) for c in centres for a, b in ends]
    if along_x:
        boxes = [box[:, ::-1] for box in boxes]
    panel.axes.add_collection(
        PolyCollection(boxes, facecolors=QUIET, edgecolors="none", clip_on=False, zorder=1, gid="rails")
    )


def draw_rim_and_seams(panel: Panel, grill: Grill) -> None:
    """Draw the line of the rim and where panels meet."""
    grate, sheet = grill.grate, panel.sheet
    if grate.rim_mm > 0:
        panel.axes.add_patch(
            Rectangle(
                (grate.rim_mm, grate.rim_mm),
                grate.width_mm - 2 * grate.rim_mm,
                grate.depth_mm - 2 * grate.rim_mm,
                fill=False,
                edgecolor=QUIET,
                linewidth=sheet.points(0.14),
                linestyle=(0, (1.5, 2.5)),
                zorder=4,
                gid="rim",
            )
        )
    draw = panel.axes.axvline if grate.seam_axis == "x" else panel.axes.axhline
    for seam_mm in grate.seams_mm:
        draw(seam_mm, color=PAPER, linewidth=sheet.points(0.5), zorder=4)
        draw(seam_mm, color=INK, linewidth=sheet.points(0.2), zorder=4, gid="seam")


def draw_burners(panel: Panel, grill: Grill) -> None:
    """Draw each burner's line as a see-through tube under the readings; what lies far outside is cut off."""
    sheet, axes = panel.sheet, panel.axes
    reach = 0.03 * panel.mm
    width_mm, depth_mm = grill.grate.extent_mm
    window = Rectangle((-reach, -reach), width_mm + 2 * reach, depth_mm + 2 * reach, transform=axes.transData)
    for burner in grill.burners:
        if not burner.points_mm:
            continue
        x_mm, y_mm = np.array(burner.points_mm).T
        for colour, alpha, width in ((PAPER, 0.35, _TUBE), (INK, 0.22, 0.7 * _TUBE)):
            tube = Line2D(
                x_mm,
                y_mm,
                color=colour,
                alpha=alpha,
                linewidth=sheet.points(width),
                solid_capstyle="round",
                solid_joinstyle="round",
                zorder=3,
                gid="burner",
            )
            axes.add_line(tube)
            tube.set_clip_path(window)


def burner_text(burner: Burner, settings: Mapping[str, float], grill: Grill) -> str:
    """Return a burner's name, cut where it is long, and its mark where that is known."""
    name = burner.name if len(burner.name) <= _LONGEST_NAME else burner.name[: _LONGEST_NAME - 1] + "…"
    if burner.name not in settings:
        return name
    unit = f" {Display(grill.units).degrees}" if burner.control == "setpoint" else ""
    return f"{name} {burner.mark_text(settings[burner.name])}{unit}"


def named_in_front(grill: Grill) -> list[Burner]:
    """Return the burners whose names stand in front of the grate: all but those that lie from side to side."""
    return [burner for burner in grill.burners if not _lies_across(burner)]


def _lies_across(burner: Burner) -> bool:
    if not burner.points_mm or burner.points_mm[0] == burner.points_mm[-1]:
        return False
    across, away = np.ptp(np.array(burner.points_mm), axis=0)
    return bool(across > away)


def write_burner_names(panel: Panel, grill: Grill, settings: Mapping[str, float], y: float) -> None:
    """Write names and marks in one row in front of the grate, each below its burner as far as there is room."""
    burners = named_in_front(grill)
    if not burners:
        return
    middle_mm = 0.5 * grill.grate.width_mm
    x_mm = [float(np.mean(_corners(burner)[:, 0])) if burner.points_mm else middle_mm for burner in burners]
    order = sorted(range(len(burners)), key=lambda index: x_mm[index])
    texts = [burner_text(burners[index], settings, grill) for index in order]
    widths = [text_width(text, SMALL, bold=True) + 0.04 for text in texts]
    centres = spread_out([panel.left + x_mm[index] / panel.mm for index in order], widths, low=0.01, high=0.99)
    size = SMALL * min(1.0, 0.98 / sum(widths))
    for text, x in zip(texts, centres, strict=True):
        panel.sheet.text(x, y, text, size=size, bold=True, ha="center", gid="burner name")


def write_names_on_burners(panel: Panel, grill: Grill, settings: Mapping[str, float], avoid_mm: FloatArray) -> None:
    """Write the names of burners that lie from side to side on them, away from the readings."""
    width_mm, depth_mm = grill.grate.extent_mm
    for burner in grill.burners:
        if not _lies_across(burner):
            continue
        (left, y_left), (right, y_right) = sorted(burner.points_mm)[0], sorted(burner.points_mm)[-1]
        half = 0.55 * text_width(burner_text(burner, settings, grill), SMALL, bold=True) * panel.mm
        first, last = (min(max(end, half), max(width_mm - half, half)) for end in (left, right))
        along = np.linspace(first, last, 41)
        y_mm = np.clip(np.interp(along, [left, right], [y_left, y_right]), 0.04 * depth_mm, 0.96 * depth_mm)
        apart = np.hypot(along[:, None] - avoid_mm[:, 0], y_mm[:, None] - avoid_mm[:, 1])
        room = np.min(apart, axis=1, initial=half + 0.05 * panel.mm)
        best = int(np.argmax(room - 1e-3 * np.abs(along - 0.5 * (left + right))))
        panel.axes.text(
            along[best],
            y_mm[best],
            burner_text(burner, settings, grill),
            fontsize=panel.sheet.points(SMALL),
            fontweight="bold",
            color=INK,
            ha="center",
            va="center",
            zorder=7,
            path_effects=panel.sheet.halo(0.5),
            gid="burner name",
        )


def _corners(burner: Burner) -> FloatArray:
    corners = np.array(burner.points_mm)
    return corners[:-1] if len(corners) > 2 and np.allclose(corners[0], corners[-1]) else corners


def spread_out(wanted: Sequence[float], widths: Sequence[float], *, low: float, high: float) -> list[float]:
    """Move centres of labels apart so that none overlap, from left to right, between two ends.

    Where they cannot fit at their full widths, all widths shrink alike.
    """
    scale = min(1.0, (high - low) / max(sum(widths), 1e-9))
    half = [0.5 * scale * width for width in widths]
    centres, edge = [], low
    for want, side in zip(wanted, half, strict=True):
        centres.append(max(want, edge + side))
        edge = centres[-1] + side
    edge = high
    for index in range(len(centres) - 1, -1, -1):
        centres[index] = min(centres[index], edge - half[index])
        edge = centres[index] - half[index]
    return centres


def write_labels(panel: Panel, grill: Grill, *, ruler: bool) -> float:
    """Write BACK and YOU, the letters and numbers of the positions and a ruler; return where YOU begins."""
    sheet, axes = panel.sheet, panel.axes
    box = axes.get_position()
    top = (1.0 - box.y1) * sheet.height
    middle = 0.5 * (box.x0 + box.x1)
    stub = _RAIL_STUB + 0.006
    sheet.text(middle, top - stub - 2 * line_height(SMALL), "BACK", size=SMALL, bold=True, ha="center")
    _write_positions(panel, grill, top - stub - line_height(SMALL), panel.left - stub - 0.004)
    below = panel.bottom + stub
    if ruler:
        _write_ruler(panel, grill, below)
        below += line_height(SMALL)
    return below


def _write_positions(panel: Panel, grill: Grill, y: float, x: float) -> None:
    """Write column numbers along y and row letters along x, left out in between where there are too many."""
    rows, columns = grill.positions.rows, grill.positions.columns
    across = [panel.left + grill.point_mm(f"A{column + 1}")[0] / panel.mm for column in range(columns)]
    for column in range(0, columns, _every(across, text_width("000", SMALL))):
        panel.sheet.text(across[column], y, str(column + 1), size=SMALL, ha="center", gid="column")
    letters = [chr(65 + row) for row in range(rows)]
    away = [panel.bottom - grill.point_mm(f"{letter}1")[1] / panel.mm for letter in letters]
    for row in range(0, rows, _every(away, line_height(SMALL))):
        panel.sheet.text(x, away[row], letters[row], size=SMALL, ha="right", va="center", gid="row")


def _every(places: Sequence[float], room: float) -> int:
    """Return how many labels to step so that each has `room`."""
    return 1 if len(places) < 2 else max(1, math.ceil(room / abs(places[1] - places[0])))


def _write_ruler(panel: Panel, grill: Grill, y: float) -> None:
    """Write distances along the front edge and up the right edge, from the front left corner."""
    display, write, size = Display(grill.units), panel.sheet.text, 0.85 * SMALL
    width_mm, depth_mm = grill.grate.extent_mm
    per_number = 1.0 / display.length(1.0) / panel.mm
    step = ruler_step(display.length(max(width_mm, depth_mm)))
    right = panel.left + width_mm / panel.mm + _RAIL_STUB + 0.004
    write(panel.left - 0.014, y, display.lengths, size=size, color=QUIET, ha="right", gid="ruler unit")
    for number in np.arange(0.0, display.length(width_mm) + 1e-6, step):
        write(panel.left + number * per_number, y, f"{number:g}", size=size, color=QUIET, ha="center", gid="ruler")
    for number in np.arange(step, display.length(depth_mm) + 1e-6, step):
        up = panel.bottom - number * per_number
        write(right, up, f"{number:g}", size=size, color=QUIET, va="center", rotation=90, gid="ruler")


def ruler_step(width: float) -> float:
    """Return the step of a ruler that gets about four to eight numbers."""
    for step in (2.0, 3.0, 6.0, 12.0, 24.0, 50.0, 100.0, 200.0, 500.0):
        if width / step <= 7.5:
            return step
    return 1000.0


def draw_outlines(panel: Panel, outlines: Sequence[Outline], avoid_mm: FloatArray | None = None) -> None:
    """Draw where to set food down: its outline, a chevron where it heads, its label on the outline.

    All but the label lies under the marks and their numbers, and the label keeps off `avoid_mm` (n, 2).
    """
    taken = np.empty((0, 2)) if avoid_mm is None else avoid_mm
    for outline in outlines:
        for index, clock in enumerate(outline.headings):
            _draw_outline(panel, outline, clock, dashed=index > 0)
    for outline in outlines:
        if outline.label and outline.headings:
            at_mm = _label_place(panel, outline, taken)
            taken = np.vstack([taken, at_mm])
            panel.axes.annotate(
                outline.label,
                (float(at_mm[0]), float(at_mm[1])),
                fontsize=panel.sheet.points(NUMBER),
                fontweight="bold",
                color=INK,
                ha="center",
                va="center",
                zorder=12,
                path_effects=panel.sheet.halo(0.6),
                gid="outline label",
            )


def _label_place(panel: Panel, outline: Outline, avoid_mm: FloatArray) -> FloatArray:
    """Return a point on the outline at its first heading: the near end, or the next round it that is free."""
    turned = math.radians(90.0 - 30.0 * outline.headings[0])
    along, across = (np.array([math.cos(angle), math.sin(angle)]) for angle in (turned, turned - 0.5 * math.pi))
    steps = np.array(sorted(range(-5, 7), key=abs)) * math.pi / 6.0
    points = (
        np.array([outline.x_mm, outline.y_mm])
        - 0.5 * outline.length_mm * np.outer(np.cos(steps), along)
        - 0.5 * outline.width_mm * np.outer(np.sin(steps), across)
    )
    apart_mm = np.array([_NARROWER, 1.0]) * (points[:, None] - avoid_mm)
    room_mm = np.hypot(*apart_mm.transpose(2, 0, 1)).min(axis=1, initial=np.inf)
    free = np.flatnonzero(room_mm >= _LABEL_ROOM * panel.mm)
    return np.asarray(points[free[0] if free.size else int(np.argmax(room_mm))])


def _draw_outline(panel: Panel, outline: Outline, clock: float, *, dashed: bool) -> None:
    angle = -30.0 * (clock % 12.0)
    turned = math.radians(90.0 + angle)
    along = np.array([math.cos(turned), math.sin(turned)])
    across = np.array([along[1], -along[0]])
    centre = np.array([outline.x_mm, outline.y_mm])
    tip = centre + 0.5 * outline.length_mm * along
    size = 0.022 * panel.mm
    chevron = np.array([tip + size * across, tip + 1.3 * size * along, tip - size * across]).T
    for colour, width in ((PAPER, 0.95), (INK, 0.5)):
        patch = _outline_patch(outline, centre, angle, along, across)
        style: object = (0, (2.2, 1.4)) if dashed and colour == INK else "solid"
        patch.set(fill=False, edgecolor=colour, linewidth=panel.sheet.points(width), linestyle=style, zorder=6.2)
        patch.set_gid("outline" if colour == INK else "outline halo")
        panel.axes.add_patch(patch)
        arrow = Line2D(*chevron, color=colour, linewidth=panel.sheet.points(1.1 * width), zorder=6.4)
        arrow.set(solid_capstyle="round", solid_joinstyle="miter", gid="heading" if colour == INK else "halo")
        panel.axes.add_line(arrow)


def _outline_patch(
    outline: Outline, centre: FloatArray, angle: float, along: FloatArray, across: FloatArray
) -> Ellipse | Polygon:
    if outline.shape == "ellipse":
        return Ellipse((centre[0], centre[1]), outline.width_mm, outline.length_mm, angle=angle)
    half_length, half_width = 0.5 * outline.length_mm * along, 0.5 * outline.width_mm * across
    corners = [
        centre + half_length + half_width,
        centre + half_length - half_width,
        centre - half_length - half_width,
        centre - half_length + half_width,
    ]
    return Polygon(corners, closed=True)
