"""What looks like a slip in how a round was typed, pasted or set up, in one line each."""

from __future__ import annotations

from heatmap.grill.grill import Grill
from heatmap.verdict.oddities import Oddity


def oddity_sentence(oddity: Oddity, number: int, grill: Grill) -> str:
    """Say what is odd about the round of this number, and what to look at."""
    display, readings = grill.display, oddity.readings
    shown_c = [one.shown_c for one in readings if one.shown_c is not None]
    match oddity.kind:
        case "other unit":
            low, high = (f"{display.temperature(each):.0f}" for each in (min(shown_c), max(shown_c)))
            other = "°C" if display.units == "us" else "°F"
            return (
                f"Round {number}: is it in {other}? {low}-{high} {display.degrees} is far from your band, "
                f"{low}-{high} {other} would be in it. Then write {other[1]} behind each number, or set the gun."
            )
        case "all alike":
            shown = display.temperature_text(shown_c[0])
            return f"Round {number}: all {len(readings)} shots show {shown}: does the gun hold its number?"
        case "said again":
            place = readings[0].position or "x, y"
            return (
                f"Round {number}: {len(readings)} rows say what others say, the first at {place} "
                f"(reading {readings[0].id}): pasted twice? Each counts as a shot."
            )
        case "yet to come":
            when, latest = max((one.taken_at, one.id) for one in readings if one.taken_at is not None)
            rows = "one reading is" if len(readings) == 1 else f"{len(readings)} readings are"
            return (
                f"Round {number}: {rows} of a day to come, {when.astimezone():%Y-%m-%d} (reading {latest}): "
                "look at taken_at."
            )
        case "low setting":
            return (
                f"The gun's emissivity setting is {grill.gun.emissivity_setting:g} in the grill file, far below any "
                "grate's: is it what the gun says? Every number hangs on it."
            )
