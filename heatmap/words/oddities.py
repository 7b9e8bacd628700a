"""What looks like a slip in how a round was typed, pasted or set up, in one line each."""

from __future__ import annotations

from heatmap.units import Display
from heatmap.verdict.oddities import AllAlike, FarAhead, LowSetting, Oddity, OtherUnit, SameAgain


def oddity_sentence(oddity: Oddity, number: int, display: Display) -> str:
    """Say what is odd about the round of this number, and what to look at."""
    match oddity:
        case OtherUnit():
            low, high = (f"{display.temperature(each):.0f}" for each in (oddity.low_c, oddity.high_c))
            other = "°C" if display.units == "us" else "°F"
            return (
                f"Round {number}: is it in {other}? {low}-{high} {display.degrees} is far from your band, "
                f"{low}-{high} {other} would be in it. Then write {other[1]} behind each number, or set the gun."
            )
        case AllAlike():
            shown = display.temperature_text(oddity.shown_c)
            return f"Round {number}: all {oddity.count} shots show {shown}: does the gun hold its number?"
        case SameAgain():
            place = oddity.first.position or "x, y"
            return (
                f"Round {number}: {oddity.count} rows say what others say, the first at {place} "
                f"(reading {oddity.first.id}): pasted twice? Each counts as a shot."
            )
        case FarAhead():
            latest = oddity.latest
            when = "" if latest.taken_at is None else f"{latest.taken_at.astimezone():%Y-%m-%d}"
            rows = "one reading is" if oddity.count == 1 else f"{oddity.count} readings are"
            return f"Round {number}: {rows} of a day to come, {when} (reading {latest.id}): look at taken_at."
        case LowSetting():
            return (
                f"The gun's emissivity setting is {oddity.setting:g} in the grill file, far below any grate's: "
                "is it what the gun says? Every number hangs on it."
            )
