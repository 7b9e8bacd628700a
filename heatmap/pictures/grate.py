"""The grate as seen from above: its edge, rails, rim, burners and labels."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.patches import Circle, Patch, PathPatch, Rectangle
from matplotlib.path import Path

from heatmap.grill.burner import Burner
from heatmap.grill.grill import Box, Grill
from heatmap.pictures.ramp import INK, PAPER, QUIET
from heatmap.pictures.sheet import SMALL, TEXT, WIDTH_IN, Sheet, halo, line_height, text_width
from heatmap.units import FloatArray

#: Room around the grate for labels, and between the grate and them [in].
_LEFT, _RIGHT, _ABOVE, _OFF = 0.36, 0.26, 0.53, 0.1
#: The grate is never drawn taller than this [in].
_TALLEST = 7.8
_RAIL_STUB = 0.065
#: A burner tube is drawn this wide [pt]: its place is known, its thickness is not.
_TUBE = 17.0
_LONGEST_NAME = 18
_BOLD = {"fontsize": SMALL, "fontweight": "bold", "ha": "center"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """A place on the sheet for one grate: its axes in mm, where its front edge lies, and how many mm an inch is."""

    sheet: Sheet
    axes: Axes
    grill: Grill
    left: float
    front: float
    mm: float

    def keep_on_grate(self, drawn: Artist) -> None:
        """Cut off what is drawn beyond the edge of a round grate."""
        if self.grill.grate.is_round:
            drawn.set_clip_path(_outline(self.grill, 0.0, transform=self.axes.transData))

    @property
    def middle(self) -> float:
        """Middle of the grate from left to right, on the sheet [in]."""
        return self.left + 0.5 * self.grill.grate.width_mm / self.mm


def place_grate(sheet: Sheet, grill: Grill, *, x: float = 0.0, room: float = WIDTH_IN, ruler: bool = True) -> Panel:
    """Make the axes of a grate, labelled, inside `room` inches from x on, and below what the sheet holds."""
    width_mm, depth_mm = grill.grate.extent_mm
    mm = max(width_mm / (room - _LEFT - _RIGHT), depth_mm / _TALLEST)
    left, back = x + 0.5 * (room + _LEFT - _RIGHT - width_mm / mm), sheet.y + _ABOVE
    axes = sheet.axes(left, back, width_mm / mm, depth_mm / mm)
    axes.set(xlim=(0.0, width_mm), ylim=(0.0, depth_mm))
    axes.set_axis_off()
    edge = _outline(grill, 0.0, fill=False, edgecolor=INK, linewidth=2.1, zorder=6, clip_on=False)
    axes.add_patch(edge).set_gid("edge")
    panel = Panel(sheet=sheet, axes=axes, grill=grill, left=left, front=back + depth_mm / mm, mm=mm)
    sheet.text(panel.middle, back - _OFF - line_height(SMALL), "BACK", va="bottom", **_BOLD)
    _label_positions(panel, back)
    if ruler:
        _draw_rulers(panel)
    return panel


def _outline(grill: Grill, inset_mm: float, **how: Any) -> Patch:
    """Return the outline of the grate, or what lies so far inside its edge."""
    width_mm, depth_mm = grill.grate.extent_mm
    if grill.grate.is_round:
        return Circle((0.5 * width_mm, 0.5 * depth_mm), 0.5 * width_mm - inset_mm, **how)
    return Rectangle((inset_mm, inset_mm), width_mm - 2 * inset_mm, depth_mm - 2 * inset_mm, **how)


def _label_positions(panel: Panel, back: float) -> None:
    """Write column numbers behind and row letters beside the grate, left out in between where there are too many."""
    grill, write = panel.grill, panel.sheet.text
    across = [grill.point_mm(next(filter(None, column)))[0] for column in zip(*grill.grid, strict=True)]
    away = [grill.point_mm(next(filter(None, row)))[1] for row in grill.grid]
    for index in range(0, len(across), _every(across, text_width("000", SMALL) * panel.mm)):
        x = panel.left + across[index] / panel.mm
        write(x, back - _OFF, str(index + 1), ha="center", va="bottom", gid="column")
    for index in range(0, len(away), _every(away, line_height(SMALL) * panel.mm)):
        y = panel.front - away[index] / panel.mm
        write(panel.left - _OFF, y, chr(65 + index), ha="right", va="center_baseline", gid="row")


def _every(places_mm: Sequence[float], room_mm: float) -> int:
    """Return how many labels to step so that each has its room."""
    return 1 if len(places_mm) < 2 else max(1, math.ceil(room_mm / abs(places_mm[1] - places_mm[0])))


def _draw_rulers(panel: Panel) -> None:
    """Write distances along the front edge and up the right edge, from the front left corner."""
    display, (width_mm, depth_mm) = panel.grill.display, panel.grill.grate.extent_mm
    step = ruler_step(display.length(max(width_mm, depth_mm)))
    inches = step / display.length(panel.mm)
    how = {"fontsize": 0.85 * SMALL, "color": QUIET, "gid": "ruler"}
    for mark in range(int(width_mm / panel.mm / inches + 1e-6) + 1):
        text = f"{mark * step:g}" if mark else f"0 {display.lengths}"
        panel.sheet.text(panel.left + mark * inches, panel.front + _OFF, text, ha="center", **how)
    for mark in range(1, int(depth_mm / panel.mm / inches + 1e-6) + 1):
        x, y = panel.left + width_mm / panel.mm + _OFF, panel.front - mark * inches
        panel.sheet.text(x, y, f"{mark * step:g}", va="center", rotation=90.0, **how)


def ruler_step(width: float) -> float:
    """Return the step of a ruler that gets about four to eight numbers."""
    steps = (2.0, 3.0, 6.0, 12.0, 24.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
    return next((step for step in steps if width / step <= 7.5), steps[-1])


def draw_metal(panel: Panel) -> None:
    """Draw what the grate is made of and heated by, under the readings: rails, burners, rim and seams."""
    _draw_rails(panel)
    _draw_burners(panel)
    grate, axes = panel.grill.grate, panel.axes
    if grate.rim_mm > 0:
        rim = _outline(panel.grill, grate.rim_mm, fill=False, edgecolor=QUIET, linewidth=0.9)
        rim.set(linestyle=(0, (1.5, 2.5)), zorder=4, gid="rim")
        axes.add_patch(rim)
    draw = axes.axvline if grate.seam_axis == "x" else axes.axhline
    for seam_mm in grate.seams_mm:
        panel.keep_on_grate(draw(seam_mm, color=INK, linewidth=1.3, zorder=4, gid="seam", path_effects=halo(3.2)))
    if panel.grill.target.zone != "all":
        _fade_outside(panel, panel.grill.zone_mm)


def _fade_outside(panel: Panel, zone_mm: Box) -> None:
    """Let fade what lies outside the zone that should be in band."""
    (x0, y0, x1, y1), (width_mm, depth_mm) = zone_mm, panel.grill.grate.extent_mm
    edge = [(0.0, 0.0), (width_mm, 0.0), (width_mm, depth_mm), (0.0, depth_mm), (0.0, 0.0)]
    hole = [(x0, y0), (x0, y1), (x1, y1), (x1, y0), (x0, y0)]  # the other way round
    outside = PathPatch(Path.make_compound_path(Path(edge), Path(hole)), facecolor=PAPER, alpha=0.6, linewidth=0.0)
    outside.set(zorder=3.5, gid="outside the zone")
    panel.keep_on_grate(panel.axes.add_patch(outside))


def _draw_rails(panel: Panel) -> None:
    """Let the rails peep out at both ends from under the map, true to pitch and width; a plate has none."""
    grate = panel.grill.grate
    if grate.surface == "plate":
        return
    along_x = grate.rails == "left-to-right"
    span, length = (grate.depth_mm, grate.width_mm) if along_x else (grate.width_mm, grate.depth_mm)
    pitch = max(grate.rail_pitch_mm, 0.026 * panel.mm)
    count = max(1, math.floor(span / pitch))
    across = (np.arange(count) - 0.5 * (count - 1)) * pitch
    # On a disc a rail is a chord.
    half = np.sqrt((0.5 * span) ** 2 - across**2) if grate.is_round else np.full(count, 0.5 * length)
    half += _RAIL_STUB * panel.mm
    thick = pitch * grate.rail_top_mm / grate.rail_pitch_mm
    draw = panel.axes.barh if along_x else panel.axes.bar
    draw(0.5 * span + across, 2.0 * half, thick, 0.5 * length - half, color=QUIET, clip_on=False, zorder=-1)


def _draw_burners(panel: Panel) -> None:
    """Draw each burner's line, as far as it lies under the grate, as a see-through tube."""
    for burner in panel.grill.burners:
        for colour, alpha, width in ((PAPER, 0.35, _TUBE), (INK, 0.22, 0.7 * _TUBE)):
            points_mm = np.array(burner.points_mm).reshape(-1, 2)
            (tube,) = panel.axes.plot(*points_mm.T, color=colour, alpha=alpha, linewidth=width, zorder=3, gid="burner")
            tube.set(solid_capstyle="round", solid_joinstyle="round")


def write_front(panel: Panel, settings: Mapping[str, float] | None, *, ruler: bool = True) -> None:
    """Write the names of the burners and YOU in front of the grate, and move the sheet on below them.

    A name stands below its burner as far as there is room.
    """
    sheet, grill = panel.sheet, panel.grill
    sheet.y = panel.front + _OFF + line_height(SMALL) * ruler
    if settings is not None and grill.burners:
        burners = sorted(grill.burners, key=lambda burner: _middle_mm(burner, grill))
        x = [_middle_mm(burner, grill) / panel.mm + panel.left for burner in burners]
        texts = [burner_text(burner, settings, grill) for burner in burners]
        widths = [text_width(text, SMALL, bold=True) + 0.26 for text in texts]
        lines = math.ceil(sum(widths) / (0.98 * WIDTH_IN))  # as many as keep names large enough to read, by turns
        for these in (slice(line, None, lines) for line in range(lines)):
            centres = spread_out(x[these], widths[these], low=0.05, high=WIDTH_IN - 0.05)
            size = SMALL * min(1.0, 0.98 * WIDTH_IN / sum(widths[these]))
            for text, centre in zip(texts[these], centres, strict=True):
                sheet.text(centre, sheet.y, text, gid="burner name", **{**_BOLD, "fontsize": size})
            sheet.y += line_height(TEXT)
    sheet.text(panel.middle, sheet.y, "YOU", **_BOLD)
    sheet.y += line_height(SMALL) + 0.04


def roomiest(points_mm: FloatArray, avoid_mm: FloatArray, enough_mm: float) -> tuple[float, float]:
    """Return the first of the points that is far enough from all that is to be avoided, else the farthest."""
    apart_mm = points_mm[:, None] - avoid_mm
    room_mm = np.min(np.hypot(*apart_mm.transpose(2, 0, 1)), axis=1, initial=enough_mm)
    x_mm, y_mm = points_mm[int(np.argmax(room_mm))].tolist()
    return x_mm, y_mm


def burner_text(burner: Burner, settings: Mapping[str, float], grill: Grill) -> str:
    """Return a burner's name, cut where it is long, and its mark where that is known."""
    name = burner.name if len(burner.name) <= _LONGEST_NAME else burner.name[: _LONGEST_NAME - 1] + "…"
    if burner.name not in settings:
        return name
    unit = f" {grill.display.degrees}" if burner.control == "setpoint" else ""
    return f"{name} {burner.mark_text(settings[burner.name])}{unit}"


def _middle_mm(burner: Burner, grill: Grill) -> float:
    """Return where a burner lies from left to right: the mean of its corners, each once."""
    return float(np.mean([x for x, _ in set(burner.points_mm)])) if burner.points_mm else 0.5 * grill.grate.width_mm


def spread_out(wanted: Sequence[float], widths: Sequence[float], *, low: float, high: float) -> FloatArray:
    """Move centres of labels apart so that none overlap, from left to right, between two ends.

    Where they cannot fit at their full widths, all widths shrink alike.
    """
    each = np.asarray(widths) * min(1.0, (high - low) / max(sum(widths), 1e-9))
    packed = np.cumsum(each) - 0.5 * each  # from left to right, without a gap
    pushed = np.maximum.accumulate(np.maximum(wanted - packed, low))
    centres: FloatArray = packed + np.minimum(pushed, high - each.sum())
    return centres
