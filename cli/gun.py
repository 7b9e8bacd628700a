"""`gratemap gun`: one reading made true, the spot and the best distance; needs no grill file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import typer

from cli import console
from cli.options import AsJson
from heatmap.errors import GrillError, InputError, ReadingError

if TYPE_CHECKING:
    from heatmap.correct import Calibration, Spot, Telling
    from heatmap.grill.grill import Grill
    from heatmap.units import Display


_REMEDY = (
    "A contact reading tells it: hold a surface probe at the same place (--contact), "
    "or shoot a patch of known emissivity there (--patch)."
)

#: Which option stands for which key of a grill file; a key that begins another comes after it.
_OPTIONS = {
    "grate.emissivity_sd": "--emissivity-sd",
    "grate.emissivity": "--emissivity",
    "grate.finish": "--finish",
    "grate.rail_top": "--rail-top",
    "grate.rail_pitch": "--rail-pitch",
    "gun.emissivity_setting": "--setting",
    "gun.own_temperature": "--gun-temperature",
    "gun.distance_to_spot": "--ratio",
    "gun.distance": "--distance",
    "gun.smallest_spot": "--smallest-spot",
    "surroundings.reflected": "--reflected",
}


def command(
    shown: Annotated[float, typer.Argument(metavar="SHOWN", help="What the gun shows.")],
    emissivity: Annotated[float | None, typer.Option(metavar="E", help="Emissivity of the surface, 0 to 1.")] = None,
    emissivity_sd: Annotated[
        float | None, typer.Option(metavar="E", help="How sure that is: its standard deviation.")
    ] = None,
    finish: Annotated[
        str, typer.Option(metavar="NAME", help="The finish, where the emissivity is not given.")
    ] = "cast iron, seasoned",
    setting: Annotated[float, typer.Option(metavar="E", help="Emissivity the gun is set to.")] = 0.95,
    reflected: Annotated[
        float | None, typer.Option(metavar="TEMPERATURE", help="Temperature of what the surface mirrors.")
    ] = None,
    gun_temperature: Annotated[
        str | None,
        typer.Option(metavar="TEMPERATURE", help="What the gun takes as reflected; none for a gun that adds nothing."),
    ] = None,
    distance: Annotated[float | None, typer.Option(metavar="LENGTH", help="From the gun to the surface.")] = None,
    ratio: Annotated[float, typer.Option(metavar="N", help="Distance to spot: 12 for 12:1.")] = 12.0,
    smallest_spot: Annotated[
        float | None, typer.Option(metavar="LENGTH", help="The spot never gets smaller than this.")
    ] = None,
    rail_top: Annotated[
        float | None, typer.Option(metavar="LENGTH", help="Width of a rail's top; leave out for a solid plate.")
    ] = None,
    rail_pitch: Annotated[float | None, typer.Option(metavar="LENGTH", help="Rails from centre to centre.")] = None,
    contact: Annotated[
        float | None,
        typer.Option(metavar="TEMPERATURE", help="A surface probe at the same place shows this: find the emissivity."),
    ] = None,
    patch: Annotated[
        float | None,
        typer.Option(
            metavar="TEMPERATURE", help="The gun shows this on a patch of emissivity 0.95: find the emissivity."
        ),
    ] = None,
    units: Annotated[str, typer.Option(metavar="us|si", help="us: °F and inches; si: °C and millimetres.")] = "us",
    as_json: AsJson = False,
) -> None:
    """Turn one reading into the true temperature, and say how wide the spot is and how far to hold the gun.

    It needs no grill file; leave the rails out for a solid plate.

    \b
    Example: gratemap gun 575 --emissivity 0.90 --rail-top 0.25 --rail-pitch 0.75
    """
    from heatmap.correct import telling
    from heatmap.correct.calibration import calibrate
    from heatmap.units import Display

    if units not in ("us", "si"):
        raise InputError(f'--units is "{units}"; it must be us or si')
    solid = rail_top is None and rail_pitch is None
    if not solid and (rail_top is None or rail_pitch is None):
        raise InputError("give both --rail-top and --rail-pitch, or neither for a solid plate")
    grate: dict[str, object] = {"finish": finish}
    if emissivity is not None:
        grate |= {"emissivity": emissivity, "emissivity_sd": 0.02 if emissivity_sd is None else emissivity_sd}
    pitch = 1.0 if rail_pitch is None else rail_pitch  # any pitch will do where the top fills it
    grate |= {"rail_pitch": pitch, "rail_top": pitch if rail_top is None else rail_top}
    gun: dict[str, object] = {"emissivity_setting": setting, "distance_to_spot": ratio}
    gun |= {
        key: value for key, value in (("distance", distance), ("smallest_spot", smallest_spot)) if value is not None
    }
    if gun_temperature is not None:
        gun["own_temperature"] = "none" if gun_temperature.strip().lower() == "none" else _temperature(gun_temperature)
    surroundings: dict[str, object] = {} if reflected is None else {"reflected": reflected}
    grill = _grill(units, grate, gun, surroundings)
    calibration = calibrate(grill)
    spot = _spot(shown, calibration, refuse=contact is None and patch is None)
    emissivities = _emissivities(grill, spot, contact, patch)
    display = Display(grill.units)
    told = telling(spot, calibration)
    if as_json:
        document = _document(spot, calibration, display, solid)
        if not told.is_answer:
            document["cannot_tell"] = _why_not(told, grill, solid)
        console.answer_json(document | {f"emissivity_by_{one.what}": one.emissivity for one in emissivities})
        return
    for line in _lines(spot, calibration, told, solid):
        console.answer(line)
    if not told.is_answer and not emissivities:
        console.answer(_REMEDY)
    for one in emissivities:
        console.answer(
            f"By the {one.what} the surface is {display.temperature_text(one.true_c)}; the gun agrees with "
            f"an emissivity of {one.emissivity:.3f}, taken over the whole spot, valley and all."
        )


def _temperature(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise InputError(f'--gun-temperature is "{text}"; it must be a temperature or none') from None


def _grill(units: str, grate: dict[str, object], gun: dict[str, object], surroundings: dict[str, object]) -> Grill:
    """Describe a grill with just this surface and this gun; its errors name the options."""
    from heatmap.grill.toml import grill_from_tables

    size, band = ((24.0, 18.0), (550.0, 600.0)) if units == "us" else ((600.0, 450.0), (290.0, 315.0))
    tables = {
        "units": units,
        "grate": {"width": size[0], "depth": size[1], **grate},
        "gun": gun,
        "surroundings": surroundings,
        "target": {"low": band[0], "high": band[1]},
    }
    try:
        return grill_from_tables(tables, source="gun")
    except GrillError as error:
        text = str(error).removeprefix("gun: ")
        for key, option in _OPTIONS.items():
            text = text.replace(key, option)
        raise InputError(text) from None


def _inside_c(number: float, what: str, grill: Grill) -> float:
    """Return a temperature in °C; refuse what no gun and no probe shows."""
    from heatmap.readings.reading import HIGHEST_SHOWN_C, LOWEST_SHOWN_C
    from heatmap.units import Display

    celsius = grill.temperature(number)
    if not LOWEST_SHOWN_C <= celsius <= HIGHEST_SHOWN_C:
        display = Display(grill.units)
        low, high = display.temperature(LOWEST_SHOWN_C), display.temperature_text(HIGHEST_SHOWN_C)
        raise InputError(f"{what} is {number:g}; it must be from {low:g} to {high}")
    return celsius


def _spot(shown: float, calibration: Calibration, *, refuse: bool) -> Spot:
    """Correct the reading; on a solid plate at the stated emissivity exactly, by the measurement equation.

    With `refuse` what no plate is, is an error: nothing else tells what the surface is.
    """
    from dataclasses import replace

    from heatmap.correct import correct_readings
    from heatmap.correct.nuisance import HIGHEST_RAIL_C
    from heatmap.readings.reading import Reading

    grill = calibration.grill
    shown_c = _inside_c(shown, "SHOWN", grill)
    spot = correct_readings([Reading(id=1, shown_c=shown_c, x_mm=1.0, y_mm=1.0)], calibration)[0]
    if calibration.view().share[0] < 1.0:
        return spot
    exact_c = _solid_c(shown_c, grill)
    if exact_c > HIGHEST_RAIL_C:
        if refuse:
            raise ReadingError(_too_hot(shown_c, exact_c, grill))
        return spot
    return replace(spot, rail_c=exact_c)


def _solid_c(shown_c: float, grill: Grill) -> float:
    """Return what a solid plate at the stated emissivity is, °C."""
    from heatmap.physics.grey_body import true_temperature
    from heatmap.units import c_from_k, k_from_c

    own_c = grill.gun_own_c
    try:
        exact_k = true_temperature(
            k_from_c(shown_c),
            setting=grill.gun.emissivity_setting,
            emissivity=grill.grate.rail_emissivity,
            reflected_k=k_from_c(grill.surroundings.reflected_c),
            gun_k=None if own_c is None else k_from_c(own_c),
        )
    except InputError as error:
        raise ReadingError(str(error)) from None
    return float(c_from_k(float(exact_k)))


def _too_hot(shown_c: float, exact_c: float, grill: Grill) -> str:
    from heatmap.correct.nuisance import HIGHEST_RAIL_C
    from heatmap.units import Display

    shown, exact, highest = (Display(grill.units).temperature_text(one) for one in (shown_c, exact_c, HIGHEST_RAIL_C))
    return (
        f"at an emissivity of {grill.grate.rail_emissivity:.2f} a surface that shows {shown} would be at {exact}, "
        f"and no grate is hotter than {highest}: the emissivity is higher, or the gun saw what the metal mirrors. "
        f"{_REMEDY}"
    )


def _best_distance_mm(grill: Grill) -> float:
    from heatmap.physics.spot import best_distance

    gun, grate = grill.gun, grill.grate
    return best_distance(
        gun.distance_to_spot,
        gun.smallest_spot_mm,
        grate.rail_top_mm,
        grate.rail_pitch_mm,
        gun.aim_sd_mm,
        gun.distance_mm,
    )


def _document(spot: Spot, calibration: Calibration, display: Display, solid: bool) -> dict[str, object]:
    degree, length = display.degree_key, display.length_key
    assert spot.rail_c is not None and spot.own_std_c is not None and spot.shared_std_c is not None
    best = None if solid else display.length(_best_distance_mm(calibration.grill))
    return {
        f"rail_{degree}": display.temperature(spot.rail_c),
        f"own_std_{degree}": display.difference(spot.own_std_c),
        f"shared_std_{degree}": display.difference(spot.shared_std_c),
        f"spot_{length}": display.length(calibration.view().spot_mm),
        "rail_share": calibration.view().share[0],
        f"best_distance_{length}": best,
    }


def _answer(spot: Spot, told: Telling, grill: Grill, solid: bool) -> list[str]:
    """Say what the surface is, or plainly that it cannot be told, why, and what would tell it."""
    from heatmap.units import Display

    display = Display(grill.units)
    assert spot.rail_c is not None and spot.own_std_c is not None and spot.shared_std_c is not None
    assert spot.reading.shown_c is not None
    surface, shown = "surface" if solid else "rail", display.temperature_text(spot.reading.shown_c)
    if told.is_answer:
        return [
            f"Shown {shown}: the {surface} is about {display.temperature_text(spot.rail_c)}, "
            f"±{display.margin(spot.own_std_c):.0f} this reading alone, "
            f"±{display.margin(spot.shared_std_c):.0f} shared by all readings (95 %)."
        ]
    return [f"Shown {shown}: the {surface} cannot be told from this. {_why_not(told, grill, solid)}"]


def _why_not(told: Telling, grill: Grill, solid: bool) -> str:
    """Say why a reading tells nothing of the surface, and between what it may be."""
    from heatmap.correct.nuisance import HIGHEST_RAIL_C
    from heatmap.correct.telling import LEAST_OWN_PART
    from heatmap.units import STDS_95, Display, percent

    display, grate = Display(grill.units), grill.grate
    emissivity = f"{grate.rail_emissivity:.2f} ± {STDS_95 * grate.rail_emissivity_sd:.2f}"
    low = f"{display.temperature(told.low_c):.0f}"
    beyond = told.cut_off or told.high_c >= HIGHEST_RAIL_C
    high = f"{'more than ' if beyond else ''}{display.temperature_text(told.high_c)}"
    if not solid and told.own_part < LEAST_OWN_PART:
        return (
            f"At an emissivity of {emissivity} only {percent(told.own_part)} of what the gun answers to is "
            "the rail's own glow; the rest is the valley between the rails. Only if the valley is about as hot as "
            f"such valleys usually are, the rail is between {low} and {high} (95 %)."
        )
    return (
        f"With an emissivity of {emissivity} it may be anything between {low} and {high} (95 %): "
        "so little of what the gun sees is the surface's own glow that the rest, what the metal mirrors, decides."
    )


def _lines(spot: Spot, calibration: Calibration, told: Telling, solid: bool) -> list[str]:
    from heatmap.physics.grey_body import temperature_per_emissivity
    from heatmap.units import STDS_95, Display, k_from_c, percent

    display = Display(calibration.grill.units)
    grill, view = calibration.grill, calibration.view()
    assert spot.rail_c is not None
    lines = [
        *_answer(spot, told, grill, solid),
        f"The spot is {display.length_text(view.spot_mm)} across from {display.length_text(grill.gun.distance_mm)}.",
    ]
    if not solid:
        share, share_sd = view.share
        lines.append(
            f"{percent(share)} of it is rail top, ±{percent(STDS_95 * share_sd)} from shot to shot; "
            "the rest looks into the valley."
        )
        lines.append(
            f"Best distance: about {display.length_text(_best_distance_mm(grill))}; "
            "every shot then sees the same share. One contact reading pins the level."
        )
    worth = temperature_per_emissivity(
        k_from_c(spot.rail_c), grill.grate.rail_emissivity, k_from_c(grill.surroundings.reflected_c)
    )
    lines.append(
        f"0.01 of emissivity is worth {display.difference(abs(float(worth)) / 100):.1f} {display.degrees} here "
        f"(emissivity taken as {grill.grate.rail_emissivity:.2f} ± {STDS_95 * grill.grate.rail_emissivity_sd:.2f})."
    )
    return lines


@dataclass(frozen=True, slots=True)
class _Emissivity:
    """The emissivity with which the gun agrees, and what that was found by: the probe or the patch."""

    what: str
    true_c: float
    emissivity: float


def _emissivities(grill: Grill, spot: Spot, contact: float | None, patch: float | None) -> list[_Emissivity]:
    """Find the emissivity that makes the gun agree with a probe, and with a patch of known emissivity."""
    from heatmap.physics.grey_body import emissivity_from_pair, true_temperature
    from heatmap.units import c_from_k, k_from_c

    setting, mirrored_k = grill.gun.emissivity_setting, k_from_c(grill.surroundings.reflected_c)
    gun_k = None if grill.gun_own_c is None else k_from_c(grill.gun_own_c)
    assert spot.reading.shown_c is not None
    shown_k = k_from_c(spot.reading.shown_c)
    found = []
    for what, option, number in (("probe", "--contact", contact), ("patch", "--patch", patch)):
        if number is None:
            continue
        true_k = k_from_c(_inside_c(number, option, grill))
        if what == "patch":
            known = grill.patch.emissivity
            true_k = float(
                true_temperature(true_k, setting=setting, emissivity=known, reflected_k=mirrored_k, gun_k=gun_k)
            )
        emissivity = float(emissivity_from_pair(shown_k, true_k, setting=setting, reflected_k=mirrored_k, gun_k=gun_k))
        if not 0.0 < emissivity <= 1.0:
            raise InputError(
                f"no emissivity explains that the gun shows {_plain(shown_k, grill)} where by the {what} the surface "
                f"is {_plain(true_k, grill)}: it would have to be {emissivity:.2f}, and it lies between 0 and 1; "
                "take both at the same place"
            )
        found.append(_Emissivity(what, float(c_from_k(true_k)), emissivity))
    return found


def _plain(kelvin: float, grill: Grill) -> str:
    from heatmap.units import Display, c_from_k

    return Display(grill.units).temperature_text(float(c_from_k(kelvin)))
