"""A grill file written: with comments for a new grill from a few answers, or every key of a grill as it is."""

from __future__ import annotations

import dataclasses
from typing import Any

from heatmap.grill.grill import Grill, Positions
from heatmap.grill.keys import SECTIONS, key_of, quoted
from heatmap.grill.quantities import Units, shown_value


def grill_toml(
    *,
    units: Units,
    name: str,
    width: float,
    depth: float,
    rails: str,
    finish: str,
    burner_names: tuple[str, ...],
    knob_low: float,
    knob_high: float,
    band_low: float,
    band_high: float,
    numbers: str,
    distance_to_spot: float,
    emissivity_setting: float,
    rail_pitch: float | None = None,
    rail_top: float | None = None,
    coals: bool = False,
) -> str:
    """Write a commented grill file from the few answers of a cook; numbers in `units`.

    Burners are laid out as tubes from front to back, evenly spaced; the file says so, to be corrected. On a small grate
    the positions and the rim are drawn in, so that they fit.
    """
    length, degrees = ("inches", "°F") if units == "us" else ("mm", "°C")
    tubes = "".join(
        f"""
[[burner]]
name = {quoted(burner)}
control = "knob"        # "knob", "setpoint", "vents" or "none" (coals)
# The two ends of the tube, x then y; correct these.
from = [{width * (index + 0.5) / len(burner_names):g}, {depth * 0.05:g}]
to = [{width * (index + 0.5) / len(burner_names):g}, {depth * 0.95:g}]
low = {knob_low:g}               # mark of the lowest steady flame
high = {knob_high:g}             # mark fully open
"""
        for index, burner in enumerate(burner_names)
    )
    if coals:
        tubes = """
[[burner]]
name = "coals"
control = "none"        # nothing to turn: told to move coals; "vents" where a vent sets them
"""
    rails_measured = "# rail_pitch and rail_top are worth measuring: see gratemap grill check\n"
    if rail_pitch is not None and rail_top is not None:
        rails_measured = f"rail_pitch = {rail_pitch:g}         # rails from centre to centre\n"
        rails_measured += f"rail_top = {rail_top:g}           # width of the top the food touches\n"
    side, usual = min(width, depth), shown_value(Positions().margin_mm, "length", units)
    small = f"rim = {side / 20:.4g}\n\n[positions]\nmargin = {side / 6:.4g}\n" if side <= 2.0 * usual else ""
    return f"""# A grill for gratemap. Numbers are in {length} and {degrees}.
# x runs to the right, y away from you, both from the front left corner of the grate.
units = "{units}"
name = {quoted(name)}

[grate]
width = {width:g}             # left to right
depth = {depth:g}             # front to back
rails = "{rails}"  # or the other way
{rails_measured}finish = {quoted(finish)}
{small}{tubes}
[gun]
emissivity_setting = {emissivity_setting:g}
distance_to_spot = {distance_to_spot:g}   # 12 for 12:1

[target]
low = {band_low:g}
high = {band_high:g}
numbers = "{numbers}"       # the band as your gun shows it ("shown") or as the rail is ("rail")
"""


def toml_from_grill(grill: Grill, *, comment: str = "") -> str:
    """Write every key of a grill as a grill file; reading it back gives the same grill."""
    lines = [f"# {line}" for line in comment.splitlines()]
    lines += [f'units = "{grill.units}"', f"name = {quoted(grill.name)}"]
    for name, kind in SECTIONS.items():
        section = getattr(grill, name)
        lines += ["", f"[{name}]"]
        for item in dataclasses.fields(kind):
            value = getattr(section, item.name)
            if value is not None:
                lines.append(f"{key_of(item)} = {_toml_value(value, item, grill.units)}")
    for burner in grill.burners:
        lines += ["", "[[burner]]", f"name = {quoted(burner.name)}", f'control = "{burner.control}"']
        if burner.points_mm:
            corners = [f"[{_plain(x, grill.units)}, {_plain(y, grill.units)}]" for x, y in burner.points_mm]
            lines.append(f"path = [{', '.join(corners)}]")
        lines += [f"{key} = {float(getattr(burner, key))!r}" for key in ("low", "high", "step")]
        if burner.marks:
            lines.append(f"marks = [{', '.join(quoted(mark) for mark in burner.marks)}]")
    return "\n".join(lines) + "\n"


def _plain(value_mm: float, units: Units) -> str:
    return repr(round(shown_value(value_mm, "length", units), 4))


def _toml_value(value: Any, item: dataclasses.Field[Any], units: Units) -> str:
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, tuple):
        return f"[{', '.join(_plain(seam, units) for seam in value)}]"
    if "kind" in item.metadata:
        return repr(round(shown_value(value, item.metadata["kind"], units), 6))
    return repr(value)
