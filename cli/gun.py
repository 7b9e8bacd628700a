"""`gratemap gun`: one reading made true, the spot and the best distance; needs no grill file."""

import re
from dataclasses import dataclass, fields
from typing import Annotated, Any

import typer

from cli import console, options
from cli.options import number_or_word, option
from heatmap import Grill, Reading
from heatmap.errors import GrillError, InputError
from heatmap.readings.written import checked_temperature_c
from heatmap.units import Units, c_from_k, k_from_c


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What is said of the surface and the gun.

    Each field is an option that stands for a key of a grill file: for that of its own name in [grate] unless it says.
    """

    emissivity: float | None = option("E", "Emissivity of the surface, 0 to 1.")
    emissivity_sd: float | None = option("E", "Its standard deviation.")
    finish: str = option("NAME", "The finish, where the emissivity is not given.", "cast iron, seasoned")
    setting: float = option("E", "Emissivity the gun is set to.", 0.95, key="gun.emissivity_setting")
    reflected: float | None = option("TEMPERATURE", "What the surface mirrors.", key="surroundings.reflected")
    gun_temperature: Any = option(
        "TEMPERATURE", "What the gun takes as reflected; or none.", parser=number_or_word, key="gun.own_temperature"
    )
    distance: float | None = option("LENGTH", "From the gun to the surface.", key="gun.distance")
    ratio: float = option("N", "Distance to spot: 12 for 12:1.", 12.0, key="gun.distance_to_spot")
    smallest_spot: float | None = option("LENGTH", "The spot is never smaller.", key="gun.smallest_spot")
    rail_top: float | None = option("LENGTH", "Width of a rail's top; left out: a solid plate.")
    rail_pitch: float | None = option("LENGTH", "Rails from centre to centre.")


def command(
    shown: Annotated[float, typer.Argument(metavar="SHOWN", help="What the gun shows.")],
    said: Said,
    contact: float | None = option("TEMPERATURE", "A surface probe there shows this: find the emissivity."),
    patch: float | None = option("TEMPERATURE", "Shown on a patch of emissivity 0.95 there: find the emissivity."),
    units: Units = option("us|si", "us: °F and inches; si: °C and millimetres.", "us"),
    as_json: bool = options.as_json(),
) -> None:
    """Turn one reading into the true temperature, and say how wide the spot is and how far to hold the gun.

    It needs no grill file; leave the rails out for a solid plate.

    \b
    Example: gratemap gun 575 --emissivity 0.90 --rail-top 0.25 --rail-pitch 0.75
    """
    from heatmap.correct import Telling, calibrate, correct_readings
    from heatmap.correct.spot import BelowMirroredError
    from heatmap.physics.spot import best_distance
    from heatmap.report.documents import gun_document
    from heatmap.words.gun import A_CONTACT_TELLS, cannot_tell_sentence, emissivity_sentence, gun_lines

    if (said.rail_top is None) is not (said.rail_pitch is None):
        raise InputError("give both --rail-top and --rail-pitch, or neither for a solid plate")
    grill = _grill(units, said)
    calibration = calibrate(grill)
    shown_c = checked_temperature_c(shown, units, "SHOWN")
    try:
        (spot,) = correct_readings([Reading(id=1, shown_c=shown_c, x_mm=1.0, y_mm=1.0)], calibration)
    except BelowMirroredError as error:
        least = grill.display.temperature_text(error.least_c)
        raise InputError(
            f"SHOWN is {shown:g}; by what it mirrors alone this surface shows at least {least}: check the number, "
            "--emissivity and --reflected"
        ) from None
    why = cannot_tell_sentence(Telling(spot, calibration), grill)
    found = _emissivities(grill, shown_c, contact, patch)
    best_mm = None
    if said.rail_top is not None:
        held, grate = grill.gun, grill.grate
        at_best = (held.distance_to_spot, held.smallest_spot_mm, grate.rail_top_mm, grate.rail_pitch_mm)
        best_mm = best_distance(*at_best, held.aim_sd_mm, held.distance_mm)
    found_by = {f"emissivity_by_{what}": emissivity for what, _, emissivity in found}
    document = gun_document(spot, calibration, best_mm, why) | found_by
    by_pairs = [emissivity_sentence(*one, grill) for one in found] or ([A_CONTACT_TELLS] if why else [])
    console.reply(document if as_json else [*gun_lines(spot, calibration, why, best_mm), *by_pairs])


def _grill(units: str, said: Said) -> Grill:
    """Describe a grill with just this surface and this gun; its errors name the options."""
    from heatmap.grill.toml import grill_from_tables

    (width, depth), (low, high) = ((24.0, 18.0), (550.0, 600.0)) if units == "us" else ((600.0, 450.0), (290.0, 315.0))
    tables: dict[str, Any] = {"units": units, "target": {"low": low, "high": high}, "gun": {}, "surroundings": {}}
    tables["grate"] = {"width": width, "depth": depth, "surface": "plate" if said.rail_top is None else "rails"}
    names = {}
    for field in fields(said):
        table, _, key = (field.metadata["key"] or f"grate.{field.name}").partition(".")
        names[f"{table}.{key}"] = f"--{field.name.replace('_', '-')}"
        if (value := getattr(said, field.name)) is not None:
            tables[table][key] = value
    try:
        return grill_from_tables(tables, source="gun")
    except GrillError as error:
        text = re.sub(r"\b\w+\.[a-z_]+", lambda key: names.get(key[0], key[0]), str(error).removeprefix("gun: "))
        raise InputError(text) from None


def _emissivities(
    grill: Grill, shown_c: float, contact: float | None, patch: float | None
) -> list[tuple[str, float, float]]:
    """Find what makes the gun agree with a probe, and with a patch: which, the surface by it in °C, the emissivity."""
    from heatmap.physics.grey_body import emissivity_from_pair, true_temperature

    seen: dict[str, Any] = {
        "setting": grill.gun.emissivity_setting,
        "reflected_k": k_from_c(grill.surroundings.reflected_c),
        "gun_k": None if grill.gun_own_c is None else k_from_c(grill.gun_own_c),
    }
    shown_k = k_from_c(shown_c)
    found = []
    for what, called, number in (("probe", "--contact", contact), ("patch", "--patch", patch)):
        if number is None:
            continue
        true_k = k_from_c(checked_temperature_c(number, grill.units, called))
        if what == "patch":
            true_k = float(true_temperature(true_k, emissivity=grill.patch.emissivity, **seen))
        emissivity = float(emissivity_from_pair(shown_k, true_k, **seen))
        if not 0.0 < emissivity <= 1.0:
            shown, true = (grill.display.temperature_text(float(c_from_k(one))) for one in (shown_k, true_k))
            raise InputError(
                f"no emissivity explains that the gun shows {shown} where by the {what} the surface "
                f"is {true}: it would have to be {emissivity:.2f}, and it lies between 0 and 1; "
                "take both at the same place"
            )
        found.append((what, float(c_from_k(true_k)), emissivity))
    return found
